// SPDX-License-Identifier: GPL-3.0-or-later
// The views in which people write: sign-in, the day's work, walking the crop, a block's change, records.

import { h, spaced } from './tree.js';
import { DAYWORK, SETUP, fieldsOf, isKind, toLocal, toText } from './kinds.js';
import { askToSignIn, formOf, outcomeOf, pairsOf, word } from './form.js';
import { heading, postTag, section } from './parts.js';
import { blockHref, blockName } from './say.js';
import { nameTree, plainName } from './words.js';

const FEELS = ['dry', 'right', 'wet'];
const PLACES = ['both', 'centre', 'edge'];

function link(href, ...children) {
  return h('p', {}, h('a', { href, class: 'big' }, ...children));
}

function now(ctx) {
  return toLocal(ctx.now_s, ctx.plan.nursery.time_zone);
}

export function viewSignIn(ctx) {
  const { words, desk } = ctx;
  const title = words.text('sign_in');
  const draft = desk.draft('who');
  const submit = async (event) => {
    event.preventDefault();
    const form = event.target;
    const answer = await desk.send('session', 'POST', 'session', { account: form.elements.account.value, password: form.elements.password.value });
    if (!answer?.ok) return;
    await desk.whoAmI();
    desk.drop('who');
    desk.settle('session');
    await desk.flush();
    ctx.redraw();
    ctx.ask();
  };
  const signOut = async () => {
    await desk.send('session', 'DELETE', 'session');
    desk.settle('session');
    await desk.whoAmI();
    ctx.redraw();
  };
  const me = desk.me?.account;
  return {
    title,
    body: [
      heading(title),
      me ? [
        h('p', {}, ...words.parts('signed_in_as', { account: nameTree(me), role: words.text(`role_${desk.me.role}`) })),
        h('p', {}, words.text(`role_${desk.me.role}_may`)),
        h('button', { type: 'button', onclick: signOut }, words.text('sign_out')),
        link('#/do', words.text('nav_do')),
      ] : h(
        'form',
        { class: 'record', onsubmit: submit },
        h('p', {}, h('label', { for: 'f-account' }, words.text('f_account')), h('input', { id: 'f-account', name: 'account', autocomplete: 'username', required: true, autocapitalize: 'none', value: draft.account ?? '', oninput: (e) => { draft.account = e.target.value; } })),
        h('p', {}, h('label', { for: 'f-password' }, words.text('f_password')), h('input', { id: 'f-password', name: 'password', type: 'password', autocomplete: 'current-password', required: true })),
        outcomeOf(ctx, 'session'),
        h('p', {}, h('button', { class: 'main' }, title)),
        h('p', { class: 'quiet' }, words.text('sign_in_how')),
      ),
    ],
  };
}

export function viewDo(ctx) {
  const { words, desk } = ctx;
  const title = words.text('nav_do');
  return {
    title,
    body: [
      heading(title),
      askToSignIn(ctx),
      desk.waiting.length ? h('p', { class: 'notice watch' }, words.text('waiting_to_send', { n: desk.waiting.length })) : null,
      h('div', { class: 'tiles' }, [
        link('#/walk', words.text('walk_title')),
        link('#/bench', words.text('bench_title')),
        ...DAYWORK.map((kind) => link(`#/do/${kind}`, words.text(`k_${kind}`))),
      ]),
      section('more-work', words.text('work_more'), h('div', { class: 'tiles' }, [
        ['#/records', 'records_title'], ['#/setup', 'setup_title'], ['#/sign-in', 'sign_in'],
      ].map(([href, key]) => link(href, words.text(key))))),
    ],
  };
}

/* The litres a pot lacks by the plan, written down before anything is weighed. */
function sealed(ctx, values, draft) {
  const { words, format } = ctx;
  const block = ctx.index.block(values.block);
  if (!block) return null;
  if (draft.$block !== block.id) {
    Object.assign(draft, { $block: block.id, $lacks: block.capacity_l - block.water_l, $at: ctx.plan.made_at });
    ctx.desk.touch();
  }
  return h('p', { class: 'quiet' }, words.text('sealed', { time: format.dayTime(draft.$at) }));
}

function opened(ctx) {
  const { words, format, desk } = ctx;
  const found = desk.draft('score');
  if (!found.block) return null;
  return h('p', { class: 'notice', role: 'status' }, ...words.parts('sealed_score', {
    block: blockName(ctx, found.block), expected: format.potWater(found.expected), found: format.potWater(found.found),
  }));
}

function holdsNow(ctx) {
  const { words, desk, format } = ctx;
  const items = desk.load('holds')?.items?.filter((hold) => !hold.to_s || hold.to_s > ctx.now_s) ?? [];
  if (!items.length) return null;
  const lift = async (hold) => {
    await desk.send('lift', 'DELETE', hold.self.replace('/api/v1/', ''), undefined, hold.etag);
    ctx.askAgain();
  };
  return section('holds', words.text('holds_now'), h('ul', { class: 'plain' }, items.map((hold) => h(
    'li',
    {},
    h('p', { class: 'who' }, word(ctx, hold.kind), ': ', nameTree(hold.zone ?? hold.block ?? hold.supply ?? words.text('whole_nursery'))),
    h('p', { class: 'facts' }, `${format.dayTime(hold.from)} – ${hold.to ? format.until(hold.to) : '24 h'}`, hold.why ? [' · ', nameTree(hold.why)] : null),
    h('button', { type: 'button', onclick: () => lift(hold) }, words.text('lift')),
  ))), outcomeOf(ctx, 'lift'));
}

/** One of the day's records; `preset` is 'zone=bed-1' and the like from the address. */
export function viewForm(ctx, kind, preset) {
  const { words, desk } = ctx;
  if (!isKind(kind)) return viewDo(ctx);
  const title = words.text(`k_${kind}`);
  const initial = Object.fromEntries(fieldsOf(kind).filter((f) => f.needed && ['time', 'date'].includes(f.type)).map((f) => [f.name, f.type === 'time' ? now(ctx) : now(ctx).slice(0, 10)]));
  const [name, value] = (preset ?? '').split('=');
  if (value) initial[name] = value;
  const id = value ? `${kind} ${preset}` : kind;
  const options = { id, initial };
  if (kind === 'weighings') {
    options.extra = (values, own) => sealed(ctx, values, own);
    const draft = desk.draft(`${id} ${ctx.format.us ? 'us' : ''}`);
    options.saved = (body) => Object.assign(desk.draft('score'), { block: body.block, expected: draft.$lacks, found: body.capacity_kg - body.now_kg });
  }
  if (kind === 'catch_cans') options.extra = (values) => evenness(ctx, values.catches_ml);
  return {
    title,
    body: [
      heading(title),
      words.has(`k_${kind}_how`) ? h('p', {}, words.text(`k_${kind}_how`)) : null,
      formOf(ctx, kind, options),
      kind === 'weighings' ? opened(ctx) : null,
      kind === 'holds' ? holdsNow(ctx) : null,
      h('p', {}, h('a', { href: `#/records/${kind}` }, words.text('records_of'))),
    ],
  };
}

/** Low-quarter uniformity of catches, in percent; null under four. */
export function lowQuarter(catches) {
  const values = [...catches].sort((a, b) => a - b);
  const low = values.slice(0, Math.max(1, Math.round(values.length / 4)));
  const mean = (list) => list.reduce((sum, v) => sum + v, 0) / list.length;
  return values.length >= 4 && mean(values) > 0 ? (100 * mean(low)) / mean(values) : null;
}

function evenness(ctx, text) {
  const { words, format } = ctx;
  const catches = (text ?? '').trim().split(/[\s;]+/).map((v) => Number(v.replace(',', '.'))).filter((v) => v >= 0);
  const du = lowQuarter(catches);
  if (du === null) return null;
  return h('p', { role: 'status' }, words.text('cans_result', { n: catches.length, du: format.percent(du) }), ' ', words.text(du < 60 ? 'cans_poor' : 'cans_fair'));
}

/** Walking the crop: one tap a block. */
export function viewWalk(ctx) {
  const { words, desk, plan, format } = ctx;
  const title = words.text('walk_title');
  const state = desk.draft('walk');
  state.place ??= 'both';
  const tap = async (block, feel) => {
    const at = new Date(Math.floor(ctx.clock()) * 1000).toISOString().replace('.000', '');
    const before = state[block];
    state[block] = { feel, at };
    desk.touch();
    const answer = await desk.send(`walk ${block}`, 'POST', 'touch_checks', { block, at, place: state.place, feel, who: desk.me?.account ?? null });
    if (answer && !answer.ok) state[block] = before;
    desk.touch();
    ctx.redraw();
  };
  return {
    title,
    body: [
      heading(title),
      h('p', {}, words.text('walk_how')),
      askToSignIn(ctx),
      h('fieldset', { class: 'row' }, h('legend', {}, words.text('f_place')), PLACES.map((place) => h('label', {}, h('input', { type: 'radio', name: 'place', value: place, checked: state.place === place, onchange: () => { state.place = place; desk.touch(); } }), ' ', word(ctx, place)))),
      plan.zones.filter((zone) => zone.blocks.length).map((zone) => h('section', {}, h('h2', { class: 'who' }, spaced(postTag(ctx, zone), nameTree(zone.name, zone.id))), zone.blocks.map((id) => {
        const done = state[id];
        const name = plainName(ctx.index.block(id)?.name, id);
        return h(
          'div',
          { class: 'walk', role: 'group', 'aria-label': name },
          h('p', { class: 'who' }, h('a', { href: blockHref(id) }, h('bdi', {}, name))),
          h('p', { class: 'three' }, FEELS.map((feel) => h('button', { type: 'button', id: `t-${id}-${feel}`, class: feel, 'aria-pressed': String(done?.feel === feel), onclick: () => tap(id, feel) }, word(ctx, feel)))),
          done ? h('p', { class: 'quiet' }, words.text('walk_done', { time: format.time(toLocal(Date.parse(done.at) / 1000, plan.nursery.time_zone)) })) : null,
          outcomeOf(ctx, `walk ${id}`),
        );
      }))),
    ],
  };
}

/* The two plans of a preview, side by side. */
function beforeAfter(ctx, id, { before, after }) {
  const { words, format } = ctx;
  const one = (plan) => plan.blocks.find((block) => block.id === id) ?? {};
  const sum = (plan, get) => plan.days.reduce((total, day) => total + day.runs.reduce((s, run) => s + get(run), 0), 0);
  const rows = [
    ['x_water', (p) => format.potWater(one(p).water_l)],
    ['x_full', (p) => format.potWater(one(p).full_l)],
    ['x_air_capacity', (p) => format.percent(one(p).air_at_capacity_pct)],
    ['x_use_tomorrow', (p) => format.potWater(one(p).use_tomorrow_l)],
    ['x_interval', (p) => format.days(one(p).interval_d)],
    ['x_next', (p) => format.about(one(p).next_at)],
    ['x_week_minutes', (p) => format.minutes(sum(p, (run) => run.minutes))],
    ['x_week_litres', (p) => format.volume(sum(p, (run) => run.litres))],
  ];
  return h('table', { class: 'both' }, h('caption', {}, words.text('preview_caption')), h('thead', {}, h('tr', {}, h('td', {}), ['before', 'after'].map((key) => h('th', { scope: 'col' }, words.text(key))))),
    h('tbody', {}, rows.map(([key, get]) => [get(before), get(after), key]).map(([a, b, key]) => h('tr', { class: a === b ? null : 'differs' }, h('th', { scope: 'row' }, words.text(key)), h('td', {}, a), h('td', {}, b)))));
}

/** Changing a block: the newest row, a preview, then saving from a day on. */
export function viewChange(ctx, id) {
  const { words, desk } = ctx;
  const rows = desk.load(`blocks/${encodeURIComponent(id)}`)?.items;
  const row = rows?.at(-1);
  const name = plainName(ctx.index.block(id)?.name, id);
  const title = words.text('change_title');
  const draftId = `change ${id}`;
  const found = desk.outcome(`preview ${id}`)?.data;
  const preview = async (body) => {
    const changed = Object.fromEntries(Object.entries(body).filter(([key, value]) => key === 'from' || JSON.stringify(value) !== JSON.stringify(row[key] ?? undefined)));
    delete changed.block;
    await desk.send(`preview ${id}`, 'POST', `blocks/${encodeURIComponent(id)}/preview`, changed);
  };
  const save = async () => {
    const same = rows.find((r) => r.from === found.state.from);
    const answer = same
      ? await desk.send(`save ${id}`, 'PUT', same.self.replace('/api/v1/', ''), found.state, same.etag)
      : await desk.send(`save ${id}`, 'POST', 'blocks', found.state);
    if (!answer?.ok) return;
    for (const unit of ['', 'us']) desk.drop(`${draftId} ${unit}`);
    desk.settle(`preview ${id}`);
    ctx.redraw();
    ctx.askAgain();
  };
  const fields = fieldsOf('blocks', ctx.format.us);
  const initial = row ? Object.fromEntries(fields.map((f) => [f.name, toText(f, row[f.name], ctx.plan.nursery.time_zone)])) : {};
  Object.assign(initial, { from: now(ctx).slice(0, 10), potted: '', watered_in: '' });
  return {
    title,
    body: [
      heading(title),
      h('p', { class: 'large' }, h('a', { href: blockHref(id) }, h('bdi', {}, name))),
      h('p', {}, words.text('change_how')),
      row ? formOf(ctx, 'blocks', {
        id: draftId, initial, only: fields.map((f) => f.name).filter((n) => n !== 'block'), hidden: { block: id }, save: preview, button: 'preview',
      }) : h('p', {}, words.text(rows ? 'error_404' : 'loading')),
      outcomeOf(ctx, `preview ${id}`)?.attributes.class === 'notice' ? null : outcomeOf(ctx, `preview ${id}`),
      found ? [beforeAfter(ctx, id, found), h('p', {}, h('button', { type: 'button', class: 'main', id: 'f-save', onclick: save }, words.text('save_from', { date: ctx.format.dateShort(found.state.from) })))] : null,
      outcomeOf(ctx, `save ${id}`),
      section('history', words.text('history'), history(ctx, id, rows ?? [])),
    ],
  };
}

function history(ctx, id, rows) {
  const { words, desk } = ctx;
  const audit = desk.mayWrite() ? desk.load('audit')?.items?.filter((e) => JSON.stringify([e.what, e.after ?? e.before]).includes(`"${id}"`) || String(e.what).includes(`blocks/${id},`)) ?? [] : [];
  return [
    h('ul', { class: 'plain' }, [...rows].reverse().map((row) => h('li', {}, h('details', { 'data-key': `row-${row.from}` }, h('summary', {}, words.text('history_row', { date: row.from })), pairsOf(ctx, 'blocks', row))))),
    audit.length ? h('ul', { class: 'plain' }, audit.map((e) => h('li', {}, h('p', { class: 'who' }, ctx.format.dayTime(e.at), ' · ', nameTree(e.who)), h('p', { class: 'facts' }, word(ctx, e.action), ' ', nameTree(e.what))))) : h('p', { class: 'quiet' }, words.text('history_none')),
  ];
}

/** The chain from the bench test to the valve's minutes. */
export function viewWorking(ctx, id) {
  const { words, desk, format } = ctx;
  const title = words.text('working_title');
  const got = desk.load(`blocks/${encodeURIComponent(id)}/working`);
  const figure = (value) => {
    if (typeof value === 'number') return format.number(value, Number.isInteger(value) ? 0 : Math.max(0, 3 - Math.ceil(Math.log10(Math.abs(value) + 1e-9))) % 7);
    if (value === null) return '–';
    if (Array.isArray(value)) return value.map(figure).join(', ');
    if (typeof value === 'object') return inputs(value);
    return /T\d\d:/.test(value) ? format.exact.time(value) : plainName(value);
  };
  const inputs = (given) => Object.entries(given ?? {}).filter(([name]) => !name.endsWith('_s')).map(([name, value]) => `${name} ${figure(value)}`).join(' · ');
  return {
    title,
    body: [
      heading(title),
      h('p', { class: 'large' }, blockName(ctx, id)),
      got ? h('ol', { class: 'steps', lang: 'en' }, got.steps.map((step) => h(
        'li',
        {},
        h('p', { class: 'who' }, nameTree(step.quantity), ' = ', figure(step.value), ' ', step.unit ?? ''),
        h('p', { class: 'facts' }, step.formula),
        h('p', { class: 'quiet' }, inputs(step.inputs)),
        h('p', { class: 'quiet' }, step.source),
      ))) : h('p', {}, words.text(got === undefined ? 'loading' : 'error_404')),
    ],
  };
}

const LISTED = [...DAYWORK, 'touch_checks', ...SETUP];

/** All records of a kind, newest first, each to be changed or taken out. */
export function viewRecords(ctx, kind) {
  const { words, desk } = ctx;
  const title = isKind(kind) ? words.text(`k_${kind}`) : words.text('records_title');
  if (!isKind(kind)) {
    return { title, body: [heading(title), h('p', {}, words.text('records_how')), h('p', {}, h('a', { href: 'records.csv' }, words.text('records_csv'))), h('div', { class: 'tiles' }, LISTED.map((k) => link(`#/records/${k}`, words.text(`k_${k}`))))] };
  }
  const got = desk.load(kind);
  const when = (item) => item.at ?? item.start ?? item.on ?? item.from ?? item.tested ?? '';
  const items = [...(got?.items ?? [])].sort((a, b) => (when(a) < when(b) ? 1 : -1)).slice(0, 100);
  /* A record goes only by a second tap on the same one. */
  const remove = async (item) => {
    if (desk.outcome('sure')?.self !== item.self) {
      desk.settle('sure', { self: item.self });
      ctx.redraw();
      return;
    }
    desk.settle('sure');
    await desk.send(`remove ${kind}`, 'DELETE', item.self.replace('/api/v1/', ''), undefined, item.etag);
    ctx.askAgain();
  };
  return {
    title,
    body: [
      heading(title),
      h('p', {}, h('a', { href: '#/records' }, words.text('records_title')), ' · ', h('a', { href: `#/do/${kind}` }, words.text('add'))),
      outcomeOf(ctx, `remove ${kind}`),
      items.length ? h('ul', { class: 'plain' }, items.map((item) => h(
        'li',
        {},
        pairsOf(ctx, kind, item),
        desk.mayWrite() ? h('p', {}, isKind(kind) ? h('a', { href: `#/edit/${kind}/${encodeURIComponent(item.self.split('/').pop())}` }, words.text('change')) : null, ' ', h('button', { type: 'button', id: `r-${item.self}`, onclick: () => remove(item) }, words.text(desk.outcome('sure')?.self === item.self ? 'remove_sure' : 'remove'))) : null,
      ))) : h('p', {}, words.text(got === undefined ? 'loading' : 'records_none')),
    ],
  };
}

export function viewEdit(ctx, kind, key) {
  const { words, desk } = ctx;
  const title = words.text('change');
  const path = `${kind}/${key}`;
  const record = isKind(kind) ? desk.load(path) : null;
  const id = `edit ${path}`;
  return {
    title,
    body: [
      heading(title),
      h('p', {}, h('a', { href: `#/records/${kind}` }, words.has(`k_${kind}`) ? words.text(`k_${kind}`) : plainName(kind))),
      record ? formOf(ctx, kind, { id, record: { self: `/api/v1/${path}`, ...record }, fresh: () => desk.load(path) }) : h('p', {}, words.text(record === undefined ? 'loading' : 'error_404')),
    ],
  };
}

/** The first steps of a nursery, in their order, with what is there already. */
export function viewSetup(ctx) {
  const { words, desk } = ctx;
  const title = words.text('setup_title');
  return {
    title,
    body: [
      heading(title),
      h('p', {}, words.text('empty_intro')),
      askToSignIn(ctx),
      h('ol', { class: 'steps' }, SETUP.map((kind) => {
        const n = desk.load(kind)?.items?.length;
        return h('li', {}, link(`#/do/${kind}`, words.text(`k_${kind}`)), h('p', { class: 'quiet' }, n ? words.text('setup_has', { n }) : words.text('setup_none')));
      })),
      h('p', { class: 'quiet' }, words.text('empty_4')),
    ],
  };
}
