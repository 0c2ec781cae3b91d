// SPDX-License-Identifier: GPL-3.0-or-later
// A chromium of its own for a test file, and what every page test asks of a page.

import assert from 'node:assert/strict';
import { readFile } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { chromium } from 'playwright-core';

import { DAYWORK, SETUP } from '../../web/work.js';
import { ROUTES } from '../../web/page.js';

const AXE = createRequire(import.meta.url).resolve('axe-core/axe.min.js');

const PATIENCE_MS = Number(process.env.PATIENCE_MS ?? 120000); // for machines that do other things as well

export const PHONE = { width: 360, height: 740 };
export const DESK = { width: 1280, height: 800 };

/**
 * Addresses of every view the page has, from its own list of routes: each view with one thing, or with every
 * day, zone, block and mix of the plan.
 */
export function addressesOf(plan, every = false) {
  const ids = (list) => (every ? list : list.slice(0, 1)).map((item) => item.id ?? item.date);
  const named = {
    day: ids(plan.days.slice(2)),
    zone: ids(plan.zones.slice(every ? 0 : 3)),
    block: ids(plan.blocks),
    mix: ids(plan.mixes),
    change: ids(plan.blocks.slice(0, 1)),
    working: ids(plan.blocks.slice(0, 1)),
    do: ['', ...(every ? [...DAYWORK, ...SETUP] : ['orders', 'holds', 'pot_events', 'catch_cans', 'covers'])],
    records: ['', 'weighings', 'bench_tests', 'catch_cans', 'covers'],
    edit: [`pots/${plan.pots[0]?.id}`],
  };
  return Object.keys(ROUTES).flatMap((name) => (named[name] ?? ['']).map((id) => (id === '' ? name : `${name}/${id}`)));
}

/** Debian's chromium with a fresh profile, no network habits of its own. */
export function openBrowser() {
  return chromium.launch({
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
    args: ['--headless', '--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'],
  });
}

/**
 * A page on the other side of the world from the nursery; page.trouble collects what the browser
 * complains about (scripts, policy, failed loads), page.sizes the bytes on the wire by path.
 */
export async function openPage(browser, { viewport = PHONE, colorScheme = 'light', locale = 'en-GB', ...rest } = {}) {
  const context = await browser.newContext({ viewport, colorScheme, locale, timezoneId: 'America/Chicago', ...rest });
  const page = await context.newPage();
  page.setDefaultTimeout(PATIENCE_MS);
  page.trouble = [];
  page.sizes = new Map();
  page.hosts = new Set();
  page.on('pageerror', (error) => page.trouble.push(error.message));
  page.on('console', (message) => {
    if (['error', 'warning'].includes(message.type())) page.trouble.push(message.text());
  });
  page.on('request', (request) => page.hosts.add(new URL(request.url()).host));
  page.on('requestfinished', async (request) => {
    const sizes = await request.sizes().catch(() => null);
    if (sizes) page.sizes.set(new URL(request.url()).pathname, sizes.responseBodySize);
  });
  return page;
}

/** Opens a view and waits until it stands. */
export async function goTo(page, url, view) {
  await page.goto(`${url}#/${view}`);
  await page.locator('main[aria-busy="false"] h1').waitFor();
}

/** Waits until nothing on the page is being fetched. */
export function settled(page) {
  return page.waitForFunction(() => !/Loading the plan|Cargando el plan/.test(document.querySelector('main').innerText));
}

/** Moves to another view without loading again. */
export async function moveTo(page, view) {
  await page.evaluate((hash) => {
    location.hash = hash;
  }, `#/${view}`);
  await page.waitForFunction((hash) => location.hash === hash && document.querySelector('main[aria-busy="false"] h1')
    && ['H1', 'BODY', 'MAIN'].includes(document.activeElement?.tagName), `#/${view}`);
  await settled(page);
}

let axeSource = null;

/** No violation of WCAG 2.2 A and AA nor of axe's good practice. */
export async function assertAccessible(page, what) {
  axeSource ??= await readFile(AXE, 'utf8');
  if (!(await page.evaluate(() => 'axe' in globalThis))) await page.evaluate(axeSource);
  const result = await page.evaluate(() => globalThis.axe.run(document, {
    runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'],
  }));
  const found = result.violations.map((v) => `${v.id}: ${v.nodes.map((n) => `${n.html.slice(0, 160)} (${n.failureSummary})`).join(' | ')}`);
  assert.deepEqual(found, [], what);
  assert.ok(result.passes.length > 10, `axe looked at ${what}`);
}

/** Nothing sticks out sideways: neither the page nor any text in it. */
export async function assertFits(page, what) {
  const over = await page.evaluate(() => {
    const width = document.documentElement.clientWidth;
    const out = [...document.querySelectorAll('body *')]
      .filter((node) => !node.closest('.unseen') && !node.closest('.skip') && !node.ownerSVGElement)
      .filter((node) => node.getClientRects().length && (node.getBoundingClientRect().right > width + 1 || node.getBoundingClientRect().left < -1))
      .map((node) => `${node.tagName}.${node.className} ${node.textContent.slice(0, 40)}`);
    return { scroll: document.documentElement.scrollWidth - width, out };
  });
  assert.deepEqual(over, { scroll: 0, out: [] }, what);
}

const ENGLISH = /\b(the|and|or|of|from|with|is|at|to|by|add|change|remove|create|given|accepted|number|hours?|days?|water|account|irrigation|growing|true|false|null)\b/i;

/** Whole words only, and no English on a page in another language but names and what is marked as English. */
export async function assertSaid(page, language, what) {
  const text = await page.evaluate(() => {
    const copy = document.querySelector('main').cloneNode(true);
    for (const node of copy.querySelectorAll('bdi, svg, [lang="en"], option')) node.remove();
    for (const node of copy.querySelectorAll('*')) node.append(' ');
    return copy.textContent;
  });
  assert.doesNotMatch(text, /undefined|NaN|\[object|\{\w+\}/, what);
  if (language !== 'en') assert.doesNotMatch(text, ENGLISH, `${what}: '${ENGLISH.exec(text)?.[0]}' in ${text}`);
}
