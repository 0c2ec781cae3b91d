// SPDX-License-Identifier: GPL-3.0-or-later
// What a first visit costs: bytes on the wire by file, and how long until something is painted and
// until tomorrow's plan stands there, on links of some speeds. The day sheet as plain text on the
// same link is the yardstick. Prints; judges nothing.
// usage: node tests/bench_page.mjs

import { join } from 'node:path';

import { fetchPlan, makeFolder, removeFolder, startPerchd } from './browser/daemon.mjs';
import { PHONE, openBrowser } from './browser/browser.mjs';

const ROUNDS = 5;

/** Bits a second and milliseconds there and back; slow: how many times slower than this processor. */
const LINKS = [
  { name: 'this machine', slow: 1 },
  { name: '10 Mbit/s, 40 ms', mbit: 10, ms: 40, slow: 1 },
  { name: '1.6 Mbit/s, 150 ms', mbit: 1.6, ms: 150, slow: 1 },
  { name: 'the same, phone 4 x slower', mbit: 1.6, ms: 150, slow: 4 },
  { name: '0.4 Mbit/s, 400 ms', mbit: 0.4, ms: 400, slow: 1 },
];

const median = (values) => [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)];

/** One visit with an empty cache; first paint and `ready` in ms after the navigation began, and what came. */
async function visit(browser, url, link, ready) {
  const context = await browser.newContext({ viewport: PHONE, locale: 'en-GB' });
  const page = await context.newPage();
  const cdp = await context.newCDPSession(page);
  const paths = new Map();
  const came = new Map();
  cdp.on('Network.responseReceived', ({ requestId, response }) => paths.set(requestId, new URL(response.url).pathname));
  cdp.on('Network.loadingFinished', ({ requestId, encodedDataLength }) => came.set(paths.get(requestId), encodedDataLength));
  await cdp.send('Network.enable');
  if (link.mbit) {
    const bytes = (link.mbit * 1e6) / 8;
    await cdp.send('Network.emulateNetworkConditions', { offline: false, latency: link.ms, downloadThroughput: bytes, uploadThroughput: bytes });
  }
  await cdp.send('Emulation.setCPUThrottlingRate', { rate: link.slow });
  await page.goto(url, { waitUntil: 'commit' });
  const times = await page.evaluate(async (selector) => {
    const painted = () => performance.getEntriesByName('first-contentful-paint')[0]?.startTime;
    while (!painted() || (selector && !document.querySelector(selector))) await new Promise((done) => setTimeout(done, 5));
    return { paint: painted(), ready: performance.now() };
  }, ready);
  await page.waitForLoadState('networkidle');
  await context.close();
  return { ...times, came };
}

async function measure(browser, url, link) {
  const page = [];
  const sheet = [];
  for (let round = 0; round < ROUNDS; round++) {
    page.push(await visit(browser, url, link, 'main[aria-busy="false"] h1'));
    sheet.push(await visit(browser, `${url}plan.txt`, link, null));
  }
  const paint = median(page.map((one) => one.paint));
  const plain = median(sheet.map((one) => one.paint));
  const ready = median(page.map((one) => one.ready));
  console.log(`${link.name.padEnd(28)} ${paint.toFixed(0).padStart(8)} ${ready.toFixed(0).padStart(8)} ${plain.toFixed(0).padStart(8)} ${(paint / plain).toFixed(2).padStart(8)}`);
  return page[0].came;
}

function printBytes(came) {
  let all = 0;
  console.log('\nA first visit, bytes on the wire (compressed, with the head of each answer):');
  for (const [path, bytes] of [...came].sort((a, b) => b[1] - a[1])) {
    console.log(`  ${String(bytes).padStart(8)}  ${path}`);
    all += bytes;
  }
  console.log(`  ${String(all).padStart(8)}  ${came.size} requests in all`);
}

const folder = await makeFolder();
const demo = await startPerchd('demo', '--port', '0', '--data', join(folder, 'demo'));
const browser = await openBrowser();
try {
  await fetchPlan(demo.url);
  await visit(browser, demo.url, LINKS[0], 'h1'); // the browser's own first steps
  console.log(`\nThe page, first visit with an empty cache, ms after the navigation began, medians of ${ROUNDS}; chromium delays`);
  console.log('each request by the round trip and bounds the bytes a second, connecting costs nothing');
  console.log(`${''.padEnd(28)} ${'painted'.padStart(8)} ${'plan'.padStart(8)} ${'plan.txt'.padStart(8)} ${'ratio'.padStart(8)}`);
  let came;
  for (const link of LINKS) came = await measure(browser, demo.url, link);
  printBytes(came);
} finally {
  await browser.close();
  await demo.stop();
  await removeFolder(folder);
}
