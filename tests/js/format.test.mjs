// SPDX-License-Identifier: GPL-3.0-or-later
import assert from 'node:assert/strict';
import { test } from 'node:test';

import { addDays, readOffset, readTime, roundTo } from '../../web/page.js';
import { METRIC, US, formatOf, plain } from './help.mjs';

function says(pairs, say) {
  for (const [given, expected] of pairs) assert.equal(plain(say(given)), expected, `of ${given}`);
}

test('volume_metric_is_said_in_litres_then_cubic_metres', () => {
  says([[0, '0 L'], [4.26, '4.3 L'], [12.4, '12 L'], [384, '380 L'], [999, '1,000 L'], [1000, '1 m³'], [8160, '8.2 m³'], [26334, '26 m³'], [1234567, '1,230 m³']], formatOf(METRIC).volume);
});

test('volume_us_is_said_in_gallons', () => {
  // 1 US gallon is 3.785411784 L by definition (231 cubic inches).
  says([[3.785411784, '1 gal'], [37.85411784, '10 gal'], [380, '100 gal'], [26334, '6,960 gal']], formatOf(US).volume);
});

test('pot_water_is_said_in_the_smaller_unit_below_one_of_the_larger', () => {
  says([[0.034, '34 mL'], [0.152, '150 mL'], [0.996, '1 L'], [1.64, '1.6 L'], [12.2, '12 L']], formatOf(METRIC).potWater);
  // 1 US fluid ounce is 1/128 gallon.
  says([[0.0295735, '1 fl oz'], [0.41, '14 fl oz'], [0.946353, '1 qt'], [1.5, '1.6 qt'], [3.785411784, '1 gal']], formatOf(US).potWater);
});

test('depth_length_flow_temperature_follow_the_units', () => {
  const metric = formatOf(METRIC);
  const us = formatOf(US);
  assert.equal(plain(metric.depth(6.55)), '6.5 mm');
  assert.equal(plain(metric.depth(12.1)), '12 mm');
  assert.equal(plain(us.depth(25.4)), '1.00 in');
  assert.equal(plain(metric.length(3.4)), '3.4 cm');
  assert.equal(plain(us.length(25.4)), '10 in');
  assert.equal(plain(metric.flow(236)), '236 L/min');
  assert.equal(plain(us.flow(37.85411784)), '10 gal/min');
  assert.equal(plain(metric.temperature(38.4)), '38 °C');
  assert.equal(plain(us.temperature(100)), '212 °F');
  assert.deepEqual([metric.degrees(-0.5), us.degrees(-0.5)].map(plain), ['-0.5 °C', '-0.9 °F'], 'a difference');
  assert.equal(plain(metric.temperature(-0.3)), '0 °C', 'no minus before zero');
});

test('what_is_not_known_is_said_in_words', () => {
  const f = formatOf();
  for (const say of [f.volume, f.potWater, f.depth, f.length, f.flow, f.temperature, f.percent, f.minutes, f.span, f.days, f.time, f.dayTime, f.about, f.until, f.exact.litres, f.exact.time]) {
    for (const value of [null, undefined, Number.NaN]) assert.equal(say(value), 'not known');
  }
});

test('minutes_become_hours_from_two_hours_on', () => {
  says([[0.4, 'under a minute'], [0, '0 min'], [42, '42 min'], [119.6, '2 h'], [130, '2 h 10 min']], formatOf().minutes);
});

test('span_says_one_unit', () => {
  says([[0, 'a minute'], [1500, '25 min'], [11280, '3 h'], [47 * 3600, '47 h'], [3 * 86400, '3 days']], formatOf().span);
});

test('times_are_the_nurserys_digits_whatever_the_zone_of_the_machine', () => {
  const before = process.env.TZ;
  process.env.TZ = 'America/Chicago';
  const f = formatOf();
  assert.equal(plain(f.dayTime('2026-01-14T05:15:00+10:30')), 'Wed 05:15');
  assert.equal(plain(f.about('2026-01-14T11:59:00+10:30')), 'Wed 11:00');
  process.env.TZ = before ?? '';
  if (before === undefined) delete process.env.TZ;
});

test('day_is_a_weekday_within_a_week_and_a_date_outside', () => {
  const f = formatOf();
  assert.equal(plain(f.dayTime('2026-01-19T08:00:00+10:30')), 'Mon 08:00');
  assert.equal(plain(f.dayTime('2026-01-20T08:00:00+10:30')), 'Tue 20 Jan 08:00');
  assert.equal(plain(f.dayTime('2026-01-11T08:30:00+10:30')), 'Sun 11 Jan 08:30');
});

test('an_end_at_midnight_is_24_00_of_the_day_that_ends', () => {
  assert.equal(plain(formatOf().until('2026-01-15T00:00:00+10:30')), 'Wed 24:00');
  assert.equal(plain(formatOf(US).until('2026-01-15T00:00:00+10:30')), 'Thu 12 am');
});

test('range_names_a_day_only_when_it_is_another', () => {
  const f = formatOf();
  assert.equal(plain(f.range('2026-01-14T03:30:00+10:30', '2026-01-14T04:32:00+10:30', '2026-01-14')), '03:30–04:32');
  assert.equal(plain(f.range('2026-01-13T22:30:00+10:30', '2026-01-14T04:00:00+10:30', '2026-01-14')), 'Tue 22:30–Wed 04:00');
  assert.equal(plain(f.range('2026-01-14T22:00:00+10:30', '2026-01-15T00:00:00+10:30', '2026-01-14')), '22:00–24:00');
});

test('clock_of_twelve_hours_leaves_out_full_hours_minutes', () => {
  const f = formatOf(US);
  assert.equal(plain(f.time('2026-01-14T00:05:00+10:30')), '12:05 am');
  assert.equal(plain(f.time('2026-01-14T12:00:00+10:30')), '12 pm');
  assert.equal(plain(f.time('2026-01-14T17:00:00+10:30')), '5 pm');
});

test('spanish_uses_its_own_marks', () => {
  const f = formatOf(METRIC, 'es');
  assert.equal(plain(f.volume(8160)), '8,2 m³');
  assert.match(plain(f.dayTime('2026-01-14T05:15:00+10:30')), /^mié 05:15$/);
});

test('read_time_refuses_what_is_no_time', () => {
  assert.equal(readTime('tomorrow'), null);
  assert.equal(readTime(null), null);
  assert.deepEqual(readTime('2026-01-14T05:15:00+10:30'), { date: '2026-01-14', year: 2026, month: 1, day: 14, hour: 5, minute: 15 });
});

test('read_offset_takes_half_hours_and_west', () => {
  assert.equal(readOffset('2026-01-14T05:15:00+10:30'), 37800);
  assert.equal(readOffset('2026-01-14T05:15:00-03:30'), -12600);
  assert.equal(readOffset('2026-01-14T05:15:00Z'), 0);
});

test('add_days_crosses_months_and_leap_days', () => {
  assert.equal(addDays('2028-02-28', 1), '2028-02-29');
  assert.equal(addDays('2026-12-31', 1), '2027-01-01');
});

test('round_to_keeps_significant_digits', () => {
  assert.equal(roundTo(26334, 2), 26000);
  assert.equal(roundTo(0.1524, 2), 0.15);
  assert.equal(roundTo(0, 2), 0);
  assert.equal(roundTo(-384, 2), -380);
});
