// SPDX-License-Identifier: GPL-3.0-or-later
// Pieces that several views share. `ctx` is {plan, index, words, format, now_s, weather_age_s}.

import { h, spaced } from './tree.js';
import { sayThen, sayWhat, blockHref, zoneName } from './say.js';
import { drawGauge } from './pot.js';
import { nameTree, plainName } from './words.js';

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
    h('dl', {}, rows.map(([label, value]) => h('div', {}, h('dt', {}, ctx.words.text(label)), h('dd', {}, value)))),
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
  const facts = [
    h('strong', { class: 'minutes' }, format.minutes(run.minutes)),
    run.pulses > 1
      ? words.text('run_parts', { n: run.pulses, part: format.minutes(run.pulse_minutes), pause: format.minutes(run.pause_minutes) })
      : null,
    format.volume(run.litres),
    Number.isFinite(run.depth_mm) && run.depth_mm > 0 ? words.text('run_depth', { depth: format.depth(run.depth_mm) }) : null,
    Number.isFinite(run.litres_pot) ? words.text('run_pot', { water: format.potWater(run.litres_pot) }) : null,
  ].filter((fact) => fact !== null);
  return h(
    'li',
    { class: run.underway ? 'run underway' : 'run' },
    h('p', { class: 'when' }, withDay ? [h('span', {}, format.dateShort(date)), ' '] : null, times),
    h(
      'div',
      { class: 'what' },
      h('p', { class: 'who' }, spaced(
        postTag(ctx, zone),
        zoneName(ctx, run.zone),
        run.underway && tag('now', words.text('underway')),
        run.by_hand && tag('hand', words.text('by_hand')),
        !sureSaid && sureTag(ctx, run),
      )),
      h('p', { class: 'facts' }, facts.map((fact, i) => [i ? ' · ' : null, fact])),
      run.reasons.map((reason) => h('p', { class: 'why' }, ...sayWhat(ctx, reason))),
      exact(ctx, `run-${run.id}`, plainName(zone?.name, run.zone), [
        ['x_start', format.exact.time(run.start)],
        ['x_end', format.exact.time(run.end)],
        ['x_minutes', format.exact.minutes(run.minutes)],
        ['x_litres', format.exact.litres(run.litres)],
        ['x_flow', format.exact.flow(run.flow_l_min)],
        ...(Number.isFinite(run.depth_mm) ? [['x_depth', format.exact.depth(run.depth_mm)]] : []),
        ['x_pot', format.exact.potLitres(run.litres_pot)],
        ['sure_label', words.text(`sure_${run.sure}_long`)],
        ['x_run', nameTree(run.id)],
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

/** When a block must have water, as a sentence of strong and plain words. */
export function blockSafe(ctx, block) {
  const { words, format, now_s } = ctx;
  if (!block.next_at) return [h('strong', {}, words.text('dry_none')), ' ', words.text('dry_none_watered')];
  if (block.next_at_s <= now_s) return [h('strong', {}, words.text('block_past'))];
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
