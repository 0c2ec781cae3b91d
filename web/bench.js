// SPDX-License-Identifier: GPL-3.0-or-later
// Beside the jar: the bench test step by step, its timers, what the jars say as they are typed; and
// what the tested mixes hold in every pot.

import { fitText } from './chart.js';
import { askToSignIn, choices, label, outcomeOf } from './form.js';
import { fieldsOf, idOf, readDraft, readNumber, toLocal } from './kinds.js';
import { exact, heading, section } from './parts.js';
import { drawKey } from './pot.js';
import { blockHref } from './say.js';
import { h } from './tree.js';
import { nameTree, plainName } from './words.js';

const HOUR_MIN = 60;
const NIGHT_MIN = 12 * 60;
const SPREAD_MOST_PCT = 3; // docs/model.md 1: what is doubted
const SCATTER_MOST = 2; // and what is refused
const MASSES_APART = 0.1;
/* Air in the pot, growing on (docs/model.md 1). */
const BANDS = [[10, 'too_wet'], [13, 'rather_wet'], [25, 'fit'], [30, 'rather_dry'], [Infinity, 'too_dry']];
const PLAIN = ['batch', 'vessel_volume_ml', 'vessel_height_cm', 'mass_saturated_g', 'mass_drained_g', 'mass_dry_g', 'vessel', 'settled_volume_ml', 'settled_height_cm'];

export function bandOf(air_pct) {
  return BANDS.find(([below]) => air_pct < below)[1];
}

/**
 * What drained jars say: {airs_pct[], mean_pct, sd_pct, spread_pct, faults[]}, faults being codes of words.
 * volume and drained in one unit; masses_g: [soaked, drained, dry], NaN where not weighed.
 */
export function readJars(volume, drained, masses_g = []) {
  const given = drained.filter(Number.isFinite);
  const airs_pct = volume > 0 ? given.map((d) => (100 * d) / volume) : [];
  const n = airs_pct.length;
  if (!n) return { airs_pct, mean_pct: null, sd_pct: null, spread_pct: null, porosity_pct: null, faults: [] };
  const mean_pct = airs_pct.reduce((sum, a) => sum + a, 0) / n;
  const sd_pct = n > 1 ? Math.sqrt(airs_pct.reduce((sum, a) => sum + (a - mean_pct) ** 2, 0) / (n - 1)) : null;
  const [least, most] = [Math.min(...airs_pct), Math.max(...airs_pct)];
  const [soaked, wet, dry] = masses_g;
  const porosity_pct = soaked > dry ? (100 * (soaked - dry)) / volume : wet > dry ? (100 * (wet - dry)) / volume + mean_pct : null;
  const mean = (mean_pct * volume) / 100;
  const faults = [
    most >= 100 && 'full', least <= 0 && 'nothing', least > 0 && most > SCATTER_MOST * least && 'scatter',
    n === 1 && 'one', most - least > SPREAD_MOST_PCT && most <= SCATTER_MOST * least && 'differ',
    (dry >= wet || wet > soaked || dry >= soaked) && 'order',
    soaked > wet && Math.abs(soaked - wet - mean) > MASSES_APART * mean && 'apart',
    porosity_pct > 99 && 'porous', mean_pct < BANDS[0][0] && 'rot',
  ].filter(Boolean);
  return { airs_pct, mean_pct, sd_pct, spread_pct: most - least, porosity_pct, faults };
}

/* A timer is the moment it ends, kept on the device: a locked phone or a reload loses nothing of it. */
function timer(ctx, draft, name, lengths) {
  const { words, format, desk } = ctx;
  const set = (value) => {
    draft[name] = value;
    desk.touch();
    ctx.renew();
  };
  const end = draft[name];
  if (!end) {
    return lengths.map((minutes) => h('button', { type: 'button', id: `f-${name}-${minutes}`, onclick: () => set(Math.floor(ctx.clock()) + minutes * 60) }, words.text('timer_start', { time: format.minutes(minutes) })));
  }
  const over = ctx.clock() >= end;
  const time = format.time(toLocal(end, ctx.plan.nursery.time_zone));
  return [
    over ? h('p', { class: 'large' }, words.text('timer_over', { time })) : h('p', { class: 'clock', role: 'timer', 'data-end': end, 'data-over': words.text('timer_over', { time }) }, '\u00a0'),
    over ? null : h('p', {}, words.text('timer_ends', { time })),
    h('button', { type: 'button', id: `f-${name}-off`, onclick: () => set(null) }, words.text('timer_again')),
  ];
}

function result(ctx, jars) {
  const { words, format } = ctx;
  const { airs_pct, mean_pct, sd_pct, porosity_pct, faults } = jars;
  if (mean_pct === null) return [h('p', { class: 'quiet' }, words.text('bench_waits'))];
  const one = (v) => format.exact.percent(v);
  return [
    h('p', { class: 'huge' }, words.text('bench_air', { air: one(mean_pct) })),
    h('p', {}, airs_pct.map((air, i) => words.text('bench_jar', { n: i + 1, air: one(air) })).join(' · ')),
    sd_pct === null ? null : h('p', {}, words.text('bench_sure', { sd: one(sd_pct), se: one(sd_pct / Math.sqrt(airs_pct.length)) })),
    porosity_pct === null ? null : h('p', {}, words.text('bench_pores', { pores: one(porosity_pct) })),
    faults.includes('full') || faults.includes('nothing') ? null : h('p', {}, words.text('bench_as_pot'), ' ', words.text(`finding_${bandOf(mean_pct)}`)),
    faults.map((fault) => h('p', { class: `notice ${['one', 'differ', 'apart'].includes(fault) ? 'watch' : 'act'}` }, words.text(`bench_${fault}`))),
  ];
}

export function viewBench(ctx) {
  const { words, desk, format, plan } = ctx;
  const title = words.text('bench_title');
  const draftId = `bench ${format.us ? 'us' : ''}`;
  const draft = desk.draft(draftId);
  draft.jars ??= ['', '', ''];
  const fields = new Map(fieldsOf('bench_tests', format.us).map((field) => [field.name, field]));
  const drained = fields.get('drained_ml');
  const number = (name) => readNumber(draft[name] ?? '');
  const jars = () => readJars(number('vessel_volume_ml'), draft.jars.map((text) => readNumber(text)), ['mass_saturated_g', 'mass_drained_g', 'mass_dry_g'].map(number));
  const typed = (set) => (event) => {
    set(event.target.value);
    desk.touch();
    ctx.renew();
  };
  const input = (id, text, value, set, textual) => h('p', {}, h('label', { for: id }, text), h('input', {
    id, type: 'text', inputmode: textual ? null : 'decimal', autocomplete: 'off', enterkeyhint: 'next', value, oninput: typed(set),
  }));
  const ask = (name) => {
    const field = fields.get(name);
    return input(`f-${name}`, [label(ctx, name), field.unit ? `, ${field.unit}` : '', field.needed ? null : h('span', { class: 'quiet' }, ` ${words.text('optional')}`)], draft[name] ?? '', (value) => { draft[name] = value; }, !field.factor);
  };
  const mark = (name) => h('span', { live: () => (draft[name] && ctx.clock() >= draft[name] ? ['✓'] : []) });

  const save = async (event) => {
    event.preventDefault();
    const { body, faults } = readDraft([...fields.values()].filter((f) => f === drained || f.name === 'mix' || PLAIN.includes(f.name)), { ...draft, drained_ml: draft.jars.filter((text) => text.trim()).join(' ') }, plan.nursery.time_zone);
    if (Object.keys(faults).length || !jars().airs_pct.length) {
      desk.settle('bench', { state: 'error', status: 'form' });
      ctx.redraw();
      document.getElementById(faults.mix ? 'f-mix' : `f-${Object.keys(faults)[0]}`)?.focus();
      return;
    }
    if (draft.drain && draft.measured < draft.drain) body.drain_min = Math.max(1, Math.round(HOUR_MIN - (draft.drain - draft.measured) / 60));
    body.tested = toLocal(ctx.clock(), plan.nursery.time_zone).slice(0, 10);
    const answer = await desk.send('bench', 'POST', 'bench_tests', body);
    if (answer && !answer.ok) return;
    desk.drop(draftId);
    Object.assign(desk.draft('benched'), { mix: body.mix, batch: body.batch ?? '', at_s: ctx.clock() });
    desk.touch();
    ctx.redraw();
    ctx.askAgain();
  };
  const step = (n, done, ...children) => h('li', { class: 'step' }, h('h2', {}, h('span', { class: 'nth' }, String(n)), ' ', words.text(`bench_${n}`), ' ', done), ...children);
  return {
    title,
    body: [
      heading(title),
      h('p', {}, words.text('bench_why')),
      h('form', { class: 'record beside', onsubmit: save, novalidate: true }, h(
        'ol',
        { class: 'plain bench' },
        step(1, null, h('p', {}, words.text('bench_1_how')),
          h('p', {}, h('label', { for: 'f-mix' }, words.text('f_mix')), h('select', { id: 'f-mix', onchange: typed((value) => { draft.mix = value; }) }, [['', '–'], ...choices(ctx, 'mixes')].map(([id, name]) => h('option', { value: id, selected: draft.mix === id }, name)))),
          h('p', {}, h('a', { href: '#/do/mixes' }, words.text('bench_new_mix'))),
          ask('batch')),
        step(2, null, h('p', {}, words.text('bench_2_how')), ask('vessel_volume_ml'), ask('vessel_height_cm')),
        step(3, mark('soak'), h('p', {}, words.text('bench_3_how')), h('div', { live: () => timer(ctx, draft, 'soak', [HOUR_MIN, NIGHT_MIN]) })),
        step(4, mark('drain'), h('p', {}, words.text('bench_4_how')), h('div', { live: () => timer(ctx, draft, 'drain', [HOUR_MIN]) })),
        step(5, null, h('p', {}, words.text('bench_5_how')), h('div', { class: 'jars' }, draft.jars.map((value, i) => input(`f-jar-${i}`, words.text('jar', { n: i + 1, unit: drained.unit }), value, (text) => {
          draft.jars[i] = text;
          draft.measured = ctx.clock();
        }))),
          h('button', { type: 'button', id: 'f-jar-more', onclick: () => { draft.jars.push(''); desk.touch(); ctx.redraw(); } }, words.text('jar_more'))),
        step(6, null, h('p', {}, words.text('bench_6_how')), h('details', { 'data-key': 'masses' }, h('summary', {}, words.text('bench_masses')), ['mass_saturated_g', 'mass_drained_g', 'mass_dry_g'].map(ask)),
          h('details', { 'data-key': 'rare' }, h('summary', {}, words.text('bench_rare')), ['vessel', 'settled_volume_ml', 'settled_height_cm'].map(ask))),
      ), h('section', { class: 'result', 'aria-labelledby': 'result' }, h('h2', { id: 'result' }, words.text('bench_result')), h('div', { live: () => result(ctx, jars()), role: 'status' }),
        outcomeOf(ctx, 'bench'),
        desk.outcome('bench')?.status === 409 ? h('p', {}, h('a', { href: '#/records/bench_tests' }, words.text('k_bench_tests'))) : null,
        askToSignIn(ctx),
        h('p', {}, h('button', { class: 'main', id: 'f-bench' }, words.text('save'))))),
      judged(ctx),
      h('p', {}, h('a', { href: '#/mixes', class: 'big' }, words.text('mixes_title'))),
    ],
  };
}

/* What the daemon makes of the test that was saved last, once a plan with it is there. */
function judged(ctx) {
  const { words, desk, plan } = ctx;
  const saved = desk.draft('benched');
  if (!saved.mix) return null;
  const mix = plan.mixes.find((m) => m.id === saved.mix && m.batch === saved.batch);
  if (!mix || plan.made_at_s < saved.at_s) return h('p', { class: 'notice', role: 'status' }, words.text('bench_judging'), ' ', h('progress', { 'aria-label': words.text('bench_judging') }));
  return section('judged', [words.text('bench_judged'), ' ', mixName(mix)], mixBody(ctx, mix));
}

function mixName(mix) {
  return [nameTree(mix.name, mix.id), mix.batch ? [' · ', nameTree(mix.batch)] : null];
}

function verdict(words, { code, value, height_cm }, format) {
  return words.has(`finding_${code}`) ? words.text(`finding_${code}`, { air: format.percent(value), height: format.length(height_cm) }) : code;
}

function potTable(ctx, mix) {
  const { words, format, index, plan } = ctx;
  const used = (pot) => plan.blocks.filter((block) => block.pot === pot && block.mix === mix.id && (block.batch ?? '') === mix.batch);
  const depth = (pot) => index.pot(pot.pot)?.fill_height_cm ?? 0;
  const cell = (key, text) => h('td', { 'data-label': words.text(key) }, text);
  return h(
    'table',
    { class: 'stack' },
    h('caption', {}, words.text('mix_pots')),
    h('thead', {}, h('tr', {}, ['f_pot', 'mix_air', 'mix_usable', 'mix_soaked'].map((key) => h('th', { scope: 'col' }, words.text(key))))),
    mix.pots.filter((pot) => Number.isFinite(pot.air_pct)).sort((a, b) => depth(a) - depth(b)).map((pot) => h(
      'tbody',
      {},
      h('tr', {}, h('th', { scope: 'row' }, nameTree(index.pot(pot.pot)?.name, pot.pot)), cell('mix_air', words.text('give_or_take', { value: format.percent(pot.air_pct), sd: format.number(pot.air_sd_pct, 1) })), cell('mix_usable', format.potWater(pot.available_l)), cell('mix_soaked', format.length(pot.wet_layer_cm))),
      h('tr', { class: 'says' }, h('td', { colspan: 4 }, pot.findings.map((finding) => verdict(words, finding, format)).join(' '), used(pot.pot).map((block, i) => [i ? ', ' : ` ${words.text('mix_used')} `, nameTree(block.name, block.id, blockHref(block.id))]))),
    )),
  );
}

/** Water content of a mix at a height over the holes, as a fraction; free drainage, so height is suction. */
export function waterAt(mix, height_cm) {
  return mix.theta_r + (mix.theta_s - mix.theta_r) * (1 + (mix.alpha_per_cm * height_cm) ** mix.n) ** (1 / mix.n - 1);
}

/** A drained column of the mix to the height of the tallest pot, its volume shared at each height. */
export function drawColumn(mix, pots, say, us, width, em) {
  const top_cm = Math.max(12, ...pots.map((pot) => pot.height_cm)) * 1.05;
  const [left, height] = [2.6 * em, 17 * em];
  const room = width - left;
  const x = (share) => Math.round((left + share * room) * 10) / 10;
  const y = (cm) => Math.round((1.2 * em + height * (1 - cm / top_cm)) * 10) / 10;
  const solid = 1 - mix.theta_s;
  const curve = Array.from({ length: 41 }, (_, i) => (i * top_cm) / 40).map((cm) => `${x(solid + waterAt(mix, cm))},${y(cm)}`);
  const unit_cm = us ? 2.54 : 1;
  const step = [1, 2, 5, 10, 20].find((s) => y(0) - y(s * unit_cm) >= 2 * em) ?? 50;
  const marks = Array.from({ length: Math.floor(top_cm / unit_cm / step) + 1 }, (_, i) => i * step);
  let last = Infinity;
  const named = [...pots].sort((a, b) => a.height_cm - b.height_cm).map((pot) => {
    const at = y(pot.height_cm);
    const free = last - at >= 1.15 * em;
    if (free) last = at;
    return [h('line', { class: 'mark-full', x1: left, x2: width, y1: at, y2: at }), free ? h('text', { class: 'pot-name', x: width - 0.3 * em, y: at - 0.25 * em, 'text-anchor': 'end' }, fitText(pot.name, room * 0.6, em)) : null];
  });
  return h(
    'svg',
    { class: 'pot', role: 'img', 'aria-label': say.label, width, height: Math.ceil(y(0) + 0.8 * em), viewBox: `0 0 ${width} ${Math.ceil(y(0) + 0.8 * em)}` },
    h('rect', { class: 'air', x: left, y: y(top_cm), width: room, height: y(0) - y(top_cm) }),
    h('polygon', { class: 'available', points: `${x(solid)},${y(0)} ${curve.join(' ')} ${x(solid)},${y(top_cm)}` }),
    h('rect', { class: 'tight', x: x(solid), y: y(top_cm), width: x(solid + mix.theta_r) - x(solid), height: y(0) - y(top_cm) }),
    h('rect', { class: 'solid', x: left, y: y(top_cm), width: x(solid) - left, height: y(0) - y(top_cm) }),
    marks.map((n) => h('text', { class: 'tick-text', x: left - 0.5 * em, y: y(n * unit_cm) + 0.35 * em, 'text-anchor': 'end' }, String(n))),
    h('text', { class: 'tick-text', x: left - 0.5 * em, y: 0.8 * em, 'text-anchor': 'end' }, us ? 'in' : 'cm'),
    named,
  );
}

function mixBody(ctx, mix) {
  const { words, format, index } = ctx;
  const pots = mix.pots.map(({ pot }) => ({ name: plainName(index.pot(pot)?.name, pot), height_cm: index.pot(pot)?.fill_height_cm })).filter((pot) => pot.height_cm > 0);
  const drawn = mix.path !== 'table' && [mix.theta_s, mix.theta_r, mix.alpha_per_cm, mix.n].every(Number.isFinite);
  return [
    h('p', {}, verdict(words, { ...mix.growing_on, code: `at_${mix.growing_on.code}` }, format)),
    h('p', { class: 'facts' }, words.text('mix_line', { air: format.exact.percent(mix.air_pct), se: format.exact.percent(mix.air_se_pct), height: format.length(mix.vessel_height_cm), n: mix.replicates, date: mix.tested ? format.dateFull(mix.tested) : words.text('unknown') })),
    mix.doubts.length ? h('ul', {}, mix.doubts.filter((code) => words.has(`doubt_${code}`)).map((code) => h('li', {}, words.text(`doubt_${code}`)))) : null,
    potTable(ctx, mix),
    drawn ? h('div', { class: 'pot-and-key' }, h('div', { class: 'canvas', draw: (width, em) => drawColumn(mix, pots, { label: words.text('column_label', { mix: plainName(mix.name, mix.id) }) }, format.us, width, em) }),
      h('dl', { class: 'pot-key' }, ['air', 'available', 'tight', 'solid'].map((kind) => h('div', {}, h('dt', {}, drawKey(kind), words.text(`column_${kind}`)))), h('div', {}, h('dt', {}, drawKey('mark-full'), words.text('column_pot'))))) : null,
    exact(ctx, `mix-${mix.id}-${mix.batch}`, plainName(mix.name, mix.id), [
      ['x_porosity', format.exact.percent(mix.total_porosity_pct)], ['x_air_vessel', format.exact.percent(mix.air_pct)], ['x_capacity_vessel', format.exact.percent(mix.capacity_pct)],
      ['x_theta', [mix.theta_s, mix.theta_r, mix.alpha_per_cm, mix.n].map((v) => format.number(v, 3)).join(' · ')],
    ]),
  ];
}

export function viewMixes(ctx) {
  const { words, format, plan } = ctx;
  const title = words.text('mixes_title');
  return {
    title,
    body: [
      heading(title),
      h('p', {}, h('a', { href: '#/bench', class: 'big' }, words.text('bench_title'))),
      plan.mixes.length ? h('ul', { class: 'plain' }, plan.mixes.map((mix) => h(
        'li',
        {},
        h('h2', { class: 'who' }, h('a', { href: `#/mix/${encodeURIComponent(mix.id)}` }, mixName(mix))),
        h('p', {}, verdict(words, { ...mix.growing_on, code: `at_${mix.growing_on.code}` }, format)),
        h('p', { class: 'facts' }, mix.tested ? words.text('mix_tested', { date: format.dateFull(mix.tested) }) : null),
      ))) : h('p', {}, words.text('mixes_none')),
      h('p', { class: 'quiet' }, words.text('mixes_when')),
    ],
  };
}

export function viewMix(ctx, id) {
  const { words, plan } = ctx;
  const mixes = plan.mixes.filter((mix) => mix.id === id);
  const title = plainName(mixes[0]?.name, id);
  return {
    title,
    body: [
      heading(nameTree(mixes[0]?.name, id)),
      h('p', {}, h('a', { href: '#/mixes' }, words.text('mixes_title')), ' · ', h('a', { href: '#/bench' }, words.text('bench_title')), ' · ', h('a', { href: '#/records/bench_tests' }, words.text('k_bench_tests'))),
      mixes.length ? mixes.map((mix, i) => section(`batch-${i}`, mix.batch ? words.text('mix_batch', { batch: plainName(mix.batch) }) : words.text('mix_no_batch'), mixBody(ctx, mix))) : h('p', {}, words.text('mixes_none')),
    ],
  };
}
