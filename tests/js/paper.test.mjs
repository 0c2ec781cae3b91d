// SPDX-License-Identifier: GPL-3.0-or-later
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';

import { courseRange, drawCourse, limitSteps } from '../../web/page.js';
import { sheetRows, viewCard, viewSheet, viewWeather } from '../../web/work.js';
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
