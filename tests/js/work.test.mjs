// SPDX-License-Identifier: GPL-3.0-or-later
// The views in which people write, on answers as the API gives them; what is sent is looked at, not sent.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { beforeEach, test } from 'node:test';

import { makeDesk, viewBlock, viewZones } from '../../web/page.js';
import * as work from '../../web/work.js';
import { METRIC, US, contextOf, findAll, plain, readPlan, textOf } from './help.mjs';

const HOUR_S = 3600;

/* What a browser has and node has not; kept is the device's memory. */
let kept;
let answer;
let asked;

beforeEach(() => {
  kept = new Map();
  asked = [];
  answer = () => ({ status: 200, body: {} });
  globalThis.document = { documentElement: { lang: 'en' }, querySelector: () => null, getElementById: () => null };
  globalThis.location = { hash: '' };
  globalThis.localStorage = { getItem: (name) => kept.get(name) ?? null, setItem: (name, text) => kept.set(name, text) };
  globalThis.fetch = async (path, { method = 'GET', body } = {}) => {
    asked.push([method, path, body && JSON.parse(body)]);
    const { status, body: said = null, headers = {} } = answer(method, path);
    return new Response(said && JSON.stringify(said), { status, headers });
  };
});

/* A context with a real desk; `loaded` is what the API has, by path. */
function contextWith(loaded = {}, { plan = readPlan(), choice = METRIC, language = 'en', me = { account: 'north-house', role: 'grower' } } = {}) {
  const ctx = contextOf(plan, choice, language);
  const desk = makeDesk(() => {});
  desk.load = (path) => (path in loaded ? loaded[path] : null);
  desk.me = me;
  return { ...ctx, desk, here: '', clock: () => ctx.now_s, redraw: () => {}, renew: () => {}, ask: () => {}, askAgain: () => {} };
}

const said = (view) => plain(view.body.flat(Infinity).filter(Boolean).map(textOf).join('\n'));

/* Parts that follow what is typed are given as they stand. */
const live = (view) => plain(findAll(view.body, (n) => n.attributes.live).flatMap((n) => [n.attributes.live()].flat(Infinity)).filter(Boolean).map(textOf).join('\n'));

const one = (view, id) => findAll(view.body, (n) => n.attributes.id === id)[0];
const submit = (view) => findAll(view.body, (n) => n.tag === 'form')[0].attributes.onsubmit({ preventDefault: () => {} });
const type = (view, id, value) => one(view, id).attributes.oninput({ target: { value } });

function hold(ctx, from_h, to_h, more) {
  const at = (h) => (h === null ? {} : { text: work.toLocal(ctx.now_s + h * HOUR_S, ctx.plan.nursery.time_zone), s: ctx.now_s + h * HOUR_S });
  const [from, to] = [at(from_h), at(to_h)];
  return { kind: 'spraying', zone: null, block: null, supply: null, allowed_pct: null, why: null, from: from.text, from_s: from.s, to: to.text ?? null, to_s: to.s ?? null, self: `/api/v1/holds/${from_h}${to_h}`, etag: '"1"', ...more };
}

test('zones_stand_as_one_walks_then_by_the_numbers_of_their_posts', () => {
  const ctx = contextWith();
  const places = { z1: [null, 'V10'], z2: [null, 'V9'], z3: [2, 'V1'], z4: [1, 'V30'], z5: [null, null], z6: [12, 'V2'], z7: [null, 'A2'] };
  for (const zone of ctx.plan.zones) [zone.walk_order, zone.post] = places[zone.id];
  const walked = ['z4', 'z3', 'z6', 'z5', 'z7', 'z2', 'z1'];
  const names = walked.map((id) => ctx.index.zone(id).name);
  const heads = (view) => findAll(view.body, (n) => n.tag === 'h2' && n.attributes.class === 'who').map((n) => textOf(n.children.at(-1)));
  assert.deepEqual(heads(viewZones(ctx)), names);
  assert.deepEqual(heads(work.viewWalk(ctx)), names);
  assert.deepEqual(work.choices(ctx, 'zones').map(([id]) => id), walked);
  assert.deepEqual(ctx.plan.zones.map((zone) => zone.id), ['z1', 'z2', 'z3', 'z4', 'z5', 'z6', 'z7'], 'the plan keeps its own order');
});

test('holds_are_listed_by_what_they_shut_now_and_later_and_those_that_ended_are_not', () => {
  const ctx = contextWith();
  const items = [
    hold(ctx, -1, 2, { zone: 'z4', why: '<b>keep out</b>' }), hold(ctx, -30, 1, { kind: 'ban', supply: 'bore', allowed_pct: 60 }), hold(ctx, -2, null, { kind: 'pump-out' }),
    hold(ctx, 5, 9, { kind: 'picking', block: 'carex' }), hold(ctx, -25, null, { zone: 'z1' }), hold(ctx, -9, -1, { zone: 'z2' }),
  ];
  ctx.desk.load = () => ({ items });
  const view = work.viewDo(ctx, 'holds');
  const listed = (id) => findAll(view.body, (n) => n.attributes['aria-labelledby'] === id).flatMap((section) => findAll(section, (n) => n.attributes.class === 'who')).map((n) => plain(textOf(n)));
  assert.deepEqual(listed('holds_now'), ['spraying: Grevillea and grasses', 'ban: Bore pump', 'pump out: the whole nursery']);
  assert.deepEqual(listed('holds_later'), ['picking: Carex']);
  assert.match(said(view), /Tue 15:25 – Tue 18:25 · <b>keep out<.b>/);
  assert.match(said(view), /Tue 14:25 – 24 h/, 'without an end');
});

test('an_order_is_told_what_holds_its_valve_shut_the_longest', () => {
  const ctx = contextWith();
  const told = (...items) => {
    ctx.desk.load = (path) => (path === 'holds' ? { items } : null);
    return live(work.viewDo(ctx, 'orders', 'zone=z4'));
  };
  const gets = 'Grevillea and grasses gets it: Grevillea, Carex.';
  assert.equal(told(), gets);
  for (const shut of [{ zone: 'z4' }, { block: 'carex' }, { supply: 'bore' }, {}]) {
    assert.match(told(hold(ctx, -1, 2, shut)), /^Grevillea and grasses is held until Tue 18:25 \(spraying\)\. Ordered water runs after that/, JSON.stringify(shut));
  }
  for (const free of [{ zone: 'z5' }, { block: 'elms' }, { supply: 'tank' }, { kind: 'ban', allowed_pct: 50 }]) assert.equal(told(hold(ctx, -1, 2, free)), gets, JSON.stringify(free));
  assert.match(told(hold(ctx, -1, 2, { kind: 'ban', allowed_pct: 0 })), /\(ban\)/, 'nothing is allowed');
  assert.equal(told(hold(ctx, 1, 2, {})), gets, 'later');
  assert.equal(told(hold(ctx, -2, -1, {})), gets, 'over');
  assert.match(told(hold(ctx, -1, 2, { zone: 'z4' }), hold(ctx, -2, null, { kind: 'pump-out' }), hold(ctx, -1, 5, { kind: 'picking' })), /until Wed 14:25 \(pump out\)/);
  assert.match(live(work.viewDo(contextWith({ holds: { items: [] } }), 'orders', 'block=carex')), /Grevillea and grasses gets it/, 'by a block');
});

test('what_was_ordered_is_said_to_start_to_be_held_not_to_fit_or_to_be_waited_for', () => {
  const ctx = contextWith({ holds: { items: [] } });
  const about = () => said(work.viewDo(ctx, 'orders'));
  const ordered = { key: 'o', zone: 'z4', at_s: ctx.plan.made_at_s - 60 };
  Object.assign(ctx.desk.draft('ordered'), ordered);
  assert.match(about(), /Ordered\. When it starts stands here/);
  ctx.desk.load = () => ({ items: [hold(ctx, -1, 2, { zone: 'z4' })] });
  assert.match(about(), /is held until Tue 18:25/);
  ctx.desk.load = () => ({ items: [] });
  ctx.plan.unplaced.push({ zone: 'z4', date: '2026-01-13', ordered: false, minutes: 24, litres: 900, reason: { code: 'window_short', params: { minutes: 24, allowed_minutes: 10 } } });
  assert.match(about(), /When it starts stands here/, 'what does not fit tomorrow is not the order');
  ctx.plan.unplaced.at(-1).ordered = true;
  assert.match(about(), /Does not fit: The run takes 24 min, its hours are 10 min\. Make the hours longer/);
  const run = ctx.plan.days[1].runs.find(({ zone }) => zone === 'z4');
  run.reasons = [{ code: 'ordered', params: { order: 'o', who: null, why: null } }];
  assert.match(about(), /Grevillea and grasses: ordered water starts Wed 03:30, 24 min\./);
  ctx.desk.load = () => ({ items: [hold(ctx, -1, 2, { zone: 'z4' })] });
  assert.match(about(), /starts Wed 03:30/, 'after what holds the valve');
  ctx.desk.draft('ordered').key = 'another';
  assert.doesNotMatch(about(), /starts Wed/, 'an order of before');
  ctx.desk.draft('ordered').key = 'o';
  ctx.desk.load = () => ({ items: [] });
  ctx.desk.draft('ordered').at_s = ctx.plan.made_at_s + 5;
  assert.doesNotMatch(about(), /water starts/, 'of a plan made before it says nothing');
  ctx.desk.draft('ordered').at_s = ctx.now_s - HOUR_S - 1;
  assert.doesNotMatch(about(), /[Oo]rdered|held/, 'an hour later it is no news');
});

test('a_form_says_which_field_is_missing_or_lies_ahead_and_sends_nothing', async () => {
  const faults = async (ctx, kind, typed) => {
    for (const [name, text] of Object.entries(typed)) type(work.viewDo(ctx, kind), `f-${name}`, text);
    await submit(work.viewDo(ctx, kind));
    const view = work.viewDo(ctx, kind);
    return findAll(view.body, (n) => n.attributes.class === 'fault').map((n) => [n.attributes.id, textOf(n)]);
  };
  assert.deepEqual(await faults(contextWith(), 'orders', { minutes: '5' }), [['e-zone', 'Needed.']]);
  const ctx = contextWith();
  const soon = work.toLocal(ctx.now_s + HOUR_S, ctx.plan.nursery.time_zone);
  assert.deepEqual(await faults(ctx, 'gauge', { rain_mm: '4', to: soon }), [['e-to', 'This lies ahead.']]);
  kept.clear();
  assert.deepEqual(await faults(contextWith(), 'gauge', { rain_mm: '4 or 5' }), [['e-rain_mm', 'Not readable. A number is like 1500 or 2.5.']]);
  assert.deepEqual(asked, []);
});

test('a_form_begins_with_the_time_it_needs_and_says_what_each_field_takes', () => {
  const ctx = contextWith();
  const holds = work.viewDo(ctx, 'holds');
  assert.deepEqual([one(holds, 'f-from').attributes.value, one(holds, 'f-to').attributes.value], ['2026-01-13T16:25', ''], 'no end is a day');
  assert.match(said(work.viewDo(ctx, 'orders')), /Zone one of these two.*Block one of these two.*Minutes if known/s);
  const blocks = () => work.viewDo(ctx, 'blocks');
  assert.match(said(blocks()), /short; empty: made of the name/);
  const tick = () => one(blocks(), 'f-watered_in');
  assert.equal(textOf(one(blocks(), tick().attributes['aria-describedby'])), 'Soaked right after potting: the pot counts as full from there.');
  assert.equal(tick().attributes.checked, false);
  tick().attributes.oninput({ target: { checked: true } });
  assert.equal(tick().attributes.checked, true);
});

test('an_order_for_a_block_is_followed_by_its_valve', async () => {
  const ctx = contextWith({ holds: { items: [] } });
  type(work.viewDo(ctx, 'orders'), 'f-block', 'carex');
  await submit(work.viewDo(ctx, 'orders'));
  assert.deepEqual([asked[0][2].block, asked[0][2].zone], ['carex', undefined]);
  assert.equal(ctx.desk.draft('ordered').zone, 'z4');
});

test('a_form_is_sent_once_however_often_it_is_tapped', async () => {
  const ctx = contextWith();
  type(work.viewDo(ctx, 'gauge'), 'f-rain_mm', '4');
  const view = work.viewDo(ctx, 'gauge');
  await Promise.all([submit(view), submit(view)]);
  assert.deepEqual(asked.map(([method, path, body]) => [method, path, body.rain_mm]), [['POST', 'api/v1/gauge', 4]]);
});

test('what_is_under_way_is_said_at_once_and_what_became_of_it_after', async () => {
  const ctx = contextWith();
  const seen = [];
  const desk = makeDesk(() => seen.push(textOf(work.outcomeOf({ ...ctx, desk }, 'x'))));
  desk.load = ctx.desk.load;
  const send = async (status, path = 'gauge') => {
    answer = () => ({ status, body: {} });
    await desk.send('x', 'POST', path, {});
    return seen.splice(0).map((text) => text.trim());
  };
  assert.deepEqual(await send(201), ['Saving…', 'Saved. The plan follows within seconds.']);
  assert.deepEqual(await send(422), ['Saving…', 'That cannot be.']);
  assert.deepEqual(await send(412), ['Saving…', 'Somebody changed this record meanwhile. Nothing is overwritten: choose.']);
  assert.doesNotMatch((await send(200, 'blocks/carex/preview'))[0], /Saving/, 'to look ahead is not to save');
});

test('what_a_form_need_not_ask_is_filled_in', async () => {
  const sent = async (kind, typed, me) => {
    asked = [];
    const ctx = contextWith({}, { me });
    for (const [name, text] of Object.entries(typed)) type(work.viewDo(ctx, kind), `f-${name}`, text);
    await submit(work.viewDo(ctx, kind));
    return asked[0][2];
  };
  const run = { zone: 'z4', start: '2026-01-13T06:00', end: '2026-01-13T06:20' };
  assert.equal((await sent('runs', run)).state, 'confirmed', 'no litres: it ran');
  assert.equal((await sent('runs', { ...run, litres: '900' })).state, undefined, 'litres are as the meter has them');
  assert.deepEqual((await sent('windows', { from: '04:00', to: '08:00', days: 'mon  fri' })).days, ['mon', 'fri']);
  assert.equal((await sent('catch_cans', { zone: 'z1', on: '2026-01-13', catches_ml: '40 41\n39 40' })).per_row, 2);
  assert.equal((await sent('catch_cans', { zone: 'z1', on: '2026-01-13', catches_ml: '40 41\n39' })).per_row, null, 'rows that differ are no grid');
  assert.equal((await sent('gauge', { rain_mm: '4' })).who, undefined, 'a gauge is nobody’s');
  assert.deepEqual([(await sent('orders', { zone: 'z4' })).who, (await sent('orders', { zone: 'z4' }, null)).who], ['north-house', undefined]);
  assert.equal((await sent('holds', { kind: 'skip', shut: 'whole-nursery' }, { account: 'north-house', role: 'grower' })).shut, undefined);
});

test('a_refusal_is_told_by_what_it_is', () => {
  const told = (outcome) => {
    const ctx = contextWith();
    ctx.desk.settle('x', { state: 'error', ...outcome });
    return work.outcomeOf(ctx, 'x');
  };
  const there = told({ status: 409, problem: { instance: '/api/v1/gauge/2026-01-12T07:00:00Z' } });
  assert.match(textOf(there), /^One is there already; nothing was saved\. Change$/);
  assert.equal(findAll(there, (n) => n.tag === 'a')[0].attributes.href, '#/edit/gauge/2026-01-12T07:00:00Z');
  assert.match(textOf(told({ status: 409, problem: { detail: 'blocks name it' } })), /^Not possible beside what is there already\. blocks name it/);
  assert.match(textOf(told({ status: 429, problem: null })), /Wait half a minute/);
  assert.match(textOf(told({ status: 507, problem: { detail: '<b>full</b>' } })), /^It was not saved \(error 507\)\. Try again\. <b>full<.b>/);
});

test('what_nobody_answers_waits_and_what_is_then_refused_comes_back_into_its_form', async () => {
  const ctx = contextWith();
  const fetched = globalThis.fetch;
  globalThis.fetch = async () => {
    throw new TypeError('no network');
  };
  const reading = { from: '2026-01-12T20:30:00Z', to: '2026-01-13T04:30:00Z', rain_mm: 5000 };
  await ctx.desk.send('gauge ', 'POST', 'gauge', reading);
  await ctx.desk.send('p', 'POST', 'blocks/carex/preview', {});
  await ctx.desk.flush();
  assert.equal(ctx.desk.outcome('gauge ').state, 'kept');
  assert.deepEqual(ctx.desk.outcome('p'), { state: 'error', status: 0 }, 'a look ahead does not wait');
  assert.match(said(work.viewDo(ctx)), /1 record waits for a connection\./);
  assert.equal(JSON.parse(kept.get('perchd-desk')).waiting.length, 1, 'on the device');
  globalThis.fetch = fetched;
  answer = () => ({ status: 503 });
  await ctx.desk.flush();
  assert.equal(ctx.desk.waiting.length, 1, 'a daemon in trouble takes nothing: it waits on');
  answer = () => ({ status: 422, body: { detail: 'at most <1000>' }, headers: { 'Content-Language': 'en' } });
  await ctx.desk.flush();
  assert.equal(ctx.desk.waiting.length, 0);
  const tiles = () => work.viewDo(ctx);
  assert.match(said(tiles()), /Rain gauge: This was refused\. at most <1000>/);
  assert.match(said(tiles()), /5000 mm/);
  const [notice] = findAll(tiles().body, (n) => n.attributes.class === 'notice act');
  findAll(notice, (n) => n.tag === 'button')[0].attributes.onclick();
  assert.equal(globalThis.location.hash, '#/do/gauge');
  assert.equal(one(work.viewDo(ctx, 'gauge'), 'f-rain_mm').attributes.value, '5000', 'as it was typed');
  assert.equal(one(work.viewDo(ctx, 'gauge'), 'f-from').attributes.value, '2026-01-13T07:00');
  assert.doesNotMatch(said(tiles()), /refused/);
  ctx.desk.refused.push({ path: 'touch_checks', body: { block: 'carex', feel: 'wet' }, why: 'no' });
  findAll(tiles().body, (n) => n.tag === 'button').at(-1).attributes.onclick();
  assert.equal(ctx.desk.refused.length, 0, 'put away');
});

test('a_device_that_keeps_nothing_still_writes', async () => {
  globalThis.localStorage = { getItem: () => { throw new Error('private'); }, setItem: () => { throw new Error('private'); } };
  const ctx = contextWith();
  type(work.viewDo(ctx, 'gauge'), 'f-rain_mm', '4');
  assert.equal(one(work.viewDo(ctx, 'gauge'), 'f-rain_mm').attributes.value, '4');
  await submit(work.viewDo(ctx, 'gauge'));
  assert.equal(asked.length, 1);
});

test('a_tap_on_the_walk_that_is_refused_is_taken_back', async () => {
  const ctx = contextWith();
  const pressed = () => findAll(work.viewWalk(ctx).body, (n) => n.attributes['aria-pressed'] === 'true').map((n) => n.attributes.id);
  await one(work.viewWalk(ctx), 't-carex-dry').attributes.onclick();
  assert.deepEqual(pressed(), ['t-carex-dry']);
  answer = () => ({ status: 422, body: { detail: 'no' } });
  await one(work.viewWalk(ctx), 't-carex-wet').attributes.onclick();
  assert.deepEqual(pressed(), ['t-carex-dry'], 'what was said before stands');
});

test('a_walk_of_yesterday_is_another_walk', () => {
  const ctx = contextWith();
  const pressed = () => findAll(work.viewWalk(ctx).body, (n) => n.attributes['aria-pressed'] === 'true').length;
  const said_at = (back_h) => { ctx.desk.draft('walk').carex = { feel: 'dry', at: new Date((ctx.now_s - back_h * HOUR_S) * 1000).toISOString() }; };
  said_at(11);
  assert.equal(pressed(), 1);
  said_at(13);
  assert.equal(pressed(), 0);
});

test('a_tap_that_cannot_be_taken_back_stands', async () => {
  const ctx = contextWith();
  const pressed = () => findAll(work.viewWalk(ctx).body, (n) => n.attributes['aria-pressed'] === 'true').map((n) => n.attributes.id);
  answer = () => ({ status: 201, headers: { Location: '/api/v1/touch_checks/x', ETag: '"1"' } });
  await one(work.viewWalk(ctx), 't-carex-dry').attributes.onclick();
  answer = () => ({ status: 412 });
  await one(work.viewWalk(ctx), 't-carex-wet').attributes.onclick();
  assert.deepEqual(asked.map(([method]) => method), ['POST', 'DELETE'], 'no second one beside it');
  assert.deepEqual(pressed(), ['t-carex-dry']);
});

test('a_second_change_on_one_day_takes_the_place_of_the_first', async () => {
  const row = { block: 'carex', name: 'Carex', from: '2026-01-13', mix: 'fine', pots: 400, self: '/api/v1/blocks/carex,2026-01-13', etag: '"7"' };
  let outcome;
  const sent = async (rows, from) => {
    kept.clear();
    asked = [];
    const ctx = contextWith({ 'blocks/carex': { items: rows } });
    ctx.desk.draft('change carex ').$etag = rows.at(-1).etag;
    ctx.desk.settle('change carex ', { state: 'saved', data: { state: { ...row, from, pots: 300 }, before: ctx.plan, after: ctx.plan, warnings: [] } });
    await one(work.viewChange(ctx, 'carex'), 'f-save').attributes.onclick();
    outcome = ctx.desk.outcome('change carex ').state;
    return asked.map(([method, path, body]) => [method, path, body.pots]);
  };
  assert.deepEqual(await sent([row], '2026-01-13'), [['PUT', 'api/v1/blocks/carex,2026-01-13', 300]]);
  assert.deepEqual(await sent([row], '2026-01-14'), [['POST', 'api/v1/blocks', 300]]);
  assert.equal(outcome, 'saved');
  answer = () => ({ status: 409, body: {} });
  await sent([row], '2026-01-14');
  assert.equal(outcome, 'conflict', 'a row of that day came meanwhile: one chooses');
});

test('what_the_api_has_is_asked_for_once_and_is_nothing_when_it_refuses', async () => {
  const loads = async (status) => {
    asked = [];
    answer = () => ({ status, body: { items: [1] }, headers: { ETag: '"2"' } });
    let drawn;
    const done = new Promise((resolve) => { drawn = resolve; });
    const desk = makeDesk(drawn);
    assert.deepEqual([desk.load('gauge'), desk.load('gauge')], [undefined, undefined], 'not there yet');
    await done;
    assert.equal(asked.length, 1);
    return desk.load('gauge');
  };
  assert.deepEqual(await loads(200), { items: [1], etag: '"2"', lang: null });
  assert.equal(await loads(404), null);
});

test('cans_are_marked_where_they_catch_a_quarter_more_or_less', () => {
  const view = work.viewRecords(contextWith({ catch_cans: { items: [{ zone: 'z1', on: '2026-01-10', catches_ml: [10, 40, 41, 70], per_row: 2, self: 's' }] } }), 'catch_cans');
  assert.deepEqual(findAll(view.body, (n) => n.tag === 'td').map((n) => [n.attributes.class, textOf(n)]), [['low', '25 ▼'], [null, '99'], [null, '102'], ['high', '174 ▲']]);
  assert.match(said(view), /4 cans, uniformity of the low quarter 25 %\. Poor: clean or change the worst nozzles\. Driest corner: row 1, can 1\./);
});

test('a_sheet_is_printed_by_its_button', () => {
  const printed = [];
  globalThis.print = () => printed.push(1);
  const sheet = JSON.parse(readFileSync(new URL('fixtures/sheet.json', import.meta.url), 'utf8'));
  findAll(work.viewSheet(contextWith({ sheet })).body, (n) => n.tag === 'button' && textOf(n) === 'Print')[0].attributes.onclick();
  assert.equal(printed.length, 1);
});

test('an_account_is_named_with_what_it_may_and_signs_out', async () => {
  const ctx = contextWith({}, { me: { account: 'looker', role: 'viewer' } });
  assert.match(said(work.viewSignIn(ctx)), /Signed in as looker, viewer\.\nThis account may look, not write\./);
  answer = (method) => ({ status: 200, body: method === 'GET' ? { account: null, role: null } : {} });
  await findAll(work.viewSignIn(ctx).body, (n) => n.tag === 'button')[0].attributes.onclick();
  assert.deepEqual(asked.map(([method, path]) => `${method} ${path}`), ['DELETE api/v1/session', 'GET api/v1/session']);
  assert.ok(one(work.viewSignIn(ctx), 'f-password'), 'and may sign in anew');
});

test('a_hold_is_changed_with_what_it_shuts', () => {
  const shut = (more) => {
    const ctx = contextWith();
    ctx.desk.load = () => hold(ctx, -1, 2, more);
    return findAll(one(work.viewEdit(ctx, 'holds', 'h'), 'f-shut'), (n) => n.attributes.selected).map((n) => n.attributes.value);
  };
  assert.deepEqual([{ zone: 'z4' }, { block: 'carex' }, { supply: 'bore' }, {}].map(shut), [['one-zone'], ['one-block'], ['one-supply'], ['whole-nursery']]);
});

test('what_is_not_there_is_said_and_what_is_asked_for_is_waited_for', () => {
  const ctx = contextWith();
  for (const view of [work.viewEdit(ctx, 'gauge', 'x'), work.viewEdit(ctx, 'nonsense', 'x'), work.viewWorking(ctx, 'carex'), work.viewChecks(ctx), work.viewCard(ctx)]) assert.match(said(view), /That does not exist here/, view.title);
  ctx.desk.load = () => undefined;
  for (const view of [work.viewEdit(ctx, 'gauge', 'x'), work.viewWorking(ctx, 'carex'), work.viewChange(ctx, 'carex'), work.viewChecks(ctx), work.viewRecords(ctx, 'gauge'), work.viewSheet(ctx)]) assert.match(said(view), /Loading/, view.title);
});

test('an_empty_nursery_is_set_up_step_by_step', () => {
  const plan = { ...readPlan(), zones: [], blocks: [] };
  const ctx = contextWith({ supplies: { items: [{ supply: 'bore' }, { supply: 'tank' }] } }, { plan });
  const text = said(work.viewSetup(ctx));
  assert.match(text, /There are no blocks, so nothing to water/);
  assert.match(text, /Pumps and mains2 are there\./);
  assert.match(text, /ZonesNone yet\./);
});

test('records_are_said_in_the_readers_units_with_what_they_are_of', () => {
  const records = (kind, items, choice) => said(work.viewRecords(contextWith({ [kind]: { items } }, { choice }), kind));
  const jars = { mix: 'fine', batch: null, tested: '2026-01-10', drained_ml: [181, 190.5, 185], self: '/api/v1/bench_tests/x' };
  assert.match(records('bench_tests', [jars]), /181 190\.5 185 mL/);
  assert.match(records('bench_tests', [jars], US), /6\.12 6\.442 6\.256 fl oz/);
  assert.match(records('windows', [{ zone: null, from: '04:00', to: '08:00', days: ['mon', 'fri'], self: 's' }]), /the whole nursery.*Mon Fri/s);
  const odd = work.viewRecords(contextWith({ gauge: { items: [{ rain_mm: 4, odd_column: 'x', self: 's' }] } }), 'gauge');
  assert.deepEqual(findAll(odd.body, (n) => n.tag === 'dl').map((n) => plain(textOf(n))), ['Rain in the gauge4 mm', 'odd_columnx'], 'what no form asks is folded');
  const links = (kind, items) => findAll(work.viewRecords(contextWith({ [kind]: { items } }), kind).body, (n) => n.tag === 'a' && textOf(n) === 'Change').length;
  assert.deepEqual([links('windows', [{ from: '04:00', to: '08:00', self: 's' }]), links('bench_tests', [jars])], [0, 1], 'hours are taken out and added anew');
  assert.match(records('covers', [{ cover: 'net', name: 'Net', transmissivity: 0.7, rain: true, self: 's' }]), /70 %.*✓/s);
});

test('while_before_and_after_are_worked_out_it_is_not_called_saving', async () => {
  const ctx = contextWith({ 'blocks/carex': { items: [{ block: 'carex', from: '2026-01-01', pots: 100, etag: '"1"' }] } });
  const view = () => work.viewChange(ctx, 'carex');
  let now;
  answer = () => {
    now = said(view());
    return { status: 200, body: { before: {}, after: {} } };
  };
  const sent = ctx.desk.send('change carex ', 'POST', 'blocks/carex/preview', {});
  assert.equal(ctx.desk.outcome('change carex ').state, 'asking');
  await sent;
  assert.match(now, /Working it out…/);
  assert.doesNotMatch(now, /Saving/);
  ctx.desk.send('orders ', 'POST', 'orders', {});
  assert.match(said(work.viewDo(ctx, 'orders')), /Saving…/);
});

test('a_new_block_needs_its_canopy_and_one_that_does_without_is_changed_without', () => {
  const row = { block: 'carex', name: 'Carex', zone: 'z4', from: '2026-01-01', pots: 100, pot: 'p3', mix: 'bark', spacing_cm: 25, canopy_cm: null, plant_height_m: null, etag: '"1"' };
  const needs = (view) => findAll(view.body, (n) => n.attributes.required && /canopy|height/.test(n.attributes.id)).map((n) => n.attributes.id);
  assert.deepEqual(needs(work.viewDo(contextWith(), 'blocks')), ['f-canopy_cm', 'f-plant_height_m']);
  assert.deepEqual(needs(work.viewChange(contextWith({ 'blocks/carex': { items: [row] } }), 'carex')), []);
  assert.deepEqual(needs(work.viewChange(contextWith({ 'blocks/carex': { items: [{ ...row, canopy_cm: 20, plant_height_m: 0.3 }] } }), 'carex')), ['f-canopy_cm', 'f-plant_height_m']);
});

test('a_swap_of_the_mix_says_that_the_weighing_no_longer_counts', async () => {
  const plan = readPlan();
  const row = { block: 'carex', name: 'Carex', zone: 'z4', from: '2026-01-01', pots: 100, pot: 'p3', mix: 'bark', spacing_cm: 25, canopy_cm: null, plant_height_m: null, etag: '"1"' };
  const ctx = contextWith({ 'blocks/carex': { items: [row] } }, { plan });
  const warnings = [{ code: 'weighings_forgotten', at: '2026-01-13T00:00:00+10:30', detail: 'What was weighed no longer counts.' }];
  answer = () => ({ status: 200, body: { state: { from: '2026-01-13' }, before: plan, after: plan, warnings }, headers: { 'Content-Language': 'en' } });
  await submit(work.viewChange(ctx, 'carex'));
  const [warning] = findAll(work.viewChange(ctx, 'carex').body, (n) => n.attributes.lang === 'en');
  assert.equal(textOf(warning), 'What was weighed no longer counts.');
  Object.assign(plan.blocks.find(({ id }) => id === 'carex'), { known_how: 'assumed', known_since: null, forgotten_at: '2026-01-13T00:00:00+10:30' });
  assert.match(said(viewBlock(ctx, 'carex')), /In another pot or mix since Tue 00:00: what was weighed or felt before no longer counts/);
});

test('metered_water_that_nobody_planned_is_said_to_be_so', () => {
  const checks = JSON.parse(readFileSync(new URL('fixtures/checks.json', import.meta.url), 'utf8'));
  checks.meter.yesterday = { from: '2026-01-12', to: '2026-01-12', planned_l: 0, metered_l: 900, ratio: null, planned_all_l: 0 };
  assert.match(said(work.viewChecks(contextWith({ checks }))), /said 0 L, found 900 L · not planned/);
});

test('a_change_stands_beside_what_it_was', () => {
  const ctx = contextWith();
  const row = { block: 'carex', name: 'Carex', from: '2025-09-01', mix: 'fine', pots: 400, self: '/api/v1/blocks/carex,2025-09-01', etag: '"1"' };
  ctx.desk.load = (path) => (path === 'blocks/carex' ? { items: [row] } : null);
  const after = readPlan();
  Object.assign(after.blocks.find((block) => block.id === 'carex'), { interval_d: 3, findings: ['too_wet'] });
  const before = readPlan();
  Object.assign(before.blocks.find((block) => block.id === 'carex'), { interval_d: 2, findings: ['fit'] });
  ctx.desk.settle('change carex ', { state: 'saved', data: { state: { ...row, from: '2026-01-13' }, before, after, warnings: [] } });
  const rows = findAll(work.viewChange(ctx, 'carex').body, (n) => n.tag === 'table' && n.attributes.class === 'both').flatMap((table) => findAll(table, (n) => n.tag === 'tr')).map((tr) => tr.children.map((cell) => plain(textOf(cell))));
  const minutes = ctx.plan.days.reduce((sum, day) => sum + day.runs.reduce((all, run) => all + run.minutes, 0), 0);
  assert.ok(rows.some(([name, was]) => name === 'Minutes in this plan' && was === plain(ctx.format.minutes(minutes))), String(rows));
  assert.deepEqual(findAll(work.viewChange(ctx, 'carex').body, (n) => n.attributes.class === 'differs').length, 2, 'only what differs is marked');
  assert.deepEqual(rows.filter((cells) => ['', 'Interval', 'Judged'].includes(cells[0])), [['', 'Before', 'After'], ['Judged', 'Fit for growing on.', 'Too wet for growing on.'], ['Interval', '2 days', '3 days']]);
});

test('every_step_of_the_working_says_formula_inputs_and_source', () => {
  const steps = [
    { label: 'air', value: 18.62, unit: '%', formula: 'drained / volume', inputs: { drained: [181, 190.5], tested: '2026-01-10T08:00:00+10:30', path: 'one_vessel', batch: null }, labels: { drained: 'drained', tested: 'tested', path: 'curve', batch: 'delivery' }, source: '<i>handbook 1</i>' },
    { label: 'pots', value: 5, unit: null, formula: 'counted', source: 'records' },
    { label: 'minutes', value: 0.0123, unit: null, formula: 'lack / rate', source: 'handbook 4' },
  ];
  const view = work.viewWorking(contextWith({ 'blocks/carex/working': { steps, words: { one_vessel: 'one vessel' }, lang: 'en' } }), 'carex');
  assert.deepEqual(findAll(view.body, (n) => n.tag === 'li').map((li) => li.children.map((p) => plain(textOf(p)))), [
    ['air = 18.6 %', 'drained / volume', 'drained: 181, 191 · tested: 2026-01-10 08:00 · curve: one vessel · delivery: –', '<i>handbook 1</i>'],
    ['pots = 5 ', 'counted', '', 'records'],
    ['minutes = 0.0123 ', 'lack / rate', '', 'handbook 4'],
  ]);
});

test('what_is_expected_of_a_pot_is_written_down_once_and_kept_from_plan_to_plan', async () => {
  const ctx = contextWith();
  const block = ctx.index.block('carex');
  const lacks = block.capacity_l - block.water_l;
  const weigh = () => work.viewDo(ctx, 'weighings', 'block=carex');
  assert.match(live(weigh()), /^Sealed before you weigh, from the plan of Tue 16:10\./);
  Object.assign(block, { water_l: block.water_l - 0.1 });
  ctx.plan.made_at = '2026-01-13T18:00:00+10:30';
  assert.match(live(weigh()), /plan of Tue 16:10/, 'a later plan changes nothing');
  for (const [id, text] of [['f-capacity_kg', '3,4'], ['f-now_kg', '3,15']]) type(weigh(), id, text);
  await submit(weigh());
  assert.equal(asked[0][2].capacity_kg, 3.4);
  assert.equal(asked[0][2].$lacks, undefined, 'it is not sent');
  assert.match(said(weigh()), new RegExp(`Carex: perchd expected ${plain(ctx.format.potWater(lacks)).replace('.', '\\.')} to be lacking; you weighed 250 mL\\.`));
});

test('of_zone_and_block_one_is_ordered_and_a_long_hold_outlasts_the_order', async () => {
  const ctx = contextWith({ holds: { items: [hold(contextWith(), -1, 33, { zone: 'z4' })] } });
  type(work.viewDo(ctx, 'orders'), 'f-zone', 'z4');
  type(work.viewDo(ctx, 'orders'), 'f-block', 'carex');
  await submit(work.viewDo(ctx, 'orders'));
  assert.match(said(work.viewDo(ctx, 'orders')), /Only one of these two/);
  assert.equal(asked.length, 0);
  assert.match(live(work.viewDo(ctx, 'orders')), /longer than an order waits: it will not run/);
});

test('an_order_without_a_connection_is_kept_not_called_ordered_and_is_saved_once_it_went', async () => {
  const ctx = contextWith();
  type(work.viewDo(ctx, 'orders'), 'f-zone', 'z4');
  const fetched = globalThis.fetch;
  globalThis.fetch = async () => {
    throw new TypeError('no connection');
  };
  await submit(work.viewDo(ctx, 'orders'));
  assert.match(said(work.viewDo(ctx, 'orders')), /kept on this device/);
  assert.doesNotMatch(said(work.viewDo(ctx, 'orders')), /Ordered\./);
  globalThis.fetch = fetched;
  answer = () => ({ status: 201, body: {} });
  await ctx.desk.flush();
  assert.doesNotMatch(said(work.viewDo(ctx, 'orders')), /kept on this device/);
});

test('what_is_emptied_is_taken_away_in_a_preview', async () => {
  const row = { block: 'carex', name: 'Carex', zone: 'z4', from: '2026-01-01', pots: 100, pot: 'p3', mix: 'bark', batch: 'spring', spacing_cm: 25, row_cm: null, canopy_cm: 20, plant_height_m: 0.3, stage: null, cover: null, potted: true, watered_in: false, etag: '"1"' };
  const ctx = contextWith({ 'blocks/carex': { items: [row] } });
  const view = () => work.viewChange(ctx, 'carex');
  type(view(), 'f-batch', '');
  await submit(view());
  const [[, , sent]] = asked;
  delete sent.from;
  assert.deepEqual(sent, { batch: null });
});

test('keeping_mine_keeps_what_another_changed_beside_it', async () => {
  const supply = { supply: 'bore', name: 'Bore', flow_l_min: 200, valves_at_once: 2, daily_limit_l: null, water_ec_ds_m: null, etag: '"1"' };
  const loaded = { 'supplies/bore': supply };
  const ctx = contextWith(loaded);
  const view = () => work.viewEdit(ctx, 'supplies', 'bore');
  type(view(), 'f-flow_l_min', '180');
  answer = () => ({ status: 412, body: {} });
  await submit(view());
  loaded['supplies/bore'] = { ...supply, name: 'New bore', flow_l_min: 190, etag: '"2"' };
  const row = findAll(view().body, (n) => n.tag === 'tr').map((n) => plain(textOf(n)));
  assert.deepEqual(row.slice(1), ['Flow180190'], 'only what both changed is asked about');
  findAll(view().body, (n) => n.tag === 'button' && textOf(n) === 'Keep mine')[0].attributes.onclick();
  answer = () => ({ status: 200, body: {} });
  await submit(view());
  const [method, , body] = asked.at(-1);
  assert.deepEqual([method, body.name, body.flow_l_min], ['PATCH', 'New bore', 180]);
});
