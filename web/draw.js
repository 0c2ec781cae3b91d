// SPDX-License-Identifier: GPL-3.0-or-later
// The drawings: the day, the pot, a block's water over days.

import { readOffset } from './format.js';
import { flowSteps, potShares, pulsesOf, runsBySupply, sortRuns } from './plan.js';
import { h } from './tree.js';
import { plainName } from './words.js';

/* ---- The day's chart: one row a zone with its pulses against the watering hours, below it the flow each
 * supply gives. Lengths are in CSS pixels; 1 em is the reader's text size. */

const HOUR_S = 3600;
const NARROW_EM = 0.55; // width of an average letter

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
    const piece = pieces.find((p) => t <= p.end_s) ?? pieces.at(-1);
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

function round(value) {
  return Math.round(value * 10) / 10;
}

function rect(kind, x, y, width, height) {
  return h('rect', { class: kind, x: round(x), y: round(y), width: round(Math.max(1, width)), height: round(height) });
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
    marks.map((mark) => h('line', { class: 'mark', x1: round(mark.at), x2: round(mark.at), y1: 0, y2: round(bottom) })),
    texts.sort((one, two) => one.x - two.x).map((text) => h(
      'text',
      { class: 'time', x: round(text.x), y: round(bottom + 1.1 * em), 'text-anchor': 'middle' },
      clock(text.t + offset_s),
    )),
  ];
}

function zoneRow(row, x, y, width, em) {
  const label = fitText(row.label, width, em);
  return [
    h('text', { class: 'row', x: 0, y: round(y + 0.95 * em) }, label),
    ...row.runs.filter((run) => run.pulses > 1).map((run) => rect('whole', x(run.start_s), y + 1.65 * em, x(run.end_s) - x(run.start_s), 0.35 * em)),
    ...row.runs.flatMap((run) => pulsesOf(run).map((p) => rect(
      `pulse sure-${run.sure}${run.by_hand ? ' hand' : ''}`,
      x(p.start_s),
      y + 1.25 * em,
      x(p.end_s) - x(p.start_s),
      1.15 * em,
    ))),
  ];
}

function level(kind, piece, y) {
  return h('line', { class: kind, x1: round(piece.from), x2: round(piece.to), y1: y, y2: y });
}

function flowPanel(group, scale, y, width, em, say) {
  const { x, pieces } = scale;
  const steps = flowSteps(group.runs);
  const limit = group.supply?.flow_l_min ?? 0;
  const peak = Math.max(0, ...steps.map((s) => s.flow_l_min));
  const top = y + 1.6 * em;
  const height = 3.6 * em;
  const perLitre = height / (Math.max(limit, peak) * 1.08 || 1);
  const base = top + height;
  const limitY = round(base - limit * perLitre);
  return [
    h('text', { class: 'row', x: 0, y: round(y + 0.95 * em) }, fitText(say(group.supply, peak), width, em)),
    ...steps.filter((s) => s.flow_l_min > 0).map((s) => rect(
      'flow',
      x(s.start_s),
      base - s.flow_l_min * perLitre,
      x(s.end_s) - x(s.start_s),
      s.flow_l_min * perLitre,
    )),
    pieces.map((piece) => [
      limit > 0 ? level('limit', piece, limitY) : null,
      level('base', piece, round(base)),
    ]),
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
  return h(
    'svg',
    { class: 'chart', role: 'img', 'aria-label': say.label, width, height, viewBox: `0 0 ${width} ${height}` },
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
    h('rect', { class: 'stripe-ground', width: 6, height: 6 }),
    h('rect', { class: 'stripe', width: 3, height: 6 }),
  ));
}

/* ---- The pot in cross-section and its volume shared between mix, water and air, both to scale. */

const INCH_CM = 2.54;

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

function ruler(height_cm, us, y, em) {
  const unit_cm = us ? INCH_CM : 1;
  const step = [1, 2, 5, 10, 20].find((s) => y(0) - y(s * unit_cm) >= 1.5 * em) ?? 50;
  const ticks = [];
  for (let n = 0; n * unit_cm <= height_cm + 1e-9; n += step) {
    const at = round(y(n * unit_cm));
    ticks.push(h('line', { class: 'tick', x1: round(2.1 * em), x2: round(2.6 * em), y1: at, y2: at }));
    ticks.push(h('text', { class: 'tick-text', x: round(1.8 * em), y: round(at + 0.35 * em), 'text-anchor': 'end' }, String(n)));
  }
  ticks.push(h('text', { class: 'tick-text', x: round(2.6 * em), y: round(y(height_cm) - 0.7 * em), 'text-anchor': 'end' }, us ? 'in' : 'cm'));
  return ticks;
}

function crossSection(block, pot, us, box, em, say) {
  const rim_cm = Math.max(pot.height_cm ?? 0, pot.fill_height_cm);
  const widest = Math.max(widthAt(pot, rim_cm), pot.bottom_cm);
  const scale = Math.min(box.width / widest, box.height / rim_cm);
  const middle = box.x + box.width / 2;
  const y = (cm) => box.y + box.height - cm * scale;
  const soaked_cm = Math.min(Math.max(0, block.wet_layer_cm ?? 0), pot.fill_height_cm);
  const half = (cm) => (widthAt(pot, cm) * scale) / 2;
  const wall = (side) => h('line', {
    class: 'wall',
    x1: round(middle + side * half(0)),
    y1: round(y(0)),
    x2: round(middle + side * half(rim_cm)),
    y2: round(y(rim_cm)),
  });
  const base = (from, to) => h('line', {
    class: 'wall',
    x1: round(middle + from * half(0)),
    x2: round(middle + to * half(0)),
    y1: round(y(0)),
    y2: round(y(0)),
  });
  return [
    slice(pot, 'mix', soaked_cm, pot.fill_height_cm, middle, y, scale),
    soaked_cm > 0 ? slice(pot, 'soaked', 0, soaked_cm, middle, y, scale) : null,
    wall(-1),
    wall(1),
    base(-1, -0.62),
    base(-0.45, 0.45),
    base(0.62, 1),
    soaked_cm * scale >= 1.1 * em
      ? h('text', { class: 'on-water', x: round(middle), y: round(y(soaked_cm / 2) + 0.35 * em), 'text-anchor': 'middle' }, say.soaked)
      : null,
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
    shareBands(shares).map((band) => h('rect', {
      class: band.kind,
      x: round(box.x),
      y: round(y(band.to)),
      width: round(box.width),
      height: round(y(band.from) - y(band.to)),
    })),
    ['refill', 'full'].map((mark) => h('line', {
      class: `mark-${mark}`,
      x1: round(box.x - box.overhang),
      x2: round(box.x + box.width + box.overhang),
      y1: round(y(shares[mark])),
      y2: round(y(shares[mark])),
    })),
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
  return h(
    'svg',
    { class: 'pot', role: 'img', 'aria-label': say.label, width, height, viewBox: `0 0 ${width} ${height}` },
    crossSection(block, pot, us, box, em, say),
    shares ? shareColumn(shares, column) : null,
  );
}

/** The patch of colour or line that stands before a word of the key. */
export function drawKey(kind) {
  const mark = kind.startsWith('mark-');
  const dot = kind === 'found';
  return h(
    'svg',
    { class: 'pot key', viewBox: '0 0 20 16', 'aria-hidden': 'true' },
    mark
      ? h('line', { class: kind, x1: 0, x2: 20, y1: 8, y2: 8 })
      : dot ? h('circle', { class: kind, cx: 10, cy: 8, r: 5 }) : h('rect', { class: kind, x: 1, y: 1, width: 18, height: 14 }),
  );
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
    h('rect', { class: 'gauge-empty', x: 0, y: 0, width: 100, height: 8 }),
    h('rect', { class: 'gauge-wetter', x: 0, y: 0, width: round(100 - gone), height: 8 }),
    h('rect', { class: driest >= refill ? 'gauge-low' : 'gauge-water', x: 0, y: 0, width: round(100 - driest), height: 8 }),
    h('line', { class: 'gauge-refill', x1: round(100 - refill), x2: round(100 - refill), y1: 0, y2: 8 }),
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
  const line = (kind, levels, from = 0) => h('polyline', { class: kind, points: levels.map((l, i) => (Number.isFinite(l) ? `${x(from + i)},${y(l)}` : '')).filter(Boolean).join(' ') });
  const now = course.now;
  const band = (course.from_l ?? []).length
    ? h('polygon', { class: 'spread', points: [...course.to_l.map((l, i) => `${x(now + i)},${y(l)}`), ...[...course.from_l].map((l, i) => `${x(now + i)},${y(l)}`).reverse()].join(' ') }) : null;
  const steps = (kind, name) => limitSteps(course, name).map(([from, to, l]) => h('line', { class: kind, x1: x(from), x2: x(to), y1: y(l), y2: y(l) }));
  const offset_s = readOffset(course.start);
  const first = (DAY_S - ((course.start_s + offset_s) % DAY_S)) % DAY_S;
  const days = [];
  for (let t = first; t < course.hours * course.step_s; t += DAY_S) days.push(t / course.step_s);
  const perDay = (width * DAY_S) / course.step_s / course.hours;
  const each = Math.max(1, Math.ceil((3.2 * em) / perDay));
  const tallest = Math.max(1e-9, ...course.in_l, ...course.rain_l);
  const bar = (kind, values, fromTop) => values.map((l, i) => (l > 0 ? h('rect', {
    class: kind, x: x(i), width: Math.max(2, x(i + 1) - x(i)), y: round(fromTop ? below : below + barHigh * (1 - l / tallest)), height: Math.max(1, round((barHigh * l) / tallest)),
  }) : null));
  return h(
    'svg',
    { class: 'pot course', role: 'img', 'aria-label': say.label, width, height, viewBox: `0 0 ${width} ${height}` },
    h('rect', { class: 'past', x: 0, y: top, width: x(now), height: base - top }),
    days.map((hour, i) => [
      h('line', { class: 'tick', x1: x(hour), x2: x(hour), y1: top, y2: height }),
      i % each === 0 && width - x(hour) > 2 * em ? h('text', { class: 'tick-text', x: x(hour) + 3, y: round(top - 0.4 * em) }, say.day(new Date((course.start_s + hour * course.step_s + offset_s) * 1000).toISOString().slice(0, 10))) : null,
    ]),
    band,
    steps('mark-full', 'full_l'),
    steps('mark-refill', 'refill_l'),
    steps('mark-stress', 'stress_l'),
    course.water_if_ran_l ? line('mark-ran', course.water_if_ran_l) : null,
    line('mark-dry', course.driest_l),
    line('mark-course', course.water_l),
    course.found.map((found) => {
      const hour = (found.at_s - course.start_s) / course.step_s;
      return hour >= 0 && hour <= course.hours ? h('circle', { class: 'found', cx: x(hour), cy: y(course.water_l[Math.min(course.hours, Math.ceil(hour))]), r: 5 }) : null;
    }),
    h('line', { class: 'wall', x1: x(now), x2: x(now), y1: top, y2: height }),
    h('line', { class: 'tick', x1: 0, x2: width, y1: below + barHigh, y2: below + barHigh }),
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
    h('details', { class: 'exact', 'data-key': 'course' }, h('summary', {}, words.text('course_table')), h(
      'table',
      { class: 'stack' },
      h('thead', {}, h('tr', {}, ['f_on', 'course_used', 'course_given', 'course_rain', 'course_drained'].map((name) => h('th', { scope: 'col' }, words.text(name))))),
      course.days.map((day) => h('tbody', {}, h('tr', {}, h('th', { scope: 'row' }, format.dateShort(day.date)), [['course_used', format.potWater(day.use_l)], ['course_given', format.potWater(day.in_l)], ['course_rain', format.depth(day.rain_mm)], ['course_drained', format.potWater(day.drained_l)]].map(([name, text]) => h('td', { 'data-label': words.text(name) }, text))))),
    )),
  ];
}
