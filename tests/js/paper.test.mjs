// SPDX-License-Identifier: GPL-3.0-or-later
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';

import { courseBody, courseRange, drawCourse, limitSteps } from '../../web/page.js';
import { sheetRows, viewCard, viewChecks, viewSheet, viewWeather } from '../../web/work.js';
import { METRIC, US, contextOf, findAll, plain, readPlan, textOf } from './help.mjs';

const read = (name) => JSON.parse(readFileSync(new URL(`fixtures/${name}.json`, import.meta.url), 'utf8'));

function contextWith(answers, choice = METRIC, language = 'en') {
  const ctx = contextOf(readPlan(), choice, language);
  return { ...ctx, desk: { ...ctx.desk, load: (path) => answers[path.split('?')[0]] ?? null } };
}

const said = (view) => plain(view.body.flat(Infinity).filter(Boolean).map(textOf).join('\n'));

test('a_sheet_shows_the_issued_run_struck_and_its_change_marked', () => {
  const sheet = read('sheet');
  const view = viewSheet(contextWith({ sheet }));
  const rows = findAll(view.body, (n) => n.tag === 'tr' && n.attributes.class === 'changed');
  assert.equal(rows.length, 2, 'moved and added');
  const [struck] = findAll(rows[0], (n) => n.tag === 's').map(textOf);
  assert.match(struck, /^\d\d:\d\d–\d\d:\d\d$/);
  assert.match(plain(textOf(rows[0])), /▲ moved.*11:00–11:42/);
  assert.match(plain(textOf(rows[1])), /▲ added.*19:00–19:30/);
  assert.match(said(view), /3 changes since it was issued\./);
  assert.match(said(view), /1 Bed 1, shrubs: still wet until Wed 25 Nov 10:58/);
  assert.match(said(view), /▲ 1 Bed 1, shrubs: Held: spraying\. From Wed 25 Nov 12:00 to Wed 25 Nov 18:00\./);
  assert.match(said(view), /The next one is issued Wed 25 Nov 16:00\./);
  assert.doesNotMatch(said(view), /No forecast/);
});

test('a_sheet_marks_every_figure_that_changed_and_says_what_weather_it_was_built_on', () => {
  const sheet = read('sheet');
  sheet.weather = { rung: 'normals', age_s: null };
  const run = sheet.runs[1];
  const { start, end } = run;
  sheet.exceptions = [{ code: 'minutes', run: run.run, zone: run.zone, start, end, minutes: 22, litres: 1540, depth_mm: null, litres_pot: 4.4 },
    { code: 'added', run: null, zone: 'bed-1', bed: 'Bed 1', start, end, minutes: 30, litres: 2040, depth_mm: 6, litres_pot: null }];
  const view = viewSheet(contextWith({ sheet }));
  const [row, added] = findAll(view.body, (n) => n.tag === 'tr' && n.attributes.class === 'changed');
  assert.deepEqual(findAll(row, (n) => n.tag === 's').map((n) => plain(textOf(n))), ['21 min', '4.2 L a pot']);
  assert.match(plain(textOf(added)), /30 min6 mm2 m³/);
  assert.match(said(view), /No forecast: the usual weather of the month/);
});

test('a_sheet_has_a_row_a_run_in_walking_order_and_blanks_to_write_in', () => {
  const sheet = { ...read('sheet'), exceptions: null };
  assert.deepEqual(sheetRows(sheet).map((row) => row.run.run), sheet.runs.map((run) => run.run));
  const view = viewSheet(contextWith({ 'sheets/1': sheet }), '1');
  assert.equal(findAll(view.body, (n) => n.attributes.class === 'blank').length, 5 * sheet.runs.length);
  assert.equal(said(view).match(/D R W/g).length, sheet.runs.length);
  for (const first of sheet.first_if_it_fails) assert.ok(said(view).includes(first.name), first.name);
});

test('paper_says_whole_words_in_both_languages_and_units', () => {
  for (const language of ['en', 'es']) {
    for (const choice of [METRIC, US]) {
      const ctx = contextWith({ sheet: read('sheet'), card: read('card') }, choice, language);
      for (const view of [viewSheet(ctx), viewCard(ctx), viewSheet(contextWith({})), viewCard(contextWith({}))]) {
        assert.doesNotMatch(said(view), /undefined|NaN|\bnull\b|\[object|\{\w+\}|sheet_|card_/, view.title);
      }
    }
  }
});

test('the_card_has_minutes_for_every_zone_and_day', () => {
  const card = read('card');
  const view = viewCard(contextWith({ card }));
  const cells = findAll(view.body, (n) => n.tag === 'td');
  const zones = card.supplies.flatMap((supply) => supply.zones);
  assert.equal(cells.length, (zones.length + card.first_if_it_fails.length) * card.et0_mm.length);
  const twice = zones.flatMap((zone) => zone.cells).find((cell) => cell.twice);
  assert.ok(said(view).includes(`2 × ${Math.round(twice.minutes / 2)} min`), 'halves of what the day needs');
});

test('a_course_stays_in_its_drawing_and_its_levels_are_to_scale', () => {
  const course = read('hours');
  const [least, most] = courseRange(course);
  assert.ok(least <= Math.min(...course.water_l) && most >= Math.max(...course.water_l, course.limits[0].full_l));
  for (const width of [240, 328, 900]) {
    const tree = drawCourse(course, { label: '', day: (date) => date }, width, 14);
    const line = (kind) => findAll(tree, (n) => n.attributes.class === kind)[0];
    const points = line('mark-course').attributes.points.split(' ').map((p) => p.split(',').map(Number));
    assert.equal(points.length, course.hours + 1);
    for (const [x, y] of points) assert.ok(x >= 0 && x <= width && y >= 0 && y <= tree.attributes.height);
    const [full, refill] = [line('mark-full').attributes.y1, line('mark-refill').attributes.y1];
    const perLitre = (refill - full) / (course.limits[0].full_l - course.limits[0].refill_l);
    assert.ok(Math.abs(perLitre / ((11 * 14) / (most - least)) - 1) < 0.02, 'from the least to the most over all its height');
    const share = (points[0][1] - full) / (course.limits[0].full_l - course.water_l[0]);
    assert.ok(Math.abs(share / perLitre - 1) < 0.02, 'water and limits share a scale');
    assert.equal(findAll(tree, (n) => n.tag === 'rect' && n.attributes.class === 'available').length, course.in_l.filter((l) => l > 0).length);
  }
});

test('weather_says_where_it_is_from_what_was_left_out_learnt_and_how_right_it_was', () => {
  const text = said(viewWeather(contextOf(readPlan())));
  for (const part of ['met · forecast', 'station: wind did not move for hours. 6 h left out, last', 'Temperature, forecast too warm by+0.8 °C', 'Wind× 0.60', '1 day0.5 mm2 hit, 1 missed, 1 for nothing']) assert.ok(text.includes(part), `${part} in ${text}`);
});

test('limits_hold_until_the_next_ones', () => {
  const limits = [{ hour: 0, full_l: 2 }, { hour: 30, full_l: 3 }];
  assert.deepEqual(limitSteps({ limits, hours: 100 }, 'full_l'), [[0, 30, 2], [30, 100, 3]]);
});

test('a_sheet_says_whatever_is_out_of_the_usual', () => {
  const sheet = { ...read('sheet'), late: true, replaces: 7, remarks: '<b>gate</b>', exceptions: [] };
  sheet.stops = [{ code: 'wind', limit_m_s: 4, from: '2026-11-25T13:00:00-06:00', to: '2026-11-25T18:00:00-06:00' }, { code: 'people' }, { code: 'frost', limit_c: 1, from: null }];
  Object.assign(sheet.runs[0], { purpose: 'wash-in', counts_on_rain_mm: 12, by_hand: true });
  const from = '2026-11-25T10:00:00-06:00';
  const to = '2026-11-25T12:00:00-06:00';
  sheet.notes = [{ zone: null, post: null, bed: null, reason: { code: 'held', params: { kind: 'spraying' } }, from, to }, { zone: 'z4', post: '4', bed: 'Bed', reason: { code: 'required', params: { purpose: 'feed', minutes: 20 } }, from, to }];
  sheet.by_hand[0].part = 'edges';
  const text = said(viewSheet(contextWith({ sheet })));
  for (const part of ['replaces sheet 7 · late', 'sprinklers when wind is over 4 m/s (forecast from Wed 25 Nov 13:00); when people are in the bed; at 1 °C and colder', '(by hand) · washing in', 'Counts on rain before it (12 mm forecast)',
    'the whole nursery: Held: spraying. From Wed 25 Nov 10:00 to Wed 25 Nov 12:00.', '4 Bed: Required: feed, at least 20 min.', 'dry edges only', '<b>gate</b>']) assert.ok(text.includes(part), `${part} in ${text}`);
  assert.doesNotMatch(text, /changes? since/);
  assert.match(said(viewSheet(contextWith({ sheet: { ...sheet, runs: [], exceptions: null, first_if_it_fails: [] } }))), /No runs on this day\./);
});

test('a_run_that_is_dropped_is_struck_whole', () => {
  const sheet = read('sheet');
  sheet.exceptions = [{ code: 'dropped', run: sheet.runs[0].run, zone: sheet.runs[0].zone, start: null, end: null, minutes: null, litres: null, depth_mm: null, litres_pot: null }];
  const [row] = findAll(viewSheet(contextWith({ sheet })).body, (n) => n.tag === 'tr' && n.attributes.class === 'changed');
  assert.match(plain(textOf(row)), /▲ dropped/);
  assert.equal(findAll(row, (n) => n.tag === 's').length, 4, 'time, minutes, depth and litres');
});

test('the_card_says_what_is_cut_what_comes_in_parts_and_what_bears_long', () => {
  const card = read('card');
  const cell = { minutes: 30, every_d: 3, twice: false, cut: true, pulses: 2 };
  card.supplies[0].zones[0].cells = [cell, { ...cell, minutes: 0 }, { ...cell, twice: false, cut: false, hours: 'once' }, { ...cell, cut: false, hours: 'short' }];
  card.first_if_it_fails[0].safe_h[0] = null;
  const cells = findAll(viewCard(contextWith({ card })).body, (n) => n.tag === 'td').map((n) => plain(textOf(n)));
  assert.deepEqual(cells.slice(0, 4), ['30 min every 3 d in 2 parts ▼', '–', '30 min every 3 d in 2 parts ◆', '30 min every 3 d in 2 parts ▼']);
  assert.ok(cells.includes('over 14 d'));
});

test('the_five_checks_show_what_was_said_beside_what_was_found', () => {
  const checks = read('checks');
  assert.match(said(viewChecks(contextWith({ checks }))), /Put cans beside pots\..*Seal what is expected.*Soak and drain a real pot.*Tap “dry”.*Report runs.*Read the gauge\./s);
  const at = (day) => `2026-01-${day}T08:00:00+10:30`;
  checks.litres = { do: null, cans: [{ zone: 'z1', date: '2026-01-10', expected_mm: 8, caught_mm: 6.4, ratio: 1.25, du_low_quarter_pct: 71 }],
    pots: [{ block: 'carex', at: at(11), expected_ml: 300, given_ml: 240, drained_pct: 12, target_pct: 15 }, { block: 'elms', at: at(11), expected_ml: null, given_ml: 900, drained_pct: 9, target_pct: 15 }] };
  const item = { block: 'carex', weighed_at: at(12), expected_l: 0.3, from_l: 0.25, to_l: 0.35, weighed_l: 0.31, inside: true, watered: false };
  checks.water_lost = { do: null, open: [{ block: 'elms', sealed_at: at(13), until: at(15) }], items: [item, { ...item, weighed_l: 0.5, inside: false }, { ...item, watered: true }], score: { count: 2, inside: 1 } };
  checks.capacity.items[0].measured = [{ air_pct: 11 }];
  const thirst = { block: 'carex', due_at: at(12), said_at: at(11), hit: false };
  checks.thirst = { do: null, items: [thirst, { ...thirst, said_at: at(13), hit: true }], score: { count: 2, hits: 1 } };
  checks.meter = { do: null, yesterday: { from: '2026-01-12', to: '2026-01-12', planned_l: 1200, metered_l: 1000, ratio: 1.2 }, running: { from: '2025-12-14', to: '2026-01-12', planned_l: 0, metered_l: 0, ratio: null } };
  checks.rain = { do: 'use_feed', items: [{ from: at(11), to: at(12), feed_mm: 4, gauge_mm: 6 }] };
  const ctx = contextWith({ checks });
  const text = said(viewChecks(ctx));
  for (const part of ['Outdoor beds north · Sat 10 Jan · said 8 mm, found 6.4 mm · 125 % · uniformity 71 %', 'Carex · Sun 11 Jan 08:00 · said 300 mL, found 240 mL · drained 12 %, meant 15 %', 'Elms · Sun 11 Jan 08:00 · 900 mL · drained 9 %',
    'Elms: sealed Tue 08:00, until Thu 08:00. Weigh a pot', 'Carex · Mon 12 Jan 08:00 · said 300 mL (250 mL–350 mL), found 310 mL · hit', 'found 500 mL · missed', 'found 310 mL · watered meanwhile', '1 of 2 hit.', '11 %',
    'Carex · said Mon 12 Jan 08:00, found Sun 11 Jan 08:00 · missed', 'found Tue 08:00 · hit', 'Mon 12 Jan – Mon 12 Jan: said 1.2 m³, found 1 m³ · 120 %', 'There is no forecast to hold the gauge against.', 'Sun 11 Jan 08:00 – Mon 12 Jan 08:00 · said 4 mm, found 6 mm']) {
    assert.ok(text.includes(part), `${part} in ${text}`);
  }
  assert.equal((text.match(/ – .*: said/g) ?? []).length, 1, 'a meter that told nothing is not set beside the plan');
});

test('a_prediction_is_sealed_for_the_block_that_was_chosen', async () => {
  const sent = [];
  const ctx = contextWith({ checks: read('checks') });
  const draft = {};
  Object.assign(ctx, { redraw: () => {} });
  Object.assign(ctx.desk, { draft: () => draft, drop: (id) => sent.push(`drop ${id}`), send: async (...what) => sent.push(what) && { ok: true } });
  const view = () => viewChecks(ctx).body;
  findAll(view(), (n) => n.attributes.id === 'f-block')[0].attributes.onchange({ target: { value: 'carex' } });
  await findAll(view(), (n) => n.tag === 'form')[0].attributes.onsubmit({ preventDefault: () => {} });
  assert.deepEqual(sent, [['seal', 'POST', 'predictions', { blocks: ['carex'] }], 'drop seal']);
});

test('a_course_draws_what_may_have_run_what_rained_and_what_was_found', () => {
  const course = read('hours');
  const bare = (n) => n.attributes.class;
  const kinds = (tree) => new Set(findAll(tree, (n) => typeof bare(n) === 'string').map(bare));
  const words = (c) => textOf({ children: courseBody(contextOf(readPlan()), c).flat(Infinity) });
  const draw = (c) => drawCourse(c, { label: '', day: (date) => date }, 328, 14);
  for (const kind of ['mark-ran', 'bar-rain']) assert.ok(!kinds(draw(course)).has(kind), kind);
  assert.doesNotMatch(words(course), /nobody told|Rain \(/);
  course.water_if_ran_l = course.water_l.map((l) => l + 0.1);
  [course.rain_l[60], course.rain_mm[60]] = [0.2, 4];
  course.found.push({ at_s: course.start_s - 3600, what: 'dry' });
  const tree = draw(course);
  const labels = findAll(tree, (n) => n.tag === 'text').map((n) => [textOf(n), n.attributes.x]);
  assert.deepEqual(labels[0], ['2026-11-24', Math.round((16 * 3280) / course.hours) / 10 + 3], 'the first midnight, 16 hours on');
  const [bar] = findAll(tree, (n) => bare(n) === 'bar-rain');
  assert.equal(bar.attributes.x, (60 * 328) / course.hours);
  assert.ok(bar.attributes.height > 1);
  assert.equal(findAll(tree, (n) => bare(n) === 'mark-ran')[0].attributes.points.split(' ').length, course.hours + 1);
  assert.equal(findAll(tree, (n) => bare(n) === 'found').length, 1, 'what lies before the drawing is not in it');
  assert.match(words(course), /If the runs nobody told of did run.*Rain/s);
  assert.equal(findAll(draw({ ...course, from_l: [], to_l: [] }), (n) => bare(n) === 'spread').length, 0);
});

test('weather_without_a_source_says_so_and_keeps_the_notices', () => {
  const plan = readPlan();
  Object.assign(plan.weather, { rung: 'normals', age_s: null, sources: [], rejected: [], learnt: [], skill: [], error: '<i>HTTP 500</i>' });
  assert.match(said(viewWeather(contextOf(plan))), /No forecast: the usual weather.*The last try: <i>HTTP 500<.i>.*No weather source.*All readings were taken/s);
  plan.notices.push({ code: 'weather_fading', severity: 'watch', since: null, since_s: null, params: { age_h: 40 } });
  assert.match(said(viewWeather(contextOf(plan))), /The forecast is 40 h old/);
});

test('a_run_by_hose_has_its_blocks_and_a_shut_valve_whose_blocks_get_the_hose_says_so', () => {
  const sheet = read('sheet');
  sheet.runs[0].blocks = [{ block: 'palms', name: 'Palms', minutes: 8 }, { block: 'olives', name: 'Olives', minutes: 10 }];
  sheet.do_not_water = [{ zone: 'z1', bed: 'Bed', post: '1', code: 'no_room', until: null, by_hand: true }, { zone: 'z2', bed: 'Row', post: '2', code: 'held', until: null, by_hand: false }];
  const text = said(viewSheet(contextWith({ sheet })));
  assert.match(text, /Palms 8 min · Olives 10 min/);
  assert.match(text, /Bed: no room\. Keep it shut: its blocks under By hand get the hose\./);
  assert.doesNotMatch(text, /Row: held\./);
});
