// SPDX-License-Identifier: GPL-3.0-or-later
import assert from 'node:assert/strict';
import { test } from 'node:test';

import { SHARE_KINDS, drawGauge, drawPot, shareBands, widthAt } from '../../web/page.js';
import { potShares } from '../../web/page.js';
import { findAll, readPlan } from './help.mjs';

const EM = 14;
const say = { label: 'a pot', soaked: 'soaked' };
const POT = { top_cm: 20, bottom_cm: 15, fill_height_cm: 20, height_cm: 25 };
const kind = (name) => (node) => node.attributes.class === name;

function corners(polygon) {
  return polygon.attributes.points.split(' ').map((pair) => pair.split(',').map(Number));
}

test('width_follows_the_wall_from_the_rim_or_from_the_fill_line', () => {
  assert.equal(widthAt(POT, 0), 15);
  assert.equal(widthAt(POT, 25), 20);
  assert.equal(widthAt(POT, 20), 19);
  assert.equal(widthAt({ ...POT, height_cm: null }, 20), 20);
});

test('the_cross_section_is_to_scale_both_ways', () => {
  const block = { ...readPlan().blocks[0], wet_layer_cm: 5 };
  for (const width of [240, 328, 900]) {
    const tree = drawPot(block, POT, false, say, width, EM);
    const soaked = corners(findAll(tree, kind('soaked'))[0]);
    const mix = corners(findAll(tree, kind('mix'))[0]);
    const perCm = (soaked[0][1] - soaked[1][1]) / 5;
    assert.ok(perCm > 0);
    assert.ok(Math.abs((mix[0][1] - mix[1][1]) / 15 - perCm) < 0.05, 'height of the rest');
    assert.ok(Math.abs((soaked[3][0] - soaked[0][0]) / 15 - perCm) < 0.05, 'width of the bottom');
    assert.ok(Math.abs((mix[2][0] - mix[1][0]) / 19 - perCm) < 0.05, 'width at the fill line');
    const [left, right] = findAll(tree, kind('wall')).map((n) => n.attributes);
    assert.deepEqual([left.x1, right.x1], [soaked[0][0], soaked[3][0]], 'walls stand where the mix ends');
    assert.ok(Math.abs((right.x2 - left.x2) / 20 - perCm) < 0.05, 'to the rim');
  }
});

test('a_soaked_layer_never_stands_over_the_mix', () => {
  const tree = drawPot({ ...readPlan().blocks[0], wet_layer_cm: 99 }, POT, false, say, 328, EM);
  const soaked = corners(findAll(tree, kind('soaked'))[0]);
  const mix = corners(findAll(tree, kind('mix'))[0]);
  assert.equal(soaked[1][1], mix[1][1]);
});

test('nothing_leaves_the_drawing', () => {
  const plan = readPlan();
  for (const width of [240, 328, 900]) {
    for (const block of plan.blocks) {
      const tree = drawPot(block, plan.pots.find((p) => p.id === block.pot), false, say, width, EM);
      for (const polygon of findAll(tree, (n) => n.tag === 'polygon')) {
        for (const [x, y] of corners(polygon)) assert.ok(x >= 0 && x <= width && y >= 0 && y <= tree.attributes.height, `${block.id} at ${width}`);
      }
      for (const bar of findAll(tree, (n) => n.tag === 'rect')) assert.ok(bar.attributes.x + bar.attributes.width <= width, `${block.id} at ${width}`);
    }
  }
});

test('the_column_is_as_high_as_the_mix_and_shared_by_volume', () => {
  const block = readPlan().blocks[0];
  const tree = drawPot(block, POT, false, say, 600, EM);
  const shares = potShares(block);
  const bars = SHARE_KINDS.map((name) => findAll(tree, (n) => n.tag === 'rect' && n.attributes.class === name)[0]);
  const whole = bars.reduce((sum, bar) => sum + bar.attributes.height, 0);
  SHARE_KINDS.forEach((name, i) => assert.ok(Math.abs(bars[i].attributes.height / whole - shares[name] / 100) < 0.002, name));
  const soaked = corners(findAll(tree, kind('soaked'))[0]);
  const mix = corners(findAll(tree, kind('mix'))[0]);
  assert.ok(Math.abs(whole - (soaked[0][1] - mix[1][1])) < 0.5);
});

test('a_pot_without_a_shape_is_not_drawn', () => {
  const [block] = readPlan().blocks;
  assert.equal(drawPot(block, undefined, false, say, 328, EM), null);
  assert.equal(drawPot(block, { ...POT, bottom_cm: null }, false, say, 328, EM), null);
  assert.equal(drawPot(block, { ...POT, fill_height_cm: 0 }, false, say, 328, EM), null);
});

test('a_pot_without_shares_is_drawn_alone', () => {
  const tree = drawPot({ ...readPlan().blocks[0], volume_l: null }, POT, false, say, 328, EM);
  assert.equal(findAll(tree, kind('air')).length, 0);
  assert.equal(findAll(tree, kind('soaked')).length, 1);
});

test('the_ruler_counts_inches_where_the_reader_does', () => {
  const marks = (us) => findAll(drawPot(readPlan().blocks[0], POT, us, say, 600, EM), kind('tick-text')).flatMap((n) => n.children);
  assert.ok(marks(false).includes('cm') && marks(false).includes('20'));
  assert.ok(marks(true).includes('in') && !marks(true).includes('20'));
});

test('share_bands_stand_on_each_other', () => {
  const bands = shareBands({ solid: 20, tight: 25, available: 20, air: 35 });
  assert.deepEqual(bands.map((b) => [b.from, b.to]), [[0, 20], [20, 45], [45, 65], [65, 100]]);
});

test('the_gauge_marks_refill_and_turns_when_the_driest_quarter_passes_it', () => {
  const bar = (block, name) => findAll(drawGauge(block, ''), kind(name))[0];
  const fine = { depletion_pct: 20, driest_pct: 30, refill_pct: 35 };
  assert.equal(bar(fine, 'gauge-wetter').attributes.width, 80);
  assert.equal(bar(fine, 'gauge-water').attributes.width, 70);
  assert.equal(bar(fine, 'gauge-refill').attributes.x1, 65);
  assert.equal(bar({ ...fine, driest_pct: 35 }, 'gauge-low').attributes.width, 65);
});

test('the_gauge_takes_what_cannot_be', () => {
  for (const block of [{ depletion_pct: null, refill_pct: null }, { depletion_pct: -5, refill_pct: 200 }, { depletion_pct: 170, refill_pct: 35 }]) {
    for (const bar of findAll(drawGauge(block, ''), (n) => n.tag === 'rect')) {
      assert.ok(bar.attributes.width >= 0 && bar.attributes.width <= 100);
    }
  }
});

test('a_pot_whose_rim_is_not_known_ends_at_its_mix_and_one_without_a_soaked_layer_shows_none', () => {
  const tree = drawPot({ ...readPlan().blocks[0], wet_layer_cm: null }, { ...POT, height_cm: null }, false, say, 328, EM);
  assert.equal(findAll(tree, kind('soaked')).length + findAll(tree, kind('on-water')).length, 0);
  const mix = corners(findAll(tree, kind('mix'))[0]);
  const walls = findAll(tree, kind('wall')).map((n) => n.attributes.y2);
  assert.equal(Math.min(...walls), mix[1][1], 'no wall over the mix');
});
