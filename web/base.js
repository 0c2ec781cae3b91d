// SPDX-License-Identifier: GPL-3.0-or-later
// What all the page stands on: trees, words, numbers and times, the list of views, what people wrote; at the
// end it fetches the plan, keeps the last one, picks the view from the address and puts it on the page.

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

/** What a reader without sight or styles gets of a tree; for tests and for labels. */
export function textOf(tree) {
  if (typeof tree !== 'object') return String(tree);
  return tree.children.map(textOf).join('');
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
    return dateText(date, far ? 'short' : 'weekday');
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

    /** Water for one pot: millilitres and litres, or fluid ounces and gallons. */
    potWater: (l) => known(l, () => {
      if (us) {
        const ounces = l / FLUID_OUNCE_L;
        if (ounces >= 128) return unit(upTo(l / GALLON_L, 1), 'gal');
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

    hours: (h) => known(h, () => unit(upTo(h, h < 10 ? 1 : 0), 'h')),
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

/* ---- Every view by the first part of its address: [part of the navigation, day tab, file, function]. The
 * tests' sweeps go through this list, so no view is left out of them. */

export const ROUTES = {
  tomorrow: ['plan', 'tomorrow', 'views', 'viewTomorrow'],
  today: ['plan', 'today', 'views', 'viewToday'],
  week: ['plan', 'week', 'views', 'viewWeek'],
  day: ['plan', 'week', 'views', 'viewDay'],
  zones: ['zones', null, 'views', 'viewZones'],
  zone: ['zones', null, 'views', 'viewZone'],
  block: ['zones', null, 'views', 'viewBlock'],
  notices: ['notices', null, 'views', 'viewNotices'],
  more: ['more', null, 'views', 'viewMore'],
  'sign-in': ['do', null, 'work', 'viewSignIn'],
  do: ['do', null, 'work', 'viewDo'],
  walk: ['do', null, 'work', 'viewWalk'],
  change: ['do', null, 'work', 'viewChange'],
  working: ['do', null, 'work', 'viewWorking'],
  records: ['do', null, 'work', 'viewRecords'],
  edit: ['do', null, 'work', 'viewEdit'],
  setup: ['do', null, 'work', 'viewSetup'],
  sheet: ['plan', 'sheet', 'work', 'viewSheet'],
  card: ['plan', 'sheet', 'work', 'viewCard'],
  checks: ['do', null, 'work', 'viewChecks'],
  bench: ['do', null, 'work', 'viewBench'],
  mixes: ['zones', null, 'work', 'viewMixes'],
  mix: ['zones', null, 'work', 'viewMix'],
};

/** Views that need no plan. */
export const PLANLESS = ['more', 'sign-in'];

/** {name, part, tab, file, view, id, rest} of an address such as '#/block/carex'; any other is tomorrow's. */
export function readAddress(hash) {
  const [named = '', raw = '', rest = ''] = hash.replace(/^#\/?/, '').split('/');
  const name = Object.hasOwn(ROUTES, named) ? named : 'tomorrow';
  const [part, tab, file, view] = ROUTES[name];
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

/** One request: {status, ok, data, etag}; rejects when nobody answers. */
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
  return { status: response.status, ok: response.ok, data, etag: response.headers.get('ETag'), lang: response.headers.get('Content-Language') };
}

export function makeDesk(redraw) {
  const kept = readKept();
  const loaded = new Map();
  /* what of it something was saved after: shown until it is there anew, so that the page keeps its height */
  const stale = new Set();
  /* what became of the last sending of a draft: {state: saving | saved | kept | error | conflict, ...} */
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

    forget: () => loaded.clear(),

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
    async send(id, method, path, body, etag) {
      outcomes.set(id, { state: 'saving' });
      redraw();
      try {
        const answer = await call(method, path, body, etag);
        if (answer.ok) {
          for (const key of loaded.keys()) stale.add(key);
          outcomes.set(id, { state: 'saved', data: answer.data, etag: answer.etag });
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
        const waits = method === 'POST' && path !== 'session' && !path.endsWith('preview');
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

async function fetchFirst() {
  while (!((await fetchViews('views')) && (await applyChoices()))) await new Promise((done) => setTimeout(done, RETRY_MS));
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
  const response = await fetch(`${API}plan`, { cache: 'no-cache', signal });
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
  const index = plan ? files.views.indexPlan(plan) : null;
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
  if (part === 'plan' && file === 'views' && files.views.isEmpty(ctx.plan)) return { part, view: () => files.views.viewEmpty(ctx) };
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
  days.hidden = part !== 'plan' || !plan || files.views.isEmpty(plan);
  days.setAttribute('aria-label', words.text('days_label'));
  put('days', ['today', 'tomorrow', 'week', 'sheet'].map((name) => link(`#/${name}`, words.text(name), tab === name)));
  say('again', words.text('try_again'));
  put('foot', [
    files.views.cautions(ctx, part === 'more' ? [] : plan?.cautions ?? [], true),
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
  state.choices = readChoices();
  showTheme(state.choices.theme);
  /* the one catalogue that is needed is on its way first */
  fetchWords(state.choices.language).catch(() => {});
  desk = makeDesk(show);
  ready = fetchFirst();
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
