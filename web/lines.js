// SPDX-License-Identifier: GPL-3.0-or-later
// The five lines that come before anything else.

import { h } from './tree.js';
import { sayThen, sayWhat, blockName, zoneName } from './say.js';
import { peakFlow, sortRuns } from './plan.js';

const SHOWN_ACTS = 2;
const SHOWN_ZONES = 3;

function link(href, ...children) {
  return h('a', { href }, ...children);
}

function personLine(ctx) {
  const { plan, words } = ctx;
  const acts = plan.notices.filter((n) => n.severity === 'act');
  const watch = plan.notices.filter((n) => n.severity === 'watch').length;
  const all = plan.notices.length
    ? h('p', {}, link('#/notices', words.text('person_all', { n: plan.notices.length })))
    : null;
  if (acts.length === 0) {
    return [
      h('p', {}, words.text('person_none'), watch ? ` ${words.text('person_watch', { n: watch })}` : null),
      all,
    ];
  }
  const shown = acts.slice(0, SHOWN_ACTS).map((notice) => h(
    'p',
    {},
    h('strong', {}, ...sayWhat(ctx, notice)),
    ' ',
    ...sayThen(ctx, notice),
  ));
  return [...shown, all];
}

/** What one day brings, worked out from its runs (the plan itself sums up only tomorrow). */
export function sumDay(index, day) {
  const runs = sortRuns(day.runs);
  const last = runs.reduce((end, run) => (end && end.end_s >= run.end_s ? end : run), null);
  return {
    date: day.date,
    zones: new Set(runs.map((run) => run.zone)).size,
    from: runs[0]?.start ?? null,
    to: last?.end ?? null,
    litres: runs.reduce((sum, run) => sum + run.litres, 0),
    peak_l_min: peakFlow(index, runs),
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
    return [h('p', {}, h('strong', {}, ...words.parts('dry_now', { block })), ' ', next)];
  }
  const key = first.safe_until_if_hot ? 'dry_sentence' : 'dry_sentence_plain';
  return [h('p', {}, ...words.parts(key, {
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
    no_plants: ['not_plants', 'not_plants'],
    no_window: ['not_window', 'not_window'],
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
  const weather = words.text(`built_${rung}`, { age: format.span(weather_age_s) });
  const assumed = plan.blocks.filter((b) => b.known_how === 'assumed').length;
  const start = assumed
    ? words.text('built_assumed', { n: assumed, all: format.number(plan.blocks.length) })
    : words.text('built_known');
  return [
    h('p', {}, rung === 'forecast' ? weather : h('strong', {}, weather), ' ', start),
    error ? h('p', {}, ...words.parts('built_error', { text: h('bdi', {}, error) })) : null,
  ];
}

/** [{key, label, tone, body[]}] for a day; `which` is 'tomorrow' or 'today'. */
export function fiveLines(ctx, which, day) {
  const { plan, words, index } = ctx;
  const sum = which === 'tomorrow' ? plan.summary.tomorrow : sumDay(index, day);
  const acts = plan.notices.some((n) => n.severity === 'act');
  const old = plan.weather.rung !== 'forecast' || plan.weather.error;
  return [
    { key: 'person', tone: acts ? 'act' : null, body: personLine(ctx) },
    { key: which, tone: sum.fits === false ? 'watch' : null, body: dayLine(ctx, which, sum) },
    { key: 'dry', tone: null, body: dryLine(ctx) },
    which === 'tomorrow'
      ? { key: 'not', tone: null, body: notLine(ctx) }
      : { key: 'rest', tone: null, body: restLine(ctx, day) },
    { key: 'built', tone: old ? 'watch' : null, body: builtLine(ctx) },
  ].map((line) => ({ ...line, label: words.text(`line_${line.key}`) }));
}
