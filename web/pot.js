// SPDX-License-Identifier: GPL-3.0-or-later
// The pot in cross-section and its volume shared between mix, water and air, both to scale.

import { h } from './tree.js';
import { potShares } from './plan.js';

const INCH_CM = 2.54;

/** What a pot's volume is made of, from the bottom of the column up. */
export const SHARE_KINDS = ['solid', 'tight', 'available', 'air'];

function round(value) {
  return Math.round(value * 10) / 10;
}

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
  return h(
    'svg',
    { class: 'pot key', viewBox: '0 0 20 16', 'aria-hidden': 'true' },
    mark
      ? h('line', { class: kind, x1: 0, x2: 20, y1: 8, y2: 8 })
      : h('rect', { class: kind, x: 1, y: 1, width: 18, height: 14 }),
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
