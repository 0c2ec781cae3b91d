// SPDX-License-Identifier: GPL-3.0-or-later
// Reading a plan: look-ups, and what the views derive from it. Nothing here words or draws.

/** The plan with look-ups: zone(id), block(id), pot(id), mix(id), supply(id), day(date). */
export function indexPlan(plan) {
  const byId = (list) => {
    const map = new Map((list ?? []).map((item) => [item.id, item]));
    return (id) => map.get(id);
  };
  return {
    plan,
    zone: byId(plan.zones),
    block: byId(plan.blocks),
    pot: byId(plan.pots),
    mix: byId(plan.mixes),
    supply: byId(plan.supplies),
    day: (date) => plan.days.find((d) => d.date === date),
    today: plan.days[0]?.date ?? plan.made_at.slice(0, 10),
  };
}

/** Runs by start; those that start together keep the plan's order. */
export function sortRuns(runs) {
  return [...runs].sort((a, b) => a.start_s - b.start_s);
}

/** When water really flows: [{start_s, end_s}], a run's pulses without its pauses. */
export function pulsesOf(run) {
  const pulses = Math.max(1, run.pulses ?? 1);
  if (pulses === 1) return [{ start_s: run.start_s, end_s: run.end_s }];
  const on_s = run.pulse_minutes * 60;
  const step_s = on_s + run.pause_minutes * 60;
  return Array.from({ length: pulses }, (_, i) => ({
    start_s: run.start_s + i * step_s,
    end_s: Math.min(run.end_s, run.start_s + i * step_s + on_s),
  }));
}

/** Flow over time, [{start_s, end_s, flow_l_min, valves}], gaps included, of these runs. */
export function flowSteps(runs) {
  const changes = runs.flatMap((run) => pulsesOf(run).flatMap((p) => [
    { at_s: p.start_s, flow: run.flow_l_min, valves: 1 },
    { at_s: p.end_s, flow: -run.flow_l_min, valves: -1 },
  ]));
  changes.sort((a, b) => a.at_s - b.at_s);
  const steps = [];
  let flow = 0;
  let valves = 0;
  changes.forEach((change, i) => {
    flow += change.flow;
    valves += change.valves;
    const end_s = changes[i + 1]?.at_s;
    if (end_s === undefined || end_s === change.at_s) return;
    steps.push({ start_s: change.at_s, end_s, flow_l_min: valves === 0 ? 0 : flow, valves });
  });
  return steps;
}

/** The most that any one supply gives at once, as the plan counts it. */
export function peakFlow(index, runs) {
  const flows = runsBySupply(index, runs).flatMap((group) => flowSteps(group.runs).map((step) => step.flow_l_min));
  return Math.max(0, ...flows);
}

/** The day's runs by supply: [{supply, runs}], supplies without runs left out. */
export function runsBySupply(index, runs) {
  const groups = new Map();
  for (const run of runs) {
    const id = index.zone(run.zone)?.supply;
    if (!groups.has(id)) groups.set(id, []);
    groups.get(id).push(run);
  }
  return [...groups].map(([id, list]) => ({ supply: index.supply(id), runs: list }));
}

/**
 * What a pot's volume is made of now, in percent of it, with the heights of a column up to which
 * watering fills it and at which it is due again; null when a figure is missing.
 */
export function potShares(block) {
  const needed = [block.volume_l, block.water_l, block.capacity_l, block.full_l, block.available_l, block.air_at_capacity_pct];
  if (!needed.every(Number.isFinite) || !(block.volume_l > 0)) return null;
  const share = (l) => (100 * l) / block.volume_l;
  const solid = Math.max(0, 100 - block.air_at_capacity_pct - share(block.capacity_l));
  const unusable_l = Math.max(0, block.full_l - block.available_l);
  const tight_l = Math.min(block.water_l, unusable_l);
  return {
    solid,
    tight: share(tight_l),
    available: share(block.water_l - tight_l),
    air: Math.max(0, 100 - solid - share(block.water_l)),
    full: solid + share(block.full_l),
    refill: solid + share(block.full_l - (block.available_l * block.refill_pct) / 100),
  };
}

/** Runs of a zone over the whole plan. */
export function zoneRuns(plan, zoneId) {
  return sortRuns(plan.days.flatMap((d) => d.runs.filter((r) => r.zone === zoneId)));
}

export function isEmpty(plan) {
  return plan.zones.length === 0 && plan.blocks.length === 0;
}
