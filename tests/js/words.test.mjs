// SPDX-License-Identifier: GPL-3.0-or-later
import assert from 'node:assert/strict';
import { readFileSync, readdirSync } from 'node:fs';
import { test } from 'node:test';

import english from '../../web/words.en.js';
import spanish from '../../web/words.es.js';
import { makeWords, nameText, nameTree, plainName } from '../../web/page.js';
import { sayThen, sayWhat } from '../../web/page.js';
import { contextOf, plain, readPlan, textOf } from './help.mjs';

const WEB = new URL('../../web/', import.meta.url);

function slots(entry) {
  const texts = typeof entry === 'string' ? [entry] : Object.values(entry);
  return [...new Set(texts.flatMap((text) => text.match(/\{\w+\}/g) ?? []))].sort();
}

test('both_catalogues_have_the_same_keys_and_the_same_slots', () => {
  assert.deepEqual(Object.keys(spanish), Object.keys(english));
  for (const key of Object.keys(english)) assert.deepEqual(slots(spanish[key]), slots(english[key]), key);
});

test('spanish_is_translated', () => {
  const same = Object.keys(english).filter((key) => typeof english[key] === 'string' && english[key] === spanish[key] && /[a-z]{3}/.test(english[key].replace(/\{\w+\}/g, '')));
  assert.deepEqual(same, ['nav_plan', 'say_other'].filter((key) => same.includes(key)));
});

const ENGLISH = /\b(the|and|or|of|from|with|is|are|at|to|by|for|not|it|this|your?|please|change|remove|save|number|hours?|days?|water|account|irrigation)\b/i;

test('no_english_word_is_left_in_spanish', () => {
  const texts = Object.entries(spanish).flatMap(([key, entry]) => (typeof entry === 'string' ? [entry] : Object.values(entry)).map((text) => [key, text.replace(/\{\w+\}|perchd account add/g, '')]));
  assert.deepEqual(texts.filter(([, text]) => ENGLISH.test(text)), []);
});

test('every_key_in_the_code_is_in_the_catalogue', () => {
  const missing = [];
  for (const file of readdirSync(WEB).filter((name) => name.endsWith('.js') && !name.startsWith('words.'))) {
    const source = readFileSync(new URL(file, WEB), 'utf8');
    for (const [, key] of source.matchAll(/words\.(?:text|parts)\('(\w+)'/g)) if (!(key in english)) missing.push(`${file}: ${key}`);
  }
  assert.deepEqual(missing, []);
});

test('text_replaces_slots_and_says_what_is_missing', () => {
  const words = makeWords({ unknown: '?', a: '{x} and {y}' }, 'en');
  assert.equal(words.text('a', { x: 1, y: 'two' }), '1 and two');
  assert.equal(words.text('a', { x: null }), '? and ?');
  assert.equal(words.text('no_such_key'), 'no_such_key');
});

test('text_chooses_the_plural_by_n', () => {
  const words = makeWords(english, 'en-GB');
  assert.equal(words.text('days', { n: 1 }), '1 day');
  assert.equal(words.text('days', { n: 4 }), '4 days');
});

test('a_slot_in_a_name_is_not_replaced_again', () => {
  const words = makeWords({ unknown: '?', a: '{x} {y}' }, 'en');
  assert.equal(words.text('a', { x: '{y}', y: 'secret' }), '{y} secret');
});

test('plain_name_drops_unseen_marks_and_keeps_letters', () => {
  assert.equal(plainName('a\u202eb\u0000c\u2069d'), 'a b c d');
  assert.equal(plainName('\u05d0\u05d1 🌿'), '\u05d0\u05d1 🌿');
  assert.equal(plainName('\u200b\u202e', 'z1'), 'z1');
  assert.equal(plainName(null, 'z1'), 'z1');
});

test('names_are_kept_apart_from_their_sentence', () => {
  assert.equal(nameText('\u05d0', 'x'), '\u2068\u05d0\u2069');
  assert.deepEqual(nameTree('<b>x</b>', 'x', '#/block/x'), {
    tag: 'a',
    attributes: { href: '#/block/x' },
    children: [{ tag: 'bdi', attributes: {}, children: ['<b>x</b>'] }],
  });
});

/* Every code of docs/api.md with parameters as the planner gives them. */
const T = { at: '2026-01-14T11:20:00+10:30', at_s: 1768351800 };
const SAID = [
  ['passes_refill', { block: 'lomandra', ...T, next_window: '2026-01-14T17:00:00+10:30', next_window_s: 2 }, 'Lomandra needs water by Wed 11:00; its next watering hours, Wed 17:00, would be too late.'],
  ['passes_refill', { block: 'lomandra', ...T, next_window: null, next_window_s: null }, 'Lomandra needs water by Wed 11:00.'],
  ['sized_for', { block: 'carex' }, 'The minutes are what Carex lacks.'],
  ['evens_bed', {}, 'A soak: the dry quarter of the bed was not filled for five days.'],
  ['windy_hours', {}, 'No calm hours were left: wind above 4 m/s, the pattern suffers.'],
  ['passes_refill', { block: 'lomandra', at: '2026-01-13T15:00:00+10:30', at_s: 1768278600, next_window: null, next_window_s: null }, 'Lomandra is due.'],
  ['least_run', { minutes: 5 }, 'Lengthened to the shortest useful run, 5 min.'],
  ['cut_to_day_limit', { minutes: 30, wanted_minutes: 44 }, 'Cut to 30 min by the zone’s daily limit; 44 min were needed.'],
  ['still_wet', { block: 'banksia' }, 'Still wet: Banksia will need water first.'],
  ['waits_for_rain', { rain_mm: 9.5 }, 'Rain of about 9.5 mm should cover it; if it fails, it is watered in time.'],
  ['no_plants', {}, 'No block with pots stands on this zone.'],
  ['no_window', {}, 'No watering hours on that day.'],
  ['supply_full', { flow_l_min: 70, minutes_more: 22 }, 'The supply is full: 70 L/min more flow, or hours 22 min longer, would fit it in.'],
  ['window_short', { minutes: 95, allowed_minutes: 60 }, 'The run takes 95 min, its hours are 60 min.'],
  ['supply_day_limit', { litres: 1200, limit_l: 20000 }, 'The supply’s daily limit of 20 m³ is used up; 1.2 m³ more were needed.'],
  ['air_low_in_pot', { block: 'pansies', air_pct: 7.9, least_fill_cm: 10.2 }, 'Viola bowls: only 8 % air after watering.'],
  ['more_than_daily', { block: 'seedlings', zone: 'z5', interval_h: 17.5, blocks: 1 }, 'Eucalypt tubes: a full pot lasts only 18 h, and Tube tunnel may run once a day.'],
  ['more_than_daily', { block: 'seedlings', zone: 'z5', interval_h: 17.5, blocks: 2 }, '2 blocks of Tube tunnel need water more than once a day, Eucalypt tubes every 18 h; the zone may run once.'],
  ['passes_stress', { block: 'grevillea', zone: 'z4', ...T, blocks: 1 }, 'Grevillea in Grevillea and grasses is under stress from Wed 11:00, before the plan can water it.'],
  ['passes_stress', { block: 'grevillea', zone: 'z4', ...T, blocks: 2 }, '2 blocks in Grevillea and grasses are under stress before the plan can water them, Grevillea first from Wed 11:00.'],
  ['strained', { block: 'grevillea', zone: 'z4', ...T, blocks: 1 }, 'Grevillea in Grevillea and grasses passes its stress limit Wed 11:00, between waterings.'],
  ['mixed_zone', { zone: 'z4', thirsty: 'grevillea', tough: 'carex', ratio: 6.1 }, 'Grevillea and grasses: Grevillea needs water 6 times as often as Carex on the same valve.'],
  ['start_assumed', { blocks: 2 }, '2 blocks start from a guess: nobody weighed a pot, no run filled them for sure.'],
  ['start_assumed', { blocks: 1 }, '1 block starts from a guess: nobody weighed a pot, no run filled it for sure.'],
  ['clock_wrong', { apart_h: 5 }, 'This computer’s clock and the weather service’s are 5 h apart: this is the last plan from before, no new one is made.'],
  ['weather_old', { age_h: 14 }, 'The newest forecast is 14 h old.'],
  ['weather_fading', { age_h: 40 }, 'The forecast is 40 h old; the month’s usual weather is mixed in.'],
  ['sensor_rejected', { part: 'sky', mark: 'dark_all_day', hours: 24 }, 'The station’s radiation stayed dark all day: not used for 24 h.'],
  ['sensor_shifted', { source: 'station', hours: 1 }, 'Radiation of station follows the sun 1 h off: not used.'],
  ['feeds_disagree', { source: 'met', other: 'nws', day: '2026-01-14', et0_mm: 5.1, other_et0_mm: 6.6 }, 'met and nws disagree about Wed: reference ET 5.1 mm or 6.6 mm.'],
  ['forecast_off', { source: 'met', temperature_bias_c: 2.4, humidity_bias_pct: -13, wind_ratio: 0.6 }, 'met is lastingly off what the station measures; it is corrected for.'],
  ['weather_normals', {}, 'No forecast: the usual weather of the month, on the dry side.'],
  ['clock_wrong', { apart_h: 2 }, 'This computer’s clock and the weather service’s are 2 h apart: this is the last plan from before, no new one is made.'],
  ['weather_retiring', { source: 'met' }, 'met gives up this kind of forecast soon.'],
  ['weather_refused', { text: 'no timeseries' }, 'The last weather document could not be used: no timeseries'],
  ['poor_uniformity', { zone: 'z2', du_pct: 57 }, 'Outdoor beds south waters unevenly: uniformity 57 %, under 60 %.'],
  ['frost_in_window', { zone: 'z1', ...T, temperature_c: -1.2 }, 'Outdoor beds north: -1 °C at Wed 11:00, while overhead should run.'],
  ['supply_short', { litres_missing: 1672 }, 'The supply is short by 1.7 m³ for what tomorrow needs.'],
  ['ordered', { order: 'o-1', who: null, why: null }, 'Somebody ordered it.'],
  ['required', { requirement: 'f-1', purpose: 'feed', minutes: 20 }, 'Required: feed, at least 20 min.'],
  ['required_missed', { zone: 'z5', requirement: 'f-1', purpose: 'wash_in', minutes: 20, until: T.at, until_s: T.at_s }, 'Tube tunnel: no hours by Wed 11:00 have room for washing in, 20 min.'],
  ['held', { hold: 'h-1', kind: 're_entry', why: null, block: null, at: null, at_s: null }, 'Held: re-entry.'],
  ['hold_passes', { block: 'grevillea', zone: 'z4', ...T, hold: 'h-1', kind: 'pump_out', until: T.at, until_s: T.at_s }, 'Grevillea in Grevillea and grasses passes its stress limit Wed 11:00, held until Wed 11:00: pump out.'],
  ['cut_to_supply_limit', { minutes: 30, wanted_minutes: 44 }, 'Cut to 30 min by the supply’s day; 44 min were needed.'],
  ['starved', { block: 'grevillea', zone: 'z4', litres_missing: 1672, ...T, until: null, until_s: null }, 'Limits, hours or frost leave Grevillea and grasses up to 1.7 m³ short: Grevillea is past its stress limit from Wed 11:00.'],
  ['go_and_feel', { zone: 'z5', runs: 2, ...T }, 'Nobody told of 2 runs of Tube tunnel since Wed 11:00: counted as not given.'],
  ['change_water', { zone: 'z4', block: 'carex', water_ec_ds_m: 1.4 }, 'Grevillea and grasses: the water is too salty for Carex to be leached by watering.'],
  ['salt_high', { block: 'carex', zone: 'z4', ec_ds_m: 2.6, limit_ds_m: 2 }, 'Carex: 2.6 dS/m of salt, over 2.'],
  ['pour_through_due', { block: 'carex', blocks: 1 }, 'Carex is due for a pour-through.'],
  ['drains_much', { zone: 'z4', drained_pct: 34, target_pct: 15 }, 'Grevillea and grasses: 34 % was caught draining, 15 % is meant to.'],
  ['too_much', { block: 'carex', zone: 'z4', litres_wasted: 1672, drained_pct: 61 }, 'Carex on Grevillea and grasses gets too much: 61 % drains, 1.7 m³ wasted in this plan.'],
  ['move_block', { block: 'carex', zone: 'z4', to: 'z5' }, 'Carex would fare better on Tube tunnel.'],
  ['led_by_wet', { zone: 'z4', block: 'carex', thirsty: 'grevillea' }, 'Grevillea and grasses: in this cool weather Carex leads, which wet harms most.'],
  ['wet_by_hand', { zone: 'z4', block: 'carex', blocks: 1 }, 'The peat of Carex in Grevillea and grasses got so dry that it sheds water.'],
  ['wet_by_hand', { zone: 'z4', block: 'carex', blocks: 2 }, 'The peat of 2 blocks in Grevillea and grasses got so dry that it sheds water, Carex for one.'],
  ['dry_before_frost', { block: 'carex', blocks: 1, ...T, temperature_c: -3 }, 'Frost (-3 °C) from Wed 11:00, and Carex is dry.'],
  ['over_permit', { supply: 'bore', litres: 9100000, permit_l: 9000000, ...T, until: T.at, until_s: T.at_s }, 'Bore pump: 9,100 m³ drawn and planned, 9,000 m³ are permitted until Wed 11:00; passed Wed 11:00.'],
  ['flow_low', { zone: 'z4', flow_pct: 84, counted: true }, 'Grevillea and grasses gives 84 % of its flow by the meter.'],
  ['flow_high', { zone: 'z4', flow_pct: 131 }, 'Grevillea and grasses draws 131 % of its flow by the meter.'],
  ['odd_use', { block: 'carex', doubt: 'spacing' }, 'The figures of Carex cannot well be: pots wider than their spacing.'],
  ['never_felt', { block: 'carex', blocks: 1 }, 'Nobody touched or weighed a pot of Carex in three weeks.'],
  ['never_felt', { block: 'carex', blocks: 3 }, 'Nobody touched or weighed a pot of 3 blocks in three weeks, Carex for one.'],
  ['hours_over', { block: 'carex', ...T }, 'Carex is due Wed 11:00; its hours come later.'],
  ['counts_on_rain', { rain_mm: 32 }, 'Counts on rain before it (32 mm forecast): if it fails, more is needed.'],
  ['before_hold', { hold: 'h-1', kind: 'spraying', ...T, until: T.at, until_s: T.at_s }, 'Before it is held shut: spraying, Wed 11:00 to Wed 11:00.'],
  ['levelled', { ...T }, 'A day early: the supply is full Wed 11:00.'],
  ['newly_potted', { block: 'carex', zone: 'z4', days: 3 }, 'Carex: potted 3 days ago, roots drink from the plug only.'],
  ['canopy_old', { block: 'carex', blocks: 1 }, 'The canopy of Carex was measured over three weeks ago.'],
  ['canopy_old', { block: 'carex', blocks: 3 }, '3 canopies were measured over three weeks ago, Carex for one.'],
];

test('a_hold_for_spraying_is_never_said_to_be_lifted', () => {
  const ctx = contextOf(readPlan());
  for (const [kind, expected] of [['pump_out', /lift the hold/], ['spraying', /keep people out until it ends/], ['re_entry', /^Water before it begins/]]) {
    assert.match(sayThen(ctx, { code: 'hold_passes', params: { kind } }).join(''), expected, kind);
  }
});

test('say_what_words_every_code_of_the_contract', () => {
  const ctx = contextOf(readPlan());
  for (const [code, params, expected] of SAID) {
    assert.equal(plain(sayWhat(ctx, { code, params }).map(textOf).join('')), expected, code);
  }
});

test('every_code_of_a_sheet_has_words', () => {
  const contract = JSON.parse(readFileSync(new URL('../../docs/openapi.json', import.meta.url), 'utf8'));
  const found = [];
  const look = (value, name) => {
    if (Array.isArray(value)) value.forEach((one) => look(one, name));
    else if (value && typeof value === 'object') Object.entries(value).forEach(([key, one]) => (key === 'enum' ? found.push([name, one]) : look(one, key)));
  };
  look(contract, '');
  const left = found.find(([, codes]) => codes.includes('hours_over'))[1];
  for (const words of [english, spanish]) assert.deepEqual(left.filter((code) => !(`sheet_not_${code}` in words)), []);
});

test('codes_listed_in_the_documentation_are_all_worded', () => {
  const documented = readFileSync(new URL('../../docs/api.md', import.meta.url), 'utf8');
  const [table] = documented.slice(documented.indexOf('### Reasons and notices')).split('\n## ');
  const codes = [...table.matchAll(/^\| `(\w+)` \|/gm)].map((m) => m[1]);
  assert.ok(codes.length >= 21, `found ${codes.length} codes`);
  assert.deepEqual(codes.filter((code) => !(`say_${code}` in english)), []);
  assert.deepEqual(codes.filter((code) => !SAID.some(([said]) => said === code)), []);
});

test('findings_listed_in_the_documentation_are_all_worded', () => {
  const documented = readFileSync(new URL('../../docs/api.md', import.meta.url), 'utf8');
  const list = documented.slice(documented.indexOf('A finding is'), documented.indexOf('### A block'));
  const codes = [...list.slice(list.indexOf('Codes:')).matchAll(/`(\w+)`/g)].map((m) => m[1]);
  assert.equal(codes.length, 11);
  for (const words of [english, spanish]) assert.deepEqual(codes.filter((code) => !(`finding_${code}` in words)), []);
});

test('say_what_shows_a_code_it_does_not_know', () => {
  const ctx = contextOf(readPlan());
  const text = sayWhat(ctx, { code: 'new_code', params: { block: 'x', minutes: 3 } }).map(textOf).join('');
  assert.equal(text, '“new_code” block x, minutes 3');
});

test('say_then_tells_what_to_do_or_nothing', () => {
  const ctx = contextOf(readPlan());
  const say = (code, params) => plain(sayThen(ctx, { code, params }).map(textOf).join(''));
  assert.match(say('air_low_in_pot', { block: 'pansies', air_pct: 7.9, least_fill_cm: 10.2 }), /fill at least 10\.2 cm high/);
  assert.match(say('air_low_in_pot', { block: 'pansies', air_pct: 7.9, least_fill_cm: null }), /taller pot/);
  assert.match(say('frost_in_window', { zone: 'z1', clear_at: '2026-01-14T11:20:00+10:30', clear_at_s: 1, clear_h: 6 }), /^Open hours from Wed 11:00: free of frost for 6 h/);
  assert.match(say('frost_in_window', { zone: 'z1', clear_at: null, clear_at_s: null, clear_h: null }), /^Do not run overhead in the frost/);
  assert.match(say('flow_low', { zone: 'z4', flow_pct: 84, counted: true }), /^Runs are lengthened for it/);
  assert.match(say('flow_low', { zone: 'z4', flow_pct: 84, counted: false }), /^Look at filter, pressure/);
  assert.equal(say('least_run', { minutes: 5 }), '');
});
