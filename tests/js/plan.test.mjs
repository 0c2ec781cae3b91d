// SPDX-License-Identifier: GPL-3.0-or-later
import assert from 'node:assert/strict';
import { test } from 'node:test';

import { flowSteps, indexPlan, isEmpty, potShares, pulsesOf, runsBySupply, sortRuns, zoneRuns } from '../../web/page.js';
import { readPlan } from './help.mjs';

const RUN = { start_s: 0, end_s: 3720, minutes: 42, pulses: 3, pulse_minutes: 14, pause_minutes: 10, flow_l_min: 76 };

test('pulses_of_a_run_leave_out_its_pauses', () => {
  assert.deepEqual(pulsesOf(RUN), [
    { start_s: 0, end_s: 840 },
    { start_s: 1440, end_s: 2280 },
    { start_s: 2880, end_s: 3720 },
  ]);
  assert.deepEqual(pulsesOf({ ...RUN, pulses: 1 }), [{ start_s: 0, end_s: 3720 }]);
});

test('flow_steps_add_valves_that_are_open_together_and_keep_the_litres', () => {
  const other = { start_s: 600, end_s: 1200, pulses: 1, flow_l_min: 100 };
  const steps = flowSteps([RUN, other]);
  assert.deepEqual(steps.slice(0, 3), [
    { start_s: 0, end_s: 600, flow_l_min: 76, valves: 1 },
    { start_s: 600, end_s: 840, flow_l_min: 176, valves: 2 },
    { start_s: 840, end_s: 1200, flow_l_min: 100, valves: 1 },
  ]);
  const litres = steps.reduce((sum, s) => sum + (s.flow_l_min * (s.end_s - s.start_s)) / 60, 0);
  assert.ok(Math.abs(litres - (42 * 76 + 10 * 100)) < 1e-9);
});

test('flow_steps_of_runs_that_touch_do_not_add_up', () => {
  const a = { start_s: 0, end_s: 600, pulses: 1, flow_l_min: 100 };
  const b = { start_s: 600, end_s: 900, pulses: 1, flow_l_min: 90 };
  assert.deepEqual(flowSteps([b, a]).map((s) => s.flow_l_min), [100, 90]);
});

test('runs_by_supply_groups_by_the_zones_supply', () => {
  const plan = readPlan();
  const groups = runsBySupply(indexPlan(plan), plan.days[1].runs);
  assert.deepEqual(groups.map((g) => [g.supply.id, g.runs.length]), [['bore', 4], ['tank', 3]]);
});

test('sort_runs_keeps_the_plans_order_of_equal_starts', () => {
  const ids = sortRuns([{ id: 'b', start_s: 5 }, { id: 'z', start_s: 1 }, { id: 'a', start_s: 5 }]).map((r) => r.id);
  assert.deepEqual(ids, ['z', 'b', 'a']);
});

test('zone_runs_collects_all_days', () => {
  assert.equal(zoneRuns(readPlan(), 'z5').length, 8);
});

test('pot_shares_fill_the_pot_and_mark_capacity_and_refill', () => {
  // 10 L of mix: 6 L after a soak, air 20 % then, so 20 % solid. Watering fills it to 5.5 L, 3 L of them
  // usable, so 2.5 L held tight; 1 L is gone, so 2 L left to use; due again at half: 5.5 - 1.5 = 4 L.
  const block = { volume_l: 10, water_l: 4.5, capacity_l: 6, full_l: 5.5, available_l: 3, depletion_l: 1, refill_pct: 50, air_at_capacity_pct: 20 };
  assert.deepEqual(potShares(block), { solid: 20, tight: 25, available: 20, air: 35, full: 75, refill: 60 });
});

test('pot_shares_of_every_block_add_up_to_the_whole', () => {
  const plan = readPlan();
  for (const block of plan.blocks) {
    const s = potShares(block);
    assert.ok(Math.abs(s.solid + s.tight + s.available + s.air - 100) < 1e-9, block.id);
  }
});

test('pot_shares_without_a_volume_are_null', () => {
  const [block] = readPlan().blocks;
  assert.notEqual(potShares(block), null);
  for (const broken of [{ volume_l: 0 }, { volume_l: null }, { air_at_capacity_pct: null }, { full_l: undefined }]) {
    assert.equal(potShares({ ...block, ...broken }), null);
  }
});

test('peak_flow_is_of_one_supply', () => {
  const plan = readPlan();
  const index = indexPlan(plan);
  for (const day of plan.days) {
    const flows = runsBySupply(index, day.runs).flatMap((group) => flowSteps(group.runs).map((step) => step.flow_l_min));
    assert.equal(Math.max(0, ...flows), day.peak_l_min, day.date);
  }
});

test('a_nursery_without_blocks_is_empty', () => {
  assert.equal(isEmpty({ zones: [{}], blocks: [] }), true);
  assert.equal(isEmpty(readPlan()), false);
});
