// SPDX-License-Identifier: GPL-3.0-or-later
// The whole tasks of those who use the page, against the real daemon: the manager, the grower, the person with
// the jar, and one who may only look. Each at both sizes, in both languages, in both unit systems, half of them
// by the keyboard alone. Everything is found by its role and the catalogue's word, so a variant is data.

import assert from 'node:assert/strict';
import { join } from 'node:path';
import { after, before, test } from 'node:test';

import { makeFormat, makeWords } from '../../web/page.js';
import { idOf, toLocal } from '../../web/work.js';
import { DESK, PHONE, assertFits, assertSaid, goTo, openBrowser, openPage } from './browser.mjs';
import { addAccount, fetchPlan, makeFolder, removeFolder, startPerchd } from './daemon.mjs';

const CATALOGUES = Object.fromEntries(await Promise.all(['en', 'es'].map(async (l) => [l, (await import(`../../web/words.${l}.js`)).default])));
const PASSWORD = 'saltbush and heather';
const TABS_MOST = 250;
const HOUR_MS = 3600 * 1000;

/* Each writes on a block, a zone and a day of its own, so that they can share a daemon. */
const VARIANTS = [
  { name: 'phone_in_english_and_metric', viewport: PHONE, language: 'en', units: 'metric', keys: false, swaps: 'choisya-3l', takes: 'lavender-3l', zone: 'bed-2', day: 2 },
  { name: 'phone_in_spanish_and_gallons_by_keyboard', viewport: PHONE, language: 'es', units: 'us', keys: true, swaps: 'rosemary-3l', takes: 'pittosporum-3l', zone: 'tunnel-1', day: 4 },
  { name: 'desk_in_english_and_gallons_by_keyboard', viewport: DESK, language: 'en', units: 'us', keys: true, swaps: 'juniper-10l', takes: 'oleander-10l', zone: 'drip-1', day: 6 },
  { name: 'desk_in_spanish_and_metric', viewport: DESK, language: 'es', units: 'metric', keys: false, swaps: 'camellia-10l', takes: 'photinia-10l', zone: 'hand-1', day: 8 },
];

/* [as typed, what the API must hold], by units; one unit of each is worked out here anew. */
const POUND_KG = 0.45359237;
const GALLON_L = 231 * 2.54 ** 3 / 1000;
const OUNCE_ML = (GALLON_L * 1000) / 128;
const TYPED = {
  metric: { rain: ['7.5', 7.5], absurd: ['5000', null], capacity: ['6.4', 6.4], now: ['6.15', 6.15], litres: ['120', 120], canopy: ['34', 34], height: ['0.35', 0.35], volume: ['1000', 1000], depth: ['12', 12], jars: [['181', 181], ['190.5', 190.5], ['185', 185]], air: 18.6 },
  us: { rain: ['0.3', 7.62], absurd: ['200', null], capacity: ['14.1', 14.1 * POUND_KG], now: ['13.5', 13.5 * POUND_KG], litres: ['30', 30 * GALLON_L], canopy: ['13.5', 13.5 * 2.54], height: ['1.2', 1.2 * 0.3048], volume: ['34', 34 * OUNCE_ML], depth: ['4.75', 4.75 * 2.54], jars: [['6.2', 6.2 * OUNCE_ML], ['6.5', 6.5 * OUNCE_ML], ['6.3', 6.3 * OUNCE_ML]], air: 18.6 },
};
const UNITS = { metric: { rain: 'mm', mass: 'kg', litres: 'L', length: 'cm', ml: 'mL', most_rain: '1000' }, us: { rain: 'in', mass: 'lb', litres: 'gal', length: 'in', ml: 'fl oz', most_rain: '39.37' } };

let browser;
let folder;
let demo;

before(async () => {
  browser = await openBrowser();
  folder = await makeFolder();
  const data = join(folder, 'demo');
  demo = await startPerchd('demo', '--port', '0', '--data', data);
  addAccount(data, 'maria', 'grower', PASSWORD);
  addAccount(data, 'looker', 'viewer', PASSWORD);
  await makeDemanding();
});

after(async () => {
  await browser?.close();
  await demo?.stop();
  if (folder) await removeFolder(folder);
});

/* A zone that is held and one whose hours are too short, so that something waits and something does not fit. */
async function makeDemanding() {
  const origin = new URL(demo.url).origin;
  const json = { Origin: origin, 'Content-Type': 'application/json' };
  const session = await fetch(`${demo.url}api/v1/session`, { method: 'POST', headers: json, body: JSON.stringify({ account: 'maria', password: PASSWORD }) });
  const headers = { ...json, Cookie: session.headers.get('Set-Cookie').split(';')[0] };
  const send = async (method, path, body, etag) => {
    const answer = await fetch(`${demo.url}api/v1/${path}`, { method, headers: etag ? { ...headers, 'If-Match': etag } : headers, body: body && JSON.stringify(body) });
    assert.ok(answer.ok, `${path}: ${answer.status}`);
  };
  const { items } = await (await fetch(`${demo.url}api/v1/windows`)).json();
  for (const hours of items.filter((w) => w.zone === 'bed-1')) await send('DELETE', encodeURI(hours.self.replace('/api/v1/', '')).replaceAll('+', '%2B'), undefined, hours.etag);
  await send('POST', 'windows', { zone: 'bed-1', from: '05:00', to: '05:10' });
  await send('POST', 'holds', { key: 'dispatch', zone: 'stakes-1', kind: 'dispatch', from: at(-HOUR_MS), to: at(72 * HOUR_MS), who: 'maria' });
  await fetchPlan(demo.url, (plan) => plan.waiting.some((w) => w.zone === 'stakes-1') && plan.unplaced.some((u) => u.zone === 'bed-1'));
}

function at(ahead_ms) {
  return new Date(Date.now() + ahead_ms).toISOString().replace(/\.\d+/, '');
}

function escape(text) {
  return text.replace(/[.*+?^${}()|[\]\\]/g, '\\$&');
}

/* ---- A person: words, formats and hands. */

async function withPerson(variant, task) {
  const { viewport, language, units, keys } = variant;
  const locale = { en: 'en-GB', es: 'es-ES' }[language];
  const page = await openPage(browser, { viewport, locale });
  const choices = { language, units, clock: '24' };
  await page.addInitScript((kept) => localStorage.setItem('perchd-display', kept), JSON.stringify(choices));
  const words = makeWords(CATALOGUES[language], locale);
  const say = words.text;
  const person = { page, words, say, variant, typed: TYPED[units], unit: UNITS[units], ...(keys ? keyboardOf(page) : fingersOf(page)) };
  Object.assign(person, {
    formatOn: (today) => makeFormat(words, choices, today),
    mark: language === 'es' ? (text) => text.replace('.', ',') : (text) => text,
    link: (key, params, within = page.locator('main')) => within.getByRole('link', { name: say(key, params), exact: true }).first(),
    button: (key, params) => page.getByRole('button', { name: new RegExp(`^${escape(say(key, params)).replace('§', '.*')}$`) }).first(),
    field: (key, unit) => page.getByLabel(new RegExp(`^${escape(say(key))}${unit ? `, ${escape(unit)}` : ''}( (${escape(say('optional'))}|${escape(say('one_of_two'))}))?$`)).first(),
    heading: (text) => page.getByRole('heading', { level: 1, name: text }).waitFor(),
    sees: (key, params) => page.getByText(say(key, params)).first().waitFor(),
    items: (kind) => page.evaluate(async (path) => (await (await fetch(path)).json()).items, `api/v1/${kind}`),
    look: (what) => look(person, what),
    signIn: (account) => signIn(person, account),
  });
  try {
    await task(person);
    assert.deepEqual(page.trouble.filter((text) => !text.startsWith('Failed to load resource')), []);
  } finally {
    await page.context().close();
  }
}

async function look({ page, variant }, what) {
  await assertFits(page, what);
  await assertSaid(page, variant.language, what);
}

function fingersOf(page) {
  return {
    press: (target) => target.click(),
    type: (target, text) => target.fill(text),
    choose: (target, value) => target.selectOption(value),
    tick: (target) => target.check(),
    setTime: (target, local) => target.fill(local),
    enter: (target) => target.press('Enter'),
    back: () => page.goBack(),
  };
}

/* Tab, Shift-Tab, Enter, Space, arrows and letters, and nothing else; what has the focus must be seen. */
function keyboardOf(page) {
  const keys = page.keyboard;
  const isThere = (node) => node === document.activeElement;

  async function reach(target) {
    await target.waitFor();
    const ahead = await target.evaluate((node) => document.activeElement === document.body || Boolean(document.activeElement.compareDocumentPosition(node) & Node.DOCUMENT_POSITION_FOLLOWING));
    for (let i = 0; !(await target.evaluate(isThere)); i += 1) {
      assert.ok(i < TABS_MOST, `${target} is not reached by Tab`);
      await keys.press(ahead ? 'Tab' : 'Shift+Tab');
    }
    const seen = await page.evaluate(() => {
      const node = document.activeElement;
      const style = getComputedStyle(node);
      const box = node.getBoundingClientRect();
      const over = document.elementFromPoint(box.left + Math.min(box.width, innerWidth) / 2, box.top + box.height / 2);
      return { ring: node.matches(':focus-visible') && style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2, uncovered: Boolean(over && (node.contains(over) || over.contains(node))) };
    });
    assert.deepEqual(seen, { ring: true, uncovered: true }, `the focus on ${target} is seen`);
  }

  return {
    press: async (target) => {
      await reach(target);
      await keys.press('Enter');
    },
    type: async (target, text) => {
      await reach(target);
      await keys.press('Control+a');
      await keys.type(text);
    },
    choose: async (target, value) => {
      await reach(target);
      const steps = await target.evaluate((node, wanted) => [...node.options].findIndex((o) => o.value === wanted) - node.selectedIndex, value);
      for (let i = 0; i < Math.abs(steps); i += 1) await keys.press(steps > 0 ? 'ArrowDown' : 'ArrowUp');
      assert.equal(await target.inputValue(), value);
    },
    tick: async (target) => {
      if (await target.getAttribute('type') === 'radio') {
        const name = await target.getAttribute('name');
        await reach(page.locator(`input[name="${name}"]:checked`));
        for (let i = 0; !(await target.isChecked()); i += 1) {
          assert.ok(i < 9, `${target} is reached by arrows`);
          await keys.press('ArrowRight');
        }
        return;
      }
      await reach(target);
      if (!(await target.isChecked())) await keys.press('Space');
    },
    /* this chromium speaks American English, whatever the page's language */
    setTime: async (target, local) => {
      await reach(target);
      const [, year, month, day, hour, minute] = /^(\d+)-(\d+)-(\d+)(?:T(\d+):(\d+))?/.exec(local);
      await keys.type(`${month}${day}${year}`);
      if (hour) {
        await keys.press('ArrowRight');
        await keys.type(`${String(hour % 12 || 12).padStart(2, '0')}${minute}${hour < 12 ? 'A' : 'P'}`);
      }
      assert.equal(await target.inputValue(), local);
    },
    enter: () => keys.press('Enter'),
    back: () => page.goBack(), // the browser's own key
  };
}

async function signIn(person, account) {
  const { page, say, field, type, enter, heading } = person;
  await heading(say('sign_in'));
  await type(field('f_account'), account);
  await type(field('f_password'), PASSWORD);
  await enter(field('f_password'));
  await page.waitForFunction(() => !location.hash.startsWith('#/sign-in') || !document.getElementById('f-password'));
}

/* From the navigation to a block, as one walks there. */
async function walkTo(person, plan, id) {
  const { page, say, press, heading } = person;
  const block = plan.blocks.find((b) => b.id === id);
  const zone = plan.zones.find((z) => z.id === block.zone);
  await press(page.getByRole('navigation').getByRole('link', { name: say('nav_zones'), exact: true }));
  await heading(say('heading_zones'));
  await press(page.locator('main').getByRole('link', { name: zone.name }).first());
  await heading(zone.name);
  await press(page.locator('main').getByRole('link', { name: block.name, exact: true }).first());
  await heading(block.name);
  return block;
}

function close(found, wanted, what) {
  assert.ok(Math.abs(found - wanted) <= 1e-6 * Math.abs(wanted), `${what}: ${found}, not ${wanted}`);
}

const plain = (text) => text.replace(/[\u00a0\u202f]/g, ' ').replace(/[\u2068\u2069]/g, '');

/* ---- The manager: what needs him, tomorrow, why, the week, the crew's sheet. */

async function manage(person) {
  const { page, say, press, type, back, link, field, button, heading, look, variant, mark } = person;
  const answer = page.waitForResponse((response) => response.url().endsWith('/api/v1/plan'));
  await goTo(page, demo.url, '');
  const plan = await (await answer).json();
  const format = person.formatOn(plan.days[0].date);
  const day = plan.days.find((d) => d.date === plan.summary.tomorrow.date);
  const text = async (within) => plain(await within.innerText());
  await heading((say('heading_tomorrow', { date: format.dateShort(day.date) })));
  assert.deepEqual(await page.getByRole('term').filter({ visible: true }).allTextContents().then((all) => all.slice(0, 5)), ['person', 'tomorrow', 'dry', 'not', 'built'].map((key) => say(`line_${key}`)), 'five lines first');
  const lines = await Promise.all((await page.locator('.lines dd').all()).map(text));
  for (const line of lines) assert.match(line, /\p{L}{3}/u);
  assert.match(lines[0], new RegExp(escape(plain(say('person_all', { n: plan.notices.length })))));
  assert.ok(lines[1].includes(plain(format.range(plan.summary.tomorrow.from, plan.summary.tomorrow.to, day.date))) && lines[1].includes(say('day_fits_not')), lines[1]);
  assert.match(lines[1], variant.units === 'us' ? / gal.* gal\/min/ : / (m³|L).* L\/min/);
  assert.ok(lines[2].includes(plan.blocks.find((b) => b.id === plan.summary.first_dry.block).name), lines[2]);

  /* what runs when and how much; what does not fit; what waits and until when */
  const runs = page.locator('.run');
  assert.equal(await runs.count(), day.runs.length);
  const shown = await text(page.locator('.runs'));
  for (const run of day.runs) {
    const zone = plan.zones.find((z) => z.id === run.zone);
    for (const said of [zone.name, format.range(run.start, run.end, day.date), format.minutes(run.minutes), format.volume(run.litres)]) assert.ok(shown.includes(plain(said)), said);
  }
  const main = await text(page.locator('main'));
  assert.ok(plan.unplaced.length && plan.waiting.some((w) => w.until), 'the daemon was made so');
  await page.getByRole('heading', { name: say('heading_unplaced') }).waitFor();
  for (const missing of plan.unplaced) assert.ok(main.includes(plain(say('unplaced_line', { zone: plan.zones.find((z) => z.id === missing.zone).name, minutes: format.minutes(missing.minutes), volume: format.volume(missing.litres) }))), missing.zone);
  await page.getByRole('heading', { name: say('line_not') }).waitFor();
  for (const { zone, until } of plan.waiting) {
    assert.ok(main.includes(plan.zones.find((z) => z.id === zone).name), zone);
    if (until) assert.ok(main.includes(plain(format.about(until))), `${zone} until ${until}`);
  }
  await look('tomorrow');

  /* to the working of the block that dries first, and back */
  const block = plan.blocks.find((b) => b.id === plan.summary.first_dry.block);
  await press(page.locator('.lines').getByRole('link', { name: block.name, exact: true }).first());
  await heading(block.name);
  await look('block');
  await press(link('working_title'));
  await heading(say('working_title'));
  await page.locator('ol.steps > li').nth(5).waitFor();
  await look('working');
  await back();
  await heading(block.name);
  await back();
  await heading((say('heading_tomorrow', { date: format.dateShort(day.date) })));
  await press(page.getByRole('navigation').getByRole('link', { name: say('week'), exact: true }));
  await heading(say('heading_week'));
  const week = await text(page.locator('main'));
  for (const { date } of plan.days) assert.ok(week.includes(plain(format.dateShort(date))), date);
  await look('week');

  /* the sheet: a remark, then to sign in, back to the remark, issued */
  const remark = mark('Gate 3.5 stays shut');
  await press(page.getByRole('navigation').getByRole('link', { name: say('sheet'), exact: true }));
  await heading(say('sheet_title'));
  await type(field('sheet_remarks'), remark);
  await press(button('sheet_issue'));
  await press(page.getByRole('alert').getByRole('link', { name: say('sign_in') }));
  await person.signIn('maria');
  await heading(say('sheet_title'));
  await person.sees('form_resumed');
  assert.equal(await field('sheet_remarks').inputValue(), remark);
  await press(button('sheet_issue'));
  await page.locator('.paper').getByText(remark).waitFor();
  const [sheet] = await person.items('sheets?limit=1');
  await page.getByRole('heading', { name: say('sheet_head', { n: String(sheet.number), date: format.dateLong(sheet.for) }) }).waitFor();
  await look('sheet');
}

/* ---- The grower: signs in, swaps a mix, records what was seen, makes a mistake. */

async function grow(person) {
  const { page, say, press, type, choose, tick, setTime, link, field, button, heading, sees, items, look, typed, unit, mark, variant } = person;
  await goTo(page, demo.url, 'do');
  const zone = 'America/Mexico_City';
  const today = toLocal(Date.now() / 1000, zone).slice(0, 10);
  const format = person.formatOn(today);
  await press(link('sign_in'));
  await person.signIn('maria');
  await heading(say('nav_do'));
  await look('do');
  const goDo = async (kind) => {
    await press(page.getByRole('navigation').getByRole('link', { name: say('nav_do'), exact: true }));
    await heading(say('nav_do'));
    await press(link(kind === 'walk' ? 'walk_title' : `k_${kind}`));
    await heading(say(kind === 'walk' ? 'walk_title' : `k_${kind}`));
  };
  const save = async (name = 'save') => {
    await press(button(name));
    await sees('form_saved');
  };

  /* the mix: before and after, saved from today on, in the plan and in the history */
  const plan = await fetchPlan(demo.url);
  const id = variant.swaps;
  const block = await walkTo(person, plan, id);
  await press(link('change_title'));
  await heading(say('change_title'));
  await choose(field('f_mix'), 'bark-aged');
  await type(field('f_batch'), 'spring');
  await press(button('preview'));
  await page.getByRole('table', { name: say('preview_caption') }).waitFor();
  assert.ok(await page.locator('tr.differs').count() > 0);
  assert.deepEqual((await page.getByRole('table').first().getByRole('columnheader').allTextContents()).slice(-2), [say('before'), say('after')]);
  await look('before and after');
  assert.equal((await items(`blocks/${id}`)).length, 1, 'nothing is saved by looking');
  await press(button('save_from', { date: '§' }));
  await sees('form_saved');
  await page.getByText(say('history_row', { date: format.dateFull(today) })).waitFor();
  await page.getByText('maria').first().waitFor();
  await look('history');
  const rows = await items(`blocks/${id}`);
  assert.deepEqual([rows.length, rows[1].mix, rows[1].from], [2, 'bark-aged', today]);
  for (const kept of ['pots', 'spacing_cm', 'canopy_cm', 'plant_height_m', 'name']) assert.equal(rows[1][kept], rows[0][kept], `${kept} is not touched by being shown in other units`);
  await fetchPlan(demo.url, (p) => p.blocks.find((b) => b.id === id).mix === 'bark-aged');
  await press(page.locator('main').getByRole('link', { name: block.name, exact: true }));
  await heading(block.name);
  await page.getByText(plan.mixes.find((m) => m.id === 'bark-aged').name).first().waitFor();

  /* walking */
  await goDo('walk');
  await tick(page.getByLabel(say('w_edge'), { exact: true }));
  await press(page.getByRole('group', { name: block.name, exact: true }).getByRole('button', { name: say('w_dry') }));
  await page.getByText(say('walk_done', { time: '§' }).split('§')[0].trim()).first().waitFor();
  await look('walk');
  const felt = (await items('touch_checks')).findLast((c) => c.block === id);
  assert.deepEqual([felt.feel, felt.place, felt.who], ['dry', 'edge', 'maria']);

  /* a weighing: the expectation is sealed before, shown after */
  await goDo('weighings');
  await choose(field('f_block'), id);
  await page.getByText(say('sealed', { time: '§' }).split('§')[0]).waitFor();
  await type(field('f_capacity', unit.mass), mark(typed.capacity[0]));
  await type(field('f_now', unit.mass), mark(typed.now[0]));
  await save();
  const score = plain(say('sealed_score', { block: block.name, expected: '§', found: format.potWater(typed.capacity[1] - typed.now[1]) })).split('§');
  await page.waitForFunction((parts) => {
    const text = document.querySelector('main').innerText.replace(/[\u00a0\u202f]/g, ' ');
    return parts.every((part) => text.includes(part));
  }, score);
  await look('weighing');
  const [weighed] = (await items('weighings')).filter((w) => w.block === id).sort((a, b) => b.at_s - a.at_s);
  close(weighed.capacity_kg, typed.capacity[1], 'capacity');
  close(weighed.now_kg, typed.now[1], 'now');

  /* a gauge reading, first with a number that cannot be */
  const days = variant.day * 24 * HOUR_MS;
  const [from, to] = [days + 24 * HOUR_MS, days].map((back) => `${toLocal((Date.now() - back) / 1000, zone).slice(0, 10)}T07:00`);
  const last_s = Math.max(...(await items('gauge')).map((reading) => reading.to_s).filter((to_s) => to_s * 1000 < Date.now()));
  await goDo('gauge');
  /* from where the last reading ended, once the readings are there */
  if (last_s > 0) await page.waitForFunction((start) => document.querySelector('#f-from')?.value === start, toLocal(last_s, zone));
  await setTime(field('f_from'), from);
  await setTime(field('f_to'), to);
  await type(field('f_rain_mm', unit.rain), mark(typed.absurd[0]));
  await press(button('save'));
  await page.getByText(say('error_422')).first().waitFor();
  assert.equal(await field('f_rain_mm', unit.rain).getAttribute('aria-invalid'), 'true');
  const fault = plain(await page.locator('.fault').innerText());
  assert.ok(fault.includes(mark(unit.most_rain)) && fault.includes(unit.rain), `what is accepted, in the units of who reads: ${fault}`);
  assert.deepEqual(await Promise.all([field('f_from'), field('f_to'), field('f_rain_mm', unit.rain)].map((f) => f.inputValue())), [from, to, mark(typed.absurd[0])], 'nothing is lost');
  await look('refused');
  await type(field('f_rain_mm', unit.rain), mark(typed.rain[0]));
  await save();
  const reading = (await items('gauge')).find((g) => toLocal(g.from_s, zone) === from);
  close(reading.rain_mm, typed.rain[1], 'rain');

  /* and comes back as typed, to be changed */
  await press(link('records_of'));
  await heading(say('k_gauge'));
  const entry = page.getByRole('listitem').filter({ hasText: format.dayTime(from) }).filter({ hasText: `${mark(typed.rain[0])} ${unit.rain}` });
  await look('records');
  await press(entry.getByRole('link', { name: say('change') }));
  await heading(say('change'));
  assert.equal(await field('f_rain_mm', unit.rain).inputValue(), mark(typed.rain[0]));

  /* water now, a hold, an event */
  await goDo('orders');
  await choose(field('f_zone'), variant.zone);
  await type(field('f_litres', unit.litres), mark(typed.litres[0]));
  await save('order');
  const order = (await items('orders')).find((o) => o.zone === variant.zone);
  close(order.litres, typed.litres[1], 'litres');
  assert.equal(order.who, 'maria');
  await goDo('holds');
  await choose(field('f_kind'), 'spraying');
  await choose(field('f_shut'), 'one-zone');
  await choose(field('f_zone'), variant.zone);
  await save();
  const held = page.getByRole('listitem').filter({ hasText: say('w_spraying') });
  await held.waitFor();
  await look('hold');
  await press(held.getByRole('button', { name: say('lift') }));
  await held.waitFor({ state: 'detached' });
  await goDo('pot_events');
  await choose(field('f_block'), id);
  await choose(field('f_event'), 'pruned');
  await type(field('f_canopy', unit.length), mark(typed.canopy[0]));
  await type(page.getByLabel(new RegExp(`^${escape(say('f_plant_height'))}, ${variant.units === 'us' ? 'ft' : 'm'}`)), mark(typed.height[0]));
  await look('pot event');
  await save();
  const event = (await items('pot_events')).find((e) => e.block === id && e.event === 'pruned' && e.on === today);
  close(event.canopy_cm, typed.canopy[1], 'canopy');
  close(event.plant_height_m, typed.height[1], 'height');
}

/* ---- The person with the jar: a mix of their own, six steps, a locked phone, the judgement, its use. */

async function soak(person) {
  const { page, say, press, type, choose, tick, back, link, field, button, heading, sees, items, look, typed, unit, mark, variant } = person;
  await goTo(page, demo.url, 'do');
  await press(link('sign_in'));
  await person.signIn('maria');
  await press(link('bench_title'));
  await heading(say('bench_title'));
  const plan = await fetchPlan(demo.url);
  const format = person.formatOn(plan.days[0].date);
  const step = (n) => page.getByRole('listitem').filter({ has: page.getByRole('heading', { name: say(`bench_${n}`) }) });
  assert.equal(await page.getByRole('heading', { level: 2, name: /^[1-6] / }).count(), 6);

  /* a mix that is not in the list */
  const name = `Heap ${variant.day}`;
  await press(link('bench_new_mix'));
  await heading(say('k_mixes'));
  await type(field('f_name'), name);
  await choose(field('f_class'), 'bark-fresh');
  await press(button('save'));
  await sees('form_saved');
  await look('mix');
  await back();
  await heading(say('bench_title'));
  await page.locator(`option[value="${idOf(name)}"]`).waitFor({ state: 'attached' });
  await choose(field('f_mix'), idOf(name));
  await type(field('f_batch'), 'Cart 7');
  await type(field('f_vessel_volume', unit.ml), mark(typed.volume[0]));
  await type(field('f_vessel_height', unit.length), mark(typed.depth[0]));
  const hour = say('timer_start', { time: format.minutes(60) });
  await press(step(3).getByRole('button', { name: hour }));
  await step(3).getByRole('timer').waitFor();
  const end = await step(3).getByRole('timer').getAttribute('data-end');
  await look('soaking');

  /* the phone was locked for two hours: the timer's end, a moment, is past */
  await page.reload();
  await step(3).getByRole('timer').waitFor();
  assert.equal(await step(3).getByRole('timer').getAttribute('data-end'), end, 'the timer goes on');
  await page.evaluate(() => {
    const kept = JSON.parse(localStorage.getItem('perchd-desk'));
    for (const draft of Object.values(kept.drafts)) if (draft.soak) draft.soak -= 7200;
    localStorage.setItem('perchd-desk', JSON.stringify(kept));
  });
  await page.reload();
  await step(3).getByText(say('timer_over', { time: '§' }).split('§')[0].trim()).waitFor();
  await page.locator(`option[value="${idOf(name)}"]`).waitFor({ state: 'attached' });
  assert.deepEqual(await Promise.all([field('f_mix'), field('f_batch'), field('f_vessel_volume', unit.ml), field('f_vessel_height', unit.length)].map((f) => f.inputValue())), [idOf(name), 'Cart 7', mark(typed.volume[0]), mark(typed.depth[0])], 'nothing is lost');
  await press(step(4).getByRole('button', { name: hour }));
  await step(4).getByRole('timer').waitFor();

  /* the jars, and what they say as they are typed */
  for (const [i, [text]] of typed.jars.entries()) await type(page.getByLabel(say('jar', { n: i + 1, unit: unit.ml })), mark(text));
  const result = page.getByRole('region', { name: say('bench_result') });
  await result.getByText(say('bench_air', { air: format.exact.percent(typed.air) })).waitFor();
  await result.getByText(say('bench_sure', { sd: '§' }).split('§')[0].trim()).waitFor();
  await look('result');
  await press(result.getByRole('button', { name: say('save') }));

  /* the judgement for each pot */
  await page.getByRole('heading', { name: say('bench_judged') }).waitFor();
  const [kept] = (await items('bench_tests')).filter((t) => t.mix === idOf(name));
  assert.equal(kept.batch, 'cart-7');
  close(kept.vessel_volume_ml, typed.volume[1], 'volume');
  close(kept.vessel_height_cm, typed.depth[1], 'depth');
  kept.drained_ml.forEach((ml, i) => close(ml, typed.jars[i][1], `jar ${i + 1}`));
  const table = page.getByRole('table', { name: say('mix_pots') });
  for (const pot of plan.pots) await table.getByRole('rowheader', { name: pot.name, exact: true }).waitFor();
  const verdicts = ['finding_too_wet', 'finding_rather_wet', 'finding_fit', 'finding_rather_dry', 'finding_too_dry'].map((key) => say(key));
  const said = await table.locator('.says').allTextContents();
  assert.ok(said.length === plan.pots.length && said.every((text) => verdicts.some((verdict) => text.includes(verdict))), said.join('|'));
  await look('judgement');

  /* used by a block */
  const block = await walkTo(person, plan, variant.takes);
  await press(link('change_title'));
  await heading(say('change_title'));
  await page.locator(`option[value="${idOf(name)}"]`).waitFor({ state: 'attached' });
  await choose(field('f_mix'), idOf(name));
  await type(field('f_batch'), 'Cart 7');
  await tick(field('f_potted'));
  await press(button('preview'));
  await page.getByRole('table', { name: say('preview_caption') }).waitFor();
  await press(button('save_from', { date: '§' }));
  await sees('form_saved');
  await fetchPlan(demo.url, (p) => p.blocks.some((b) => b.id === block.id && b.mix === idOf(name) && b.batch === 'cart-7'));
  await press(page.locator('main').getByRole('link', { name: block.name, exact: true }));
  await page.getByText(name).first().waitFor();
  await look('block with the new mix');
}

/* ---- Who may only look sees all and is told so before and after trying. */

async function lookOn(person) {
  const { page, say, press, type, link, field, button, heading, sees, items, look, unit, mark, typed, variant } = person;
  await goTo(page, demo.url, 'do/gauge');
  await press(link('sign_in'));
  await person.signIn('looker');
  await heading(say('k_gauge'));
  await sees('viewer_only');
  const before = await items('gauge');
  await type(field('f_rain_mm', unit.rain), mark(typed.rain[0]));
  await press(button('save'));
  await page.getByRole('alert').filter({ hasText: say('error_403') }).waitFor();
  assert.equal(await field('f_rain_mm', unit.rain).inputValue(), mark(typed.rain[0]));
  await look('a form');
  assert.deepEqual(await items('gauge'), before);
  await press(link('records_of'));
  await heading(say('k_gauge'));
  const plan = await fetchPlan(demo.url);
  await walkTo(person, plan, variant.swaps);
  await look('block');
  await press(link('change_title'));
  await button('preview').waitFor();
  await sees('viewer_only');
  await press(page.getByRole('navigation').getByRole('link', { name: say('nav_do'), exact: true }));
  await heading(say('nav_do'));
  await sees('viewer_only');
  await press(link('k_weighings'));
  await press(link('records_of'));
  await heading(say('k_weighings'));
  await page.getByRole('definition').first().waitFor();
  assert.equal(await page.locator('main').getByRole('button').count(), 0, 'nothing to remove');
  await look('records');
}

/* The manager's first, for they hold the page against a plan that nobody changes meanwhile. */
for (const [what, task] of [['the_manager_reads_tomorrow_and_issues_the_sheet', manage], ['the_viewer_sees_all_and_changes_nothing', lookOn], ['the_grower_swaps_a_mix_and_records_the_day', grow], ['the_person_with_the_jar_tests_a_mix_and_it_is_used', soak]]) {
  for (const variant of VARIANTS) test(`${what}_on_a_${variant.name}`, () => withPerson(variant, task));
}
