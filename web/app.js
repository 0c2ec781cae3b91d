// SPDX-License-Identifier: GPL-3.0-or-later
// Fetches the plan, keeps the last one, picks the view from the address and puts it on the page.

import { drawAll, h, makeDesk, makeFormat, makeWords, plainName, PLANLESS, readAddress, readOffset, realise, renewAll, ROUTES } from './base.js';
import { fetchWords, keepChoices, readChoices, showTheme } from './choices.js';
import * as views from './views.js';
import { indexPlan, isEmpty } from './views.js';

const PLAN_URL = 'api/v1/plan';
const SCHEMA = 1;
const REFRESH_MS = 5 * 60 * 1000;
const RETRY_MS = 15 * 1000;
const AGE_MS = 30 * 1000;
const PATIENCE_MS = 20 * 1000;
/* the daemon's new plan follows a change in seconds */
const AFTER_SAVING_MS = 1000;
const PLAN_TRIES = 11;

const state = {
  plan: null,
  /* null, or {kind: 'first' | 'locked' | 'unreachable' | 'trouble', what, since_s} of the last request */
  problem: null,
  /* server clock minus browser clock: a phone with a wrong clock must not say a wrong age */
  skew_s: 0,
  choices: readChoices(),
  /* null until the catalogue is there: nothing is shown before */
  words: null,
};
/* The first view's file comes with the page, the others after it: a phone out in the field has them all. */
const files = { views };
let timer = 0;
let asking = null;
let late = false;
const desk = makeDesk(show);
const ready = fetchFirstWords();

async function fetchFirstWords() {
  while (!(await applyChoices())) await new Promise((done) => setTimeout(done, RETRY_MS));
}

function localeFor(language) {
  return (navigator.languages ?? []).find((tag) => tag.split('-')[0] === language) ?? { en: 'en-GB', es: 'es' }[language];
}

async function choose(name, value) {
  state.choices[name] = value;
  keepChoices(state.choices);
  await applyChoices();
  show();
}

/** False when the words could not be fetched; those of before stay. */
async function applyChoices() {
  const { language, theme } = state.choices;
  showTheme(theme);
  try {
    state.words = makeWords(await fetchWords(language), localeFor(language));
  } catch {
    return false;
  }
  document.documentElement.lang = language;
  return true;
}

/** Fetches a file of views; true when it is there. */
async function fetchViews(name) {
  try {
    files[name] ??= await import(`./${name}.js`);
  } catch {
    return false;
  }
  return true;
}

async function fetchAllViews() {
  for (const name of new Set(Object.values(ROUTES).map(([, , file]) => file))) await fetchViews(name);
}

function now_s() {
  return Date.now() / 1000 + state.skew_s;
}

function retryAfter_ms(response) {
  const seconds = Number(response.headers.get('Retry-After'));
  return Number.isFinite(seconds) && seconds > 0 ? Math.min(seconds * 1000, REFRESH_MS) : RETRY_MS;
}

async function problemText(response) {
  try {
    const problem = await response.json();
    return String(problem.detail ?? problem.title ?? response.status);
  } catch {
    return String(response.status);
  }
}

/** Asks for the plan once; returns when to ask again, in milliseconds. */
async function askOnce(signal) {
  const response = await fetch(PLAN_URL, { cache: 'no-cache', signal });
  const server = Date.parse(response.headers.get('Date') ?? '');
  if (Number.isFinite(server)) state.skew_s = (server - Date.now()) / 1000;
  if (response.status === 503) {
    state.problem = { kind: 'first' };
    return retryAfter_ms(response);
  }
  if (response.status === 401) {
    state.plan = null;
    state.problem = { kind: 'locked' };
    return REFRESH_MS;
  }
  if (!response.ok) {
    state.problem = { kind: 'trouble', what: await problemText(response) };
    return RETRY_MS;
  }
  const plan = await response.json();
  await ready;
  if (plan?.schema !== SCHEMA) {
    state.problem = { kind: 'trouble', what: state.words.text('not_a_plan', { schema: String(plan?.schema) }) };
    return REFRESH_MS;
  }
  /* two plans may be of the same second */
  const version = response.headers.get('ETag') ?? plan.made_at_s;
  const isNew = state.plan && version !== state.version;
  state.problem = null;
  if (!state.plan || isNew) Object.assign(state, { plan, version });
  if (isNew) say('news', state.words.text('updated', { time: context().format.dayTime(plan.made_at) }));
  return REFRESH_MS;
}

async function ask() {
  if (asking) return asking;
  clearTimeout(timer);
  const before = state.plan;
  const problemBefore = state.problem?.kind;
  asking = (async () => {
    let wait_ms = RETRY_MS;
    const abort = new AbortController();
    const patience = setTimeout(() => abort.abort(), PATIENCE_MS);
    try {
      wait_ms = await askOnce(abort.signal);
    } catch {
      if (state.problem?.kind !== 'unreachable') state.problem = { kind: 'unreachable', since_s: now_s() };
    }
    clearTimeout(patience);
    if (!state.problem) {
      await desk.flush();
      await desk.whoAmI();
    } else if (state.problem.kind === 'locked') desk.me = null;
    await ready;
    asking = null;
    timer = setTimeout(ask, wait_ms);
  })();
  await asking;
  if (state.plan !== before || !before) {
    late = isTyping();
    if (late) showStatus();
    else show();
  } else if (state.problem?.kind !== problemBefore) showStatus();
  return undefined;
}

/* After something was saved: ever later, until a plan made since is there. Plans say whole seconds, so one of
 * the same second may be of before. */
function askUntil(since_s, tries) {
  setTimeout(async () => {
    await ask();
    if (tries < PLAN_TRIES && !(state.plan?.made_at_s > since_s)) askUntil(since_s, tries + 1);
  }, tries * AFTER_SAVING_MS);
}

/* A view is not made anew under the hands of someone who types. */
function isTyping() {
  return Boolean(document.activeElement?.matches('main form.record :is(input, select, textarea)'));
}

function context() {
  const { plan, words, choices } = state;
  const index = plan ? indexPlan(plan) : null;
  const format = makeFormat(words, choices, index?.today ?? new Date().toISOString().slice(0, 10));
  const age_s = plan ? Math.max(0, now_s() - plan.made_at_s) : null;
  const weather_s = plan?.weather.age_s;
  return {
    plan,
    words,
    format,
    index,
    now_s: now_s(),
    age_s,
    weather_age_s: Number.isFinite(weather_s) ? weather_s + age_s : null,
    desk,
    choices: state.choices,
    here: location.hash.slice(2),
    choose,
    redraw: show,
    /* what follows from what is typed, without making the field under the fingers anew */
    renew: () => renewAll(document.getElementById('main'), document),
    clock: now_s,
    ask,
    askAgain: () => askUntil(Math.floor(now_s()), 1),
  };
}

/** What the address shows: {part, tab, view}; view is null while there is nothing to show yet. */
function route(ctx) {
  const asked = readAddress(location.hash);
  const closed = !ctx.plan && !PLANLESS.includes(asked.name);
  if (closed && state.problem?.kind !== 'locked') return { part: asked.part, view: null };
  const { part, tab, file, view, id, rest } = closed ? readAddress('#/sign-in') : asked;
  if (!files[file]) {
    fetchViews(file).then((there) => there && show());
    return { part, view: null };
  }
  if (part === 'plan' && file === 'views' && isEmpty(ctx.plan)) return { part, view: () => views.viewEmpty(ctx) };
  return { part, tab, view: () => files[file][view](ctx, id, rest) };
}

function statusText(ctx) {
  const { words, format, plan } = ctx;
  const { problem } = state;
  if (!plan) {
    if (!problem) return words.text('loading');
    if (problem.kind === 'first') return words.text('first_plan');
    if (problem.kind === 'locked') return words.text('read_signed_in');
    if (problem.kind === 'trouble') return words.text('trouble', { what: plainName(problem.what) });
    return words.text('unreachable_empty');
  }
  const age = format.span(ctx.age_s);
  if (ctx.now_s >= plan.good_until_s) return words.text('plan_over', { until: format.until(plan.good_until), age });
  const made = format.dayTime(plan.made_at);
  if (problem?.kind === 'unreachable') {
    const since = new Date((problem.since_s + readOffset(plan.made_at)) * 1000).toISOString();
    return words.text('unreachable', { time: format.time(since), made, age });
  }
  if (problem?.kind === 'trouble') return words.text('trouble_old', { what: plainName(problem.what), made, age });
  return words.text('plan_of', { time: made, age, until: format.until(plan.good_until) });
}

/* Timers of the bench: the last seconds count down, the end is announced once. */
function tick() {
  for (const node of document.querySelectorAll('[data-end]')) {
    const left = Math.ceil(Number(node.dataset.end) - now_s());
    const two = (n) => String(Math.floor(n)).padStart(2, '0');
    if (left > 0) node.textContent = `${Math.floor(left / 3600)}:${two((left % 3600) / 60)}:${two(left % 60)}`;
    else {
      say('alarm', node.dataset.over);
      navigator.vibrate?.([400, 200, 400]);
      renewAll(document.getElementById('main'), document);
    }
  }
}

/* Only changes are announced; the age counts up silently. */
function say(id, text) {
  const node = document.getElementById(id);
  if (node.textContent !== text) node.textContent = text;
}

function showStatus() {
  if (!state.words) return;
  const ctx = context();
  const over = ctx.plan && ctx.now_s >= ctx.plan.good_until_s;
  const box = document.getElementById('status');
  say('status-text', statusText(ctx));
  box.className = state.problem || over ? 'trouble' : '';
  document.getElementById('again').hidden = !state.problem;
  say('alarm', state.problem || over ? statusText(ctx) : '');
}

function put(id, trees) {
  document.getElementById(id).replaceChildren(...trees.map((tree) => realise(tree, document)));
}

function link(href, text, current) {
  return h('a', { href, 'aria-current': current ? 'page' : null }, text);
}

function showFrame(ctx, part, tab) {
  const { words, plan } = ctx;
  say('skip', words.text('skip'));
  say('nursery', plan ? plainName(plan.nursery.name) : 'perchd');
  const acts = plan?.notices.filter((n) => n.severity === 'act').length ?? 0;
  const nav = document.getElementById('nav');
  nav.setAttribute('aria-label', words.text('nav_label'));
  put('nav', [
    link('#/tomorrow', words.text('nav_plan'), part === 'plan'),
    link('#/zones', words.text('nav_zones'), part === 'zones'),
    link('#/do', words.text('nav_do'), part === 'do'),
    link('#/notices', [words.text('nav_notices'), acts ? h('span', { class: 'count' }, String(acts)) : null], part === 'notices'),
    link('#/more', words.text('nav_more'), part === 'more'),
  ]);
  const days = document.getElementById('days');
  days.hidden = part !== 'plan' || !plan || isEmpty(plan);
  days.setAttribute('aria-label', words.text('days_label'));
  put('days', ['today', 'tomorrow', 'week', 'sheet'].map((name) => link(`#/${name}`, words.text(name), tab === name)));
  say('again', words.text('try_again'));
  put('foot', [
    views.cautions(ctx, part === 'more' ? [] : plan?.cautions ?? [], true),
    h('p', {}, h('a', { href: 'plan.txt' }, words.text('text_sheet')), plan ? ` · ${words.text('about_times')}` : null),
  ]);
}

/** Puts the view of the address on the page; folded parts and the focus stay where they were. */
function show() {
  if (!state.words) return;
  late = false;
  const ctx = context();
  const { part, tab, view } = route(ctx);
  const main = document.getElementById('main');
  const open = [...document.querySelectorAll('details[open][data-key]')].map((d) => d.dataset.key);
  const focused = focusPath(document.activeElement);
  showFrame(ctx, part, tab);
  const shown = view?.() ?? { title: null, body: [h('h1', { class: 'large' }, statusText(ctx))] };
  main.setAttribute('aria-busy', String(!view));
  main.replaceChildren(...realise(h('div', {}, shown.body), document).childNodes);
  document.title = shown.title
    ? ctx.words.text('title', { view: shown.title, nursery: plainName(ctx.plan?.nursery.name, 'perchd') })
    : 'perchd';
  for (const details of document.querySelectorAll('details[data-key]')) details.open = open.includes(details.dataset.key);
  drawAll(main, document);
  tick();
  showStatus();
  refocus(focused);
}

/* What had the focus, so that it is found again after the page was made anew: {selector, nth}. */
function focusPath(node) {
  const selector = focusSelector(node);
  if (!selector) return node?.closest('main') ? {} : null;
  const caret = node.tagName === 'TEXTAREA' || node.type === 'text' ? node.selectionStart : null;
  return { selector, nth: [...document.querySelectorAll(selector)].indexOf(node), caret };
}

function focusSelector(node) {
  if (!node || node === document.body) return null;
  if (node.id) return `#${CSS.escape(node.id)}`;
  if (node.name && node.value) return `input[name="${CSS.escape(node.name)}"][value="${CSS.escape(node.value)}"]`;
  if (node.tagName === 'H1') return 'main h1';
  if (node.tagName === 'SUMMARY') return `details[data-key="${CSS.escape(node.parentElement.dataset.key ?? '')}"] > summary`;
  if (node.tagName === 'A') return `a[href="${CSS.escape(node.getAttribute('href'))}"]`;
  return null;
}

function refocus(path) {
  if (!path || document.activeElement !== document.body) return;
  const found = path.selector ? document.querySelectorAll(path.selector) : [];
  const node = found[path.nth] ?? found[0];
  /* what is gone leaves the focus at the top of its view, not of the page */
  (node ?? document.querySelector('#main h1'))?.focus({ preventScroll: true });
  if (node && path.caret !== null) node.setSelectionRange?.(path.caret, path.caret);
}

function navigate() {
  desk.forget();
  show();
  document.documentElement.scrollTop = 0;
  const resumed = document.getElementById('resumed');
  if (resumed) resumed.focus();
  else document.querySelector('#main h1')?.focus({ preventScroll: true });
}

async function start() {
  addEventListener('hashchange', navigate);
  addEventListener('online', ask);
  document.addEventListener('visibilitychange', () => {
    if (!document.hidden) ask();
  });
  document.getElementById('again').addEventListener('click', ask);
  document.getElementById('skip').addEventListener('click', (event) => {
    event.preventDefault();
    document.getElementById('main').focus();
  });
  let width = 0;
  new ResizeObserver(([entry]) => {
    if (entry.contentRect.width === width) return;
    width = entry.contentRect.width;
    drawAll(document.getElementById('main'), document);
  }).observe(document.getElementById('main'));
  setInterval(() => {
    if (late && !isTyping()) show();
    else showStatus();
  }, AGE_MS);
  setInterval(tick, 1000);
  const asked = ask();
  await ready;
  show();
  await asked;
  fetchAllViews();
}

start();
