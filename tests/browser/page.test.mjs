// SPDX-License-Identifier: GPL-3.0-or-later
// Whole pages in a browser, on a plan that stands still.

import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';

import { NAMES, makeHostile } from '../js/hostile.mjs';
import { plainName } from '../../web/page.js';
import { DESK, PHONE, addressesOf, assertAccessible, assertFits, goTo, moveTo, openBrowser, openPage } from './browser.mjs';
import { answerPlan, readFixture, startStandIn } from './stand_in.mjs';

let browser;
let plan;
let server;
let views;

before(async () => {
  browser = await openBrowser();
  plan = await readFixture();
  views = addressesOf(plan);
  server = await startStandIn(() => answerPlan(plan));
});

after(async () => {
  await browser?.close();
  await server?.close();
});

async function withPage(options, work, { quiet = true } = {}) {
  const page = await openPage(browser, options);
  try {
    await work(page);
    if (quiet) assert.deepEqual(page.trouble, []);
  } finally {
    await page.context().close();
  }
}

/* The other two of the four are in daemon.test.mjs and work.test.mjs. */
for (const [size, viewport, colorScheme] of [['phone', PHONE, 'dark'], ['desk', DESK, 'light']]) {
  test(`every_view_is_accessible_on_a_${size}_in_${colorScheme}`, () => withPage({ viewport, colorScheme }, async (page) => {
    await goTo(page, server.url, views[0]);
    await assertAccessible(page, views[0]);
    for (const view of views.slice(1)) {
      await moveTo(page, view);
      await page.evaluate(() => document.querySelectorAll('details').forEach((d) => { d.open = true; }));
      await assertAccessible(page, view);
    }
  }));
}

test('every_view_fits_320_pixels_and_text_of_twice_the_size', async () => {
  for (const [language, units, sizes] of [['en', 'us', [[320, '100%'], [360, '200%']]], ['es', 'metric', [[360, '200%'], [1280, '200%']]]]) {
    await withPage({}, async (page) => {
      await page.addInitScript((kept) => localStorage.setItem('perchd-display', kept), JSON.stringify({ language, units }));
      await goTo(page, server.url, views[0]);
      for (const view of [...views.slice(1), views[0]]) {
        await moveTo(page, view);
        await page.evaluate(() => document.querySelectorAll('details').forEach((d) => { d.open = true; }));
        for (const [width, text] of sizes) {
          await page.setViewportSize({ width, height: 740 });
          await page.evaluate((size) => {
            document.documentElement.style.fontSize = size;
            return new Promise((drawn) => requestAnimationFrame(() => requestAnimationFrame(drawn)));
          }, text);
          await assertFits(page, `${view} in ${language} at ${width} px, text ${text}`);
        }
      }
      assert.deepEqual([...page.hosts], [new URL(server.url).host], 'no other host is asked for anything');
    });
  }
});

test('times_are_the_nurserys_in_a_browser_far_away', () => withPage({}, async (page) => {
  await goTo(page, server.url, 'tomorrow');
  assert.match(await page.locator('#status-text').innerText(), /^Plan of Tue.16:10, 25.min old\.$/);
  assert.match(await page.locator('.run .when').first().innerText(), /^03:30–04:32$/);
}));

test('hostile_names_are_text_everywhere', async () => {
  const hostile = await startStandIn(() => answerPlan(makeHostile(structuredClone(plan))));
  try {
    await withPage({ viewport: { width: 320, height: 640 } }, async (page) => {
      await goTo(page, hostile.url, 'notices');
      let text = '';
      for (const view of views) {
        if (view !== 'notices' || text) await moveTo(page, view);
        text += await page.locator('body').textContent();
        assert.equal(await page.locator('main script, main img, main [onload], main [onerror]').count(), 0);
        await assertFits(page, view);
        assert.doesNotMatch(await page.title(), /^taken$/);
      }
      for (const block of plan.blocks) {
        await moveTo(page, `block/${block.id}`);
        text += await page.locator('main').textContent();
      }
      for (const name of NAMES) assert.ok(text.includes(plainName(name)), name);
    });
  } finally {
    await hostile.close();
  }
});

test('the_keyboard_alone_reaches_and_opens_everything', () => withPage({ viewport: DESK }, async (page) => {
  await goTo(page, server.url, 'tomorrow');
  const focused = () => page.evaluate(() => document.activeElement.textContent);
  await page.keyboard.press('Tab');
  assert.equal(await focused(), 'Skip to the plan');
  await page.keyboard.press('Enter');
  assert.equal(await page.evaluate(() => document.activeElement.id), 'main');
  await page.keyboard.press('Tab');
  assert.equal(await focused(), 'Grevillea');
  await page.keyboard.press('Enter');
  await page.getByRole('heading', { level: 1, name: 'Grevillea' }).waitFor();
  assert.equal(await page.evaluate(() => document.activeElement.tagName), 'H1', 'a new view starts at its heading');
  assert.match(await page.title(), /^Grevillea · Saltbush Gully Nursery$/);
  for (let i = 0; i < 30 && (await focused()) !== 'Exact figures'; i += 1) await page.keyboard.press('Tab');
  await page.keyboard.press('Enter');
  await page.getByText('Water after a soak and draining').waitFor();
  await page.goBack();
  await page.getByRole('heading', { level: 1, name: 'Tomorrow' }).waitFor();
  for (let i = 0; i < 12 && (await focused()) !== 'Week'; i += 1) await page.keyboard.press('Shift+Tab');
  await page.keyboard.press('Enter');
  await page.getByRole('heading', { level: 1, name: 'The week' }).waitFor();
}));

test('the_frame_says_where_one_is_and_what_is_urgent', () => withPage({}, async (page) => {
  await goTo(page, server.url, 'tomorrow');
  const current = () => page.locator('#nav [aria-current="page"], #days:not([hidden]) [aria-current="page"]').allTextContents();
  assert.deepEqual(await current(), ['Plan', 'Tomorrow']);
  assert.equal(await page.locator('#nav .count').textContent(), String(plan.notices.filter((notice) => notice.severity === 'act').length));
  await page.evaluate(() => scrollTo(0, 900));
  await moveTo(page, 'zones');
  assert.equal(await page.evaluate(() => scrollY), 0, 'a view is read from its beginning');
  assert.deepEqual(await current(), ['Zones']);
  await moveTo(page, 'week');
  assert.deepEqual(await current(), ['Plan', 'Week']);
}));

test('what_has_the_focus_is_not_under_the_bar_of_a_phone', () => withPage({}, async (page) => {
  await goTo(page, server.url, 'tomorrow');
  for (let i = 0; i < 60; i += 1) {
    await page.keyboard.press('Tab');
    const hidden = await page.evaluate(() => {
      const bar = document.getElementById('nav').getBoundingClientRect();
      const node = document.activeElement;
      if (node === document.body || node.closest('#nav')) return false;
      const box = node.getBoundingClientRect();
      return box.bottom > bar.top + 1;
    });
    assert.equal(hidden, false, await page.evaluate(() => document.activeElement.outerHTML.slice(0, 120)));
  }
}));

test('targets_are_large_enough_for_a_thumb', () => withPage({}, async (page) => {
  await goTo(page, server.url, 'tomorrow');
  for (const view of ['tomorrow', 'more']) {
    if (view !== 'tomorrow') await moveTo(page, view);
    const small = await page.evaluate(() => [...document.querySelectorAll('#nav a, #days a, summary, fieldset label, button:not([hidden])')]
      .filter((node) => node.getClientRects().length && node.getBoundingClientRect().height < 44)
      .map((node) => node.textContent));
    assert.deepEqual(small, [], view);
  }
}));

test('choices_are_kept_and_change_words_units_and_clock', () => withPage({}, async (page) => {
  await goTo(page, server.url, 'more');
  await page.getByLabel('US customary').check();
  await page.getByLabel('5 pm').check();
  await page.getByLabel('Dark').check();
  await page.getByLabel('Español').check();
  await page.getByRole('heading', { level: 1, name: 'Más' }).waitFor();
  assert.equal(await page.evaluate(() => document.activeElement.value), 'es', 'the focus stays on the choice');
  await page.reload();
  await page.getByRole('heading', { level: 1, name: 'Más' }).waitFor();
  assert.equal(await page.locator('html').getAttribute('lang'), 'es');
  assert.equal(await page.locator('html').getAttribute('data-theme'), 'dark');
  await moveTo(page, 'tomorrow');
  const text = await page.locator('main').innerText();
  assert.match(text, /Mañana, mié/);
  assert.match(text, /gal/);
  assert.match(text, /3:30.am/);
  assert.doesNotMatch(text, /\d\s(L|mm|mL|m³)(\s|,|\.)/);
  await assertAccessible(page, 'Spanish, US units, dark');
}));

test('the_first_language_and_units_are_the_browsers', async () => {
  await withPage({ locale: 'es-MX' }, async (page) => {
    await goTo(page, server.url, 'tomorrow');
    assert.match(await page.locator('main h1').innerText(), /^Mañana/);
    assert.match(await page.locator('.runs').innerText(), /6\.6.mm/, 'figures as in that country');
  });
  await withPage({ locale: 'en-US' }, async (page) => {
    await goTo(page, server.url, 'tomorrow');
    assert.match(await page.locator('.lines').innerText(), /6,960.gal/);
  });
});

test('an_address_that_names_nothing_says_so_and_leads_back', () => withPage({}, async (page) => {
  for (const view of ['block/no-such', 'zone/%zz', 'day/2031-01-01']) {
    await goTo(page, server.url, view);
    await page.reload();
    await page.locator('main[aria-busy="false"] h1').waitFor();
    assert.match(await page.locator('main h1').innerText(), /There is no|does not reach/);
    await page.locator('main a').click();
    await page.getByRole('heading', { level: 1, name: /^Tomorrow/ }).waitFor();
  }
}));

test('the_drawings_follow_the_width_of_the_page', () => withPage({ viewport: DESK }, async (page) => {
  await goTo(page, server.url, 'tomorrow');
  const drawn = (least, most) => page.waitForFunction(([from, to]) => {
    const width = Number(document.querySelector('svg.chart').getAttribute('width'));
    return width > from && width <= to;
  }, [least, most]);
  await drawn(400, DESK.width);
  await page.setViewportSize(PHONE);
  await drawn(300, 330);
}));

test('without_javascript_the_text_sheet_is_linked', () => withPage({ javaScriptEnabled: false }, async (page) => {
  await page.goto(server.url);
  await page.getByRole('link', { name: 'the plan as a plain text sheet' }).click();
  assert.equal(await page.locator('body').innerText(), 'the plan\n');
}));
