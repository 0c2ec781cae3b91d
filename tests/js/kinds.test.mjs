// SPDX-License-Identifier: GPL-3.0-or-later
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';

import { DAYWORK, SETUP, complete, fieldsOf, fromLocal, idOf, isAsked, rangeOf, readDraft, readNumber, toLocal, toText } from '../../web/work.js';
import { dryCorner, lowQuarter } from '../../web/work.js';
import english from '../../web/words.en.js';
import { label, word } from '../../web/work.js';
import { contextOf, readPlan } from './help.mjs';

test('a_range_that_was_refused_is_said_in_the_readers_units', () => {
  const field = (kind, name, format) => fieldsOf(kind, format).find((f) => f.name === name);
  const rain = { accepted_min: 0, accepted_max: 1000 };
  assert.equal(rangeOf(field('gauge', 'rain_mm'), rain), '0–1000 mm');
  assert.equal(rangeOf(field('gauge', 'rain_mm', { us: true, mark: ',' }), rain), '0–39,37 in');
  assert.equal(rangeOf(field('weighings', 'now_kg'), { accepted_max: 2.5 }), '≤ 2.5 kg');
  assert.equal(rangeOf(field('weighings', 'now_kg', { us: true }), { accepted_min: 18 }), '≥ 39.68 lb');
  assert.equal(rangeOf(field('zones', 'flow_l_min'), { accepted_min: 0, accepted_max: 1e5 }), '0–100000 L/min');
  assert.equal(rangeOf(field('blocks', 'canopy_cm'), { detail: '200 given, accepted is at most three times the spacing (28 cm): in cm' }), null);
  assert.equal(rangeOf(field('gauge', 'to'), { accepted_max: 1 }), null);
  assert.equal(rangeOf(undefined, rain), null);
  assert.equal(rangeOf(field('gauge', 'rain_mm'), undefined), null);
});

test('every_field_and_option_of_every_form_has_words', () => {
  const ctx = contextOf(readPlan());
  for (const kind of [...DAYWORK, ...SETUP, 'touch_checks']) {
    assert.ok(`k_${kind}` in english, kind);
    for (const field of fieldsOf(kind)) {
      assert.ok(label(ctx, field.name), `${kind}: ${field.name}`);
      for (const option of field.options ?? []) assert.ok(`w_${option.replaceAll('-', '_')}` in english, `${kind}: ${option} as ${word(ctx, option)}`);
    }
  }
});

test('every_form_asks_for_what_the_records_need_and_for_nothing_else', () => {
  const documented = readFileSync(new URL('../../docs/records.md', import.meta.url), 'utf8');
  for (const kind of [...DAYWORK, ...SETUP, 'touch_checks']) {
    const [table] = documented.split(`## ${kind}.csv`)[1].split('\n## ');
    const columns = [...table.matchAll(/^\| `(\w+)` \| (needed|) *\|/gm)].map(([, name, needed]) => ({ name, needed: needed !== '' }));
    assert.ok(columns.length > 2, kind);
    const fields = fieldsOf(kind);
    const filled = complete(kind, { name: 'x' }, null, 1768284000);
    assert.deepEqual(columns.filter((c) => c.needed && !(c.name in filled) && !fields.find((f) => f.name === c.name)?.needed).map((c) => c.name), [], `${kind} needs`);
    assert.deepEqual(fields.map((f) => f.name).filter((name) => name !== 'shut' && !columns.some((c) => c.name === name)), [], `${kind} knows`);
  }
});

test('read_number_takes_point_and_comma_and_guesses_at_nothing', () => {
  assert.equal(readNumber('2,5'), 2.5);
  assert.equal(readNumber(' 2.5 '), 2.5);
  assert.equal(readNumber('.5'), 0.5);
  for (const text of ['', '1,500.2', '1.2.3', '12 L', '1e5', '--2', 'x']) assert.ok(Number.isNaN(readNumber(text)), text);
  assert.ok(Number.isNaN(readNumber('1,500', true)), 'a thousands mark in a count');
});

test('local_times_are_the_nurserys_on_both_sides_of_a_clock_change', () => {
  for (const [text, zone, utc] of [
    ['2026-01-13T16:10', 'Australia/Adelaide', '2026-01-13T05:40:00Z'],
    ['2026-07-13T16:10', 'Australia/Adelaide', '2026-07-13T06:40:00Z'],
    ['2026-03-29T00:30', 'Europe/Madrid', '2026-03-28T23:30:00Z'],
    ['2026-03-29T03:30', 'Europe/Madrid', '2026-03-29T01:30:00Z'],
    ['2026-07-01T06:00', 'America/St_Johns', '2026-07-01T08:30:00Z'],
  ]) {
    const moment = fromLocal(text, zone);
    assert.equal(new Date(moment).toISOString(), utc.replace('Z', '.000Z'));
    assert.ok(moment.startsWith(text), `${moment}: the hour that was typed, for whoever reads it in a refusal`);
    assert.equal(toLocal(Date.parse(utc) / 1000, zone), text);
  }
  assert.equal(fromLocal('yesterday', 'Europe/Madrid'), null);
});

test('a_draft_is_read_in_the_readers_units_and_written_back_the_same', () => {
  const fields = fieldsOf('gauge', { us: true });
  const draft = { from: '2026-01-12T07:00', to: '2026-01-13T07:00', rain_mm: '0.5' };
  const { body, faults } = readDraft(fields, draft, 'Europe/Madrid');
  assert.deepEqual(faults, {});
  assert.deepEqual(body, { from: '2026-01-12T07:00:00+01:00', to: '2026-01-13T07:00:00+01:00', rain_mm: 12.7 });
  for (const field of fields) assert.equal(toText(field, body[field.name], 'Europe/Madrid'), draft[field.name]);
});

test('a_draft_says_what_is_missing_or_unreadable', () => {
  const { faults } = readDraft(fieldsOf('weighings'), { block: 'b', at: '', capacity_kg: 'heavy', now_kg: '1' }, 'Europe/Madrid');
  assert.deepEqual(faults, { at: 'needed', capacity_kg: 'unread' });
});

test('what_a_hold_shuts_is_chosen_never_left_over', () => {
  const read = (draft) => readDraft(fieldsOf('holds'), { kind: 'spraying', from: '2026-01-12T07:00', ...draft }, 'Europe/Madrid').faults;
  assert.deepEqual(read({}), { shut: 'needed' });
  assert.deepEqual(read({ shut: 'one-zone' }), { zone: 'needed' });
  assert.deepEqual(read({ shut: 'one-zone', zone: 'z4' }), {});
  assert.deepEqual(read({ shut: 'whole-nursery' }), {});
  assert.deepEqual(read({ shut: 'whole-nursery', kind: 'ban' }), { allowed_pct: 'needed' });
});

test('a_cover_is_read_in_per_cent_and_yes_or_no', () => {
  const fields = fieldsOf('covers', { us: true });
  const draft = { name: 'Net', transmissivity: '55', warmer_c: '5.4', rain: 'no' };
  const { body, faults } = readDraft(fields, draft, 'Europe/Madrid');
  assert.deepEqual([body, faults], [{ name: 'Net', transmissivity: 0.55, warmer_c: 3, rain: false }, {}]);
  for (const field of fields.filter((f) => f.name in draft)) assert.equal(toText(field, body[field.name]), draft[field.name]);
  assert.deepEqual(readDraft(fields, { ...draft, rain: '' }).faults, { rain: 'needed' });
});

test('ticks_and_days_come_back_as_they_were_typed', () => {
  const field = (kind, name) => fieldsOf(kind).find((f) => f.name === name);
  assert.deepEqual([true, false, null].map((value) => toText(field('blocks', 'potted'), value)), ['yes', '', '']);
  assert.equal(toText(field('windows', 'days'), ['mon', 'fri']), 'mon fri');
  assert.deepEqual(readDraft(fieldsOf('catch_cans'), { zone: 'z', on: '2026-01-10', catches_ml: '40 x 41' }).faults, { catches_ml: 'unread' });
});

test('a_grid_of_cans_keeps_its_rows', () => {
  const [field] = fieldsOf('catch_cans').filter((f) => f.type === 'grid');
  assert.equal(toText(field, [41, 38, 44, 35], 'UTC', 2), '41 38\n44 35');
  assert.equal(toText(field, [41, 38, 44], 'UTC', null), '41 38 44');
});

test('an_event_asks_only_for_what_it_needs', () => {
  const asked = (event) => fieldsOf('pot_events').filter((f) => isAsked(f, { event })).map((f) => f.name).slice(3);
  assert.deepEqual(asked('sold'), ['pots']);
  assert.deepEqual(asked('pruned'), ['canopy_cm', 'plant_height_m']);
  assert.deepEqual(asked('moved'), ['zone', 'cover', 'spacing_cm', 'row_cm']);
  assert.deepEqual(asked('ended'), []);
});

test('complete_gives_keys_and_who_wrote', () => {
  const order = complete('orders', { zone: 'z' }, { account: 'north-house' }, 1768284000);
  assert.match(order.key, /^[a-z0-9-]{1,40}$/);
  assert.deepEqual([order.at, order.who], ['2026-01-13T06:00:00Z', 'north-house']);
  const sale = complete('pot_events', { event: 'sold' }, null, 1768284000);
  assert.match(sale.ref, /^[a-z0-9-]{1,40}$/);
  assert.equal(complete('pot_events', sale, null, 1768284001).ref, sale.ref);
  assert.deepEqual(complete('pot_events', { event: 'pruned' }), { event: 'pruned' });
  assert.equal(complete('zones', { name: 'Túnel Nº 3 – norte' }).zone, 'tunel-n-3-norte');
  assert.equal(idOf('---'), '');
});

test('low_quarter_uniformity_of_a_grid', () => {
  assert.equal(lowQuarter([10, 10, 10]), null);
  assert.equal(lowQuarter([10, 10, 10, 10]), 100);
  assert.equal(lowQuarter([5, 10, 10, 15]), 50);
});

test('the_dry_corner_of_a_grid_of_cans_is_the_quarter_that_caught_least', () => {
  assert.deepEqual(dryCorner([[10, 10, 4], [10, 10, 5], [10, 10, 10]]), [1, 3]);
  assert.deepEqual(dryCorner([[10, 10], [2, 10]]), [2, 1]);
  assert.equal(dryCorner([[10, 10, 10, 2]]), null);
  assert.equal(dryCorner([[10, 10], [10]]), null);
});
