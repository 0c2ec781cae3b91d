// SPDX-License-Identifier: GPL-3.0-or-later
// Numbers and times as a grower says them, and exact ones where asked for. Times are read from
// the digits of the plan's RFC 3339 texts, so they are the nursery's, whatever the browser's zone.

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
