// SPDX-License-Identifier: GPL-3.0-or-later
import assert from 'node:assert/strict';
import { test } from 'node:test';

import { plainName } from '../../web/page.js';
import { fiveLines } from '../../web/page.js';
import { sayWhat } from '../../web/page.js';
import * as views from '../../web/page.js';
import { METRIC, US, contextOf, findAll, plain, readPlan, textOf } from './help.mjs';
import { NAMES, makeHostile } from './hostile.mjs';

function everyView(ctx) {
  const { plan } = ctx;
  return [
    views.viewTomorrow(ctx),
    views.viewToday(ctx),
    views.viewWeek(ctx),
    ...plan.days.map((day) => views.viewDay(ctx, day.date)),
    views.viewDay(ctx, '2031-01-01'),
    views.viewZones(ctx),
    ...plan.zones.map((zone) => views.viewZone(ctx, zone.id)),
    views.viewZone(ctx, 'none'),
    ...plan.blocks.map((block) => views.viewBlock(ctx, block.id)),
    views.viewBlock(ctx, 'none'),
    views.viewNotices(ctx),
    views.viewMore(ctx),
    { title: 'foot', body: [views.cautions(ctx, plan.cautions, true)] },
  ];
}

/* Drawings are made by the page at its width; here at a phone's. */
function drawn(view) {
  const canvases = findAll(view.body, (node) => node.attributes.draw);
  return [...view.body, ...canvases.map((canvas) => canvas.attributes.draw(328, 14))].filter(Boolean);
}

function said(view) {
  const labels = findAll(drawn(view), (node) => node.attributes['aria-label']).map((node) => node.attributes['aria-label']);
  return [view.title, ...drawn(view).flat(Infinity).filter(Boolean).map(textOf), ...labels].join('\n');
}

function lines(plan, which = 'tomorrow', language = 'en', choice = METRIC) {
  const ctx = contextOf(plan, choice, language);
  const day = which === 'tomorrow' ? plan.days[1] : plan.days[0];
  return Object.fromEntries(fiveLines(ctx, which, day).map((line) => [line.key, plain(line.body.filter(Boolean).map(textOf).join(' | '))]));
}

test('five_lines_of_tomorrow_say_what_the_manager_needs', () => {
  assert.deepEqual(lines(readPlan()), {
    person: 'Grevillea in Grevillea and grasses is under stress from Wed 15:00, before the plan can water it. Water by hand, before then if there is time. | The supply is short by 1.7 m³ for what tomorrow needs. Zones stay dry: see “Does not fit”. | By hand: Bowl benches 07:00 | 1 block is to be watered by hand. | All 7 notices',
    tomorrow: '5 of 7 zones, 03:30–17:09, 26 m³, at most 236 L/min from one supply. Not all of it fits.',
    dry: 'Grevillea is safe until Tue 18:00, Tue 17:00 if hot. Its zone runs next Tue 17:00.',
    not: 'Advanced row: still wet until Thu 13:00 | Bowl benches: waits for rain; if it fails, runs by Fri 20:00',
    built: 'Weather forecast, 3 h old. 2 of 14 blocks start from a guess, no pot of theirs was weighed: feel a few.',
  });
});

test('five_lines_in_spanish_and_us_units', () => {
  const said_ = lines(readPlan(), 'tomorrow', 'es', US);
  assert.equal(said_.dry, 'Grevillea aguanta hasta el mar 6 pm, si hace calor hasta el mar 5 pm. Su zona se riega el mar 5 pm.');
  assert.match(said_.tomorrow, /6960 gal|6\.960 gal/);
});

test('line_of_today_counts_what_is_left', () => {
  assert.equal(lines(readPlan(), 'today').today, 'Still to come: 2 of 7 zones, 16:05–17:26, 4.2 m³, at most 150 L/min from one supply.');
});

test('line_of_today_lists_zones_without_a_run_left', () => {
  const plan = readPlan();
  assert.equal(lines(plan, 'today').rest, 'Outdoor beds north: next run Wed 05:15 | Outdoor beds south: next run Wed 04:00 | Advanced row: next run Thu 05:45 | and 2 more');
  for (const zone of plan.zones) if (!['z4', 'z5'].includes(zone.id)) zone.state = 'empty';
  assert.equal(lines(plan, 'today').rest, 'Every zone with plants still runs today.');
});

test('line_of_tomorrow_names_the_pumps_flow_when_there_is_one', () => {
  const plan = readPlan();
  plan.supplies.pop();
  assert.match(lines(plan).tomorrow, /at most 236 of 240 L\/min\./);
});

test('lines_without_trouble_say_so', () => {
  const plan = readPlan();
  Object.assign(plan, { notices: [], waiting: [], unplaced: [] });
  plan.summary.tomorrow.fits = true;
  plan.summary.first_dry = null;
  for (const block of plan.blocks) block.known_how = 'weighed';
  const calm = lines(plan);
  assert.equal(calm.person, 'By hand: Bowl benches 07:00 | 1 block is to be watered by hand.');
  plan.by_hand = [];
  for (const day of plan.days) for (const run of day.runs) run.by_hand = false;
  assert.equal(lines(plan).person, 'Nothing needs a person now.');
  assert.match(calm.tomorrow, /It fits\.$/);
  assert.equal(calm.dry, 'No block will run dry within this plan.');
  assert.equal(calm.not, 'Every zone with plants runs.');
  assert.equal(calm.built, 'Weather forecast, 3 h old. All blocks start from a known filling or weighing.');
});

test('line_built_says_how_old_and_why', () => {
  const plan = readPlan();
  Object.assign(plan.weather, { rung: 'old_forecast', age_s: 40 * 3600, error: 'HTTP 503' });
  assert.match(lines(plan).built, /^Old weather forecast, 40 h: nothing newer came\. .* \| The last try: HTTP 503$/);
  Object.assign(plan.weather, { rung: 'normals', age_s: null, error: null });
  assert.match(lines(plan).built, /^No forecast: the usual weather of the month/);
});

test('line_first_dry_in_the_past_says_past', () => {
  const plan = readPlan();
  plan.summary.first_dry.safe_until_s = plan.made_at_s - 60;
  assert.equal(lines(plan).dry, 'Grevillea is due now. It waits for its run Tue 17:00.');
  for (const zone of plan.zones) zone.next_run_at = null;
  assert.equal(lines(plan).dry, 'Grevillea is due now. No run is planned for it.');
});

test('lines_say_what_is_to_be_watched_and_what_waits_without_an_end', () => {
  const plan = readPlan();
  plan.notices = plan.notices.filter((notice) => notice.severity === 'watch');
  plan.by_hand = [];
  for (const day of plan.days) for (const run of day.runs) run.by_hand = false;
  assert.match(lines(plan).person, /^Nothing needs a person now\. \d things to watch\. \| All \d notices$/);
  plan.waiting = ['still_wet', 'waits_for_rain', 'no_window'].map((code, i) => ({ zone: `z${i + 1}`, reason: { code, params: {} }, until: null }));
  assert.equal(lines(plan).not, 'Outdoor beds north: still wet | Outdoor beds south: waits for rain | Advanced row: No watering hours on that day.');
  plan.waiting = [{ zone: 'z4', reason: { code: 'held', params: { kind: 'spraying' } }, until: '2026-01-15T13:00:00+10:30' }];
  assert.equal(lines(plan).not, 'Grevillea and grasses: Held: spraying. Until Thu 13:00.');
});

test('long_lists_are_cut_with_a_count', () => {
  const plan = readPlan();
  plan.waiting = Array.from({ length: 9 }, () => plan.waiting[0]);
  assert.match(lines(plan).not, /\| and 6 more$/);
});

test('every_view_says_whole_words_in_both_languages_and_units', () => {
  for (const language of ['en', 'es']) {
    for (const choice of [METRIC, US]) {
      for (const view of everyView(contextOf(readPlan(), choice, language))) {
        assert.doesNotMatch(said(view), /undefined|NaN|\bnull\b|\[object|\{\w+\}|Infinity/, view.title);
      }
    }
  }
});

/* Everything docs/api.md allows to be null, and every list empty. */
test('every_view_stands_a_plan_with_gaps', () => {
  const plan = readPlan();
  const clear = (object, names) => names.forEach((name) => {
    object[name] = null;
    if (`${name}_s` in object) object[`${name}_s`] = null;
  });
  for (const block of plan.blocks) clear(block, Object.keys(block).filter((k) => !['id', 'name', 'zone', 'pot', 'mix'].includes(k) && !k.endsWith('_s')));
  for (const zone of plan.zones) {
    clear(zone, ['post', 'next_run_at']);
    zone.reasons = [];
  }
  for (const day of plan.days) {
    clear(day, ['et0_mm', 'rain_mm', 'temperature_max_c', 'temperature_min_c']);
    Object.assign(day, { runs: [], windows: [], litres: 0, peak_l_min: 0 });
  }
  for (const pot of plan.pots) clear(pot, ['top_cm', 'bottom_cm', 'fill_height_cm', 'height_cm', 'volume_l']);
  clear(plan.summary.tomorrow, ['from', 'to']);
  clear(plan.weather, ['age_s', 'error']);
  Object.assign(plan, { waiting: [], unplaced: [], notices: [], cautions: [] });
  plan.weather.sources = [];
  plan.summary.first_dry = null;
  for (const view of everyView(contextOf(plan))) assert.doesNotMatch(said(view), /undefined|NaN|\bnull\b|\[object|\{\w+\}|Infinity/, view.title);
  plan.zones = [];
  plan.blocks = [];
  plan.supplies = [];
  plan.pots = [];
  plan.mixes = [];
  for (const view of everyView(contextOf(plan))) assert.doesNotMatch(said(view), /undefined|NaN|\[object|\{\w+\}|Infinity/, view.title);
});

test('hostile_names_stay_text_and_links_stay_inside', () => {
  const views_ = everyView(contextOf(makeHostile(readPlan())));
  const tags = new Set(views_.flatMap((view) => findAll(drawn(view), () => true).map((node) => node.tag)));
  for (const tag of ['script', 'img', 'iframe', 'foreignObject']) assert.ok(!tags.has(tag), tag);
  for (const view of views_) {
    for (const node of findAll(drawn(view), () => true)) {
      for (const [name, value] of Object.entries(node.attributes)) {
        if (name === 'href') assert.match(value, /^(#\/(zone|block|day|tomorrow|notices|do|change|working|sign-in|records|setup|sheet|weather)[\w/%=.-]*|plan\.txt|api\/v1\/plan)$/);
        if (name.startsWith('on')) assert.equal(typeof value, 'function');
        assert.ok(!['style', 'srcdoc', 'src'].includes(name), name);
      }
    }
  }
  const all = views_.map(said).join('\n');
  for (const name of NAMES) assert.ok(all.includes(plainName(name)), name);
  assert.doesNotMatch(all, /[\u202a-\u202e]/);
});

test('what_all_runs_of_a_day_share_is_said_once', () => {
  const plan = readPlan();
  const outlook = (view) => findAll(view.body, (n) => n.attributes.class === 'tag sure-outlook').length;
  const [, tomorrow] = plan.days;
  assert.equal(outlook(views.viewTomorrow(contextOf(plan))), 0);
  tomorrow.runs[0].sure = 'outlook';
  assert.equal(outlook(views.viewTomorrow(contextOf(plan))), 1, 'on its run');
  for (const run of tomorrow.runs) run.sure = 'outlook';
  const text = plain(said(views.viewTomorrow(contextOf(plan))));
  assert.equal((text.match(/A guess yet: the usual weather/g) ?? []).length, 1 + tomorrow.runs.length, 'once above, once in each run\u2019s exact figures');
  assert.equal(outlook(views.viewTomorrow(contextOf(plan))), 0, 'no tag on a run');
});

test('zone_view_keeps_to_its_own_runs_and_notices', () => {
  const ctx = contextOf(readPlan());
  const text = plain(said(views.viewZone(ctx, 'z4')));
  assert.match(text, /Grevillea needs water 6 times as often as Carex on the same valve/);
  assert.match(text, /Wed 14 Jan 03:30–03:54/);
  assert.doesNotMatch(text, /Viola bowls/);
  assert.match(text, /overhead · Bore pump · priority 2/);
  assert.equal(findAll(views.viewZone(ctx, 'z5').body, (n) => n.attributes.class === 'run' || n.attributes.class === 'run underway').length, 8);
});

test('block_view_says_next_watering_with_its_range_and_how_known', () => {
  const text = plain(said(views.viewBlock(contextOf(readPlan()), 'lomandra')));
  assert.match(text, /Safe until Wed 11:00, earliest Wed 08:00, latest Wed 15:00\./);
  assert.match(text, /Known from a weighing Mon 12 Jan 07:10\./);
  assert.match(text, /Soaked layer after draining: 3\.4 cm from the holes/);
  assert.match(text, /Uses 120 mL a pot today, 130 mL tomorrow\./);
  const used = (block) => plain(said(views.viewBlock(contextOf({ ...readPlan(), blocks: [{ ...readPlan().blocks[0], refill_pct: 35, ...block }] }), 'lomandra')));
  assert.match(used({ depletion_pct: 20, driest_pct: 31 }), /20 % of the usable water is gone, 31 % in the driest quarter of the bed\. Water again at 35 %\./);
  assert.match(used({ depletion_pct: 20, driest_pct: 20.2 }), /20 % of the usable water is gone\. Water again at 35 %\./);
  const { air_pct, air_lowest_pct } = readPlan().blocks.find((block) => block.id === 'lomandra');
  assert.ok(air_lowest_pct < air_pct - 1 && text.includes(`Air now ${Math.round(air_pct)} %, lowest ahead ${Math.round(air_lowest_pct)} %.`), text);
});

test('block_view_says_how_the_mix_suits_the_pot_and_skips_unknown_codes', () => {
  const plan = readPlan();
  plan.blocks.find((block) => block.id === 'lomandra').findings = ['too_wet', 'root_rot', 'from_the_future'];
  const text = plain(said(views.viewBlock(contextOf(plan), 'lomandra')));
  assert.match(text, /Too wet for growing on\. Under 10 % air after watering: root rot follows\./);
  assert.doesNotMatch(text, /future|Roots have taken/);
  plan.blocks.find((block) => block.id === 'lomandra').air_lost_pct = 6;
  assert.match(plain(said(views.viewBlock(contextOf(plan), 'lomandra'))), /Roots have taken 6 % since potting/);
});

test('every_run_says_why', () => {
  const ctx = contextOf(readPlan());
  const [, { runs }] = ctx.plan.days;
  const entries = findAll(views.viewTomorrow(ctx).body, (n) => /^run( |$)/.test(n.attributes.class ?? '')).map((n) => plain(textOf(n)));
  assert.equal(entries.length, runs.length);
  [...runs].sort((a, b) => a.start_s - b.start_s).forEach((run, i) => {
    for (const reason of run.reasons) assert.ok(entries[i].includes(plain(sayWhat(ctx, reason).map(textOf).join(''))), `${reason.code} in ${entries[i]}`);
  });
  assert.ok(runs.flatMap((run) => run.reasons).length > runs.length);
  const facts = (run) => plain(textOf(findAll(views.runEntry(ctx, { ...runs.find(({ zone }) => zone === 'z4'), ...run }, '2026-01-14'), (n) => n.attributes.class === 'facts')[0]));
  assert.equal(facts({}), '24 min · 3.6 m³ · 6.6 mm deep');
  assert.equal(facts({ depth_mm: null, litres_pot: 0.4, pulses: 3, pulse_minutes: 8, pause_minutes: 20 }), '24 min · in 3 parts of 8 min, pauses of 20 min · 3.6 m³ · 400 mL a pot');
});

test('a_day_ends_with_its_last_water_and_runs_by_hand_are_listed', () => {
  const plan = readPlan();
  const ctx = contextOf(plan);
  const [first, second] = plan.days[1].runs.slice(0, 2).map((run) => ({ ...run, by_hand: true }));
  Object.assign(first, { start: '2026-01-14T05:00:00+10:30', start_s: 100, end: '2026-01-14T09:00:00+10:30', end_s: 900 });
  Object.assign(second, { start: '2026-01-14T06:00:00+10:30', start_s: 200, end: '2026-01-14T07:00:00+10:30', end_s: 500 });
  const sum = views.sumDay({ ...plan.days[1], runs: [second, first] });
  assert.deepEqual([sum.from, sum.to], [first.start, first.end]);
  plan.days[1].runs = [second, first];
  const name = (run) => ctx.index.zone(run.zone).name;
  assert.ok(lines(plan).person.includes(`By hand: ${name(first)} 05:00, ${name(second)} 06:00`), lines(plan).person);
});

test('every_day_of_the_week_is_that_day', () => {
  const ctx = contextOf(readPlan());
  const titles = ctx.plan.days.slice(0, 4).map(({ date }) => views.viewDay(ctx, date).title);
  assert.deepEqual(titles, ['Today, Tue 13 Jan', 'Tomorrow, Wed 14 Jan', 'Thursday 15 January', 'Friday 16 January']);
});

test('a_day_that_does_not_fit_is_marked', () => {
  const plan = readPlan();
  const tones = () => fiveLines(contextOf(plan), 'tomorrow', plan.days[1]).map(({ key, tone }) => tone && `${key} ${tone}`).filter(Boolean);
  assert.deepEqual(tones(), ['person act', 'tomorrow watch']);
  plan.summary.tomorrow.fits = true;
  plan.notices = [];
  plan.weather.rung = 'old_forecast';
  assert.deepEqual(tones(), ['built watch']);
});

test('more_says_of_what_and_until_when_the_plan_is', () => {
  const text = plain(said(views.viewMore(contextOf(readPlan()))));
  assert.match(text, /Saltbush Gully Nursery, times of Australia\/Adelaide\..*Made Tue 16:10, good until Wed 24:00\./s);
});

test('a_supply_says_what_it_may_give_a_day', () => {
  const plan = readPlan();
  [plan.supplies[0].daily_limit_l, plan.supplies[1].daily_limit_l] = [45000, null];
  const cards = findAll(views.viewZones(contextOf(plan)).body, (n) => n.attributes['aria-labelledby'] === 'supplies').flatMap((n) => findAll(n, (one) => one.tag === 'li')).map((n) => plain(textOf(n)));
  assert.match(cards[0], /at most 45 m³ a day/);
  assert.doesNotMatch(cards[1], /a day/);
});

test('a_block_asks_for_three_days_past_and_four_ahead_and_says_once_that_it_is_due', () => {
  const ctx = contextOf(readPlan());
  const asked = [];
  ctx.desk.load = (path) => asked.push(path) && undefined;
  const told = () => plain(said(views.viewBlock(ctx, 'grevillea')));
  assert.match(told(), /Its zone runs next Tue 17:00\./);
  assert.deepEqual(asked, ['blocks/grevillea/hours?past_d=3&ahead_d=4'], 'as the words beside the drawing have it');
  ctx.index.block('grevillea').next_at_s = ctx.now_s;
  assert.match(told(), /Due now\. It waits for its run Tue 17:00\./);
  assert.doesNotMatch(told(), /Its zone runs next/);
});

test('what_does_not_fit_says_what_would_make_it_fit', () => {
  const text = plain(said(views.viewTomorrow(contextOf(readPlan()))));
  assert.match(text, /Tree line: 22 min, 1\.7 m³\./);
  assert.match(text, /70 L\/min more flow, or hours 22 min longer, would fit it in\. Open the hours longer/);
});

test('settings_tell_which_choice_was_made', () => {
  const made = [];
  const view = views.viewMore({ ...contextOf(readPlan()), choose: (...choice) => made.push(choice) });
  const inputs = findAll(view.body, (n) => n.tag === 'input');
  assert.deepEqual(inputs.filter((n) => n.attributes.checked).map((n) => n.attributes.value), ['en', 'metric', '24', 'auto']);
  inputs.find((n) => n.attributes.value === 'us').attributes.onchange();
  assert.deepEqual(made, [['units', 'us']]);
});

test('cautions_are_all_worded', () => {
  const ctx = contextOf(readPlan());
  for (const code of ctx.plan.cautions) assert.ok(ctx.words.has(`caution_${code}`), code);
  assert.match(textOf(views.cautions(ctx, ctx.plan.cautions, true)), /Backflow.*licensed/s);
});

test('a_run_is_running_only_when_its_start_has_come', () => {
  const ctx = contextOf(readPlan());
  const { run, date } = ctx.plan.days.flatMap((day) => day.runs.map((one) => ({ run: one, date: day.date })))[0];
  const entry = (late_s) => textOf(views.runEntry({ ...ctx, now_s: run.start_s + late_s }, { ...run, underway: true }, date));
  assert.doesNotMatch(entry(-60), /running now/);
  assert.match(entry(0), /running now/);
});

test('a_valve_with_several_blocks_says_who_leads_and_what_each_gets', () => {
  const ctx = contextOf(readPlan());
  const zone = ctx.plan.zones.find((one) => one.blocks.length > 1);
  const [first, second] = zone.blocks.map((id) => ctx.index.block(id));
  ctx.plan.notices = [{ code: 'too_much', severity: 'info', params: { block: second.id, zone: zone.id, litres_wasted: 500, drained_pct: 40 } }];
  for (const day of ctx.plan.days) for (const run of day.runs) if (run.zone === zone.id) run.reasons = [{ code: 'passes_refill', params: { block: first.id } }];
  Object.assign(first, { interval_d: 1, given_ahead_l: 2, drained_ahead_l: 0.5, pots: 100, harm_chance_pct: 60 });
  Object.assign(second, { interval_d: 2, given_ahead_l: 2, drained_ahead_l: 0.8, pots: 100, harm_chance_pct: 0, move_to: null });
  const body = views.viewZone(ctx, zone.id).body;
  assert.match(plain(body.flat(Infinity).filter(Boolean).map(textOf).join(' ')), new RegExp(`${first.name} leads the runs`));
  const rows = findAll(body, (n) => n.tag === 'tr').slice(1).map((row) => plain(row.children.map(textOf).join(' | ')));
  assert.match(rows[0], /24 h \| 25 % · 50 L \| Too little: dry between runs\.$/);
  assert.match(rows[1], /2 days · 2\.0 × the leader’s \| 40 % · 80 L \| Too much: 500 L wasted in this plan\.$/);
});

test('the_flow_of_the_chart_is_told_as_a_table_too', () => {
  const plan = readPlan();
  const day = plan.days.find((d) => d.runs.length > 1);
  const ctx = contextOf(plan, METRIC, 'en');
  const table = findAll(views.viewDay(ctx, day.date).body, (n) => n.attributes['data-key'] === 'flow')[0];
  const rows = findAll([table], (n) => n.tag === 'tr').slice(1).map((n) => plain(textOf(n)));
  const first = day.runs.reduce((a, b) => (a.start_s <= b.start_s ? a : b));
  const most = Math.max(...day.runs.map((run) => run.flow_l_min), day.peak_l_min);
  assert.ok(rows[0].startsWith(first.start.slice(11, 16)), rows[0]);
  assert.ok(rows.some((row) => row.endsWith(`${Math.round(most)} L/min`)), rows.join('\n'));
});

test('a_plan_of_one_day_has_no_tomorrow_and_says_so', () => {
  const plan = readPlan();
  plan.days.length = 1;
  assert.match(said(views.viewTomorrow(contextOf(plan))), /The plan does not reach Wednesday 14 January\./);
  assert.match(said(views.viewToday(contextOf(plan))), /Still to come/);
});

test('a_valve_without_blocks_or_a_post_is_named_all_the_same', () => {
  const plan = readPlan();
  const [zone] = plan.zones;
  Object.assign(zone, { blocks: [], post: null });
  assert.match(said(views.viewZone(contextOf(plan), zone.id)), /No blocks on this valve\./);
  const week = findAll(views.viewWeek(contextOf(plan)).body, (n) => n.attributes.class === 'chip').map((n) => plain(textOf(n)));
  assert.ok(week.some((text) => /^Outdoor beds north \d+ min$/.test(text)), week.join());
});

test('a_block_that_would_fare_better_elsewhere_and_a_wet_leader_are_told', () => {
  const ctx = contextOf(readPlan());
  Object.assign(ctx.index.block('carex'), { move_to: 'z5', harm_chance_pct: 0 });
  ctx.plan.notices = [{ code: 'led_by_wet', severity: 'info', params: { zone: 'z4', block: 'carex', thirsty: 'grevillea' } }];
  const text = plain(said(views.viewZone(ctx, 'z4')));
  assert.match(text, /in this cool weather Carex leads, which wet harms most\./);
  assert.match(text, /Right Carex would fare better on Tube tunnel\./);
});

test('the_list_of_zones_says_which_valve_has_unlike_blocks', () => {
  const marked = findAll(views.viewZones(contextOf(readPlan())).body, (n) => n.attributes.class === 'zone').map((n) => plain(textOf(n))).filter((text) => text.includes('Unlike blocks on one valve'));
  assert.equal(marked.length, 1);
  assert.match(marked[0], /^Valve V4 Grevillea and grasses.*Grevillea needs water 6 times as often as Carex/s);
});

test('exact_figures_have_the_digits_that_nobody_says', () => {
  const exactOf = (view) => findAll(findAll(view.body, (n) => n.attributes.class === 'exact')[0], (n) => n.tag === 'dd').map((n) => plain(textOf(n)));
  const shown = (choice) => {
    const ctx = contextOf(readPlan(), choice);
    const run = ctx.plan.days[1].runs.find(({ zone }) => zone === 'z4');
    Object.assign(run, { minutes: 24.26, litres: 87.6543, depth_mm: 6.604, litres_pot: 0.0784, flow_l_min: 150.2 });
    return exactOf({ body: [views.runEntry(ctx, run, '2026-01-14')] }).slice(0, 5);
  };
  assert.deepEqual(shown(METRIC), ['24.3 min', '87.654 L', '150.2 L/min', '6.60 mm', '0.078 L']);
  assert.deepEqual(shown(US), ['24.3 min', '23.156 gal', '39.68 gal/min', '0.260 in', '2.65 fl oz']); // 231 cubic inches, 128 ounces
  const ctx = contextOf(readPlan());
  Object.assign(ctx.index.block('lomandra'), { next_at: '2026-01-14T11:20:00+10:30', interval_d: 2.349, wet_layer_cm: 3.44, air_at_capacity_pct: 21.37 });
  const block = findAll(views.viewBlock(ctx, 'lomandra').body, (n) => n.attributes['data-key'] === 'block').map((n) => plain(textOf(n))).join();
  for (const part of ['Due2026-01-14 11:20', '2.35 days', '3.4 cm', '21.4 %']) assert.ok(block.includes(part), `${part} in ${block}`);
});

test('a_run_says_what_to_do_about_its_reason', () => {
  const plan = readPlan();
  const day = plan.days.find((d) => d.runs.length);
  day.runs[0].reasons.push({ code: 'windy_hours', params: {} });
  assert.match(said(views.viewDay(contextOf(plan, METRIC, 'en'), day.date)), /No calm hours were left.* Look at the edges of the bed afterwards/);
});

test('what_does_not_fit_stands_under_its_day', () => {
  const plan = readPlan();
  plan.unplaced.push({ ...plan.unplaced[0], date: plan.days[0].date, ordered: true, minutes: 77 });
  const ctx = contextOf(plan, METRIC, 'en');
  assert.match(said(views.viewToday(ctx)), /77\smin/);
  assert.doesNotMatch(said(views.viewTomorrow(ctx)), /77\smin/);
});
