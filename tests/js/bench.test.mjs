// SPDX-License-Identifier: GPL-3.0-or-later
import assert from 'node:assert/strict';
import { test } from 'node:test';

import { bandOf, drawColumn, oddWidth, readJars, viewMix, viewMixes, waterAt } from '../../web/work.js';
import { contextOf, findAll, plain, readPlan, textOf } from './help.mjs';

const near = (given, expected, within, what) => assert.ok(Math.abs(given - expected) <= within, `${what}: ${given}, not ${expected}`);

test('jars_give_air_mean_and_spread_by_hand_worked_figures', () => {
  const jars = readJars(1000, [131, 85, 96]);
  assert.deepEqual(jars.airs_pct.map((a) => Math.round(a * 10) / 10), [13.1, 8.5, 9.6]);
  near(jars.mean_pct, 10.4, 1e-9, 'mean'); // (13.1 + 8.5 + 9.6) / 3
  near(jars.sd_pct, Math.sqrt((2.7 ** 2 + 1.9 ** 2 + 0.8 ** 2) / 2), 1e-9, 'standard deviation');
  assert.deepEqual(jars.faults, ['doubt_replicates_differ']);
});

test('a_vessel_whose_depth_was_typed_in_millimetres_is_questioned', () => {
  assert.equal(oddWidth(1000, 12), null);
  near(oddWidth(1000, 120), 3.257, 0.001, 'sqrt(4000 / (pi 120))');
  assert.ok(oddWidth(1000, 1.2) > 30);
});

test('jars_are_doubted_and_refused_as_the_daemon_does', () => {
  const faults = (...drained) => readJars(1000, drained).faults;
  assert.deepEqual(faults(200), ['doubt_one_replicate']);
  assert.deepEqual(faults(200, 205, NaN), []);
  assert.deepEqual(faults(20, 200, 210), ['bench_scatter']);
  assert.deepEqual(faults(90, 92, 91), ['finding_root_rot']);
  assert.deepEqual(faults(1000, 1001), ['bench_full']);
  assert.deepEqual(faults(0, 0), ['bench_nothing', 'finding_root_rot']);
  assert.deepEqual(readJars(NaN, [200]).mean_pct, null);
  assert.deepEqual(readJars(0, [200]).mean_pct, null);
});

test('masses_give_all_pores_and_must_agree_with_what_drained', () => {
  near(readJars(1000, [208, 204, 212], [968, 760, 98]).porosity_pct, 87, 1e-9, 'pores'); // (968 - 98) / 1000
  near(readJars(1000, [208, 204, 212], [NaN, 760, 98]).porosity_pct, 87, 1e-9, 'pores from drained mass and air');
  assert.deepEqual(readJars(1000, [208, 204, 212], [868, 760, 98]).faults, ['doubt_masses_disagree']);
  assert.deepEqual(readJars(1000, [208, 204, 212], [98, 760, 968]).faults, ['bench_order']);
});

test('bands_of_air_are_those_of_the_model', () => {
  assert.deepEqual([9.9, 10, 12.9, 13, 24.9, 25, 30, 99].map(bandOf), ['too_wet', 'rather_wet', 'rather_wet', 'fit', 'fit', 'rather_dry', 'too_dry', 'too_dry']);
});

test('the_column_holds_all_pores_at_the_holes_and_less_above', () => {
  const [mix] = readPlan().mixes;
  assert.equal(waterAt(mix, 0), mix.theta_s);
  let before = mix.theta_s;
  for (let cm = 1; cm < 60; cm += 1) {
    assert.ok(waterAt(mix, cm) < before && waterAt(mix, cm) > mix.theta_r, `${cm} cm`);
    before = waterAt(mix, cm);
  }
  /* its mean over the vessel is the water that was measured there */
  const steps = 2000;
  const mean = Array.from({ length: steps }, (_, i) => waterAt(mix, (12 * (i + 0.5)) / steps)).reduce((a, b) => a + b) / steps;
  near(100 * mean, mix.capacity_pct, 0.1, 'capacity');
});

test('nothing_leaves_the_column_and_names_do_not_touch', () => {
  const plan = readPlan();
  const pots = plan.pots.filter((p) => p.fill_height_cm > 0).map((p) => ({ name: p.name, height_cm: p.fill_height_cm }));
  for (const width of [240, 328, 900]) {
    const tree = drawColumn(plan.mixes[0], pots, { label: '' }, false, width, 14);
    const at = findAll(tree, (n) => n.tag === 'text' && n.attributes.x > width / 2).map((n) => n.attributes.y);
    assert.equal(at.length, pots.length, 'every pot is named');
    assert.ok(Math.min(...at) > 14);
    for (let i = 1; i < at.length; i += 1) assert.ok(at[i - 1] - at[i] >= 14, `${at}`);
    for (const [x, y] of findAll(tree, (n) => n.tag === 'polygon').flatMap((n) => n.attributes.points.split(' ').map((p) => p.split(',').map(Number)))) {
      assert.ok(x >= 0 && x <= width && y >= 0 && y <= tree.attributes.height);
    }
    assert.equal(findAll(tree, (n) => n.attributes.class === 'mark-full').length, pots.length);
  }
});

test('a_mix_says_its_verdict_its_doubts_and_every_pot', () => {
  const ctx = contextOf(readPlan());
  const said = (view) => plain(view.body.flat(Infinity).filter(Boolean).map(textOf).join('\n'));
  const text = said(viewMix(ctx, 'fine'));
  assert.match(text, /for growing on\. \d+ % air in a vessel of 12 cm/);
  assert.match(text, /One jar says little: use three\./);
  for (const pot of ctx.plan.pots.filter((p) => p.fill_height_cm > 0)) assert.ok(text.includes(pot.name), pot.name);
  assert.match(said(viewMixes(ctx)), /Tested 20 Nov 2025/);
  assert.doesNotMatch(said(viewMixes(ctx)), /An older test/);
  const fine = ctx.plan.mixes.find((mix) => mix.id === 'fine');
  ctx.plan.mixes.push({ ...fine, tested: '2026-01-10', air_pct: 33.3 });
  const tests = said(viewMix(ctx, 'fine'));
  assert.ok(tests.indexOf('33.3') >= 0 && tests.indexOf('33.3') < tests.indexOf('An older test'), 'the newest first, the older one marked');
  assert.match(said(viewMix(ctx, 'none')), /No mix is tested yet/);
});
