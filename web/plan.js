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

/** A block's shares of its pot's volume in percent, or null when the pot is not known. */
export function potShares(block, pot) {
  if (!pot || !(pot.volume_l > 0) || !Number.isFinite(block.air_at_capacity_pct)) return null;
  const share = (l) => (100 * l) / pot.volume_l;
  const porosity = block.air_at_capacity_pct + share(block.capacity_l);
  const available = Math.max(0, block.available_l - Math.max(0, block.depletion_l));
  const tight = Math.max(0, block.water_l - available);
  return {
    solid: Math.max(0, 100 - porosity),
    tight: share(tight),
    available: share(Math.min(available, block.water_l)),
    air: Math.max(0, porosity - share(block.water_l)),
    capacity: Math.max(0, 100 - porosity) + share(block.capacity_l),
    refill: Math.max(0, 100 - porosity) + share(block.capacity_l - (block.available_l * block.refill_pct) / 100),
  };
}

/** Runs of a zone over the whole plan. */
export function zoneRuns(plan, zoneId) {
  return sortRuns(plan.days.flatMap((d) => d.runs.filter((r) => r.zone === zoneId)));
}

export function isEmpty(plan) {
  return plan.zones.length === 0 && plan.blocks.length === 0;
}
