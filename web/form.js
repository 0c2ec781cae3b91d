// SPDX-License-Identifier: GPL-3.0-or-later
// A form for any kind of record (kinds.js): what is typed is kept at once, faults stand at their
// field, another's edit of the same record is shown beside one's own.

import { h } from './tree.js';
import { complete, fieldsOf, isAsked, readDraft, toText } from './kinds.js';
import { nameTree, plainName } from './words.js';

const FROM_PLAN = ['zones', 'blocks', 'supplies', 'pots', 'mixes'];

export function word(ctx, value) {
  const key = `w_${String(value).replaceAll('-', '_')}`;
  return ctx.words.has(key) ? ctx.words.text(key) : plainName(value);
}

export function label(ctx, name) {
  const key = `f_${name.replace(/_(l_min|min|l_h|mm_h|mm|cm2|cm|m|l|ml|kg|g|pct|ds_m)$/, '')}`;
  return ctx.words.has(key) ? ctx.words.text(key) : name;
}

/** [[id, name]] of what a field may name; of the newest row where a record has several. */
export function choices(ctx, of) {
  const id = { zones: 'zone', blocks: 'block', supplies: 'supply', mixes: 'mix', pots: 'pot', covers: 'cover' }[of];
  const known = ctx.desk.load(of)?.items?.map((item) => [item[id], item.name])
    ?? (FROM_PLAN.includes(of) ? ctx.plan?.[of].map((item) => [item.id, item.name]) : []) ?? [];
  return [...new Map(known)].map(([value, name]) => [value, plainName(name, value)]);
}

function select(attributes, options, value) {
  return h('select', attributes, [['', '–'], ...options].map(([id, name]) => h('option', { value: id, selected: id === value }, name)));
}

function control(ctx, field, attributes, value) {
  if (field.type === 'one') return select(attributes, field.options.map((o) => [o, word(ctx, o)]), value);
  if (field.type === 'list') return select(attributes, choices(ctx, field.of), value);
  if (field.type === 'yes') return h('input', { ...attributes, type: 'checkbox', checked: value === 'yes' });
  if (field.type === 'grid') return h('textarea', { ...attributes, rows: 4, inputmode: 'decimal' }, value);
  const type = { time: 'datetime-local', date: 'date' }[field.type] ?? 'text';
  return h('input', { ...attributes, type, value, autocomplete: 'off', inputmode: field.type === 'number' ? 'decimal' : null });
}

/** What became of sending, as a paragraph; null before. */
export function outcomeOf(ctx, id) {
  const outcome = ctx.desk.outcome(id);
  if (!outcome) return null;
  const { state, status, problem } = outcome;
  const { words } = ctx;
  if (state !== 'error') return h('p', { class: state === 'conflict' ? 'notice act' : 'notice', role: 'status' }, words.text(`form_${state}`));
  const known = words.has(`error_${status}`) ? words.text(`error_${status}`) : words.text('error_other', { status: String(status) });
  const signIn = [401, 403].includes(status) ? h('a', { href: '#/sign-in' }, words.text('sign_in')) : null;
  return h('p', { class: 'notice act', role: 'alert' }, known, ' ', problem?.detail ? h('bdi', { lang: 'en' }, problem.detail) : null, ' ', signIn);
}

/** Who must sign in first, as a paragraph; null when the reader may write. */
export function askToSignIn(ctx) {
  const { desk, words } = ctx;
  if (desk.mayWrite()) return null;
  return h('p', { class: 'notice watch' }, words.text(desk.me?.role === 'viewer' ? 'viewer_only' : 'sign_in_first'), ' ', h('a', { href: '#/sign-in' }, words.text('sign_in')));
}

function conflictTable(ctx, fields, draft, theirs, zone) {
  const rows = fields.map((f) => [f, draft[f.name] ?? '', toText(f, theirs[f.name], zone)]).filter(([, mine, other]) => mine !== other);
  const { words } = ctx;
  return h(
    'table',
    {},
    h('thead', {}, h('tr', {}, h('td', {}), ['mine', 'theirs'].map((key) => h('th', { scope: 'col' }, words.text(key))))),
    h('tbody', {}, rows.map(([f, mine, other]) => h('tr', {}, h('th', { scope: 'row' }, label(ctx, f.name)), h('td', {}, mine || '–'), h('td', {}, other || '–')))),
  );
}

/**
 * The form of a kind as a tree. options: {id of the draft, initial {field: text}, only [fields shown], hidden {added to what
 * is sent}, record (changes it instead of adding one), save(body) instead of sending, extra(draft) below the fields,
 * button}.
 */
export function formOf(ctx, kind, options = {}) {
  const { words, desk, format } = ctx;
  const zone = ctx.plan.nursery.time_zone;
  const id = `${options.id ?? kind} ${format.us ? 'us' : ''}`;
  const fields = fieldsOf(kind, format.us).filter((f) => !options.only || options.only.includes(f.name));
  const draft = desk.draft(id);
  const { record } = options;
  /* what was not typed follows the clock and the record, so that an old draft brings no old hour */
  const values = { ...draft };
  for (const f of fields) values[f.name] ??= options.initial?.[f.name] ?? (record ? toText(f, record[f.name], zone) : '');
  const outcome = desk.outcome(id);
  const faults = { ...(outcome?.faults ?? {}) };
  const named = outcome?.problem?.field?.split('/').pop();
  if (named && !faults[named]) faults[named] = 'refused';
  const write = (name, value, asks) => {
    draft[name] = value;
    desk.touch();
    if (asks) ctx.redraw();
    else ctx.renew();
  };
  const asks = new Set(fields.some((f) => f.only) ? fields.filter((f) => f.type === 'one').map((f) => f.name) : []);

  async function submit(event) {
    event.preventDefault();
    for (const f of fields) draft[f.name] ??= values[f.name];
    desk.touch();
    const read = readDraft(fields, draft, zone);
    if (Object.keys(read.faults).length) {
      desk.settle(id, { state: 'error', status: 'form', faults: read.faults });
      ctx.redraw();
      document.querySelector('[aria-invalid="true"]')?.focus();
      return;
    }
    const typed = { ...options.hidden, ...read.body };
    const body = record ? typed : complete(kind, typed, desk.me, ctx.now_s);
    if (options.save) {
      options.save(body, id);
      return;
    }
    if (record) for (const f of fields) body[f.name] ??= null;
    const path = record ? record.self.replace(/^\/api\/v1\//, '') : kind;
    const answer = await desk.send(id, record ? 'PATCH' : 'POST', path, body, record ? draft.$etag ?? record.etag : undefined);
    if (answer && !answer.ok) return;
    desk.drop(id);
    options.saved?.(body, answer);
    ctx.redraw();
    ctx.askAgain();
  }

  if (record) draft.$etag ??= record.etag;
  const theirs = outcome?.state === 'conflict' && options.fresh ? options.fresh() : null;
  return h(
    'form',
    { class: 'record', onsubmit: submit, novalidate: true },
    fields.filter((f) => isAsked(f, values)).map((field) => {
      const fault = faults[field.name];
      const attributes = {
        id: `f-${field.name}`,
        required: field.needed,
        'aria-invalid': fault ? 'true' : null,
        'aria-describedby': fault ? `e-${field.name}` : null,
        oninput: (event) => write(field.name, field.type === 'yes' ? (event.target.checked ? 'yes' : '') : event.target.value, asks.has(field.name)),
      };
      return h(
        'p',
        { class: field.type === 'yes' ? 'tick' : null },
        h('label', { for: `f-${field.name}` }, label(ctx, field.name), field.unit ? `, ${field.unit}` : '', field.needed || field.type === 'yes' ? null : h('span', { class: 'quiet' }, ` ${words.text('optional')}`)),
        control(ctx, field, attributes, values[field.name]),
        fault ? h('span', { class: 'fault', id: `e-${field.name}` }, words.text(`fault_${fault}`)) : null,
      );
    }),
    options.extra ? h('div', { live: () => [options.extra({ ...values, ...draft }, draft)] }) : null,
    theirs ? [
      conflictTable(ctx, fields, values, theirs, zone),
      h('p', {}, h('button', { type: 'button', onclick: () => { draft.$etag = theirs.etag; desk.settle(id); desk.touch(); ctx.redraw(); } }, words.text('keep_mine')), ' ',
        h('button', { type: 'button', onclick: () => { desk.drop(id); desk.settle(id); ctx.redraw(); } }, words.text('take_theirs'))),
    ] : null,
    outcomeOf(ctx, id),
    askToSignIn(ctx),
    h('p', {}, h('button', { class: 'main', disabled: outcome?.state === 'saving' }, words.text(options.button ?? 'save'))),
  );
}

/** A record's figures as pairs, in the reader's units. */
export function pairsOf(ctx, kind, item) {
  const fields = new Map(fieldsOf(kind, ctx.format.us).map((f) => [f.name, f]));
  const rows = Object.entries(item).filter(([name, value]) => value !== null && value !== '' && !/^(self|etag|key)$|_s$/.test(name));
  const say = (name, value) => {
    const field = fields.get(name);
    if (typeof value === 'boolean') return value ? '✓' : '–';
    if (field?.factor) return `${toText(field, value)} ${field.unit ?? ''}`;
    if (field?.of) return nameTree(choices(ctx, field.of).find(([id]) => id === value)?.[1], value);
    if (typeof value === 'string' && /T\d\d:/.test(value)) return ctx.format.exact.time(value);
    return nameTree(word(ctx, Array.isArray(value) ? value.join(' ') : value));
  };
  return h('dl', { class: 'pairs' }, rows.map(([name, value]) => h('div', {}, h('dt', {}, label(ctx, name)), h('dd', {}, say(name, value)))));
}
