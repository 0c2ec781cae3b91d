// SPDX-License-Identifier: GPL-3.0-or-later
import assert from 'node:assert/strict';
import { test } from 'node:test';

import { viewRecords } from '../../web/work.js';
import { METRIC, contextOf, findAll, plain, readPlan, textOf } from './help.mjs';

const row = (date, zone, planned_l, ran_l, how) => ({ date, zone, planned_l, ran_l, how });
const ZONES = [
  row('2026-07-02', 'hand-1', 0, 40, 'told'),
  row('2026-07-02', 'tunnel-1', 400, 350, 'told'),
  row('2026-07-01', 'bed-1', 1500, 1000, 'told'),
  row('2026-07-01', 'drip-1', 200, 0, 'silent'),
  row('2026-07-01', 'tunnel-1', 300, 300, 'assumed'),
];

test('a_fifth_less_is_marked_and_what_nobody_told_is_said', () => {
  const ctx = contextOf(readPlan(), METRIC, 'en');
  const load = (path) => (path === 'checks' ? { meter: { zones: ZONES } } : null);
  const view = viewRecords({ ...ctx, desk: { ...ctx.desk, load } });
  const rows = findAll(view.body, (n) => n.tag === 'tr').slice(1).map((n) => plain(textOf(n)));
  assert.equal(rows.length, 5);
  assert.match(rows[0], /not planned/);
  assert.match(rows[1], /✓/);
  assert.match(rows[2], /▼ −33\s?%/);
  assert.match(rows[3], /\?.*nobody told/);
  assert.match(rows[4], /counted as done/);
});
