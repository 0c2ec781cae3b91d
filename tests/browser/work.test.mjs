// SPDX-License-Identifier: GPL-3.0-or-later
// The day's work on the page, written to the real daemon: sign-in, walking, forms, changes, conflicts.

import assert from 'node:assert/strict';
import { join } from 'node:path';
import { after, before, test } from 'node:test';

import { toLocal } from '../../web/work.js';
import { DESK, PHONE, addressesOf, assertAccessible, assertFits, assertSaid, goTo, moveTo, openBrowser, openPage } from './browser.mjs';
import { fetchPlan, makeFolder, removeFolder, startPerchd, until } from './daemon.mjs';

const HOUR_MS = 3600 * 1000;

let browser;
let cookies;
let folder;
let demo;
let password;
let plan;

before(async () => {
  browser = await openBrowser();
  folder = await makeFolder();
  demo = await startPerchd('demo', '--port', '0', '--data', join(folder, 'demo'));
  password = /^account admin, password (\S+)$/m.exec(demo.said)[1];
  plan = await fetchPlan(demo.url);
  const page = await openPage(browser);
  await signIn(page);
  cookies = await page.context().cookies();
  await page.context().close();
});

after(async () => {
  await browser?.close();
  await demo?.stop();
  if (folder) await removeFolder(folder);
});

/* Signs in by the form once; the others have the cookie of that. */
async function withPage(options, work, { signedIn = true } = {}) {
  const page = await openPage(browser, options);
  try {
    if (signedIn) {
      await page.context().addCookies(cookies);
      await goTo(page, demo.url, 'sign-in');
      await page.locator('main strong, main p', { hasText: 'admin' }).first().waitFor();
    }
    await work(page);
  } finally {
    await page.context().close();
  }
}

async function signIn(page) {
  await goTo(page, demo.url, 'sign-in');
  await page.locator('#f-account').fill('admin');
  await page.locator('#f-password').fill(password);
  await page.locator('#f-password').press('Enter');
  await page.locator('main strong, main p', { hasText: 'admin' }).first().waitFor();
}

/* What the API holds, asked with the page's own cookie. */
function items(page, kind) {
  return page.evaluate(async (path) => (await (await fetch(path)).json()).items, `api/v1/${kind}`);
}

function sent(page) {
  return page.getByText(/^Saved\./).first().waitFor();
}

for (const [name, viewport, language, units] of [['phone', PHONE, 'es', 'us'], ['desk', DESK, 'en', 'metric'], ['narrow phone', { width: 320, height: 640 }, 'es', 'metric']]) {
  test(`every_view_of_the_work_fits_and_is_accessible_on_a_${name.replace(' ', '_')}`, () => withPage({ viewport }, async (page) => {
    await page.addInitScript((kept) => localStorage.setItem('perchd-display', kept), JSON.stringify({ language, units }));
    await page.reload();
    await page.locator('main[aria-busy="false"] h1').waitFor();
    for (const view of addressesOf(plan).filter((v) => v !== 'sign-in')) {
      await moveTo(page, view);
      await assertFits(page, view);
      if (name === 'phone') await assertAccessible(page, view);
      await assertSaid(page, language, view);
      await page.evaluate(() => { document.documentElement.style.fontSize = '200%'; });
      await assertFits(page, `${view}, text of twice the size`);
      await page.evaluate(() => { document.documentElement.style.fontSize = ''; });
    }
    assert.deepEqual(page.trouble, []);
  }));
}

test('without_signing_in_nothing_is_saved_and_signing_in_leads_back_to_what_was_typed', () => withPage({}, async (page) => {
  await goTo(page, demo.url, 'do/gauge');
  await page.getByText('To save, sign in.').waitFor();
  await page.locator('#f-rain_mm').fill('7,5');
  await page.locator('#f-from').fill('2026-11-20T07:00');
  await page.locator('#f-to').fill('2026-11-21T07:00');
  await page.getByRole('button', { name: 'Save' }).click();
  await page.getByText('You are not signed in, or no longer.').waitFor();
  assert.equal((await items(page, 'gauge')).filter((g) => g.rain_mm === 7.5).length, 0);
  await page.reload();
  await page.locator('#f-rain_mm').waitFor();
  assert.equal(await page.locator('#f-rain_mm').inputValue(), '7,5');
  await page.getByRole('button', { name: 'Save' }).click();
  await page.getByRole('alert').getByRole('link', { name: 'Sign in' }).click();
  await page.locator('#f-account').fill('admin');
  await page.locator('#f-password').fill(password);
  await page.locator('#f-password').press('Enter');
  await page.getByText('Signed in. What you typed is here: save it now.').waitFor();
  assert.equal(await page.evaluate(() => document.activeElement.id), 'resumed');
  assert.deepEqual(await Promise.all(['rain_mm', 'from', 'to'].map((name) => page.locator(`#f-${name}`).inputValue())), ['7,5', '2026-11-20T07:00', '2026-11-21T07:00']);
  await page.keyboard.press('Tab');
  await page.keyboard.press('Enter');
  await sent(page);
  const [reading] = (await items(page, 'gauge')).filter((g) => g.rain_mm === 7.5);
  assert.equal(new Date(reading.from).toISOString(), '2026-11-20T13:00:00.000Z', 'typed in the nursery’s own time');
  await page.goBack();
  assert.doesNotMatch(page.url(), /sign-in/, 'the way back does not lead through signing in');
}, { signedIn: false }));

test('a_session_that_ends_on_the_walk_loses_no_tap', () => withPage({}, async (page) => {
  await moveTo(page, 'walk');
  await page.context().clearCookies();
  await page.locator('#t-juniper-10l-wet').click();
  await page.getByRole('alert').getByRole('link', { name: 'Sign in' }).click();
  await page.locator('#f-account').fill('admin');
  await page.locator('#f-password').fill(password);
  await page.locator('#f-password').press('Enter');
  await page.getByRole('heading', { level: 1, name: 'Walk the crop' }).waitFor();
  assert.equal(await page.locator('#t-juniper-10l-wet').getAttribute('aria-pressed'), 'true');
  assert.equal(await page.getByRole('alert').filter({ visible: true }).filter({ hasText: 'signed in' }).count(), 0);
  const checks = (await items(page, 'touch_checks')).filter((c) => c.block === 'juniper-10l');
  assert.deepEqual(checks.map((c) => c.feel), ['wet']);
}));

test('a_wrong_password_says_so', () => withPage({}, async (page) => {
  await goTo(page, demo.url, 'sign-in');
  await page.locator('#f-account').fill('admin');
  await page.locator('#f-password').fill('wrong');
  await page.locator('#f-password').press('Enter');
  await page.getByRole('alert').filter({ hasText: 'Wrong account or password.' }).waitFor();
  assert.equal(await page.locator('#f-account').inputValue(), 'admin');
}, { signedIn: false }));

test('walking_the_crop_is_one_tap_a_block', () => withPage({}, async (page) => {
  await moveTo(page, 'walk');
  await page.getByLabel('edge').check();
  await page.locator('#t-photinia-10l-dry').click();
  await page.getByText('said').first().waitFor();
  await sent(page);
  const [check] = (await items(page, 'touch_checks')).filter((c) => c.block === 'photinia-10l');
  assert.deepEqual([check.feel, check.place, check.who], ['dry', 'edge', 'admin']);
  assert.equal(await page.locator('#t-photinia-10l-dry').getAttribute('aria-pressed'), 'true');
  await moveTo(page, 'block/photinia-10l');
  await page.getByText('Felt dry (edge)').waitFor();
}));

test('a_wrong_tap_on_the_walk_is_put_right_or_taken_back', () => withPage({}, async (page) => {
  await moveTo(page, 'walk');
  const tap = (feel) => page.locator(`#t-camellia-10l-${feel}`).click();
  const pressed = (feel, is) => page.locator(`#t-camellia-10l-${feel}[aria-pressed="${is}"]`).waitFor();
  const felt = async () => (await items(page, 'touch_checks')).filter((c) => c.block === 'camellia-10l').map((c) => c.feel);
  await tap('dry');
  await sent(page);
  /* keys are of whole seconds */
  await page.waitForFunction((at) => Math.floor(Date.now() / 1000) > at, Math.floor(Date.now() / 1000));
  await tap('right');
  await pressed('right', true);
  await sent(page);
  assert.deepEqual(await felt(), ['right']);
  await page.reload();
  await pressed('right', true);
  await tap('right');
  await pressed('right', false);
  assert.deepEqual(await felt(), []);
  assert.equal(await page.locator('main .notice').count(), 0);
}));

test('a_cover_is_written_and_cans_stand_in_the_records_as_they_were_typed', () => withPage({}, async (page) => {
  await moveTo(page, 'do/covers');
  await page.locator('#f-name').fill('Net 30');
  await page.locator('#f-transmissivity').fill('70');
  await page.getByRole('button', { name: 'Save' }).click();
  await page.locator('#e-rain').waitFor();
  await page.locator('#f-rain').selectOption('yes');
  await page.getByRole('button', { name: 'Save' }).click();
  await sent(page);
  const [cover] = (await items(page, 'covers')).filter((c) => c.cover === 'net-30');
  assert.deepEqual([cover.transmissivity, cover.rain], [0.7, true]);
  await moveTo(page, 'do/catch_cans/zone=bed-2');
  await page.locator('#f-catches_ml').fill('41 38 44\n35 20 40');
  await page.getByRole('button', { name: 'Save' }).click();
  await sent(page);
  await moveTo(page, 'records/catch_cans');
  await page.locator('.cans tr').nth(1).waitFor();
  assert.deepEqual(await page.locator('.cans tr').evaluateAll((rows) => rows.map((row) => row.cells.length)), [3, 3]);
}));

test('by_keyboard_alone_an_order_is_given_and_the_plan_obeys', () => withPage({ viewport: DESK }, async (page) => {
  await moveTo(page, 'zone/bed-1');
  await page.getByRole('link', { name: 'Water now' }).focus();
  await page.keyboard.press('Enter');
  await page.getByRole('heading', { level: 1, name: 'Water now' }).waitFor();
  assert.equal(await page.locator('#f-zone').inputValue(), 'bed-1');
  await page.keyboard.press('Tab');
  for (const key of ['Tab', 'Tab']) await page.keyboard.press(key);
  assert.equal(await page.evaluate(() => document.activeElement.id), 'f-minutes');
  await page.keyboard.type('11');
  await page.keyboard.press('Enter');
  await sent(page);
  await moveTo(page, 'more');
  await moveTo(page, 'do/orders/zone=bed-1');
  assert.equal(await page.getByText(/^Saved\./).count(), 0, 'what was saved is no news in a view come back to');
  const [order] = (await items(page, 'orders')).filter((o) => o.zone === 'bed-1');
  assert.deepEqual([order.minutes, order.block, order.who], [11, null, 'admin']);
  await page.getByText('ordered water starts').waitFor();
}));

test('a_hold_is_set_and_lifted', () => withPage({}, async (page) => {
  await moveTo(page, 'do/holds/zone=tunnel-1');
  await page.locator('#f-kind').selectOption('spraying');
  assert.equal(await page.locator('#f-zone').inputValue(), 'tunnel-1');
  await page.getByRole('button', { name: 'Save' }).click();
  await sent(page);
  await page.getByRole('button', { name: 'Lift now' }).click();
  await page.waitForFunction(() => ![...document.querySelectorAll('button')].some((b) => b.textContent === 'Lift now'));
  assert.deepEqual(await items(page, 'holds'), []);
}));

test('water_ordered_into_a_hold_comes_after_it_and_at_once_when_it_is_lifted', () => withPage({}, async (page) => {
  const orderedOf = (given) => given.days.flatMap((day) => day.runs).find(({ zone, reasons }) => zone === 'drip-1' && reasons.some(({ code }) => code === 'ordered'));
  const ends_s = Math.floor(Date.now() / HOUR_MS) * 3600 + 3.5 * 3600; // never midnight, which is said otherwise
  for (const [zone, from_s, to_s] of [['drip-1', null, ends_s], ['bed-2', ends_s, null]]) {
    await moveTo(page, `do/holds/zone=${zone}`);
    await page.locator('#f-kind').selectOption('picking');
    if (from_s) await page.locator('#f-from').fill(toLocal(from_s, plan.nursery.time_zone));
    if (to_s) await page.locator('#f-to').fill(toLocal(to_s, plan.nursery.time_zone));
    await page.getByRole('button', { name: 'Save' }).click();
    await sent(page);
  }
  const listed = (name) => page.getByRole('region', { name }).locator('.who').allTextContents();
  await page.getByRole('region', { name: 'Held later' }).waitFor();
  assert.deepEqual([await listed('Held now'), await listed('Held later')], [['picking: Drip line'], ['picking: Bed 2, mixed']]);

  await moveTo(page, 'do/orders');
  await page.locator('#f-zone').selectOption('bed-2');
  await page.getByText('gets it:').waitFor();
  assert.equal(await page.getByText('is held until').count(), 0, 'later is not now');
  await page.locator('#f-zone').selectOption('drip-1');
  const until = toLocal(ends_s, plan.nursery.time_zone).slice(11);
  await page.getByText(new RegExp(`^Drip line is held until \\w{3}.${until} .picking.\\. Ordered water runs after that`)).waitFor();
  await page.locator('#f-minutes').fill('9');
  await page.getByRole('button', { name: 'Order this water' }).click();
  await sent(page);
  const late = orderedOf(await fetchPlan(demo.url, orderedOf));
  assert.ok(late.start_s >= ends_s, `the plan starts it ${late.start}, held until ${until}`);
  const starts = (run) => page.getByText(new RegExp(`^Drip line: ordered water starts \\w{3}.${run.start.slice(11, 16)}, 9.min\\.$`)).waitFor();
  await starts(late);

  await moveTo(page, 'do/holds');
  await page.getByRole('region', { name: 'Held now' }).getByRole('button', { name: 'Lift now' }).click();
  await page.getByRole('region', { name: 'Held now' }).waitFor({ state: 'detached' });
  const soon = orderedOf(await fetchPlan(demo.url, (given) => orderedOf(given)?.start_s < ends_s));
  await moveTo(page, 'do/orders');
  await starts(soon);
  await moveTo(page, 'do/holds');
  await page.getByRole('button', { name: 'Lift now' }).click();
  await page.getByRole('button', { name: 'Lift now' }).waitFor({ state: 'detached' });
}));

test('a_weighing_shows_the_sealed_expectation_only_after_saving', () => withPage({}, async (page) => {
  await moveTo(page, 'do/weighings/block=rosemary-3l');
  await page.getByText('Sealed before you weigh').waitFor();
  assert.doesNotMatch(await page.locator('main').innerText(), /expected .* to be lacking/);
  await page.locator('#f-capacity_kg').fill('3.40');
  await page.locator('#f-now_kg').fill('3.15');
  await page.getByRole('button', { name: 'Save' }).click();
  await page.getByText(/perchd expected .* to be lacking; you weighed 250.mL\./).waitFor();
  const kept = (await items(page, 'weighings')).filter((w) => w.block === 'rosemary-3l' && w.capacity_kg === 3.4);
  assert.equal(kept.length, 1);
}));

test('a_refused_field_is_named_with_what_is_accepted', () => withPage({}, async (page) => {
  await moveTo(page, 'do/weighings/block=rosemary-3l');
  await page.getByRole('button', { name: 'Save' }).click();
  assert.equal(await page.evaluate(() => document.activeElement.id), 'f-capacity_kg', 'the first that is missing has the focus');
  assert.equal(await page.locator('#f-block').inputValue(), 'rosemary-3l');
  await page.locator('#f-capacity_kg').fill('2');
  await page.locator('#f-now_kg').fill('3');
  await page.getByRole('button', { name: 'Save' }).click();
  await page.getByText('That cannot be.').waitFor();
  assert.equal(await page.locator('#f-now_kg').inputValue(), '3');
  assert.equal(await page.locator('#f-now_kg').getAttribute('aria-invalid'), 'true');
}));

test('a_refusal_and_the_working_are_said_in_the_language_chosen', () => withPage({}, async (page) => {
  await page.addInitScript((kept) => localStorage.setItem('perchd-display', kept), JSON.stringify({ language: 'es', units: 'metric' }));
  await page.reload();
  await goTo(page, demo.url, 'do/weighings/block=rosemary-3l');
  await page.locator('#f-capacity_kg').fill('20');
  await page.locator('#f-now_kg').fill('0,5');
  await page.getByRole('button', { name: 'Guardar' }).click();
  await page.getByText(/Se acepta: ≥ [\d,]+ kg/).waitFor();
  await page.locator('#f-now_kg').fill('30');
  await page.getByRole('button', { name: 'Guardar' }).click();
  await page.getByText('Se acepta: ≤ 20 kg').waitFor();
  await moveTo(page, 'do/gauge');
  for (const end of ['from', 'to']) await page.locator(`#f-${end}`).fill('2026-11-10T07:00');
  await page.locator('#f-rain_mm').fill('1');
  await page.getByRole('button', { name: 'Guardar' }).click();
  const why = page.getByRole('alert').locator('bdi');
  await why.waitFor();
  assert.equal(await why.getAttribute('lang'), 'es');
  await moveTo(page, 'working/rosemary-3l');
  const steps = page.locator('ol.steps');
  await steps.waitFor();
  assert.equal(await steps.getAttribute('lang'), 'es');
  assert.match(await steps.innerText(), /capacidad de contenedor en el recipiente = [\s\S]*agua útil[\s\S]*hecho de: corteza/);
}));

test('the_grower_sees_before_and_after_and_saves_the_change', () => withPage({}, async (page) => {
  await moveTo(page, 'block/choisya-3l');
  await page.getByRole('link', { name: 'Change this block' }).click();
  await page.locator('#f-mix').waitFor();
  const mix = await page.locator('#f-mix').inputValue();
  const { mix: other, batch } = (await items(page, 'bench_tests')).find((t) => t.mix !== mix);
  await page.locator('#f-mix').selectOption(other);
  await page.locator('#f-batch').fill(batch ?? '');
  await page.locator('#f-potted').check();
  await page.setViewportSize({ width: 360, height: 740 });
  await page.getByRole('button', { name: 'Show before and after' }).click();
  await page.getByText('What the change would do').waitFor();
  assert.ok(await page.locator('tr.differs').count() > 0);
  /* what was asked for is in sight, and stays there while the records come anew */
  const inSight = () => page.locator('.both thead').evaluate((head) => head.getBoundingClientRect().top >= 0 && head.getBoundingClientRect().bottom <= innerHeight);
  assert.ok(await inSight(), 'the comparison');
  await assertAccessible(page, 'before and after');
  assert.ok(await inSight(), 'still');
  await page.getByRole('button', { name: /^Save, from/ }).click();
  await sent(page);
  const rows = await items(page, 'blocks/choisya-3l');
  assert.equal(rows.at(-1).mix, other);
  assert.ok(rows.length > 1, 'the past stays explainable');
}));

test('anothers_edit_is_shown_beside_ones_own', () => withPage({}, async (page) => {
  await page.evaluate(() => fetch('api/v1/runs', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ key: 'both-edit', zone: 'bed-1', start: '2026-11-24T06:00:00Z', end: '2026-11-24T06:30:00Z', litres: 900, state: 'metered' }) }));
  await moveTo(page, 'edit/runs/both-edit');
  await page.locator('#f-litres').fill('950');
  await page.evaluate(async () => {
    const now = await fetch('api/v1/runs/both-edit');
    await fetch('api/v1/runs/both-edit', { method: 'PATCH', headers: { 'Content-Type': 'application/json', 'If-Match': now.headers.get('ETag') }, body: '{"litres": 800}' });
  });
  await page.getByRole('button', { name: 'Save' }).click();
  await page.getByText('Somebody changed this record meanwhile.').waitFor();
  const row = page.locator('main tbody tr', { hasText: '950' });
  await row.waitFor();
  assert.match(await row.innerText(), /950\s+800/);
  await assertAccessible(page, 'conflict');
  await page.getByRole('button', { name: 'Keep mine' }).click();
  await page.getByRole('button', { name: 'Save' }).click();
  await sent(page);
  assert.equal((await items(page, 'runs')).find((r) => r.key === 'both-edit').litres, 950);
}));

test('without_a_connection_a_record_waits_and_goes_by_itself', () => withPage({}, async (page) => {
  await moveTo(page, 'walk');
  await page.route('**/api/v1/touch_checks', (route) => route.abort());
  await page.locator('#t-fern-2l-wet').click();
  await page.getByText('No connection: kept on this device').waitFor();
  await page.unroute('**/api/v1/touch_checks');
  await page.reload();
  await page.locator('main[aria-busy="false"] h1').waitFor();
  await page.evaluate(() => dispatchEvent(new Event('online')));
  await until(() => items(page, 'touch_checks'), (checks) => checks.some((c) => c.block === 'fern-2l' && c.feel === 'wet'));
}));

test('a_record_shows_its_units_and_goes_only_by_a_second_tap', () => withPage({}, async (page) => {
  await moveTo(page, 'records/weighings');
  const entry = page.locator('main li', { hasText: 'Olive trees 30 L' });
  await entry.waitFor();
  assert.match(await entry.innerText(), /31\.5 kg/);
  await entry.getByRole('button').click();
  await entry.getByRole('button', { name: 'Really remove it?' }).waitFor();
  assert.equal((await items(page, 'weighings')).filter((w) => w.block === 'olive-30l').length, 1);
  await entry.getByRole('button', { name: 'Really remove it?' }).click();
  await entry.waitFor({ state: 'detached' });
  assert.equal((await items(page, 'weighings')).filter((w) => w.block === 'olive-30l').length, 0);
}));

test('a_draft_of_yesterday_brings_no_hour_of_yesterday', () => withPage({}, async (page) => {
  await page.evaluate(() => localStorage.setItem('perchd-desk', JSON.stringify({ drafts: { 'weighings ': { capacity_kg: '3' } } })));
  await moveTo(page, 'do/weighings');
  await page.reload();
  await page.locator('#f-at').waitFor();
  assert.equal(await page.locator('#f-capacity_kg').inputValue(), '3');
  const shown = await page.locator('#f-at').inputValue();
  const hidden = await page.evaluate(() => JSON.parse(localStorage.getItem('perchd-desk')).drafts['weighings '].at);
  assert.match(shown, /^20\d\d-\d\d-\d\dT/);
  assert.equal(hidden, undefined, 'an hour nobody typed is not kept');
}));

test('a_bench_test_is_made_beside_the_jar_and_judged_for_every_pot', () => withPage({}, async (page) => {
  await moveTo(page, 'do');
  await page.getByRole('link', { name: 'Bench test, beside the jar' }).click();
  await page.locator('#f-mix').selectOption('bark-peat');
  await page.locator('#f-batch').fill('Autumn 26');
  await page.locator('#f-soak-60').click();
  await page.waitForFunction(() => /^(1:00:00|0:59:\d\d)$/.test(document.querySelector('.clock').textContent));
  const end = await page.locator('.clock').getAttribute('data-end');
  await page.locator('#f-vessel_volume_ml').fill('1000');
  await page.locator('#f-vessel_height_cm').fill('12');
  await page.locator('#f-jar-0').fill('181');
  await page.getByText('One jar says little: use three.').waitFor();
  await page.locator('#f-jar-1').fill('225');
  await page.locator('#f-jar-2').fill('190,5');
  await page.getByText('The jars differ by more than 3 points').waitFor();
  assert.match(await page.locator('.huge').innerText(), /^Air 19\.9/); // (181 + 225 + 190.5) / 3 / 1000
  await page.reload();
  await page.locator('#f-jar-2').waitFor();
  assert.equal(await page.locator('#f-jar-2').inputValue(), '190,5', 'nothing is lost');
  assert.equal(await page.locator('.clock').getAttribute('data-end'), end, 'the timer goes on');
  const small = await page.evaluate(() => [...document.querySelectorAll('.bench :is(button, input, select), .result button')].filter((n) => n.getClientRects().length && n.getBoundingClientRect().height < 48).length);
  assert.equal(small, 0, 'targets for wet hands');
  await page.locator('#f-jar-1').fill('185');
  await page.locator('#f-bench').press('Enter');
  await page.getByText('What it means:').waitFor();
  const [kept] = (await items(page, 'bench_tests')).filter((t) => t.batch === 'autumn-26');
  assert.deepEqual([kept.drained_ml, kept.vessel_height_cm, kept.mix], [[181, 185, 190.5], 12, 'bark-peat']);
  for (const pot of plan.pots) assert.ok((await page.locator('main').innerText()).includes(pot.name), pot.name);
}));

test('a_block_saved_in_another_tab_is_not_overwritten_without_a_word', () => withPage({}, async (page) => {
  await moveTo(page, 'change/fern-2l');
  await page.locator('#f-pots').fill('77');
  const from = await page.locator('#f-from').inputValue();
  const status = await page.evaluate(async (day) => {
    const { items: rows } = await (await fetch('api/v1/blocks/fern-2l')).json();
    const { self, etag, from_s, ...row } = rows.at(-1);
    return (await fetch('api/v1/blocks', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ ...row, from: day, pots: 55 }) })).status;
  }, from);
  assert.equal(status, 201);
  await page.getByRole('button', { name: 'Show before and after' }).click();
  await page.getByRole('button', { name: /^Save, from/ }).click();
  await page.getByText('Somebody changed this record meanwhile.').waitFor();
  await page.getByRole('button', { name: 'Take theirs' }).click();
  assert.equal((await items(page, 'blocks/fern-2l')).at(-1).pots, 55);
}));
