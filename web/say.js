// SPDX-License-Identifier: GPL-3.0-or-later
// Codes with parameters become sentences. `ctx` is {plan, words, format, index}.

import { nameTree } from './words.js';

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
  if (name === 'supply') return nameTree(ctx.plan.supplies.find((one) => one.id === value)?.name, value);
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
