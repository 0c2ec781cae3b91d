// SPDX-License-Identifier: GPL-3.0-or-later
// The day's chart: one row a zone with its pulses against the watering hours, below it the flow
// each supply gives. Lengths are in CSS pixels; 1 em is the reader's text size.

import { h } from './tree.js';
import { flowSteps, pulsesOf, runsBySupply, sortRuns } from './plan.js';
import { readOffset } from './format.js';
import { plainName } from './words.js';

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
