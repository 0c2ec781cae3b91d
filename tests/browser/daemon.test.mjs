// SPDX-License-Identifier: GPL-3.0-or-later
// The page on the plan of the real daemon: the example nursery, and one whose names mean harm.

import assert from 'node:assert/strict';
import { copyFile, readFile, readdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { after, before, test } from 'node:test';

import { NAMES } from '../js/hostile.mjs';
import { plainName } from '../../web/page.js';
import { DESK, addressesOf, assertAccessible, assertFits, goTo, moveTo, openBrowser, openPage } from './browser.mjs';
import { DEMO_FILES, fetchPlan, makeFolder, removeFolder, runPerchd, startPerchd } from './daemon.mjs';

const TRANSFER_MAX = 60 * 1024;

let browser;
let folder;
let demo;
let plan;

before(async () => {
  browser = await openBrowser();
  folder = await makeFolder();
  demo = await startPerchd('demo', '--port', '0', '--data', join(folder, 'demo'));
  plan = await fetchPlan(demo.url);
});

after(async () => {
  await browser?.close();
  await demo?.stop();
  if (folder) await removeFolder(folder);
});

async function withPage(url, options, work, { quiet = true } = {}) {
  const page = await openPage(browser, options);
  try {
    await work(page, url);
    if (quiet) assert.deepEqual(page.trouble, []);
  } finally {
    await page.context().close();
  }
}

test('tomorrow_shows_every_run_the_daemon_planned', () => withPage(demo.url, {}, async (page, url) => {
  await goTo(page, url, 'tomorrow');
  const day = plan.days.find((d) => d.date === plan.summary.tomorrow.date);
  const shown = await page.locator('.run').evaluateAll((runs) => runs.map((run) => [
    run.querySelector('.when').textContent.slice(0, 5),
    run.querySelector('.who bdi:last-child').textContent,
    run.querySelector('.who a').textContent,
  ]));
  const planned = [...day.runs].sort((a, b) => a.start_s - b.start_s).map((run) => {
    const zone = plan.zones.find((z) => z.id === run.zone);
    return [run.start.slice(11, 16), zone.post, zone.name];
  });
  assert.deepEqual(shown, planned);
  assert.equal(await page.locator('svg.chart rect.pulse').count(), day.runs.reduce((sum, run) => sum + run.pulses, 0));
  const built = await page.locator('.lines > div').last().innerText();
  assert.match(built, /No forecast: the usual weather of the month/);
}));

test('every_view_of_the_example_says_whole_words_and_fits', () => withPage(demo.url, { viewport: { width: 320, height: 640 } }, async (page, url) => {
  await goTo(page, url, 'more');
  for (const view of addressesOf(plan, true).filter((v) => v !== 'more')) {
    await moveTo(page, view);
    const text = await page.locator('main').textContent();
    assert.doesNotMatch(text, /undefined|NaN|\[object|\{\w+\}|There is no (zone|block)/, `${view}: ${text}`);
    assert.doesNotMatch(text, /[a-z]+_[a-z]+/, `${view}: ${text}`);
    await assertFits(page, view);
  }
}));

test('every_pot_of_the_example_is_drawn_with_its_shares', () => withPage(demo.url, {}, async (page, url) => {
  await goTo(page, url, 'zones');
  for (const block of plan.blocks) {
    await moveTo(page, `block/${block.id}`);
    assert.equal(await page.locator('svg.pot .soaked').count() > 0, block.wet_layer_cm > 0, block.id);
    assert.equal(await page.locator('svg.pot:not(.key) .air').count(), 1, block.id);
    const shares = await page.locator('.pot-key dd').allTextContents();
    const whole = shares.slice(0, 4).reduce((sum, text) => sum + parseFloat(text), 0);
    assert.ok(Math.abs(whole - 100) <= 2, `${block.id}: ${shares}`);
  }
}));

test('the_example_is_accessible_on_a_desk_in_dark', () => withPage(demo.url, { viewport: DESK, colorScheme: 'dark' }, async (page, url) => {
  await goTo(page, url, 'tomorrow');
  await assertAccessible(page, 'tomorrow');
  for (const view of addressesOf(plan).filter((v) => v !== 'tomorrow')) {
    await moveTo(page, view);
    await assertAccessible(page, view);
  }
}));

test('the_daemon_serves_the_whole_page_under_its_weight_and_policy', () => withPage(demo.url, {}, async (page, url) => {
  const response = await page.goto(url);
  assert.match(response.headers()['content-security-policy'], /^default-src 'self'/);
  assert.doesNotMatch(response.headers()['content-security-policy'], /unsafe/);
  await page.locator('main[aria-busy="false"] h1').waitFor();
  for (const view of addressesOf(plan)) await moveTo(page, view);
  assert.deepEqual([...page.hosts], [new URL(url).host]);
  const own = [...page.sizes].filter(([path]) => !path.startsWith('/api/'));
  /* the browser does not say what the icon took */
  const icon = await fetch(new URL('icon.svg', url), { headers: { 'Accept-Encoding': 'gzip' } });
  const total = own.reduce((sum, [, size]) => sum + size, Number(icon.headers.get('content-length')));
  assert.equal(own.filter(([path]) => path.includes('words.')).length, 1, 'one catalogue');
  const files = (await readdir(new URL('../../web/', import.meta.url))).filter((name) => /\.(js|css|html|svg)$/.test(name));
  assert.equal(own.length, files.length - 1, 'all but the other catalogue');
  assert.ok(total < TRANSFER_MAX, `${total} bytes in ${own.length} files`);
  console.log(`# one visit to all views: ${total} bytes`);
  await moveTo(page, 'more');
  const [request] = await Promise.all([page.waitForEvent('requestfinished', (r) => r.url().endsWith('words.es.js')), page.getByLabel('Español').check()]);
  const spanish = await request.sizes();
  const english = [...page.sizes].find(([path]) => path.endsWith('words.en.js'));
  const other = total + spanish.responseBodySize - english[1];
  assert.ok(other < TRANSFER_MAX, `${other} bytes in Spanish`);
  console.log(`# in Spanish: ${other} bytes`);
}));

test('sheet_and_card_print_on_one_page_of_either_format', () => withPage(demo.url, {}, async (page, url) => {
  for (const view of ['sheet', 'card']) {
    await goTo(page, url, view);
    await page.locator('.paper').waitFor();
    for (const format of ['A4', 'Letter']) {
      const pdf = await page.pdf({ format });
      assert.equal((pdf.toString('latin1').match(/\/Type\s*\/Page\b/g) ?? []).length, 1, `${view} on ${format}`);
    }
    await page.emulateMedia({ media: 'print' });
    const printed = await page.evaluate(() => {
      document.documentElement.dataset.theme = 'dark';
      const { color, backgroundColor } = getComputedStyle(document.querySelector('.paper'));
      return [color, backgroundColor, [...document.querySelectorAll('header, footer, nav, main h1, main form, main button, main a')].filter((node) => node.getClientRects().length).map((node) => node.textContent)];
    });
    assert.deepEqual(printed, ['rgb(0, 0, 0)', 'rgb(255, 255, 255)', []], `${view}: black on white, and nothing else`);
    await page.emulateMedia({ media: null });
  }
}));

test('the_text_sheet_is_one_tap_away', () => withPage(demo.url, {}, async (page, url) => {
  await goTo(page, url, 'tomorrow');
  await page.locator('footer').getByRole('link', { name: 'Plain text sheet' }).click();
  assert.match(await page.locator('body').innerText(), /WATERING (PLAN|SHEET)/);
}, { quiet: false }));

test('when_the_daemon_stops_the_plan_stays_and_when_it_is_back_it_is_asked_again', async () => {
  const first = await startPerchd('demo', '--port', '0', '--data', join(folder, 'again'));
  await withPage(first.url, {}, async (page, url) => {
    await goTo(page, url, 'tomorrow');
    await first.stop();
    await page.evaluate(() => dispatchEvent(new Event('online')));
    await page.getByText('No connection to perchd since').first().waitFor();
    await moveTo(page, `block/${plan.blocks[0].id}`);
    assert.equal(await page.locator('main h1').innerText(), plan.blocks[0].name);
    const second = await startPerchd('demo', '--port', new URL(url).port, '--data', join(folder, 'again'));
    try {
      await page.getByRole('button', { name: 'Ask again now' }).click();
      await page.waitForFunction(() => document.getElementById('status').className === '');
    } finally {
      await second.stop();
    }
  }, { quiet: false });
});

/* What the tables take: up to 200 bytes. */
const TAKEN = NAMES.filter((name) => Buffer.byteLength(name) <= 200);

/* The example's tables with the second column, the name, replaced. */
async function importHostile(target) {
  let next = 0;
  for (const file of await readdir(DEMO_FILES)) await copyFile(join(DEMO_FILES, file), join(target, file));
  for (const file of ['blocks', 'zones', 'pots', 'mixes', 'supplies']) {
    const path = join(target, `${file}.csv`);
    const [head, ...rows] = (await readFile(path, 'utf8')).trimEnd().split('\n');
    const named = rows.map((row) => row.replace(/^([^,]*),("(?:[^"]|"")*"|[^,]*)/, (all, id) => `${id},"${TAKEN[next++ % TAKEN.length].replaceAll('"', '""')}"`));
    await writeFile(path, `${[head, ...named].join('\n')}\n`);
  }
  runPerchd('import', '--config', join(target, 'perchd.conf'), target);
}

test('hostile_names_from_a_spreadsheet_are_text_on_the_page', async () => {
  const target = await makeFolder();
  let daemon;
  try {
    await importHostile(target);
    daemon = await startPerchd('serve', '--config', join(target, 'perchd.conf'), '--port', '0');
    await fetchPlan(daemon.url);
    await withPage(daemon.url, { viewport: { width: 320, height: 640 } }, async (page, url) => {
      await goTo(page, url, 'more');
      let text = '';
      for (const view of addressesOf(plan, true).filter((v) => v !== 'more')) {
        await moveTo(page, view);
        text += await page.locator('main').textContent();
        assert.equal(await page.locator('main script, main img, main [onload], main [onerror]').count(), 0);
        assert.doesNotMatch(await page.title(), /^taken$/);
        await assertFits(page, view);
      }
      for (const name of TAKEN) assert.ok(text.includes(plainName(name)), name);
    });
  } finally {
    await daemon?.stop();
    await removeFolder(target);
  }
});
