// SPDX-License-Identifier: GPL-3.0-or-later
// What all the page stands on: trees, words, numbers and times, the list of views, what people wrote. The views of the
// plan and their drawings: codes become sentences, pieces that several views share, the five lines, the views themselves;
// each takes ctx, {plan, index, words, format, now_s, weather_age_s, desk}, and gives {title, body[]}. At the end it
// fetches the plan, keeps the last one, picks the view from the address and puts it on the page.

/* ---- The page as plain trees: views return them, tests read them, realise() makes nodes of them. Text only
 * ever becomes a text node, so no name of a block can become markup. */

const SVG = 'http://www.w3.org/2000/svg';

/** {tag, attributes, children}; null, undefined and false children and attributes are left out. */
export function h(tag, attributes = {}, ...children) {
  const kept = children.flat(Infinity).filter((c) => c !== null && c !== undefined && c !== false);
  return { tag, attributes, children: kept };
}

/** Children with a blank between, so that they are read as words of their own. */
export function spaced(...children) {
  return children.flat().filter(Boolean).flatMap((child, i) => (i ? [' ', child] : [child]));
}

/**
 * A DOM node of a tree. An attribute that is a function is a listener ('onclick'), except 'draw':
 * (width, em) => tree, drawn again by drawAll() whenever the element's width changes, and 'live':
 * () => children, given again by renewAll().
 */
export function realise(tree, document, inSvg = false) {
  if (typeof tree !== 'object') return document.createTextNode(String(tree));
  const svg = inSvg || tree.tag === 'svg';
  const node = svg ? document.createElementNS(SVG, tree.tag) : document.createElement(tree.tag);
  for (const [name, value] of Object.entries(tree.attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (name === 'draw') node.perchdDraw = value;
    else if (name === 'live') node.perchdLive = value;
    else if (typeof value === 'function') node.addEventListener(name.slice(2), value);
    else node.setAttribute(name, value === true ? '' : String(value));
  }
  for (const child of tree.children) node.append(realise(child, document, svg));
  if (node.perchdDraw) node.setAttribute('data-draw', '');
  if (node.perchdLive) {
    node.setAttribute('data-live', '');
    renew(node, document);
  }
  return node;
}

function renew(node, document) {
  const { children } = h('div', {}, node.perchdLive());
  node.replaceChildren(...children.map((child) => realise(child, document)));
}

/** Makes the children of every element with a 'live' anew. */
export function renewAll(root, document) {
  for (const node of root.querySelectorAll('[data-live]')) renew(node, document);
  drawAll(root, document);
}

/** Draws every element with a 'draw' in it at its present width. */
export function drawAll(root, document) {
  for (const node of root.querySelectorAll('[data-draw]')) {
    const width = Math.floor(node.clientWidth);
    const em = parseFloat(document.defaultView.getComputedStyle(node).fontSize);
    if (width > 0) node.replaceChildren(realise(node.perchdDraw(width, em), document));
  }
}

/* ---- Sentences from a catalogue: '{name}' is replaced, {one, other} is chosen by the parameter n. */

/** A words object of a catalogue (words.en.js, words.es.js) for a locale such as 'en-GB'. */
export function makeWords(catalogue, locale) {
  const plural = new Intl.PluralRules(locale);
  const count = new Intl.NumberFormat(locale);

  function template(key, params) {
    const entry = catalogue[key];
    if (entry === undefined) return undefined;
    if (typeof entry === 'string') return entry;
    return entry[plural.select(params.n)] ?? entry.other;
  }

  /** The sentence as a list of strings and trees, so that names can be links. */
  function parts(key, params = {}) {
    const text = template(key, params) ?? key;
    return text
      .split(/(\{\w+\})/)
      .filter((piece) => piece !== '')
      .map((piece) => {
        const name = /^\{(\w+)\}$/.exec(piece)?.[1];
        if (name === undefined) return piece;
        const value = params[name];
        if (name === 'n' && typeof value === 'number') return count.format(value);
        return value === undefined || value === null ? unknown() : value;
      })
      .flat();
  }

  function unknown() {
    return catalogue.unknown;
  }

  return {
    locale,
    has: (key) => catalogue[key] !== undefined,
    parts,
    /** The sentence as one string; parameters must be strings or numbers. */
    text: (key, params) => parts(key, params).join(''),
  };
}

// Marks that reorder or hide text (Unicode bidirectional controls, C0 and C1 controls, zero width
// and byte-order marks) have no place in a name; letters that run right to left stay.
const UNSEEN = /[\u0000-\u001f\u007f-\u009f\u061c\u200b\u200e\u200f\u2028-\u202e\u2060\u2066-\u2069\ufeff]/g;

/** A name as people typed it, without unseen marks; the id when nothing is left. */
export function plainName(name, id = '') {
  const text = String(name ?? '').replace(UNSEEN, ' ').replace(/ {2,}/g, ' ').trim();
  return text === '' ? String(id) : text;
}

/** A name inside a sentence: kept from reordering its neighbours; a link when href is given. */
export function nameTree(name, id, href) {
  const bdi = h('bdi', {}, plainName(name, id));
  return href ? h('a', { href }, bdi) : bdi;
}

/** A name inside a label that can hold no elements: isolated by marks (FSI, PDI). */
export function nameText(name, id) {
  return `\u2068${plainName(name, id)}\u2069`;
}

/* ---- Numbers and times as a grower says them, and exact ones where asked for. Times are read from the digits
 * of the plan's RFC 3339 texts, so they are the nursery's, whatever the browser's zone. */

/* US gallon, exact by definition (231 cubic inches) */
const GALLON_L = 3.785411784;
const FLUID_OUNCE_L = GALLON_L / 128;
const INCH_CM = 2.54;
const MILE_H_M_S = 0.44704;
const CUBIC_METRE_L = 1000;
const DAY_MS = 86400000;

const NO_BREAK = '\u00a0';

/** To so many significant digits; 0 stays 0. */
export function roundTo(value, digits) {
  if (value === 0) return 0;
  const step = 10 ** (Math.floor(Math.log10(Math.abs(value))) + 1 - digits);
  return step >= 1 ? Math.round(value / step) * step : Number(value.toPrecision(digits));
}

/** {date, year, month, day, hour, minute} as printed in an RFC 3339 text; null when it is none. */
export function readTime(text) {
  const m = /^(\d{4})-(\d\d)-(\d\d)T(\d\d):(\d\d)/.exec(text ?? '');
  if (!m) return null;
  const [year, month, day, hour, minute] = m.slice(1).map(Number);
  return { date: text.slice(0, 10), year, month, day, hour, minute };
}

/** Seconds east of UTC in an RFC 3339 text. */
export function readOffset(text) {
  const m = /([+-])(\d\d):(\d\d)$/.exec(text ?? '');
  if (!m) return 0;
  return (m[1] === '-' ? -1 : 1) * (Number(m[2]) * 3600 + Number(m[3]) * 60);
}

function utcOf(date) {
  return new Date(`${date}T00:00:00Z`);
}

export function addDays(date, days) {
  return new Date(utcOf(date).getTime() + days * DAY_MS).toISOString().slice(0, 10);
}

/**
 * choice: {units: 'metric' | 'us', clock: '24' | '12'}; words as of makeWords; today: 'YYYY-MM-DD'
 * of the plan. Every method takes a number or text of the plan and gives a string; what is not
 * known is said in words.
 */
export function makeFormat(words, choice, today) {
  const us = choice.units === 'us';
  const numberFormats = new Map();
  const dateFormats = new Map();

  function number(value, decimals = 0) {
    if (!Number.isFinite(value)) return words.text('unknown');
    if (!numberFormats.has(decimals)) {
      numberFormats.set(decimals, new Intl.NumberFormat(words.locale, {
        minimumFractionDigits: decimals,
        maximumFractionDigits: decimals,
      }));
    }
    const text = numberFormats.get(decimals).format(value);
    return /[1-9]/.test(text) ? text : text.replace(/^[-\u2212]/, '');
  }

  function upTo(value, decimals) {
    const rounded = Number(value.toFixed(decimals));
    return number(rounded, Number.isInteger(rounded) ? 0 : decimals);
  }

  function unit(text, name) {
    return `${text}${NO_BREAK}${name}`;
  }

  function known(value, say) {
    return Number.isFinite(value) ? say(value) : words.text('unknown');
  }

  function flowNumber(lMin) {
    const size = us ? lMin / GALLON_L : lMin;
    return size < 9.95 ? upTo(size, 1) : number(size);
  }

  function dateText(date, style) {
    if (!dateFormats.has(style)) {
      const options = {
        weekday: { weekday: 'short' },
        short: { weekday: 'short', day: 'numeric', month: 'short' },
        long: { weekday: 'long', day: 'numeric', month: 'long' },
        full: { day: 'numeric', month: 'short', year: 'numeric' },
      }[style];
      dateFormats.set(style, new Intl.DateTimeFormat(words.locale, { ...options, timeZone: 'UTC' }));
    }
    return dateFormats.get(style).format(utcOf(date)).replaceAll(',', ''); // some browsers put one
  }

  function clock(hour, minute) {
    const mm = String(minute).padStart(2, '0');
    if (choice.clock !== '12') return `${String(hour).padStart(2, '0')}:${mm}`;
    const half = words.text(hour % 24 < 12 ? 'am' : 'pm');
    const twelve = ((hour + 11) % 12) + 1;
    return unit(minute === 0 ? `${twelve}` : `${twelve}:${mm}`, half);
  }

  /* Within a week the weekday is enough; farther off the date is said. */
  function dayOf(date) {
    const far = date < today || date > addDays(today, 6);
    return dateText(date, far ? 'short' : 'weekday').replaceAll(' ', NO_BREAK);
  }

  /* An end at midnight belongs to the day before: 'Wed 24:00'. */
  function endOf(time) {
    const midnight = time.hour === 0 && time.minute === 0 && choice.clock !== '12';
    return midnight ? { ...time, date: addDays(time.date, -1), hour: 24 } : time;
  }

  function saidTime(text, say) {
    const time = readTime(text);
    return time ? say(time) : words.text('unknown');
  }

  const self = {
    us,
    mark: number(0.5, 1)[1],
    number,

    /** Water for zones and days: litres and cubic metres, or gallons. */
    volume: (l) => known(l, () => {
      const size = us ? l / GALLON_L : l;
      if (!us && Math.abs(size) >= CUBIC_METRE_L) {
        const m3 = size / CUBIC_METRE_L;
        return unit(m3 < 9.95 ? upTo(m3, 1) : number(roundTo(m3, 3)), 'm³');
      }
      const text = size < 9.95 ? upTo(size, 1) : number(size < 100 ? size : roundTo(size, size < 1000 ? 2 : 3));
      return unit(text, us ? 'gal' : 'L');
    }),

    /** Water for one pot: millilitres and litres, or fluid ounces, quarts and gallons. */
    potWater: (l) => known(l, () => {
      if (us) {
        const ounces = l / FLUID_OUNCE_L;
        if (ounces >= 127.5) return unit(upTo(ounces / 128, 1), 'gal');
        if (ounces >= 31.95) return unit(upTo(ounces / 32, 1), 'qt');
        return unit(ounces < 9.95 ? upTo(ounces, 1) : number(ounces), 'fl oz');
      }
      if (l >= 0.995) return unit(upTo(l, l < 9.95 ? 1 : 0), 'L');
      const ml = l * 1000;
      return unit(number(ml < 100 ? ml : roundTo(ml, 2)), 'mL');
    }),

    depth: (mm) => known(mm, () => (us ? unit(number(mm / 10 / INCH_CM, 2), 'in') : unit(upTo(mm, mm < 9.95 ? 1 : 0), 'mm'))),
    length: (cm) => known(cm, () => (us ? unit(upTo(cm / INCH_CM, 1), 'in') : unit(upTo(cm, 1), 'cm'))),
    flow: (lMin) => known(lMin, () => unit(flowNumber(lMin), us ? 'gal/min' : 'L/min')),
    /** The same without its unit, for 'so much of so much'. */
    flowNumber: (lMin) => known(lMin, flowNumber),
    wind: (mS) => known(mS, () => (us ? unit(number(mS / MILE_H_M_S), 'mph') : unit(upTo(mS, 1), 'm/s'))),
    temperature: (c) => known(c, () => unit(number(us ? (c * 9) / 5 + 32 : c), us ? '°F' : '°C')),
    /** A difference of temperatures. */
    degrees: (c) => known(c, () => unit(number(us ? (c * 9) / 5 : c, 1), us ? '°F' : '°C')),
    percent: (pct) => known(pct, () => unit(number(pct), '%')),

    /** A number of minutes in all: '42 min', '2 h 10 min'. */
    minutes: (min) => known(min, () => {
      const whole = Math.round(min);
      if (whole < 1) return min > 0 ? words.text('under_a_minute') : unit('0', 'min');
      if (whole < 120) return unit(number(whole), 'min');
      const rest = whole % 60;
      return unit(number((whole - rest) / 60), 'h') + (rest ? ` ${unit(number(rest), 'min')}` : '');
    }),

    /** How long, in one unit: '12 min', '3 h', '4 days'. */
    span: (seconds) => known(seconds, () => {
      const s = Math.max(0, seconds);
      if (s < 90) return words.text('a_minute');
      if (s < 5400) return unit(number(s / 60), 'min');
      if (s < 48 * 3600) return unit(number(s / 3600), 'h');
      return words.text('days', { n: Math.round(s / 86400) });
    }),

    days: (d) => known(d, () => (d < 1.5 ? unit(number(Math.max(1, d * 24)), 'h') : words.text('days_about', { days: upTo(d, d < 10 ? 1 : 0) }))),

    time: (text) => saidTime(text, (t) => clock(t.hour, t.minute)),
    dayTime: (text) => saidTime(text, (t) => unit(dayOf(t.date), clock(t.hour, t.minute))),
    /** The full hour at or before, which is the safe side for 'until'. */
    about: (text) => saidTime(text, (t) => unit(dayOf(t.date), clock(t.hour, 0))),
    /** The end of something: midnight is 24:00 of the day that ends. */
    until: (text) => saidTime(text, (t) => {
      const end = endOf(t);
      return unit(dayOf(end.date), clock(end.hour, end.minute));
    }),
    /** 'from' to 'to' on the day 'date'; another day is named. */
    range: (from, to, date) => {
      const a = readTime(from);
      const b = readTime(to);
      if (!a || !b) return words.text('unknown');
      const end = endOf(b);
      const first = a.date === date ? clock(a.hour, a.minute) : unit(dayOf(a.date), clock(a.hour, a.minute));
      const last = end.date === a.date ? clock(end.hour, end.minute) : unit(dayOf(end.date), clock(end.hour, end.minute));
      return `${first}\u2013${last}`;
    },
    dateLong: (date) => dateText(date, 'long'),
    dateShort: (date) => dateText(date, 'short'),
    dateFull: (date) => dateText(date, 'full'),
    weekday: (date) => dateText(date, 'weekday'),

    /** A quantity with more digits than anyone says, in the reader's units. */
    exact: {
      litres: (l) => known(l, () => (us ? unit(number(l / GALLON_L, 3), 'gal') : unit(number(l, l < 100 ? 3 : 1), 'L'))),
      potLitres: (l) => known(l, () => (us ? unit(number(l / FLUID_OUNCE_L, 2), 'fl oz') : unit(number(l, 3), 'L'))),
      flow: (v) => known(v, () => (us ? unit(number(v / GALLON_L, 2), 'gal/min') : unit(number(v, 1), 'L/min'))),
      depth: (mm) => known(mm, () => (us ? unit(number(mm / 10 / INCH_CM, 3), 'in') : unit(number(mm, 2), 'mm'))),
      length: (cm) => known(cm, () => (us ? unit(number(cm / INCH_CM, 2), 'in') : unit(number(cm, 1), 'cm'))),
      percent: (p) => known(p, () => unit(number(p, 1), '%')),
      minutes: (m) => known(m, () => unit(number(m, 1), 'min')),
      days: (d) => known(d, () => unit(number(d, 2), words.text('unit_days'))),
      /** Date, clock and offset as the plan has them. */
      time: (text) => saidTime(text, (t) => `${t.date} ${String(t.hour).padStart(2, '0')}:${String(t.minute).padStart(2, '0')}`),
    },
  };
  return self;
}

/* ---- Every view by the first part of its address: [part of the navigation, day tab, file]; its function is called view and its name. The
 * tests' sweeps go through this list, so no view is left out of them. */

export const ROUTES = {
  tomorrow: ['plan', 'tomorrow', 'page'],
  today: ['plan', 'today', 'page'],
  week: ['plan', 'week', 'page'],
  day: ['plan', 'week', 'page'],
  zones: ['zones', null, 'page'],
  zone: ['zones', null, 'page'],
  block: ['zones', null, 'page'],
  notices: ['notices', null, 'page'],
  more: ['more', null, 'page'],
  weather: ['more', null, 'work'],
  'sign-in': ['do', null, 'work'],
  do: ['do', null, 'work'],
  walk: ['do', null, 'work'],
  change: ['do', null, 'work'],
  working: ['do', null, 'work'],
  records: ['do', null, 'work'],
  edit: ['do', null, 'work'],
  setup: ['do', null, 'work'],
  sheet: ['plan', 'sheet', 'work'],
  card: ['plan', 'sheet', 'work'],
  checks: ['do', null, 'work'],
  bench: ['do', null, 'work'],
  mixes: ['zones', null, 'work'],
  mix: ['zones', null, 'work'],
};

/** Views that need no plan. */
export const PLANLESS = ['more', 'sign-in'];

/** {name, part, tab, file, view, id, rest} of an address such as '#/block/carex'; any other is tomorrow's. */
export function readAddress(hash) {
  const [named = '', raw = '', rest = ''] = hash.replace(/^#\/?/, '').split('/');
  const name = Object.hasOwn(ROUTES, named) ? named : 'tomorrow';
  const [part, tab, file] = ROUTES[name];
  const view = `view${name.replace(/(^|-)./g, (start) => start.at(-1).toUpperCase())}`;
  let id = raw;
  try {
    id = decodeURIComponent(raw);
  } catch {
    /* a broken escape is looked up as it stands */
  }
  return { name, part, tab, file, view, id, rest };
}

/* ---- What people write: who they are, what they typed, what waits for a connection. Drafts and what waits are
 * kept on the device, so that a locked phone, a reload or an ended session loses nothing. */

const API = 'api/v1/';
const KEPT = 'perchd-desk';
const PATIENCE_MS = 20000;
const DENIED = [401, 403];

function readKept() {
  try {
    return { drafts: {}, waiting: [], refused: [], ...JSON.parse(localStorage.getItem(KEPT) ?? '{}') };
  } catch {
    return { drafts: {}, waiting: [], refused: [] };
  }
}

/** One request: {status, ok, data, etag, self, lang}; rejects when nobody answers. */
export async function call(method, path, body, etag) {
  const headers = { 'Accept-Language': document.documentElement.lang };
  if (body !== undefined) headers['Content-Type'] = 'application/json';
  if (etag) headers['If-Match'] = etag;
  const response = await fetch(API + path, {
    method, headers, cache: 'no-cache', body: body === undefined ? undefined : JSON.stringify(body), signal: AbortSignal.timeout(PATIENCE_MS),
  });
  const text = await response.text();
  let data = text ? { text } : null;
  try {
    data = JSON.parse(text);
  } catch {
    /* a table, no body, or not ours: then the status says enough */
  }
  return { status: response.status, ok: response.ok, data, etag: response.headers.get('ETag'), self: response.headers.get('Location'), lang: response.headers.get('Content-Language') };
}

export function makeDesk(redraw) {
  const kept = readKept();
  const loaded = new Map();
  /* what of it something was saved after: shown until it is there anew, so that the page keeps its height */
  const stale = new Set();
  /* what became of the last sending of a draft: {state: saving | asking | saved | kept | error | conflict, ...} */
  const outcomes = new Map();

  function keep() {
    try {
      localStorage.setItem(KEPT, JSON.stringify(kept));
    } catch {
      /* private mode: kept as long as the page */
    }
  }

  const desk = {
    /** {account, role}; null until known. */
    me: null,
    waiting: kept.waiting,
    /* what waited and was then refused: [{path, body, why, lang}], kept until somebody looks at it */
    refused: kept.refused,

    mayWrite: () => ['grower', 'admin'].includes(desk.me?.role),

    /** After signing in: what was denied waits for one more tap; of a touch check the tap itself was kept. */
    resume() {
      for (const [id, { status }] of outcomes) if (DENIED.includes(status)) desk.settle(id, id.startsWith('walk ') ? null : { state: 'resumed' });
      desk.settle('session');
    },

    async whoAmI() {
      try {
        const { ok, data } = await call('GET', 'session');
        if (ok) desk.me = data;
      } catch {
        /* asked again with the next plan */
      }
    },

    /** What the API has at a path: undefined while it is asked for, null when it gave nothing. */
    load(path) {
      if (loaded.has(path) && !stale.delete(path)) return loaded.get(path);
      loaded.set(path, loaded.get(path));
      call('GET', path).then(({ ok, data, etag, lang }) => loaded.set(path, ok ? { ...data, etag: data.etag ?? etag, lang } : null), () => loaded.set(path, null)).then(redraw);
      return loaded.get(path);
    },

    /* for a view that is left: what was saved there is no news in the next */
    forget() {
      loaded.clear();
      for (const [id, { state }] of outcomes) if (state === 'saved') outcomes.delete(id);
    },

    /** The draft of a form, an object of texts as typed; touch(id) keeps it. */
    draft: (id) => (kept.drafts[id] ??= {}),
    touch: keep,
    drop(id) {
      delete kept.drafts[id];
      keep();
    },
    outcome: (id) => outcomes.get(id),
    settle: (id, outcome) => {
      if (outcome) outcomes.set(id, outcome);
      else outcomes.delete(id);
    },

    /** Sends and notes under `id` what became of it; the answer, or null when nobody answered. */
    async send(id, method, to, body, etag) {
      const path = to.replace(/^\/api\/v1\//, '');
      const asks = path.endsWith('preview');
      outcomes.set(id, { state: asks ? 'asking' : 'saving' });
      redraw();
      try {
        const answer = await call(method, path, body, etag);
        if (answer.ok) {
          for (const key of loaded.keys()) stale.add(key);
          outcomes.set(id, { state: 'saved', data: answer.data, etag: answer.etag, lang: answer.lang });
        } else if (answer.status === 412) {
          loaded.clear();
          outcomes.set(id, { state: 'conflict' });
        } else {
          outcomes.set(id, { state: 'error', status: answer.status, problem: answer.data, lang: answer.lang });
          if (answer.status === 401 && path === 'touch_checks') kept.waiting.push({ path, body });
          if (DENIED.includes(answer.status)) await desk.whoAmI();
        }
        redraw();
        return answer;
      } catch {
        /* a new record may be sent twice without harm, so it waits and goes by itself */
        const waits = method === 'POST' && path !== 'session' && !asks;
        if (waits) kept.waiting.push({ path, body });
        keep();
        outcomes.set(id, waits ? { state: 'kept' } : { state: 'error', status: 0 });
        redraw();
        return null;
      }
    },

    /** Sends what waited; stops at the first that nobody takes. */
    async flush() {
      while (kept.waiting.length) {
        const [{ path, body }] = kept.waiting;
        try {
          const { ok, status, data, lang } = await call('POST', path, body);
          if (DENIED.includes(status) || status >= 500 || status === 429) break;
          kept.waiting.shift();
          if (!ok) kept.refused.push({ path, body, why: data?.detail ?? String(status), lang });
        } catch {
          break;
        }
        keep();
      }
      if (!kept.waiting.length) for (const outcome of outcomes.values()) if (outcome.state === 'kept') outcome.state = 'saved';
    },
  };
  return desk;
}

/* ---- How the reader wants it: language, units, clock, colours; kept on the device. */

const STORED = 'perchd-display';
const ALLOWED = { language: ['en', 'es'], units: ['metric', 'us'], clock: ['24', '12'], theme: ['auto', 'light', 'dark'] };

function readChoices() {
  const tag = navigator.language ?? '';
  const us = tag.endsWith('-US');
  const choices = { language: tag.startsWith('es') ? 'es' : 'en', units: us ? 'us' : 'metric', clock: us ? '12' : '24', theme: 'auto' };
  try {
    const kept = JSON.parse(localStorage.getItem(STORED) ?? '{}');
    for (const name of Object.keys(choices)) {
      if (ALLOWED[name].includes(kept[name])) choices[name] = kept[name];
    }
  } catch {
    /* no storage, or not ours: the defaults do */
  }
  return choices;
}

function keepChoices(choices) {
  try {
    localStorage.setItem(STORED, JSON.stringify(choices));
  } catch {
    /* private mode: the choice lasts as long as the page */
  }
}

/** The words of a language; no other one is fetched. */
async function fetchWords(language) {
  return (await import(`./words.${language}.js`)).default;
}

/** The colours of a choice, put on the page before anything is drawn. */
function showTheme(theme) {
  const dark = theme === 'auto' ? matchMedia('(prefers-color-scheme: dark)').matches : theme === 'dark';
  document.documentElement.dataset.theme = dark ? 'dark' : 'light';
}

/* ---- Reading a plan: look-ups, and what the views derive from it. Nothing here words or draws. */

/** The plan with look-ups: zone(id), block(id), pot(id), mix(id), supply(id), day(date). */
export function indexPlan(plan) {
  const byId = (list) => {
    const map = new Map((list ?? []).map((item) => [item.id, item]));
    return (id) => map.get(id);
  };
  return {
    plan,
    zone: byId(plan.zones),
    block: byId(plan.blocks),
    pot: byId(plan.pots),
    mix: byId(plan.mixes),
    supply: byId(plan.supplies),
    day: (date) => plan.days.find((d) => d.date === date),
    today: plan.days[0].date,
  };
}

/** Runs by start; those that start together keep the plan's order. */
export function sortRuns(runs) {
  return [...runs].sort((a, b) => a.start_s - b.start_s);
}

/** When water really flows: [{start_s, end_s}], a run's pulses without its pauses. */
export function pulsesOf(run) {
  const pulses = Math.max(1, run.pulses);
  if (pulses === 1) return [{ start_s: run.start_s, end_s: run.end_s }];
  const on_s = run.pulse_minutes * 60;
  const step_s = on_s + run.pause_minutes * 60;
  return Array.from({ length: pulses }, (_, i) => ({
    start_s: run.start_s + i * step_s,
    end_s: Math.min(run.end_s, run.start_s + i * step_s + on_s),
  }));
}

/** Flow over time, [{start_s, end_s, flow_l_min, valves}], gaps included, of these runs. */
export function flowSteps(runs) {
  const changes = runs.flatMap((run) => pulsesOf(run).flatMap((p) => [
    { at_s: p.start_s, flow: run.flow_l_min, valves: 1 },
    { at_s: p.end_s, flow: -run.flow_l_min, valves: -1 },
  ]));
  changes.sort((a, b) => a.at_s - b.at_s);
  const steps = [];
  let flow = 0;
  let valves = 0;
  changes.forEach((change, i) => {
    flow += change.flow;
    valves += change.valves;
    const end_s = changes[i + 1]?.at_s;
    if (end_s === undefined || end_s === change.at_s) return;
    steps.push({ start_s: change.at_s, end_s, flow_l_min: valves === 0 ? 0 : flow, valves });
  });
  return steps;
}

/** The day's runs by supply: [{supply, runs}], supplies without runs left out. */
export function runsBySupply(index, runs) {
  const groups = new Map();
  for (const run of runs) {
    const id = index.zone(run.zone)?.supply;
    if (!groups.has(id)) groups.set(id, []);
    groups.get(id).push(run);
  }
  return [...groups].map(([id, list]) => ({ supply: index.supply(id), runs: list }));
}

/**
 * What a pot's volume is made of now, in percent of it, with the heights of a column up to which
 * watering fills it and at which it is due again; null when a figure is missing.
 */
export function potShares(block) {
  const needed = [block.volume_l, block.water_l, block.capacity_l, block.full_l, block.available_l, block.air_at_capacity_pct];
  if (!needed.every(Number.isFinite) || !(block.volume_l > 0)) return null;
  const share = (l) => (100 * l) / block.volume_l;
  const solid = Math.max(0, 100 - block.air_at_capacity_pct - share(block.capacity_l));
  const unusable_l = Math.max(0, block.full_l - block.available_l);
  const tight_l = Math.min(block.water_l, unusable_l);
  return {
    solid,
    tight: share(tight_l),
    available: share(block.water_l - tight_l),
    air: Math.max(0, 100 - solid - share(block.water_l)),
    full: solid + share(block.full_l),
    refill: solid + share(block.full_l - (block.available_l * block.refill_pct) / 100),
  };
}

/** As people walk, and the sheet goes: the zones' own order, then the numbers of their posts. */
export function byWalk(a, b) {
  return (a.walk_order ?? Infinity) - (b.walk_order ?? Infinity) || String(a.post ?? '').localeCompare(b.post ?? '', 'en', { numeric: true });
}

/** Runs of a zone over the whole plan. */
export function zoneRuns(plan, zoneId) {
  return sortRuns(plan.days.flatMap((d) => d.runs.filter((r) => r.zone === zoneId)));
}

export function isEmpty(plan) {
  return plan.blocks.length === 0;
}

/* ---- The day's chart: one row a zone with its pulses against the watering hours, below it the flow each
 * supply gives. Lengths are in CSS pixels; 1 em is the reader's text size. */

const HOUR_S = 3600;
/* width of an average letter */
const NARROW_EM = 0.55;

/**
 * The hours worth drawing, [{start_s, end_s}] in full local hours: the runs and the allowed hours next
 * to them. Idle hours in between are left out, so that the rest is legible on a phone.
 */
export function chartSpans(day) {
  if (day.runs.length === 0) return [];
  const offset_s = readOffset(day.runs[0].start);
  const floor = (t) => Math.floor((t + offset_s) / HOUR_S) * HOUR_S - offset_s;
  const touches = (w) => day.runs.some((run) => run.start_s < w.end_s && run.end_s > w.start_s);
  const spans = [...day.runs, ...day.windows.filter(touches)]
    .map((part) => ({ start_s: floor(part.start_s), end_s: floor(part.end_s + HOUR_S - 1) }))
    .sort((a, b) => a.start_s - b.start_s);
  return spans.reduce((merged, span) => {
    const last = merged.at(-1);
    if (!last || span.start_s > last.end_s + HOUR_S) return [...merged, { ...span }];
    last.end_s = Math.max(last.end_s, span.end_s);
    return merged;
  }, []);
}

/** Maps epoch seconds to 0..width over the spans, with `gap` between them; shape: {x(t), pieces[]}. */
export function scaleTime(spans, width, gap) {
  const total_s = spans.reduce((sum, span) => sum + span.end_s - span.start_s, 0);
  const perSecond = (width - gap * (spans.length - 1)) / total_s;
  let from = 0;
  const pieces = spans.map((span) => {
    const piece = { ...span, from, to: from + (span.end_s - span.start_s) * perSecond };
    from = piece.to + gap;
    return piece;
  });
  const x = (t) => {
    const piece = pieces.find((p) => t <= p.end_s);
    const inside = Math.min(Math.max(t, piece.start_s), piece.end_s);
    return piece.from + (inside - piece.start_s) * perSecond;
  };
  return { x, pieces, perSecond };
}

/** Hours between marks, so that a mark has room for its text. */
export function markStep(perHour, em) {
  return [1, 2, 3, 4, 6, 12].find((step) => perHour * step >= 3.4 * em) ?? 24;
}

/** A text cut to fit, by letters; one that is cut ends in an ellipsis. */
export function fitText(text, width, em) {
  const letters = [...text];
  const room = Math.max(1, Math.floor(width / (NARROW_EM * em)));
  return letters.length <= room ? text : `${letters.slice(0, room - 1).join('').trimEnd()}…`;
}

/* What drawings are made of, to a tenth of a pixel. */
export function round(value) {
  return Math.round(value * 10) / 10;
}

export function rect(kind, x, y, width, height) {
  return h('rect', { class: kind, x: round(x), y: round(y), width: round(width), height: round(height) });
}

function line(kind, x1, y1, x2, y2) {
  return h('line', { class: kind, x1: round(x1), y1: round(y1), x2: round(x2), y2: round(y2) });
}

export function lettering(kind, x, y, text, anchor) {
  return h('text', { class: kind, x: round(x), y: round(y), 'text-anchor': anchor }, text);
}

export function picture(kind, label, width, height, ...parts) {
  return h('svg', { class: kind, role: 'img', 'aria-label': label, width, height, viewBox: `0 0 ${width} ${height}` }, ...parts);
}

/* After left-out hours the first one is named before all others, so that the jump is seen. */
function timeMarks(scale, offset_s, bottom, width, em, clock) {
  const step_s = markStep(scale.perSecond * HOUR_S, em) * HOUR_S;
  const marks = scale.pieces.flatMap((piece, i) => {
    const local_s = piece.start_s + offset_s;
    const first = piece.start_s + ((step_s - (local_s % step_s)) % step_s);
    const times = i > 0 ? [piece.start_s] : [];
    for (let t = first; t <= piece.end_s; t += step_s) times.push(t);
    return times.map((t, n) => ({ t, at: piece.from + (t - piece.start_s) * scale.perSecond, named: i > 0 && n === 0 }));
  });
  const texts = [];
  for (const mark of [...marks.filter((m) => m.named), ...marks]) {
    const x = Math.min(Math.max(mark.at, 1.4 * em), width - 1.4 * em);
    if (texts.every((text) => Math.abs(text.x - x) >= 3.1 * em)) texts.push({ x, t: mark.t });
  }
  return [
    marks.map((mark) => line('mark', mark.at, 0, mark.at, bottom)),
    texts.sort((one, two) => one.x - two.x).map((text) => lettering('time', text.x, bottom + 1.1 * em, clock(text.t + offset_s), 'middle')),
  ];
}

function zoneRow(row, x, y, width, em) {
  const bar = (kind, { start_s, end_s }, top, height) => rect(kind, x(start_s), y + top * em, Math.max(1, x(end_s) - x(start_s)), height * em);
  return [
    lettering('row', 0, y + 0.95 * em, fitText(row.label, width, em)),
    row.runs.filter((run) => run.pulses > 1).map((run) => bar('whole', run, 1.65, 0.35)),
    row.runs.map((run) => pulsesOf(run).map((pulse) => bar(`pulse sure-${run.sure}${run.by_hand ? ' hand' : ''}`, pulse, 1.25, 1.15))),
  ];
}

function flowPanel(group, scale, y, width, em, say) {
  const { x, pieces } = scale;
  const steps = flowSteps(group.runs);
  const limit = group.supply.flow_l_min;
  const peak = Math.max(0, ...steps.map((s) => s.flow_l_min));
  const top = y + 1.6 * em;
  const height = 3.6 * em;
  const perLitre = height / (Math.max(limit, peak) * 1.08 || 1);
  const base = top + height;
  const level = (kind, { from, to }, l_min) => line(kind, from, base - l_min * perLitre, to, base - l_min * perLitre);
  return [
    lettering('row', 0, y + 0.95 * em, fitText(say(group.supply, peak), width, em)),
    steps.filter((s) => s.flow_l_min > 0).map((s) => rect('flow', x(s.start_s), base - s.flow_l_min * perLitre, Math.max(1, x(s.end_s) - x(s.start_s)), s.flow_l_min * perLitre)),
    pieces.map((piece) => [limit > 0 ? level('limit', piece, limit) : null, level('base', piece, 0)]),
  ];
}

/** Rows in the order in which water first flows: [{zone, label, runs}]. */
export function chartRows(index, day) {
  const rows = new Map();
  for (const run of sortRuns(day.runs)) {
    if (!rows.has(run.zone)) {
      const zone = index.zone(run.zone);
      const name = plainName(zone?.name, run.zone);
      const post = plainName(zone?.post);
      rows.set(run.zone, { zone: run.zone, label: post ? `${post} · ${name}` : name, runs: [] });
    }
    rows.get(run.zone).runs.push(run);
  }
  return [...rows.values()];
}

/**
 * The drawing as a tree. say: {label, flow(supply, peak), clock(local epoch seconds)}; null when the day
 * has no runs.
 */
export function drawDay(index, day, say, width, em) {
  const spans = chartSpans(day);
  if (spans.length === 0) return null;
  const offset_s = readOffset(day.runs[0].start);
  const scale = scaleTime(spans, width, 1.2 * em);
  const { x, pieces } = scale;
  const rowHeight = 2.75 * em;
  const panelHeight = 5.6 * em;
  const rows = chartRows(index, day);
  const groups = runsBySupply(index, day.runs);
  const rowsEnd = rows.length * rowHeight;
  const bottom = rowsEnd + groups.length * panelHeight;
  const height = Math.ceil(bottom + 1.5 * em);
  const windows = pieces.flatMap((piece) => day.windows
    .filter((w) => w.end_s > piece.start_s && w.start_s < piece.end_s)
    .map((w) => {
      const from = x(Math.max(w.start_s, piece.start_s));
      return rect('window', from, 0, x(Math.min(w.end_s, piece.end_s)) - from, bottom);
    }));
  return picture(
    'chart', say.label, width, height,
    stripes(),
    windows,
    timeMarks(scale, offset_s, bottom, width, em, say.clock),
    rows.map((row, i) => zoneRow(row, x, i * rowHeight, width, em)),
    groups.map((group, i) => flowPanel(group, scale, rowsEnd + i * panelHeight, width, em, say.flow)),
  );
}

/** The pattern of runs by hand: told from the others without colour. */
function stripes() {
  return h('defs', {}, h(
    'pattern',
    { id: 'stripes', width: 6, height: 6, patternUnits: 'userSpaceOnUse', patternTransform: 'rotate(45)' },
    rect('stripe-ground', 0, 0, 6, 6),
    rect('stripe', 0, 0, 3, 6),
  ));
}

/* ---- The pot in cross-section and its volume shared between mix, water and air, both to scale. */

/** What a pot's volume is made of, from the bottom of the column up. */
export const SHARE_KINDS = ['solid', 'tight', 'available', 'air'];

/** Inside width at a height over the holes; top_cm is at the rim where its height is known. */
export function widthAt(pot, height_cm) {
  const top_at_cm = pot.height_cm > 0 ? pot.height_cm : pot.fill_height_cm;
  return pot.bottom_cm + ((pot.top_cm - pot.bottom_cm) * height_cm) / top_at_cm;
}

function isDrawable(pot) {
  return pot && [pot.top_cm, pot.bottom_cm, pot.fill_height_cm].every((v) => v > 0);
}

function slice(pot, kind, from_cm, to_cm, middle, y, scale) {
  const half = (cm) => (widthAt(pot, cm) * scale) / 2;
  const points = [
    [middle - half(from_cm), y(from_cm)],
    [middle - half(to_cm), y(to_cm)],
    [middle + half(to_cm), y(to_cm)],
    [middle + half(from_cm), y(from_cm)],
  ];
  return h('polygon', { class: kind, points: points.map((p) => p.map(round).join(',')).join(' ') });
}

/** Heights over the holes, 2.6 em wide. */
export function ruler(height_cm, us, y, em) {
  const unit_cm = us ? INCH_CM : 1;
  const step = [1, 2, 5, 10, 20].find((s) => y(0) - y(s * unit_cm) >= 1.5 * em) ?? 50;
  const ticks = [];
  for (let n = 0; n * unit_cm <= height_cm + 1e-9; n += step) {
    const at = y(n * unit_cm);
    ticks.push(line('tick', 2.1 * em, at, 2.6 * em, at), lettering('tick-text', 1.8 * em, at + 0.35 * em, String(n), 'end'));
  }
  return [...ticks, lettering('tick-text', 2.6 * em, y(height_cm) - 0.7 * em, us ? 'in' : 'cm', 'end')];
}

function crossSection(block, pot, us, box, em, say) {
  const rim_cm = Math.max(pot.height_cm ?? 0, pot.fill_height_cm);
  const widest = Math.max(widthAt(pot, rim_cm), pot.bottom_cm);
  const scale = Math.min(box.width / widest, box.height / rim_cm);
  const middle = box.x + box.width / 2;
  const y = (cm) => box.y + box.height - cm * scale;
  const soaked_cm = Math.min(Math.max(0, block.wet_layer_cm ?? 0), pot.fill_height_cm);
  const half = (cm) => (widthAt(pot, cm) * scale) / 2;
  const wall = (from, to, low_cm, high_cm) => line('wall', middle + from * half(low_cm), y(low_cm), middle + to * half(high_cm), y(high_cm));
  return [
    slice(pot, 'mix', soaked_cm, pot.fill_height_cm, middle, y, scale),
    soaked_cm > 0 ? slice(pot, 'soaked', 0, soaked_cm, middle, y, scale) : null,
    wall(-1, -1, 0, rim_cm),
    wall(1, 1, 0, rim_cm),
    [[-1, -0.62], [-0.45, 0.45], [0.62, 1]].map(([from, to]) => wall(from, to, 0, 0)),
    soaked_cm * scale >= 1.1 * em ? lettering('on-water', middle, y(soaked_cm / 2) + 0.35 * em, say.soaked, 'middle') : null,
    ruler(pot.fill_height_cm, us, y, em),
  ];
}

/** The shares as [{kind, from, to}] from the bottom up, in percent of the pot's volume. */
export function shareBands(shares) {
  let from = 0;
  return SHARE_KINDS.map((kind) => {
    const band = { kind, from, to: from + shares[kind] };
    from = band.to;
    return band;
  });
}

function shareColumn(shares, box) {
  const y = (percent) => box.y + box.height * (1 - percent / 100);
  return [
    shareBands(shares).map(({ kind, from, to }) => rect(kind, box.x, y(to), box.width, y(from) - y(to))),
    ['refill', 'full'].map((mark) => line(`mark-${mark}`, box.x - box.overhang, y(shares[mark]), box.x + box.width + box.overhang, y(shares[mark]))),
  ];
}

/**
 * The drawing as a tree, or null when the pot's shape is not known: cross-section with a ruler, and
 * beside it, as high as the mix, the shares of the mix's volume. say: {label, soaked}; us: inches.
 */
export function drawPot(block, pot, us, say, width, em) {
  if (!isDrawable(pot)) return null;
  const shares = potShares(block);
  const rim_cm = Math.max(pot.height_cm ?? 0, pot.fill_height_cm);
  const widest = Math.max(widthAt(pot, rim_cm), pot.bottom_cm);
  const left = 3 * em;
  const right = shares ? 4 * em : 0.5 * em;
  const room = Math.max(4 * em, width - left - right);
  const scale = Math.min(room / widest, (20 * em) / rim_cm);
  const box = { x: left, y: 1.4 * em, width: widest * scale, height: rim_cm * scale };
  const fill = pot.fill_height_cm * scale;
  const column = { x: left + box.width + em, y: box.y + box.height - fill, width: 2.2 * em, height: fill, overhang: 0.4 * em };
  const height = Math.ceil(box.y + box.height + 0.6 * em);
  return picture(
    'pot', say.label, width, height,
    crossSection(block, pot, us, box, em, say),
    shares ? shareColumn(shares, column) : null,
  );
}

/** The patch of colour or line that stands before a word of the key. */
export function drawKey(kind) {
  const patch = kind.startsWith('mark-') ? line(kind, 0, 8, 20, 8) : kind === 'found' ? dot(10, 8) : rect(kind, 1, 1, 18, 14);
  return h('svg', { class: 'pot key', viewBox: '0 0 20 16', 'aria-hidden': 'true' }, patch);
}

/* What somebody weighed or felt. */
function dot(cx, cy) {
  return h('circle', { class: 'found', cx, cy, r: 5 });
}

/**
 * A bar of the usable water: what the driest quarter of the bed has left, paler what the average pot
 * has more, and a mark at the refill point.
 */
export function drawGauge(block, label) {
  const clamp = (v) => (Number.isFinite(v) ? Math.min(100, Math.max(0, v)) : 0);
  const gone = clamp(block.depletion_pct);
  const driest = Math.max(gone, clamp(block.driest_pct));
  const refill = clamp(block.refill_pct);
  return h(
    'svg',
    { class: 'gauge', role: 'img', 'aria-label': label, viewBox: '0 0 100 8', preserveAspectRatio: 'none' },
    rect('gauge-empty', 0, 0, 100, 8),
    rect('gauge-wetter', 0, 0, 100 - gone, 8),
    rect(driest >= refill ? 'gauge-low' : 'gauge-water', 0, 0, 100 - driest, 8),
    line('gauge-refill', 100 - refill, 0, 100 - refill, 8),
  );
}

/* ---- A block's water over days, past and ahead: levels against full and refill, the forecast's spread, and
 * below them what came as water and as rain. Lengths are in CSS pixels, 1 em the reader's text size. */

const DAY_S = 86400;

/** Levels as steps of [hour, until, level] of one of limits' names, over all hours. */
export function limitSteps(course, name) {
  return course.limits.map((limit, i) => [limit.hour, course.limits[i + 1]?.hour ?? course.hours, limit[name]]);
}

/** The least and the most litres worth drawing. */
export function courseRange(course) {
  const all = [course.water_l, course.driest_l, course.from_l ?? [], course.to_l ?? [], course.limits.flatMap((l) => [l.full_l, l.stress_l])].flat().filter(Number.isFinite);
  const [least, most] = [Math.min(...all), Math.max(...all)];
  const room = (most - least || 1) * 0.06;
  return [Math.max(0, least - room), most + room];
}

/** The drawing as a tree; say: {label, day(date)}. */
export function drawCourse(course, say, width, em) {
  const top = 1.4 * em;
  const high = 11 * em;
  const base = top + high;
  const below = base + 1.2 * em;
  const barHigh = 3.2 * em;
  const height = Math.ceil(below + barHigh + 2);
  const x = (hour) => round((hour * width) / course.hours);
  const [least, most] = courseRange(course);
  const y = (l) => round(base - (high * (l - least)) / (most - least));
  const curve = (kind, levels) => h('polyline', { class: kind, points: levels.map((l, i) => (Number.isFinite(l) ? `${x(i)},${y(l)}` : '')).filter(Boolean).join(' ') });
  const now = course.now;
  const band = (course.from_l ?? []).length
    ? h('polygon', { class: 'spread', points: [...course.to_l.map((l, i) => `${x(now + i)},${y(l)}`), ...[...course.from_l].map((l, i) => `${x(now + i)},${y(l)}`).reverse()].join(' ') }) : null;
  const steps = (kind, name) => limitSteps(course, name).map(([from, to, l]) => line(kind, x(from), y(l), x(to), y(l)));
  const offset_s = readOffset(course.start);
  const first = (DAY_S - ((course.start_s + offset_s) % DAY_S)) % DAY_S;
  const days = [];
  for (let t = first; t < course.hours * course.step_s; t += DAY_S) days.push(t / course.step_s);
  const perDay = (width * DAY_S) / course.step_s / course.hours;
  const each = Math.max(1, Math.ceil((3.2 * em) / perDay));
  const tallest = Math.max(1e-9, ...course.in_l, ...course.rain_l);
  const bar = (kind, values, fromTop) => values.map((l, i) => (l > 0 ? rect(kind, x(i), fromTop ? below : below + barHigh * (1 - l / tallest), Math.max(2, x(i + 1) - x(i)), Math.max(1, (barHigh * l) / tallest)) : null));
  return picture(
    'pot course', say.label, width, height,
    rect('past', 0, top, x(now), base - top),
    days.map((hour, i) => [
      line('tick', x(hour), top, x(hour), height),
      i % each === 0 && width - x(hour) > 2 * em ? lettering('tick-text', x(hour) + 3, top - 0.4 * em, say.day(new Date((course.start_s + hour * course.step_s + offset_s) * 1000).toISOString().slice(0, 10))) : null,
    ]),
    band,
    steps('mark-full', 'full_l'),
    steps('mark-refill', 'refill_l'),
    steps('mark-stress', 'stress_l'),
    course.water_if_ran_l ? curve('mark-ran', course.water_if_ran_l) : null,
    curve('mark-dry', course.driest_l),
    curve('mark-course', course.water_l),
    course.found.map((found) => {
      const hour = (found.at_s - course.start_s) / course.step_s;
      return hour >= 0 && hour <= course.hours ? dot(x(hour), y(course.water_l[Math.min(course.hours, Math.ceil(hour))])) : null;
    }),
    line('wall', x(now), top, x(now), height),
    line('tick', 0, below + barHigh, width, below + barHigh),
    bar('bar-rain', course.rain_l, true),
    bar('available', course.in_l, false),
  );
}

/** The section's body: drawing, key, days as a table. */
export function courseBody(ctx, course) {
  const { words, format } = ctx;
  const rain = course.rain_mm.some((mm) => mm > 0);
  const key = [['mark-course', 'course_water'], ['mark-dry', 'course_driest'], ['spread', 'course_spread'], ['mark-full', 'pot_mark_full'], ['mark-refill', 'pot_mark_refill'], ['mark-stress', 'course_stress'],
    course.water_if_ran_l && ['mark-ran', 'course_ran'], course.found.length && ['found', 'course_found'], ['available', 'course_in'], rain && ['bar-rain', 'course_rain']].filter(Boolean);
  return [
    h('div', { class: 'canvas', draw: (width, em) => drawCourse(course, { label: words.text('course_label'), day: (date) => format.weekday(date) }, width, em) }),
    h('dl', { class: 'course-key' }, key.map(([kind, text]) => h('div', {}, h('dt', {}, drawKey(kind), words.text(text))))),
    h('details', { class: 'exact', 'data-key': 'course' }, h('summary', {}, words.text('course_table')), stacked(
      words, ['f_on', 'course_used', 'f_given', 'course_rain', 'f_drained'],
      course.days.map((day) => [format.dateShort(day.date), format.potWater(day.use_l), format.potWater(day.in_l), format.depth(day.rain_mm), format.potWater(day.drained_l)]),
    )),
  ];
}

/* ---- Codes with parameters become sentences. `ctx` is {plan, words, format, index}. */

const BLOCK_NAMES = new Set(['block', 'thirsty', 'tough']);

export function zoneHref(id) {
  return `#/zone/${encodeURIComponent(id)}`;
}

export function blockHref(id) {
  return `#/block/${encodeURIComponent(id)}`;
}

export function zoneName(ctx, id, link = true) {
  const zone = ctx.index.zone(id);
  return nameTree(zone?.name, id, link && zone ? zoneHref(id) : null);
}

export function blockName(ctx, id, link = true) {
  const block = ctx.index.block(id);
  return nameTree(block?.name, id, link && block ? blockHref(id) : null);
}

/* A parameter's unit stands in its name, so the name says how to write it. */
function sayParam(ctx, name, value, params) {
  const { format } = ctx;
  if (value === null || value === undefined) return ctx.words.text('unknown');
  if (BLOCK_NAMES.has(name)) return blockName(ctx, value);
  if (name === 'zone' || name === 'to') return zoneName(ctx, value);
  if (name === 'supply') return nameTree(ctx.index.supply(value)?.name, value);
  if (name === 'day') return format.weekday(value);
  if (name === 'kind' || name === 'purpose') return ctx.words.has(`w_${value}`) ? ctx.words.text(`w_${value}`) : nameTree(value);
  if (`${name}_s` in params) return name === 'next_window' ? format.dayTime(value) : format.about(value);
  if (name.endsWith('_l_min')) return format.flow(value);
  if (name.startsWith('litres') || name.endsWith('_l')) return format.volume(value);
  if (name.includes('minutes')) return format.minutes(value);
  if (name.endsWith('_mm')) return format.depth(value);
  if (name.endsWith('_cm')) return format.length(value);
  if (name.endsWith('_pct')) return format.percent(value);
  if (name.endsWith('_c')) return format.temperature(value);
  if (name.endsWith('_h')) return format.span(value * 3600);
  if (typeof value === 'number') return format.number(value, value < 3 && !Number.isInteger(value) ? 1 : 0);
  if (ctx.words.has(`${name}_${value}`)) return ctx.words.text(`${name}_${value}`);
  return nameTree(value);
}

function sayParams(ctx, params) {
  const said = {};
  for (const [name, value] of Object.entries(params)) {
    if (!name.endsWith('_s')) said[name] = sayParam(ctx, name, value, params);
  }
  said.n = Number.isFinite(params.blocks) ? params.blocks : 1;
  return said;
}

/* Some sentences have another form: in the past, or when a parameter is not known. */
function formOf(ctx, key, params) {
  const isMissing = (name) => params[name] === null || params[name] === undefined;
  if (key === 'say_passes_refill') {
    if (params.at_s <= ctx.plan.made_at_s) return 'say_passes_refill_past';
    if (isMissing('next_window')) return 'say_passes_refill_last';
  }
  if (key === 'do_frost_in_window' && isMissing('clear_at')) return 'do_frost_in_window_any';
  if (key === 'do_hold_passes' && /^(spraying|re.entry)$/.test(params.kind)) return 'do_hold_passes_people';
  if (key === 'do_flow_low' && params.counted) return 'do_flow_low_counted';
  if (key === 'do_air_low_in_pot' && isMissing('least_fill_cm')) return 'do_air_low_in_pot_any';
  return key;
}

function sentence(ctx, key, params) {
  return ctx.words.parts(formOf(ctx, key, params), sayParams(ctx, params));
}

/** What a reason or notice states; a code this page does not know is shown as it came. */
export function sayWhat(ctx, { code, params }) {
  const key = `say_${code}`;
  if (ctx.words.has(key)) return sentence(ctx, key, params ?? {});
  const rest = Object.entries(params ?? {}).filter(([name]) => !name.endsWith('_s'));
  return ctx.words.parts('say_other', {
    code: nameTree(code),
    params: nameTree(rest.map(([name, value]) => `${name} ${value}`).join(', ')),
  });
}

/** What follows from a notice and what to do; [] when there is nothing to add. */
export function sayThen(ctx, { code, params }) {
  const key = `do_${code}`;
  return ctx.words.has(key) ? sentence(ctx, key, params ?? {}) : [];
}

/* ---- Pieces that several views share. `ctx` is {plan, index, words, format, now_s, weather_age_s}. */

export function heading(text) {
  return h('h1', { tabindex: '-1' }, text);
}

export function section(id, title, ...children) {
  return h('section', { 'aria-labelledby': id }, h('h2', { id }, title), ...children);
}

/** Exact figures behind one tap; rows: [[label, value]]; `what` names them for a screen reader. */
export function exact(ctx, key, what, rows) {
  return h(
    'details',
    { class: 'exact', 'data-key': key },
    h('summary', { 'aria-label': ctx.words.text('exact_of', { what }) }, ctx.words.text('exact')),
    pairs(ctx, rows),
  );
}

/** A list of [key of a word, value]. */
export function pairs({ words }, rows) {
  return h('dl', { class: 'pairs' }, rows.map(([key, value]) => h('div', {}, h('dt', {}, words.text(key)), h('dd', {}, value))));
}

/** A table whose rows are lists on a phone; each row begins with what it is of. A key that is no word stands as it is. */
export function stacked(words, keys, rows, caption) {
  const heads = keys.map((key) => words.text(key));
  return h(
    'table',
    { class: 'stack' },
    caption && h('caption', {}, caption),
    h('thead', {}, h('tr', {}, heads.map((text) => h('th', { scope: 'col' }, text)))),
    rows.map(([first, ...rest]) => h('tbody', {}, h('tr', {}, h('th', { scope: 'row' }, first), rest.map((what, i) => h('td', { 'data-label': heads[i + 1] }, what))))),
  );
}

/** The valve's post as painted, as a tag; nothing when it has none. */
export function postTag(ctx, zone) {
  const post = plainName(zone?.post);
  if (!post) return null;
  return h('span', { class: 'post' }, h('span', { class: 'unseen' }, ctx.words.text('post', { post: '' })), h('bdi', {}, post));
}

export function tag(kind, text) {
  return h('span', { class: `tag ${kind}` }, text);
}

export function sureTag(ctx, run) {
  return run.sure === 'certain' ? null : tag(`sure-${run.sure}`, ctx.words.text(`sure_${run.sure}`));
}

/** One run as an entry of a list; `date` is the day it is listed under. */
export function runEntry(ctx, run, date, { withDay = false, sureSaid = false } = {}) {
  const { words, format, index } = ctx;
  const zone = index.zone(run.zone);
  const times = format.range(run.start, run.end, date);
  const runsNow = run.underway && run.start_s <= ctx.now_s;
  const facts = [
    h('strong', { class: 'minutes' }, format.minutes(run.minutes)),
    run.pulses > 1
      ? words.text('run_parts', { n: run.pulses, part: format.minutes(run.pulse_minutes), pause: format.minutes(run.pause_minutes) })
      : null,
    format.volume(run.litres),
    Number.isFinite(run.depth_mm) && run.depth_mm > 0 ? words.text('run_depth', { depth: format.depth(run.depth_mm) }) : null,
    /* pots of unlike blocks catch unlike shares of a depth */
    run.litres_pot > 0 && !(run.depth_mm > 0 && zone?.blocks.length > 1) ? words.text('run_pot', { water: format.potWater(run.litres_pot) }) : null,
  ].filter((fact) => fact !== null);
  return h(
    'li',
    { class: runsNow ? 'run underway' : 'run' },
    h('p', { class: 'when' }, withDay ? [h('span', {}, format.dateShort(date)), ' '] : null, times),
    h(
      'div',
      { class: 'what' },
      h('p', { class: 'who' }, spaced(
        postTag(ctx, zone),
        zoneName(ctx, run.zone),
        runsNow && tag('now', words.text('underway')),
        run.by_hand && tag('hand', words.text('by_hand')),
        !sureSaid && sureTag(ctx, run),
      )),
      h('p', { class: 'facts' }, facts.map((fact, i) => [i ? ' · ' : null, fact])),
      run.reasons.map((reason) => h('p', { class: 'why' }, ...sayWhat(ctx, reason), ' ', ...sayThen(ctx, reason))),
      exact(ctx, `run-${run.id}`, plainName(zone?.name, run.zone), [
        ['x_minutes', format.exact.minutes(run.minutes)],
        ['x_litres', format.exact.litres(run.litres)],
        ['f_flow', format.exact.flow(run.flow_l_min)],
        ...(Number.isFinite(run.depth_mm) ? [['x_depth', format.exact.depth(run.depth_mm)]] : []),
        ['x_pot', format.exact.potLitres(run.litres_pot)],
        ['sure_label', words.text(`sure_${run.sure}_long`)],
        ['f_run', nameTree(run.id)],
      ]),
    ),
  );
}

/** A notice: severity, what is so, what to do, since when. */
export function noticeEntry(ctx, notice) {
  const { words, format } = ctx;
  const then = sayThen(ctx, notice);
  return h(
    'li',
    { class: `notice ${notice.severity}` },
    h('p', {}, tag(notice.severity, words.text(`severity_${notice.severity}`)), ' ', h('strong', {}, ...sayWhat(ctx, notice))),
    then.length ? h('p', {}, ...then) : null,
    notice.since && notice.since_s < ctx.plan.made_at_s ? h('p', { class: 'quiet' }, words.text('since', { time: format.dayTime(notice.since) })) : null,
  );
}

export function isAboutZone(ctx, notice, zoneId) {
  const { zone, block, thirsty } = notice.params ?? {};
  return zone === zoneId || [block, thirsty].some((id) => id && ctx.index.block(id)?.zone === zoneId);
}

/* A block that is due waits for its run, or there is none. */
function dueThen({ words, format, index }, zone) {
  const at = index.zone(zone)?.next_run_at;
  return at ? words.text('due_waits', { time: format.dayTime(at) }) : h('strong', {}, words.text('due_none'));
}

/** When a block must have water, as a sentence of strong and plain words. */
export function blockSafe(ctx, block) {
  const { words, format, now_s } = ctx;
  if (!block.next_at) return [h('strong', {}, words.text('dry_none')), ' ', words.text('dry_none_watered')];
  if (block.next_at_s <= now_s) return [h('strong', {}, words.text('block_due')), ' ', dueThen(ctx, block.zone)];
  return [
    h('strong', {}, words.text('block_safe', { until: format.about(block.next_at) })),
    block.next_from && block.next_to
      ? [', ', words.text('block_safe_range', { from: format.about(block.next_from), to: format.about(block.next_to) })]
      : null,
  ];
}

export function gauge(ctx, block) {
  const { words, format } = ctx;
  const said = {
    used: format.percent(block.depletion_pct),
    driest: format.percent(block.driest_pct),
    refill: format.percent(block.refill_pct),
  };
  return drawGauge(block, words.text('block_gauge', said));
}

/** A block as an entry of a list: name, gauge, safe until. */
export function blockEntry(ctx, block) {
  return h(
    'li',
    { class: 'block' },
    h('p', { class: 'who' }, spaced(
      nameTree(block.name, block.id, blockHref(block.id)),
      block.known_how === 'assumed' && tag('watch', ctx.words.text('known_assumed_tag')),
    )),
    gauge(ctx, block),
    h('p', { class: 'facts' }, ...blockSafe(ctx, block)),
  );
}

/* ---- The five lines that come before anything else. */

const SHOWN_ACTS = 5;
const SHOWN_ZONES = 3;

function link(href, ...children) {
  return h('a', { href }, ...children);
}

function personLine(ctx, day) {
  const { plan, words, format } = ctx;
  const acts = plan.notices.filter((n) => n.severity === 'act');
  const watch = plan.notices.filter((n) => n.severity === 'watch').length;
  const runs = sortRuns(day.runs).filter((run) => run.by_hand);
  const blocks = plan.by_hand.length;
  const more = spaced(
    blocks && words.text('person_hand', { n: blocks }),
    acts.length + runs.length + blocks === 0 && words.text('person_none'),
    acts.length === 0 && watch && words.text('person_watch', { n: watch }),
  );
  return [
    ...acts.slice(0, SHOWN_ACTS).map((notice) => h('p', {}, h('strong', {}, ...sayWhat(ctx, notice)), ' ', ...sayThen(ctx, notice))),
    runs.length ? h('p', {}, words.text('sheet_by_hand'), runs.map((run, i) => [i ? ', ' : ': ', zoneName(ctx, run.zone), ' ', format.time(run.start)])) : null,
    more.length ? h('p', {}, more) : null,
    plan.notices.length ? h('p', {}, link('#/notices', words.text('person_all', { n: plan.notices.length }))) : null,
  ];
}

/** What one day brings, as the plan itself says it of tomorrow. */
export function sumDay(day) {
  const runs = sortRuns(day.runs);
  const last = runs.reduce((end, run) => (end && end.end_s >= run.end_s ? end : run), null);
  return {
    date: day.date,
    zones: new Set(runs.map((run) => run.zone)).size,
    from: runs[0]?.start ?? null,
    to: last?.end ?? null,
    litres: day.litres,
    peak_l_min: day.peak_l_min,
    fits: null,
  };
}

function dayLine({ plan, words, format }, which, sum) {
  if (!sum.from) {
    const fits = sum.fits === false ? h('strong', {}, ` ${words.text('day_fits_not')}`) : null;
    return [h('p', {}, words.text('day_none'), fits)];
  }
  const [only, ...others] = plan.supplies;
  const sentence = words.text(only && others.length === 0 ? 'day_sentence_one' : 'day_sentence', {
    flow: format.flow(only?.flow_l_min),
    zones: words.text('day_zones', { n: sum.zones, all: format.number(plan.zones.length) }),
    range: format.range(sum.from, sum.to, sum.date),
    volume: format.volume(sum.litres),
    peak: only && others.length === 0 ? format.flowNumber(sum.peak_l_min) : format.flow(sum.peak_l_min),
  });
  const fits = { true: words.text('day_fits'), false: h('strong', {}, words.text('day_fits_not')) }[sum.fits];
  return [h('p', {}, which === 'today' ? `${words.text('day_left')} ` : null, sentence, fits ? ' ' : null, fits)];
}

/** When the zone of a block runs next, as a sentence. */
export function zoneNext({ words, format }, zone) {
  return zone?.next_run_at ? words.text('block_zone_next', { time: format.dayTime(zone.next_run_at) }) : words.text('block_zone_never');
}

function dryLine(ctx) {
  const { plan, words, format, index, now_s } = ctx;
  const first = plan.summary.first_dry;
  if (!first) return [h('p', {}, words.text('dry_none'))];
  const block = blockName(ctx, first.block);
  const next = zoneNext(ctx, index.zone(first.zone));
  if (first.safe_until_s <= now_s) {
    return [h('p', {}, h('strong', {}, ...words.parts('dry_now', { block })), ' ', dueThen(ctx, first.zone))];
  }
  return [h('p', {}, ...words.parts('dry_sentence', {
    block,
    until: h('strong', {}, format.about(first.safe_until)),
    hot: h('strong', {}, format.about(first.safe_until_if_hot)),
  }), ' ', next)];
}

/** Why a zone is not watered, short enough to stand behind its name. */
export function whyNot(ctx, { reason, until }) {
  const { words, format } = ctx;
  const short = {
    still_wet: ['not_wet', 'not_wet_open'],
    waits_for_rain: ['not_rain', 'not_rain_open'],
  }[reason.code];
  if (short) return words.parts(until ? short[0] : short[1], { until: format.about(until) });
  return until
    ? words.parts('not_other', { reason: sayWhat(ctx, reason), until: format.about(until) })
    : sayWhat(ctx, reason);
}

/* The first few as lines, the others as a number. */
function cutList(words, items, say) {
  const lines = items.slice(0, SHOWN_ZONES).map((item) => h('p', {}, ...say(item)));
  const more = items.length - lines.length;
  return more > 0 ? [...lines, h('p', {}, words.text('list_and_more', { n: more }))] : lines;
}

function notLine(ctx) {
  const { plan, words } = ctx;
  if (plan.waiting.length === 0) return [h('p', {}, words.text('not_none'))];
  return cutList(words, plan.waiting, (waiting) => words.parts('not_one', {
    zone: zoneName(ctx, waiting.zone),
    why: whyNot(ctx, waiting),
  }));
}

/* The plan says only of tomorrow why a zone waits; of today it is known which zones have no run left. */
function restLine(ctx, day) {
  const { plan, words, format } = ctx;
  const rest = plan.zones.filter((zone) => zone.state !== 'empty' && !day.runs.some((run) => run.zone === zone.id));
  if (rest.length === 0) return [h('p', {}, words.text('rest_none'))];
  return cutList(words, rest, (zone) => words.parts(zone.next_run_at ? 'rest_one' : 'rest_one_never', {
    zone: zoneName(ctx, zone.id),
    time: format.dayTime(zone.next_run_at),
  }));
}

function builtLine({ plan, words, format, weather_age_s }) {
  const { rung, error } = plan.weather;
  const { sheet } = plan;
  const weather = words.text(`built_${rung}`, { age: format.span(weather_age_s) });
  const assumed = plan.blocks.filter((b) => b.known_how === 'assumed').length;
  const start = assumed
    ? words.text('built_assumed', { n: assumed, all: format.number(plan.blocks.length) })
    : words.text('built_known');
  return [
    h('p', {}, link('#/weather', rung === 'forecast' ? weather : h('strong', {}, weather)), ' ', start),
    sheet ? h('p', {}, link('#/sheet', words.text('sheet_head', { n: String(sheet.number), date: format.dateShort(sheet.for) })), `: ${sheet.exceptions?.length ? words.text('sheet_changes', { n: sheet.exceptions.length }) : words.text('sheet_same')}`) : null,
    error ? h('p', {}, ...words.parts('built_error', { text: h('bdi', {}, error) })) : null,
  ];
}

/** [{key, label, tone, body[]}] for a day; `which` is 'tomorrow' or 'today'. */
export function fiveLines(ctx, which, day) {
  const { plan, words } = ctx;
  const sum = which === 'tomorrow' ? plan.summary.tomorrow : sumDay(day);
  const acts = plan.notices.some((n) => n.severity === 'act');
  const old = plan.weather.rung !== 'forecast' || plan.weather.error;
  return [
    { key: 'person', tone: acts ? 'act' : null, body: personLine(ctx, day) },
    { key: which, tone: sum.fits === false ? 'watch' : null, body: dayLine(ctx, which, sum) },
    { key: 'dry', tone: null, body: dryLine(ctx) },
    which === 'tomorrow'
      ? { key: 'not', tone: null, body: notLine(ctx) }
      : { key: 'rest', tone: null, body: restLine(ctx, day) },
    { key: 'built', tone: old ? 'watch' : null, body: builtLine(ctx) },
  ].map((line) => ({ ...line, label: words.text(`line_${line.key}`) }));
}

/* ---- The views of the plan: each takes ctx and gives {title, body[]}. */

function dayChart(ctx, day) {
  const { words, format, index } = ctx;
  if (day.runs.length === 0) return null;
  const sum = sumDay(day);
  const clock = (local_s) => format.time(new Date(local_s * 1000).toISOString());
  const say = {
    clock,
    flow: (supply, peak) => words.text('chart_flow', {
      supply: plainName(supply.name, supply.id),
      peak: format.flowNumber(peak),
      flow: format.flow(supply.flow_l_min),
    }),
    label: words.text('chart_label', {
      date: format.dateLong(day.date),
      zones: words.text('day_zones', { n: sum.zones, all: format.number(ctx.plan.zones.length) }),
      from: format.time(sum.from),
      to: format.until(sum.to),
    }),
  };
  return section(
    'chart',
    words.text('heading_chart'),
    h('div', { class: 'canvas', draw: (width, em) => drawDay(index, day, say, width, em) }),
    h('p', { class: 'quiet' }, [
      words.text('chart_window'),
      words.text('chart_dashed'),
      day.runs.some((run) => run.sure !== 'certain') ? words.text('chart_pale') : '',
      day.runs.some((run) => run.by_hand) ? words.text('chart_hand') : '',
    ].join(' ')),
    h('details', { class: 'exact', 'data-key': 'flow' }, h('summary', {}, words.text('chart_table')), stacked(
      words, ['chart_time', 'f_valves_at_once', 'f_flow'],
      runsBySupply(index, day.runs).flatMap(({ supply, runs }, _, { length }) => flowSteps(runs).filter((step) => step.valves).map((step) => [
        [[step.start_s, step.end_s].map((s) => clock(s + readOffset(sum.from))).join('\u2013'), length > 1 && [' · ', nameTree(supply.name, supply.id)]], format.number(step.valves), format.flow(step.flow_l_min),
      ])),
    )),
  );
}

function byHand(ctx) {
  const { words, format, plan } = ctx;
  return plan.by_hand.length ? section('hand', words.text('sheet_by_hand'), h('ul', { class: 'plain' }, plan.by_hand.map((item) => h(
    'li',
    {},
    h('p', { class: 'who' }, spaced(postTag(ctx, ctx.index.zone(item.zone)), blockName(ctx, item.block))),
    h('p', { class: 'facts' }, words.text('run_pot', { water: format.potWater(item.litres_pot) }), ` · ${format.minutes(item.hose_minutes)} · `, words.text('by', { until: format.about(item.limit_at) })),
    h('p', { class: 'why' }, ...sayWhat(ctx, item.reason)),
  )))) : null;
}

function notWatered(ctx) {
  const { plan, words } = ctx;
  if (plan.waiting.length === 0) return null;
  return section('not', words.text('line_not'), h('ul', { class: 'plain' }, plan.waiting.map((waiting) => h(
    'li',
    {},
    h('p', { class: 'who' }, spaced(postTag(ctx, ctx.index.zone(waiting.zone)), zoneName(ctx, waiting.zone))),
    h('p', { class: 'facts' }, ...whyNot(ctx, waiting)),
  ))));
}

function unplaced(ctx, day) {
  const { plan, words, format } = ctx;
  const list = plan.unplaced.filter(({ date }) => date === day.date);
  if (list.length === 0) return null;
  return section('unplaced', words.text('heading_unplaced'), h('ul', { class: 'plain' }, list.map((missing) => h(
    'li',
    { class: 'notice act' },
    h('p', { class: 'who' }, postTag(ctx, ctx.index.zone(missing.zone)), ' ', h('strong', {}, ...words.parts('unplaced_line', {
      zone: zoneName(ctx, missing.zone),
      minutes: format.minutes(missing.minutes),
      volume: format.volume(missing.litres),
    }))),
    h('p', {}, ...sayWhat(ctx, missing.reason), ' ', ...sayThen(ctx, missing.reason)),
  ))));
}

function dayWeather(ctx, day) {
  const { words, format } = ctx;
  return h('p', { class: 'quiet' }, words.text('day_weather', {
    min: format.temperature(day.temperature_min_c),
    max: format.temperature(day.temperature_max_c),
    et0: format.depth(day.et0_mm),
    rain: Number.isFinite(day.rain_mm) ? words.text('rain_of', { rain: format.depth(day.rain_mm) }) : words.text('rain_none'),
    kind: words.text(`kind_${day.weather_kind}`),
  }));
}

function allowedHours(ctx, day) {
  const { words, format } = ctx;
  return h('p', { class: 'quiet' }, day.windows.length
    ? words.text('hours_allowed', { ranges: day.windows.map((w) => format.range(w.start, w.end, day.date)).join(', ') })
    : words.text('hours_none'));
}

/* What all runs of a day share is said once, not on each; null when they differ or all are certain. */
function commonDoubt(runs) {
  const kinds = new Set(runs.map((run) => run.sure));
  const [only] = kinds;
  return kinds.size === 1 && only !== 'certain' ? only : null;
}

function dayView(ctx, day, title, lines) {
  const { words, index } = ctx;
  const runs = sortRuns(day.runs);
  const isTomorrow = day.date === ctx.plan.summary.tomorrow.date;
  const none = day.date === index.today ? 'runs_none_left' : 'runs_none';
  const sure = commonDoubt(runs);
  return {
    title,
    body: [
      heading(title),
      lines ? h('dl', { class: 'lines', 'aria-label': words.text('lines_label') }, lines.map((line) => h(
        'div',
        { class: line.tone },
        h('dt', {}, line.label),
        h('dd', {}, ...line.body),
      ))) : null,
      unplaced(ctx, day),
      h(
        'div',
        { class: 'columns' },
        h(
          'div',
          {},
          section('runs', words.text('heading_runs'), sure ? h('p', { class: 'quiet' }, words.text(`sure_${sure}_long`)) : null, runs.length
            ? h('ol', { class: 'runs' }, runs.map((run) => runEntry(ctx, run, day.date, { sureSaid: sure !== null })))
            : h('p', {}, words.text(none))),
        ),
        h('div', {}, dayChart(ctx, day), isTomorrow ? [byHand(ctx), notWatered(ctx)] : null),
      ),
      dayWeather(ctx, day),
      allowedHours(ctx, day),
    ],
  };
}

function viewOf(ctx, which, date) {
  const { words, format, index } = ctx;
  const day = index.day(date);
  if (!day) return viewMissing(ctx, words.text('no_such_day', { date: format.dateLong(date) }));
  return dayView(ctx, day, words.text(`heading_${which}`, { date: format.dateShort(date) }), fiveLines(ctx, which, day));
}

export function viewTomorrow(ctx) {
  return viewOf(ctx, 'tomorrow', ctx.plan.summary.tomorrow.date);
}

export function viewToday(ctx) {
  return viewOf(ctx, 'today', ctx.index.today);
}

export function viewDay(ctx, date) {
  if (date === ctx.index.today) return viewToday(ctx);
  if (date === ctx.plan.summary.tomorrow.date) return viewTomorrow(ctx);
  const day = ctx.index.day(date);
  if (!day) return viewMissing(ctx, ctx.words.text('no_such_day', { date: plainName(date) }));
  return dayView(ctx, day, ctx.format.dateLong(date), null);
}

export function viewWeek(ctx) {
  const { plan, words, format, index } = ctx;
  const most = Math.max(1, ...plan.days.map((day) => day.litres));
  const name = (date) => {
    if (date === index.today) return words.text('today');
    return date === addDays(index.today, 1) ? words.text('tomorrow') : null;
  };
  const days = plan.days.map((day) => h(
    'li',
    { class: 'day' },
    h('h2', {}, h('a', { href: `#/day/${day.date}` }, format.dateShort(day.date)), name(day.date) ? ` · ${name(day.date)}` : null),
    h('p', { class: 'facts' }, h('strong', {}, format.volume(day.litres)), ` · ${words.text('week_day', { n: day.runs.length })} · ${format.flow(day.peak_l_min)}`),
    h(
      'svg',
      { class: 'bar', viewBox: '0 0 100 6', preserveAspectRatio: 'none', 'aria-hidden': 'true' },
      rect('gauge-empty', 0, 0, 100, 6),
      rect('gauge-water', 0, 0, (100 * day.litres) / most, 6),
    ),
    h('p', { class: 'chips' }, weekZones(ctx, day).map((chip) => [chip, ' '])),
    dayWeather(ctx, day),
  ));
  const title = words.text('heading_week');
  return {
    title,
    body: [
      heading(title),
      h('ol', { class: 'days' }, days),
    ],
  };
}

function weekZones(ctx, day) {
  const minutes = new Map();
  for (const run of sortRuns(day.runs)) minutes.set(run.zone, (minutes.get(run.zone) ?? 0) + run.minutes);
  return [...minutes].map(([id, sum]) => {
    const zone = ctx.index.zone(id);
    return h('span', { class: 'chip' }, zone?.post ? postTag(ctx, zone) : zoneName(ctx, id), ` ${ctx.format.minutes(sum)}`);
  });
}

function supplyCard(ctx, supply) {
  const { words, format, plan, index } = ctx;
  const day = index.day(plan.summary.tomorrow.date);
  const runs = (day?.runs ?? []).filter((run) => index.zone(run.zone)?.supply === supply.id);
  const peak = Math.max(0, ...flowSteps(runs).map((step) => step.flow_l_min));
  return h(
    'li',
    {},
    h('p', { class: 'who' }, nameTree(supply.name, supply.id)),
    h('p', { class: 'facts' }, [
      format.flow(supply.flow_l_min),
      words.text('supply_valves', { n: supply.valves_at_once }),
      supply.daily_limit_l > 0 ? words.text('supply_limit', { volume: format.volume(supply.daily_limit_l) }) : null,
    ].filter(Boolean).join(' · ')),
    h('p', { class: 'facts' }, words.text('supply_of_tomorrow', {
      peak: format.flow(peak),
      volume: format.volume(runs.reduce((sum, run) => sum + run.litres, 0)),
    })),
  );
}

function zoneFacts(ctx, zone) {
  const { words, format } = ctx;
  const supply = ctx.index.supply(zone.supply);
  return h('p', { class: 'facts' }, ...words.parts('zone_facts', {
    method: words.text(`w_${zone.method}`),
    supply: nameTree(supply?.name, zone.supply),
    priority: format.number(zone.priority),
  }));
}

function stateLine(ctx, zone) {
  const { words, format } = ctx;
  const state = words.text(`state_${zone.state}`);
  return h(
    'p',
    {},
    tag(`state-${zone.state}`, words.text('state_tomorrow', { state })),
    ' ',
    zone.next_run_at ? words.text('next_run', { time: format.dayTime(zone.next_run_at) }) : words.text('next_run_none'),
  );
}

function blocksOf(ctx, zone) {
  const blocks = zone.blocks.map((id) => ctx.index.block(id)).filter(Boolean);
  return blocks.length
    ? h('ul', { class: 'blocks' }, blocks.map((block) => blockEntry(ctx, block)))
    : h('p', { class: 'quiet' }, ctx.words.text('blocks_none'));
}

function reasonsOf(ctx, zone) {
  return zone.reasons.map((reason) => h('p', { class: 'why' }, ...sayWhat(ctx, reason)));
}

/* Unlike blocks on one valve are a trait of the zone, so the list of zones shows it. */
function mixedWarning(ctx, zone) {
  return ctx.plan.notices
    .filter(({ code, params }) => code === 'mixed_zone' && params.zone === zone.id)
    .map((notice) => h('p', { class: 'notice watch' }, h('strong', {}, `${ctx.words.text('mixed_title')}: `), ...sayWhat(ctx, notice)));
}

const DRIES = ['strained', 'passes_stress', 'more_than_daily', 'starved'];

/* What each block gets of its valve's runs, beside the one that leads; null for one alone. */
function sharedValve(ctx, zone) {
  const { plan, words, format, index } = ctx;
  const blocks = zone.blocks.map((id) => index.block(id)).filter(Boolean);
  if (blocks.length < 2) return null;
  const notice = (block, ...codes) => plan.notices.find(({ code, params }) => codes.includes(code) && params.zone === zone.id && (!block || params.block === block.id));
  const wet = notice(null, 'led_by_wet');
  const first = [...zoneRuns(plan, zone.id).flatMap((run) => run.reasons), ...zone.reasons].find(({ params }) => params?.block);
  const lead = index.block((wet ?? first)?.params.block);
  const verdict = (block) => {
    const much = notice(block, 'too_much');
    const little = block.harm_chance_pct >= 50 || notice(block, ...DRIES);
    return spaced(
      much && words.text('mixed_much', { litres: format.volume(much.params.litres_wasted) }),
      little && words.text('mixed_little'),
      !much && !little && words.text('w_right'),
      block.move_to && h('span', {}, sayWhat(ctx, { code: 'move_block', params: { block: block.id, to: block.move_to } })),
    );
  };
  const often = (block) => (lead && block !== lead ? ` · ${words.text('mixed_often', { ratio: format.number(block.interval_d / lead.interval_d, 1) })}` : null);
  const drains = (block) => (block.given_ahead_l > 0 ? `${format.percent((100 * block.drained_ahead_l) / block.given_ahead_l)} · ${format.volume(block.drained_ahead_l * block.pots)}` : '–');
  return [
    lead && h('p', {}, wet ? sayWhat(ctx, wet) : words.parts('mixed_lead', { block: blockName(ctx, lead.id) })),
    stacked(words, ['f_block', 'x_interval', 'f_drained', 'mixed_verdict'], blocks.map((block) => [blockName(ctx, block.id), [format.days(block.interval_d), often(block)], drains(block), verdict(block)])),
  ];
}

export function viewZones(ctx) {
  const { plan, words } = ctx;
  const title = words.text('heading_zones');
  return {
    title,
    body: [
      heading(title),
      plan.blocks.length ? h('p', { class: 'quiet' }, words.text('gauge_key')) : null,
      h('ul', { class: 'zones' }, [...plan.zones].sort(byWalk).map((zone) => h(
        'li',
        { class: 'zone' },
        h('h2', { class: 'who' }, spaced(postTag(ctx, zone), zoneName(ctx, zone.id))),
        stateLine(ctx, zone),
        zoneFacts(ctx, zone),
        reasonsOf(ctx, zone),
        mixedWarning(ctx, zone),
        blocksOf(ctx, zone),
      ))),
      section('supplies', words.text('heading_supplies'), h('ul', { class: 'plain' }, plan.supplies.map((supply) => supplyCard(ctx, supply)))),
    ],
  };
}

/* What can be done about the thing at hand; ids need no escapes. */
function doLinks({ words }, links) {
  return h('ul', { class: 'chips' }, links.map(([href, key]) => h('li', {}, h('a', { href: `#/${href}` }, words.text(key)))));
}

export function viewZone(ctx, id) {
  const { words, plan, index } = ctx;
  const zone = index.zone(id);
  if (!zone) return viewMissing(ctx, words.text('no_such_zone', { id: nameText(id) }));
  const runs = zoneRuns(plan, id);
  const notices = plan.notices.filter((notice) => isAboutZone(ctx, notice, id));
  return {
    title: plainName(zone.name, zone.id),
    body: [
      h('h1', { tabindex: '-1', class: 'who' }, spaced(postTag(ctx, zone), nameTree(zone.name, zone.id))),
      stateLine(ctx, zone),
      zoneFacts(ctx, zone),
      reasonsOf(ctx, zone),
      notices.length ? h('ul', { class: 'plain' }, notices.map((notice) => noticeEntry(ctx, notice))) : null,
      doLinks(ctx, [[`do/orders/zone=${id}`, 'k_orders'], [`do/holds/zone=${id}`, 'k_holds'], [`do/runs/zone=${id}`, 'k_runs'], [`do/catch_cans/zone=${id}`, 'k_catch_cans']]),
      section('blocks', words.text('k_blocks'), blocksOf(ctx, zone), sharedValve(ctx, zone)),
      section('runs', words.text('zone_runs'), runs.length
        ? h('ol', { class: 'runs' }, runs.map((run) => runEntry(ctx, run, run.start.slice(0, 10), { withDay: true })))
        : h('p', {}, words.text('next_run_none'))),
    ],
  };
}

function potSection(ctx, block) {
  const { words, format, index } = ctx;
  const pot = index.pot(block.pot);
  const soaked = words.text('pot_soaked', { height: format.length(block.wet_layer_cm) });
  const air = words.text('pot_air_full', {
    air: format.percent(block.air_at_capacity_pct),
    sd: format.percent(block.air_at_capacity_sd_pct),
  });
  const say = {
    label: words.text('pot_label', { facts: `${soaked} ${air}` }),
    soaked: words.text('pot_mark_soaked'),
  };
  const drawing = pot?.fill_height_cm > 0
    ? h(
      'div',
      { class: 'pot-and-key' },
      h('div', { class: 'canvas', draw: (width, em) => drawPot(block, pot, format.us, say, width, em) }),
      potKey(ctx, potShares(block)),
    )
    : h('p', { class: 'quiet' }, words.text('pot_no_shape'));
  return section(
    'pot',
    words.text('heading_pot'),
    h('p', {}, ...words.parts('pot_line', {
      pot: nameTree(pot?.name, block.pot),
      mix: nameTree(index.mix(block.mix)?.name, block.mix),
      n: format.number(block.pots),
    }), block.batch ? [' (', ...words.parts('pot_batch', { batch: nameTree(block.batch) }), ')'] : null, '.'),
    drawing,
    h('p', {}, soaked),
    h('p', {}, words.text('pot_air_now', { now: format.percent(block.air_pct), lowest: format.percent(block.air_lowest_pct) }), ' ', air,
      block.air_lost_pct > 0 ? [' ', words.text('pot_air_lost', { lost: format.percent(block.air_lost_pct) })] : null),
    findingsOf(words, block),
  );
}

/* How the mix suits this pot: the verdict, then what comes with it. Codes unknown here are left out. */
function findingsOf(words, block) {
  const known = (block.findings ?? []).filter((code) => words.has(`finding_${code}`));
  return known.length ? h('p', { class: 'findings' }, known.map((code) => words.text(`finding_${code}`)).join(' ')) : null;
}

/* The key in the order of the column, from the top. */
function potKey(ctx, shares) {
  if (!shares) return null;
  const { words, format } = ctx;
  const entry = (kind, key, value) => h('div', {}, h('dt', {}, drawKey(kind), words.text(key)), h('dd', {}, format.percent(value)));
  return h(
    'dl',
    { class: 'pot-key', 'aria-label': words.text('pot_shares') },
    [...SHARE_KINDS].reverse().map((kind) => entry(kind, `pot_key_${kind}`, shares[kind])),
    entry('mark-full', 'pot_mark_full', shares.full),
    entry('mark-refill', 'pot_mark_refill', shares.refill),
  );
}

function blockExact(ctx, block) {
  const x = ctx.format.exact;
  return exact(ctx, 'block', plainName(block.name, block.id), [
    ['x_next', x.time(block.next_at)],
    ['x_interval', x.days(block.interval_d)],
    ['x_water', x.potLitres(block.water_l)],
    ['x_full', x.potLitres(block.full_l)],
    ['x_capacity', x.potLitres(block.capacity_l)],
    ['x_available', x.potLitres(block.available_l)],
    ['x_use_today', x.potLitres(block.use_today_l)],
    ['x_use_tomorrow', x.potLitres(block.use_tomorrow_l)],
    ['x_air_capacity', x.percent(block.air_at_capacity_pct)],
    ['x_wet_layer', x.length(block.wet_layer_cm)],
  ]);
}

export function viewBlock(ctx, id) {
  const { words, format, plan, index } = ctx;
  const block = index.block(id);
  if (!block) return viewMissing(ctx, words.text('no_such_block', { id: nameText(id) }));
  const zone = index.zone(block.zone);
  const isDue = block.next_at && block.next_at_s <= ctx.now_s;
  /* three days past and four ahead are legible on a phone */
  const course = ctx.desk.load(`blocks/${encodeURIComponent(id)}/hours?past_d=3&ahead_d=4`);
  const felt = course?.found?.findLast(({ place }) => place);
  const notices = plan.notices.filter(({ params }) => [params?.block, params?.thirsty, params?.tough].includes(id));
  const known = words.has(`known_${block.known_how}`) ? words.text(block.forgotten_at ? 'known_forgotten' : `known_${block.known_how}`, { time: format.dayTime(block.forgotten_at ?? block.known_since) }) : null;
  return {
    title: plainName(block.name, block.id),
    body: [
      heading(nameTree(block.name, block.id)),
      h('p', {}, spaced(words.text('block_in'), postTag(ctx, zone), zoneName(ctx, block.zone))),
      h('p', { class: 'large' }, ...blockSafe(ctx, block), isDue || !block.next_at ? null : '.'),
      gauge(ctx, block),
      h('p', {}, words.text(block.driest_pct > block.depletion_pct + 0.5 ? 'block_used' : 'block_used_even', {
        used: format.percent(block.depletion_pct),
        driest: format.percent(block.driest_pct),
        refill: format.percent(block.refill_pct),
      })),
      isDue ? null : h('p', {}, zoneNext(ctx, zone)),
      h('p', {}, words.text('block_use', { today: format.potWater(block.use_today_l), tomorrow: format.potWater(block.use_tomorrow_l) }), ' ', words.text('block_interval', { interval: format.days(block.interval_d) })),
      h('p', {}, block.known_how === 'assumed' ? h('strong', {}, known) : known, felt ? ` ${words.text('block_felt', { feel: words.text(`w_${felt.what}`).toLowerCase(), place: words.text(`w_${felt.place}`), time: format.dayTime(felt.at) })}` : null),
      notices.length ? h('ul', { class: 'plain' }, notices.map((notice) => noticeEntry(ctx, notice))) : null,
      doLinks(ctx, [[`change/${id}`, 'change_title'], [`working/${id}`, 'working_title'], [`do/weighings/block=${id}`, 'k_weighings'], [`do/orders/block=${id}`, 'k_orders'], [`do/pot_events/block=${id}`, 'k_pot_events']]),
      course !== undefined && !course?.hours ? null : section('course', words.text('course_title'), course ? courseBody(ctx, course) : h('p', {}, words.text('loading'))),
      potSection(ctx, block),
      blockExact(ctx, block),
    ],
  };
}

export function viewNotices(ctx) {
  const { plan, words } = ctx;
  const title = words.text('nav_notices');
  return {
    title,
    body: [
      heading(title),
      plan.notices.length
        ? h('ul', { class: 'plain' }, plan.notices.map((notice) => noticeEntry(ctx, notice)))
        : h('p', {}, words.text('notices_none')),
    ],
  };
}

export function viewMissing(ctx, text) {
  return { title: text, body: [heading(text), h('p', {}, h('a', { href: '#/tomorrow' }, ctx.words.text('tomorrow')))] };
}

export function viewMore(ctx) {
  const { words } = ctx;
  const title = words.text('nav_more');
  return {
    title,
    body: [
      heading(title),
      doLinks(ctx, [['sign-in', ctx.desk.me?.account ? 'sign_out' : 'sign_in'], ['records', 'records_title'], ['setup', 'setup_title'], ...(ctx.plan ? [['weather', 'heading_weather']] : [])]),
      settings(ctx),
      ctx.plan ? aboutSection(ctx) : null,
      cautions(ctx, ctx.plan?.cautions ?? [], false),
    ],
  };
}

const CHOICES = {
  language: [['en', 'English', 'en'], ['es', 'Español', 'es']],
  units: [['metric', 'units_metric'], ['us', 'units_us']],
  clock: [['24', 'clock_24'], ['12', 'clock_12']],
  theme: [['auto', 'theme_auto'], ['light', 'theme_light'], ['dark', 'theme_dark']],
};

/* choices: {language, units, clock, theme}; choose(name, value) keeps one. */
function settings(ctx) {
  const { words, choices, choose } = ctx;
  const fieldset = ([name, options]) => h(
    'fieldset',
    {},
    h('legend', {}, words.text(`setting_${name}`)),
    options.map(([value, label, lang]) => h(
      'label',
      { lang },
      h('input', { type: 'radio', name, value, checked: choices[name] === value, onchange: () => choose(name, value) }),
      ' ',
      lang ? label : words.text(label),
    )),
  );
  return section(
    'settings',
    words.text('heading_settings'),
    h('form', { class: 'settings' }, Object.entries(CHOICES).map(fieldset)),
    h('p', { class: 'quiet' }, words.text('settings_note')),
  );
}

function aboutSection(ctx) {
  const { plan, words, format } = ctx;
  return section(
    'about',
    words.text('heading_about'),
    h('p', {}, ...words.parts('about_place', { nursery: nameTree(plan.nursery.name), zone: nameTree(plan.nursery.time_zone) })),
    h('p', {}, words.text('about_made', { time: format.dayTime(plan.made_at), until: format.until(plan.good_until) })),
    h('p', {}, h('a', { href: 'plan.txt' }, words.text('text_sheet')), ' · ', h('a', { href: 'api/v1/plan' }, words.text('about_json'))),
  );
}

/** The standing cautions; folded where they stand under every view. */
export function cautions(ctx, codes, folded) {
  const { words } = ctx;
  const list = h('ul', {}, codes.map((code) => h('li', {}, words.text(`caution_${code}`))));
  if (!folded) return codes.length ? section('cautions', words.text('heading_cautions'), list) : null;
  return h(
    'div',
    { class: 'cautions' },
    h('p', {}, words.text('caution_short')),
    codes.length ? h('details', { 'data-key': 'cautions' }, h('summary', {}, words.text('heading_cautions')), list) : null,
  );
}

/* ---- The plan and its views. In a browser all begins here, elsewhere nothing does. */

const SCHEMA = 1;
const REFRESH_MS = 5 * 60 * 1000;
const RETRY_MS = 15 * 1000;
const AGE_MS = 30 * 1000;
/* the daemon's new plan follows a change in seconds */
const AFTER_SAVING_MS = 1000;
const PLAN_TRIES = 11;

const state = {
  plan: null,
  /* null, or {kind: 'first' | 'locked' | 'unreachable' | 'trouble', what, since_s} of the last request */
  problem: null,
  /* server clock minus browser clock: a phone with a wrong clock must not say a wrong age */
  skew_s: 0,
  choices: null,
  /* null until the catalogue is there: nothing is shown before */
  words: null,
};
/* The first view's file comes with the page, the others after it: a phone out in the field has them all. */
const files = {};
let timer = 0;
let asking = null;
let late = false;
let desk = null;
let ready = null;

async function fetchFirstWords() {
  while (!((await fetchViews('page')) && (await applyChoices()))) await new Promise((done) => setTimeout(done, RETRY_MS));
}

function localeFor(language) {
  return (navigator.languages ?? []).find((tag) => tag.split('-')[0] === language) ?? { en: 'en-GB', es: 'es' }[language];
}

async function choose(name, value) {
  state.choices[name] = value;
  keepChoices(state.choices);
  await applyChoices();
  say('news', '');
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
  const response = await fetch(`${API}plan`, { headers: { 'Accept-Language': state.choices.language }, cache: 'no-cache', signal });
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
  /* where no plants stand, the plan is how to begin */
  const empty = !closed && asked.part === 'plan' && asked.file === 'page' && isEmpty(ctx.plan);
  const { part, tab, file, view, id, rest } = closed ? readAddress('#/sign-in') : empty ? readAddress('#/setup') : asked;
  if (!files[file]) {
    fetchViews(file).then((there) => there && show());
    return { part, view: null };
  }
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

function navLink(href, text, current) {
  return h('a', { href, 'aria-current': current ? 'page' : null }, text);
}

function counted(n) {
  return n ? h('span', { class: 'count' }, String(n)) : null;
}

function showFrame(ctx, part, tab) {
  const { words, plan } = ctx;
  say('skip', words.text('skip'));
  say('nursery', plan ? plainName(plan.nursery.name) : 'perchd');
  const acts = plan?.notices.filter((n) => n.severity === 'act').length ?? 0;
  const nav = document.getElementById('nav');
  nav.setAttribute('aria-label', words.text('nav_label'));
  put('nav', [
    navLink('#/tomorrow', words.text('nav_plan'), part === 'plan'),
    navLink('#/zones', words.text('nav_zones'), part === 'zones'),
    navLink('#/do', [words.text('nav_do'), counted(desk.refused.length)], part === 'do'),
    navLink('#/notices', [words.text('nav_notices'), counted(acts)], part === 'notices'),
    navLink('#/more', words.text('nav_more'), part === 'more'),
  ]);
  const days = document.getElementById('days');
  days.hidden = part !== 'plan' || !plan || isEmpty(plan);
  days.setAttribute('aria-label', words.text('days_label'));
  put('days', ['today', 'tomorrow', 'week', 'sheet'].map((name) => navLink(`#/${name}`, words.text(name), tab === name)));
  say('again', words.text('try_again'));
  put('foot', [
    cautions(ctx, part === 'more' ? [] : plan?.cautions ?? [], true),
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
  const caret = node.tagName === 'TEXTAREA' || node.type === 'text' ? [node.selectionStart, node.selectionEnd] : null;
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
  if (node && path.caret !== null) node.setSelectionRange?.(...path.caret);
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
  state.choices = readChoices();
  showTheme(state.choices.theme);
  /* the one catalogue that is needed is on its way first */
  fetchWords(state.choices.language).catch(() => {});
  desk = makeDesk(show);
  ready = fetchFirstWords();
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

if (globalThis.document) start();
