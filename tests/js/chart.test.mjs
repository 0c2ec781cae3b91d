// SPDX-License-Identifier: GPL-3.0-or-later
import assert from 'node:assert/strict';
import { test } from 'node:test';

import { chartRows, chartSpans, drawDay, fitText, markStep, scaleTime } from '../../web/page.js';
import { indexPlan } from '../../web/page.js';
import { findAll, readPlan } from './help.mjs';

const EM = 14;
const say = { label: 'the day', flow: (supply, peak) => `${supply.name} ${peak}`, clock: (s) => new Date(s * 1000).toISOString().slice(11, 16) };

function tomorrow() {
  const plan = readPlan();
  return { index: indexPlan(plan), day: plan.days[1] };
}

const kind = (name) => (node) => (node.attributes.class ?? '').split(' ').includes(name);

test('chart_spans_leave_out_idle_hours_and_start_on_local_hours', () => {
  const { day } = tomorrow();
  const spans = chartSpans(day);
  const local = (s) => new Date((s + 37800) * 1000).toISOString().slice(11, 16);
  assert.deepEqual(spans.map((s) => [local(s.start_s), local(s.end_s)]), [['03:00', '08:00'], ['17:00', '20:00']]);
});

test('chart_spans_of_a_day_without_runs_are_none', () => {
  const { index, day } = tomorrow();
  assert.deepEqual(chartSpans({ ...day, runs: [] }), []);
  assert.equal(drawDay(index, { ...day, runs: [] }, say, 320, EM), null);
});

test('scale_time_is_even_over_the_spans', () => {
  const { x, pieces } = scaleTime([{ start_s: 0, end_s: 3600 }, { start_s: 36000, end_s: 43200 }], 310, 10);
  assert.equal(x(0), 0);
  assert.equal(x(3600), 100);
  assert.equal(x(36000), 110);
  assert.equal(x(43200), 310);
  assert.equal(pieces.length, 2);
});

test('mark_step_grows_as_the_hours_get_narrow', () => {
  assert.equal(markStep(100, EM), 1);
  assert.equal(markStep(30, EM), 2);
  assert.equal(markStep(0.1, EM), 24);
});

test('fit_text_cuts_by_letters_and_never_inside_one', () => {
  assert.equal(fitText('short', 400, EM), 'short');
  const cut = fitText('🌿'.repeat(300), 100, EM);
  assert.match(cut, /^🌿+…$/u);
  assert.ok([...cut].length <= 100 / (0.55 * EM));
});

test('rows_are_named_by_post_and_zone_in_order_of_time', () => {
  const { index, day } = tomorrow();
  assert.deepEqual(chartRows(index, day).map((row) => row.label).slice(0, 2), ['V7 · Tree line', 'V4 · Grevillea and grasses']);
});

test('a_bar_is_as_long_as_its_pulse_at_every_width', () => {
  const { index, day } = tomorrow();
  for (const width of [240, 328, 600, 1200]) {
    const tree = drawDay(index, day, say, width, EM);
    const hours = 5 + 3;
    const perMinute = (width - 1.2 * EM) / hours / 60;
    const [first] = findAll(tree, kind('pulse'));
    assert.ok(Math.abs(first.attributes.width - 14 * perMinute) <= 0.051, `14 minutes at ${width}`);
    for (const bar of findAll(tree, (n) => n.tag === 'rect' && n.attributes.class !== 'stripe' && n.attributes.class !== 'stripe-ground')) {
      const { x, y, width: w, height: hgt } = bar.attributes;
      assert.ok(x >= 0 && x + w <= width + 1 && y >= 0 && y + hgt <= tree.attributes.height, `${bar.attributes.class} at ${width}`);
    }
  }
});

test('area_under_the_flow_is_the_days_litres', () => {
  const { index, day } = tomorrow();
  const tree = drawDay(index, { ...day, runs: day.runs.filter((r) => r.zone !== 'z5' && r.zone !== 'z6') }, say, 10000, EM);
  const litres = day.runs.filter((r) => r.zone !== 'z5' && r.zone !== 'z6').reduce((sum, r) => sum + r.litres, 0);
  const perMinute = 10000 / (5 * 60); // one span of 5 h: the evening's only run was of z5
  const scale = (3.6 * EM) / (240 * 1.08);
  const area = findAll(tree, kind('flow')).reduce((sum, bar) => sum + bar.attributes.width * bar.attributes.height, 0);
  assert.ok(Math.abs(area / perMinute / scale / litres - 1) < 0.01);
});

test('the_supplys_limit_is_drawn_above_the_flow_it_can_give', () => {
  const { index, day } = tomorrow();
  const tree = drawDay(index, day, say, 600, EM);
  const [limit] = findAll(tree, kind('limit'));
  const top = Math.min(...findAll(tree, kind('flow')).filter((n) => n.attributes.y < limit.attributes.y1 + 4 * EM).map((n) => n.attributes.y));
  assert.ok(limit.attributes.y1 <= top);
  for (const level of findAll(tree, (n) => ['limit', 'base'].includes(n.attributes.class))) assert.equal(level.attributes.y1, level.attributes.y2, 'level');
});

test('runs_by_hand_differ_by_more_than_colour', () => {
  const { index, day } = tomorrow();
  const tree = drawDay(index, day, say, 600, EM);
  assert.equal(findAll(tree, kind('hand')).length, 1);
  assert.equal(findAll(tree, (n) => n.attributes.id === 'stripes').length, 1);
});

test('time_marks_do_not_touch', () => {
  const { index, day } = tomorrow();
  for (const width of [200, 328, 600, 1200]) {
    const xs = findAll(drawDay(index, day, say, width, EM), kind('time')).map((n) => n.attributes.x);
    for (let i = 1; i < xs.length; i += 1) assert.ok(xs[i] - xs[i - 1] >= 3 * EM - 1, `at ${width}: ${xs}`);
  }
});

test('a_zone_without_a_post_is_named_alone_and_a_supply_without_a_limit_has_no_line', () => {
  const { index, day } = tomorrow();
  index.zone('z7').post = null;
  assert.equal(chartRows(index, day)[0].label, 'Tree line');
  const rows = findAll(drawDay(index, day, say, 600, EM), kind('row')).map((n) => n.attributes.y);
  for (let i = 1; i < rows.length; i += 1) assert.ok(rows[i] - rows[i - 1] >= 2.4 * EM, `a row below the other: ${rows}`);
  for (const supply of index.plan.supplies) supply.flow_l_min = 0;
  assert.equal(findAll(drawDay(index, day, say, 600, EM), kind('limit')).length, 0);
});
