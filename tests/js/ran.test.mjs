// SPDX-License-Identifier: GPL-3.0-or-later
import assert from 'node:assert/strict';
import { test } from 'node:test';

import { plannedAndRan, readTable, viewRecords } from '../../web/work.js';
import { METRIC, contextOf, findAll, plain, readPlan, textOf } from './help.mjs';

const NAMES = 'record,zone,block,key,state,start,end,litres,capacity_kg,now_kg,rain_mm';
const row = (record, zone, state, day, hour, litres) => `${record},${zone},,,${state},2026-07-0${day}T${hour}:00:00+01:00,2026-07-0${day}T${hour}:30:00+01:00,${litres},,,`;
const TABLE = [
  NAMES,
  row('planned', 'bed-1', 'unreported', 1, '05', 1000),
  row('planned', 'bed-1', 'unreported', 1, '07', 500),
  row('run', 'bed-1', 'metered', 1, '05', 1000),
  row('planned', 'tunnel-1', 'assumed', 1, '05', 300),
  row('planned', 'tunnel-1', 'assumed', 2, '05', 300),
  row('planned', 'tunnel-1', 'assumed', 2, '12', 100),
  row('run', 'tunnel-1', 'reported', 2, '05', 250),
  row('planned', 'drip-1', 'unreported', 1, '05', 200),
  row('run', 'hand-1', 'reported', 2, '08', 40),
  row('planned', 'bed-1', 'planned', 3, '05', 900),
  'gauge,,,,,2026-07-02T08:00:00+01:00,2026-07-03T08:00:00+01:00,,,,4.5',
].join('\r\n');
const NOW_S = Date.parse('2026-07-02T20:00:00+01:00') / 1000;

test('a_table_is_read_by_the_book', () => {
  /* RFC 4180: quotes doubled within quotes, commas and line ends in them are text */
  assert.deepEqual(readTable('a,b\r\n1,"two, ""2""\r\nlines"\r\n,\r\n'), [{ a: '1', b: 'two, "2"\r\nlines' }, { a: '', b: '' }]);
  assert.deepEqual(readTable('a,b\n1,2'), [{ a: '1', b: '2' }]);
  assert.deepEqual(readTable('a,b\r\n1\r\n'), [], 'a torn row is none');
});

test('planned_and_ran_are_summed_by_day_and_zone_newest_first', () => {
  const sums = plannedAndRan(readTable(TABLE), NOW_S).map(({ date, zone, planned, ran, how }) => [date.slice(8), zone, planned, ran, how]);
  assert.deepEqual(sums, [
    ['02', 'hand-1', 0, 40, 'told'],
    ['02', 'tunnel-1', 400, 350, 'told'],
    ['01', 'bed-1', 1500, 1000, 'told'],
    ['01', 'drip-1', 200, 0, 'silent'],
    ['01', 'tunnel-1', 300, 300, 'assumed'],
  ]);
});

test('a_fifth_less_is_marked_and_what_nobody_told_is_said', () => {
  const ctx = contextOf(readPlan(), METRIC, 'en');
  const load = (path) => (path.includes('records.csv') ? { text: TABLE } : null);
  const view = viewRecords({ ...ctx, now_s: NOW_S, desk: { ...ctx.desk, load } });
  const rows = findAll(view.body, (n) => n.tag === 'tr').slice(1).map((n) => plain(textOf(n)));
  assert.equal(rows.length, 5);
  assert.match(rows[0], /not planned/);
  assert.match(rows[1], /✓/);
  assert.match(rows[2], /▼ −33\s?%/);
  assert.match(rows[3], /\?.*nobody told/);
  assert.match(rows[4], /counted as done/);
});
