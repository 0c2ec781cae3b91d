// SPDX-License-Identifier: GPL-3.0-or-later
// The page while things go wrong: no plan yet, no connection, errors, old weather, no plants.

import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';

import { PHONE, assertAccessible, assertFits, goTo, openBrowser, openPage } from './browser.mjs';
import { answerPlan, readFixture, startStandIn } from './stand_in.mjs';

const GONE = { status: 0, body: '' };

let browser;

before(async () => {
  browser = await openBrowser();
});

after(async () => {
  await browser?.close();
});

/* A page on a stand-in whose answer a test changes; the browser's own log of failed requests is meant. */
async function withAnswer(answer, work) {
  const server = await startStandIn(answer);
  const page = await openPage(browser, { viewport: PHONE });
  try {
    await work(page, server);
    const other = page.trouble.filter((text) => !text.startsWith('Failed to load resource'));
    assert.deepEqual(other, []);
  } finally {
    await page.context().close();
    await server.close();
  }
}

async function says(page, pattern) {
  await page.waitForFunction((source) => new RegExp(source).test(document.getElementById('status-text').textContent), pattern.source);
}

function problem(status, detail, headers = {}) {
  return { status, headers: { 'Content-Type': 'application/problem+json', ...headers }, body: JSON.stringify({ title: 'trouble', status, detail }) };
}

test('a_plan_on_its_way_is_said_to_be_loading', async () => {
  const plan = await readFixture();
  let answer;
  const slow = new Promise((done) => { answer = done; });
  await withAnswer(() => slow, async (page, server) => {
    await page.addInitScript(() => localStorage.setItem('perchd-display', '{"language":"es"}'));
    await page.goto(server.url);
    await says(page, /^Cargando el plan…$/);
    assert.equal(await page.locator('main h1').innerText(), 'Cargando el plan…');
    assert.equal(await page.locator('main').getAttribute('aria-busy'), 'true');
    answer(answerPlan(plan));
    await page.getByRole('heading', { level: 1, name: /^Mañana/ }).waitFor();
    assert.equal(await page.locator('main').getAttribute('aria-busy'), 'false');
  });
});

test('a_plan_that_is_being_worked_out_is_waited_for', async () => {
  const plan = await readFixture();
  await withAnswer(() => problem(503, 'no plan yet', { 'Retry-After': '1' }), async (page, server) => {
    await page.goto(server.url);
    await says(page, /^The first plan is being worked out\./);
    await assertAccessible(page, 'no plan yet');
    server.answer = () => answerPlan(plan);
    await page.getByRole('heading', { level: 1, name: /^Tomorrow/ }).waitFor();
    await says(page, /^Plan of Tue/);
    assert.equal(await page.locator('#again').isVisible(), false);
  });
});

test('a_lost_connection_keeps_the_plan_and_says_its_age', async () => {
  const plan = await readFixture();
  await withAnswer(() => answerPlan(plan), async (page, server) => {
    await goTo(page, server.url, 'tomorrow');
    server.answer = () => GONE;
    await page.evaluate(() => dispatchEvent(new Event('online')));
    await says(page, /^No connection to perchd since \d\d:\d\d\. Below is the plan of Tue.16:10, 25.min old\.$/);
    assert.match(await page.locator('#alarm').textContent(), /^No connection/, 'announced');
    assert.match(await page.locator('main').innerText(), /Tree line/, 'the plan stays');
    await assertAccessible(page, 'no connection');
    await assertFits(page, 'no connection');
    server.answer = () => answerPlan(plan);
    await page.getByRole('button', { name: 'Ask again now' }).click();
    await says(page, /^Plan of Tue/);
    assert.equal(await page.locator('#alarm').textContent(), '');
  });
});

test('no_connection_from_the_start_says_what_to_do', async () => {
  await withAnswer(() => GONE, async (page, server) => {
    await page.goto(server.url);
    await says(page, /^No connection to perchd\. Check the network/);
    assert.equal(await page.locator('#again').isVisible(), true);
    await page.evaluate(() => { location.hash = '#/more'; });
    await page.getByRole('heading', { level: 2, name: 'Display' }).waitFor();
  });
});

test('an_error_is_told_in_the_daemons_words_and_as_text', async () => {
  await withAnswer(() => problem(500, '<b>store is locked</b>'), async (page, server) => {
    await page.goto(server.url);
    await says(page, /^perchd answered with an error: <b>store is locked<.b>\./);
    server.answer = () => ({ status: 502, body: 'not JSON' });
    await page.getByRole('button', { name: 'Ask again now' }).click();
    await says(page, /error: 502/);
  });
});

test('a_plan_behind_sign_in_asks_to_sign_in_and_then_comes', async () => {
  const plan = await readFixture();
  await withAnswer(() => problem(401, 'sign in first'), async (page, server) => {
    await page.goto(server.url);
    await page.getByRole('heading', { level: 1, name: 'Sign in' }).waitFor();
    await page.getByLabel('Password').waitFor();
    await assertAccessible(page, 'sign-in instead of the plan');
    server.answer = () => answerPlan(plan);
    await page.locator('#again').click();
    await page.getByRole('heading', { level: 1, name: /^Tomorrow/ }).waitFor();
  });
});

test('a_plan_that_is_closed_meanwhile_is_taken_away', async () => {
  const plan = await readFixture();
  await withAnswer(() => answerPlan(plan), async (page, server) => {
    await goTo(page, server.url, 'tomorrow');
    server.answer = () => problem(401, 'sign in first');
    await page.evaluate(() => dispatchEvent(new Event('online')));
    await page.getByRole('heading', { level: 1, name: 'Sign in' }).waitFor();
    assert.doesNotMatch(await page.locator('body').innerText(), /Tree line|Saltbush/);
  });
});

test('records_that_come_late_leave_the_hand_where_it_types', async () => {
  const plan = await readFixture();
  await withAnswer(() => answerPlan(plan), async (page, server) => {
    let release;
    const released = new Promise((done) => { release = done; });
    await page.route('**/api/v1/gauge', (route) => released.then(() => route.continue()));
    await goTo(page, server.url, 'do/gauge');
    await page.locator('#f-rain_mm').pressSequentially('42');
    await page.keyboard.press('ArrowLeft');
    await page.keyboard.press('Shift+ArrowLeft');
    const before = await page.locator('#f-rain_mm').elementHandle();
    release();
    await page.waitForFunction((node) => !node.isConnected, before);
    assert.deepEqual(await page.evaluate(() => [document.activeElement.id, document.activeElement.value, document.activeElement.selectionStart, document.activeElement.selectionEnd]), ['f-rain_mm', '42', 0, 1], 'what is typed over stays marked');
  });
});

test('a_plan_of_another_schema_is_not_misread', async () => {
  const plan = await readFixture();
  await withAnswer(() => answerPlan({ ...plan, schema: 2 }), async (page, server) => {
    await page.goto(server.url);
    await says(page, /not a plan this page can read .schema 2./);
    server.answer = () => ({ headers: { 'Content-Type': 'application/json' }, body: '{"schema":' });
    await page.getByRole('button', { name: 'Ask again now' }).click();
    await says(page, /^No connection|error/);
  });
});

test('a_new_plan_replaces_the_old_one_without_moving_the_reader', async () => {
  const plan = await readFixture();
  await withAnswer(() => answerPlan(plan), async (page, server) => {
    await goTo(page, server.url, 'tomorrow');
    const first = page.locator('.run details').first();
    await first.locator('summary').focus();
    await page.keyboard.press('Enter');
    const newer = structuredClone(plan);
    newer.made_at = '2026-01-13T16:40:00+10:30';
    newer.made_at_s += 1800;
    newer.zones[6].name = 'Renamed row';
    server.answer = () => answerPlan(newer);
    await page.evaluate(() => dispatchEvent(new Event('online')));
    await page.getByRole('link', { name: 'Renamed row' }).first().waitFor();
    assert.match(await page.locator('#news').textContent(), /^The plan is new: made Tue.16:40\.$/);
    assert.equal(await first.getAttribute('open'), '', 'what was unfolded stays so');
    assert.equal(await page.evaluate(() => document.activeElement.tagName), 'SUMMARY', 'the focus stays');
    newer.zones[6].name = 'Renamed in the same second';
    server.answer = () => ({ ...answerPlan(newer), headers: { ...answerPlan(newer).headers, ETag: '"another"' } });
    await page.evaluate(() => dispatchEvent(new Event('online')));
    await page.getByRole('link', { name: 'Renamed in the same second' }).first().waitFor();
  });
});

test('a_plan_past_its_end_warns_not_to_water_by_it', async () => {
  const plan = await readFixture();
  await withAnswer(() => answerPlan(plan, 40 * 3600), async (page, server) => {
    await goTo(page, server.url, 'tomorrow');
    await says(page, /^This plan ended Wed.24:00\. Do not water by it: it is 40.h old\.$/);
    assert.match(await page.locator('#status').getAttribute('class'), /trouble/);
    await assertAccessible(page, 'past its end');
  });
});

test('old_weather_and_its_reason_are_among_the_five_lines', async () => {
  const plan = await readFixture();
  Object.assign(plan.weather, { rung: 'old_forecast', age_s: 40.2 * 3600, error: '<i>HTTP 403</i>' });
  await withAnswer(() => answerPlan(plan), async (page, server) => {
    await goTo(page, server.url, 'tomorrow');
    const built = await page.locator('.lines > div').last().innerText();
    assert.match(built, /Old weather forecast, 41.h: nothing newer came\./, 'and the plan is 25 minutes old');
    assert.match(await page.locator('.lines > div').last().locator('strong').innerText(), /^Old weather/);
    assert.match(built, /The last try: <i>HTTP 403<.i>/);
    assert.match(await page.locator('.lines > div').last().getAttribute('class'), /watch/);
    await assertAccessible(page, 'old weather');
  });
});

test('an_empty_nursery_is_told_its_first_steps', async () => {
  const plan = await readFixture();
  Object.assign(plan, { zones: [], blocks: [], pots: [], mixes: [], waiting: [], unplaced: [], notices: [] });
  plan.summary.first_dry = null;
  for (const day of plan.days) Object.assign(day, { runs: [], windows: [], litres: 0, peak_l_min: 0 });
  await withAnswer(() => answerPlan(plan), async (page, server) => {
    await goTo(page, server.url, 'tomorrow');
    await page.getByRole('heading', { level: 1, name: 'Setting up' }).waitFor();
    assert.match(await page.locator('main').innerText(), /There are no blocks, so nothing to water/);
    assert.equal(await page.locator('main ol').getByRole('link').first().getAttribute('href'), '#/do/supplies');
    await assertAccessible(page, 'empty nursery');
    await page.evaluate(() => { location.hash = '#/zones'; });
    await page.getByRole('heading', { level: 1, name: 'Zones and supply' }).waitFor();
    await assertAccessible(page, 'no zones');
  });
});

/* The browser's clock and timers stand still but for what a test lets pass. */
const MINUTE_MS = 60 * 1000;

test('the_page_asks_again_by_itself_and_counts_the_age_meanwhile', async () => {
  const plan = await readFixture();
  await withAnswer(() => answerPlan(plan), async (page, server) => {
    await page.clock.install();
    await goTo(page, server.url, 'tomorrow');
    await page.clock.runFor(4 * MINUTE_MS);
    await says(page, /^Plan of Tue.16:10, 29.min old\.$/);
    assert.equal(await page.locator('#news').textContent(), '', 'silently');
    const { Date: now } = answerPlan(plan).headers;
    server.answer = () => problem(500, 'store is <i>locked</i>', { Date: now });
    await page.clock.runFor(MINUTE_MS);
    await says(page, /^perchd answered with an error: store is <i>locked<.i>\. Below is the plan of Tue.16:10, 25.min old\.$/);
    server.answer = () => answerPlan(plan);
    await page.clock.runFor(MINUTE_MS / 4);
    await says(page, /^Plan of Tue/);
    /* one that takes the request and says nothing */
    let taken;
    const request = new Promise((done) => { taken = done; });
    server.answer = () => new Promise(taken);
    await page.clock.runFor(5 * MINUTE_MS);
    await request;
    await page.clock.runFor(MINUTE_MS / 3);
    await says(page, /^No connection to perchd since/);
    const newer = structuredClone(plan);
    newer.made_at = '2026-01-13T16:20:00+10:30';
    newer.made_at_s += 600;
    server.answer = () => answerPlan(newer);
    await page.evaluate(() => document.dispatchEvent(new Event('visibilitychange')));
    await says(page, /^Plan of Tue.16:20/);
  });
});

test('a_tab_that_was_left_open_past_its_plan_says_not_to_water_by_it', async () => {
  const plan = await readFixture();
  await withAnswer(() => answerPlan(plan), async (page, server) => {
    await page.clock.install();
    await goTo(page, server.url, 'zones');
    await says(page, /^Plan of Tue/);
    server.answer = () => GONE;
    const left_s = plan.good_until_s - plan.made_at_s - 1500;
    await page.clock.fastForward((left_s - 60) * 1000);
    await says(page, /^No connection to perchd since .* Below is the plan of Tue/);
    await page.clock.fastForward(2 * MINUTE_MS);
    await says(page, /^This plan ended Wed.24:00\. Do not water by it: it is 32.h old\.$/);
    assert.match(await page.locator('#status').getAttribute('class'), /trouble/);
    assert.match(await page.locator('#alarm').textContent(), /Do not water by it/, 'announced');
    assert.equal(await page.locator('main h1').innerText(), 'Zones and supply', 'what was on the page stays');
  });
});

test('a_new_plan_waits_while_somebody_types', async () => {
  const plan = await readFixture();
  await withAnswer(() => answerPlan(plan), async (page, server) => {
    await page.clock.install();
    await goTo(page, server.url, 'do/gauge');
    const rain = page.locator('#f-rain_mm');
    await rain.fill('4');
    const typed = await rain.elementHandle();
    const newer = structuredClone(plan);
    newer.made_at_s += 600;
    newer.nursery.name = 'Saltbush Flat';
    server.answer = () => answerPlan(newer);
    await page.evaluate(() => dispatchEvent(new Event('online')));
    await page.getByText(/^The plan is new/).waitFor({ state: 'attached' });
    await page.clock.runFor(MINUTE_MS);
    assert.ok(await typed.evaluate((node) => node === document.activeElement), 'the field under the fingers stays');
    assert.equal(await page.locator('#nursery').innerText(), 'Saltbush Gully Nursery');
    await typed.evaluate((node) => node.blur());
    await page.clock.runFor(MINUTE_MS);
    await page.getByText('Saltbush Flat').first().waitFor();
    assert.equal(await rain.inputValue(), '4');
  });
});

test('a_timer_of_the_bench_rings_when_its_time_is_up', async () => {
  const plan = await readFixture();
  await withAnswer(() => answerPlan(plan), async (page, server) => {
    await page.clock.install();
    await goTo(page, server.url, 'bench');
    await page.locator('#f-soak-60').click();
    await page.clock.runFor(1000);
    assert.match(await page.locator('.clock').innerText(), /^(1:00:00|0:59:5\d)$/);
    server.answer = () => answerPlan(plan, 1500 + 59 * 60);
    await page.clock.fastForward(59 * MINUTE_MS);
    await page.clock.runFor(1000);
    assert.match(await page.locator('.clock').innerText(), /^0:0(1:00|0:5\d)$/);
    assert.equal(await page.locator('#alarm').textContent(), '');
    await page.clock.runFor(MINUTE_MS);
    await page.getByText(/^Time is up since/).first().waitFor();
    assert.match(await page.locator('#alarm').textContent(), /^Time is up since/);
    assert.equal(await page.locator('.clock').count(), 0);
  });
});

test('a_page_whose_words_did_not_come_asks_for_them_again', async () => {
  const plan = await readFixture();
  await withAnswer(() => answerPlan(plan), async (page, server) => {
    await page.clock.install();
    let tried;
    const failed = new Promise((done) => { tried = done; });
    await page.route('**/words.en.js', (route) => route.abort().then(tried));
    await page.goto(server.url);
    await failed;
    await page.unroute('**/words.en.js');
    await page.clock.runFor(MINUTE_MS);
    await page.getByRole('heading', { level: 1, name: /^Tomorrow/ }).waitFor();
  });
});
