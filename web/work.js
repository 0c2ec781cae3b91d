// SPDX-License-Identifier: GPL-3.0-or-later
// The work: what forms ask and how they are drawn, the views in which people write, the bench, what goes on paper.

import {
  addDays, blockHref, blockName, byWalk, drawKey, fitText, h, heading, isEmpty, lettering, nameTree, noticeEntry, pairs, picture, plainName, postTag, rect, round, ruler, sayThen, sayWhat, section, spaced, stacked, zoneName, zoneRuns,
} from './page.js';

/* ---- The records a person can write, as forms: '!' is needed, after ':' stands what it takes (a unit, a kind
 * of record, 'a|b' one of these), after '=' a value that decides whether the field is asked. */

const LEAVES = 'leafless|leaf-out|in-leaf|winter';

const SPECS = {
  gauge: '!from:time !to:time !rain_mm:mm',
  runs: '!zone:zones !start:time !end:time litres:l purpose:irrigation|feed|wash-in|cooling|frost|flush|test',
  orders: 'zone:zones block:blocks minutes:x litres:l why:text',
  holds: '!kind:skip|spraying|re-entry|picking|dispatch|valve-out|pump-out|ban|hand-only !shut:one-zone|one-block|one-supply|whole-nursery !zone:zones=one-zone !block:blocks=one-block !supply:supplies=one-supply !from:time to:time !allowed_pct:%=ban why:text',
  requirements: '!zone:zones !from:time !to:time !minutes:x !purpose:wash-in|feed|flush|test why:text',
  raises: 'zone:zones supply:supplies !on:date most_min_day:x most_l_day:l why:text',
  weighings: '!block:blocks !at:time !capacity_kg:kg !now_kg:kg',
  touch_checks: '!block:blocks !at:time !place:both|centre|edge !feel:dry|right|wet',
  pot_events: `!block:blocks !on:date !event:pruned|spaced|counted|sold|moved|split|merged|ended|${LEAVES} !pots:n=counted|sold|split|merged canopy_cm:cm=pruned plant_height_m:m=pruned zone:zones=moved cover:covers=moved spacing_cm:cm=spaced|moved row_cm:cm=spaced|moved !into:blocks=split|merged`,
  drain_catches: '!block:blocks !at:time !given_ml:ml !drained_ml:ml',
  pour_throughs: '!block:blocks !at:time !method:pour-through|saturated|extract-2 !ec_ds_m:dS/m ph:pH',
  catch_cans: '!zone:zones !on:date !catches_ml:grid can_cm2:cm² minutes:x',
  supplies: 'supply:id !name:text !flow_l_min:l/min !valves_at_once:n daily_limit_l:l water_ec_ds_m:dS/m',
  zones: 'zone:id !name:text post:text walk_order:n !supply:supplies !method:overhead|drip|spray|subirrigation|hand !flow_l_min:l/min rate_mm_h:mm/h=overhead emitters_per_pot:x=drip|spray emitter_l_h:l/h=drip|spray leaching_pct:% priority:n most_min_day:x most_l_day:l',
  windows: 'zone:zones !from:text !to:text days:days',
  mixes: 'mix:id !name:text !class:peat|peat-perlite|coir|wood-fibre|bark-peat-sand|bark-aged|bark-fresh|generic',
  bench_tests: '!mix:mixes batch:id !tested:date !vessel_height_cm:cm !vessel_volume_ml:ml !drained_ml:grid drain_min:min mass_saturated_g:g mass_drained_g:g mass_dry_g:g vessel:id settled_volume_ml:ml settled_height_cm:cm total_porosity_pct:%',
  pots: 'pot:id !name:text !form:round|square !top_cm:cm !bottom_cm:cm height_cm:cm !fill_height_cm:cm volume_l:l',
  covers: 'cover:id !name:text !transmissivity:share wind_factor:share warmer_c:K !rain:yes|no',
  blocks: 'block:id !name:text !zone:zones !from:date !pots:n !pot:pots !mix:mixes batch:id cover:covers !spacing_cm:cm row_cm:cm !canopy_cm:cm !plant_height_m:m stage:plug|growing|established potted:yes watered_in:yes',
};

export const DAYWORK = ['gauge', 'runs', 'orders', 'holds', 'weighings', 'pot_events', 'requirements', 'raises', 'drain_catches', 'pour_throughs', 'catch_cans'];
export const SETUP = ['supplies', 'zones', 'windows', 'mixes', 'pots', 'bench_tests', 'covers', 'blocks'];

/** What takes a number, and how many metric units one US customary unit is. */
const US = { mm: ['in', 25.4], 'mm/h': ['in/h', 25.4], cm: ['in', 2.54], m: ['ft', 0.3048], l: ['gal', 3.785411784], 'l/min': ['gal/min', 3.785411784], 'l/h': ['gal/h', 3.785411784], ml: ['fl oz', 29.5735295625], kg: ['lb', 0.45359237], 'cm²': ['in²', 6.4516], K: ['°F', 5 / 9] };
const NUMBERS = new Set([...Object.keys(US), 'min', '%', 'g', 'n', 'x', 'pH', 'dS/m', 'share']);
const LISTS = new Set(['zones', 'blocks', 'supplies', 'mixes', 'pots', 'covers']);

/** [{name, needed, type, options, unit, factor, of, only}] of a kind, in the reader's units and with his decimal mark. */
export function fieldsOf(kind, { us, mark: point = '.' } = {}) {
  return SPECS[kind].split(' ').map((spec) => {
    const [, mark, name, takes, only] = /^(!?)(\w+):([^=]+)=?(.*)$/.exec(spec);
    const field = { name, needed: mark === '!', type: takes, point, only: only ? only.split('|') : null };
    if (takes.includes('|')) return { ...field, type: 'one', options: takes.split('|'), flag: takes === 'yes|no' };
    if (LISTS.has(takes)) return { ...field, type: 'list', of: takes };
    if (takes === 'grid') return { ...field, unit: us ? US.ml[0] : 'mL', factor: us ? US.ml[1] : 1 };
    if (!NUMBERS.has(takes)) return field;
    const [unit, factor] = takes === 'share' ? ['%', 0.01] : (us && US[takes]) || [takes.replace(/\bl\b/, 'L').replace('ml', 'mL').replace('K', '°C'), 1];
    return { ...field, type: 'number', whole: takes === 'n', unit: 'n x pH'.includes(takes) ? null : unit, factor };
  });
}

export function isKind(kind) {
  return Object.hasOwn(SPECS, kind ?? '');
}

/** A number as typed, point or comma; NaN when it is none. A thousands mark is not guessed at. */
export function readNumber(text, whole = false) {
  const plain = String(text).trim().replace(',', '.');
  if (!/^-?\d*\.?\d+$/.test(plain) || (whole && plain.includes('.'))) return NaN;
  return Number(plain);
}

/** Local text of a moment in a zone ('2026-03-31T06:00'), for fields that take one. */
export function toLocal(epoch_s, zone) {
  return new Date(epoch_s * 1000).toLocaleString('sv-SE', { timeZone: zone }).slice(0, 16).replace(' ', 'T');
}

/** The moment of a zone's local text, as RFC 3339; null when it is none. */
export function fromLocal(text, zone) {
  const as_utc = Date.parse(`${text.slice(0, 16)}:00Z`) / 1000;
  if (!/^\d{4}-\d\d-\d\dT/.test(text) || !Number.isFinite(as_utc)) return null;
  const offset = (at) => Date.parse(`${toLocal(at, zone).replace('T', ' ')}Z`) / 1000 - Math.floor(at / 60) * 60;
  const at = as_utc - offset(as_utc - offset(as_utc));
  const off_min = offset(at) / 60;
  const two = (n) => String(Math.abs(Math.trunc(n))).padStart(2, '0');
  return `${toLocal(at, zone)}:00${off_min < 0 ? '-' : '+'}${two(off_min / 60)}:${two(off_min % 60)}`;
}

/** Numbers in rows of so many. */
function rowsOf(values, wide = values.length) {
  return Array.from({ length: Math.ceil(values.length / (wide || values.length)) }, (_, i) => values.slice(i * wide, (i + 1) * wide || undefined));
}

/** The rows of a grid as typed. */
function gridOf(text) {
  return text.trim().split('\n').map((line) => line.trim().split(/[\s;]+/).map((v) => readNumber(v)).filter((v) => v >= 0)).filter((row) => row.length);
}

/* Cans in a row where all rows are alike. */
function perRow(rows) {
  return rows.every((row) => row.length === rows[0].length) ? rows[0].length : null;
}

/** A record's value as the text a field of it holds. */
export function toText(field, value, zone, per_row, digits = 6) {
  if (value === null || value === undefined) return '';
  if (field.type === 'time') return toLocal(Date.parse(value) / 1000, zone);
  const figure = (v) => String(Number((v / field.factor).toPrecision(digits))).replace('.', field.point);
  if (field.type === 'number') return figure(value);
  if (field.type === 'yes') return value ? 'yes' : '';
  if (field.flag) return value ? 'yes' : 'no';
  if (field.type === 'grid') return rowsOf(value, per_row).map((row) => row.map(figure).join(' ')).join('\n');
  if (Array.isArray(value)) return value.join(' ');
  return String(value);
}

function fromText(field, text, zone) {
  if (field.type === 'yes' || field.flag) return text === 'yes';
  if (field.type === 'time') return fromLocal(text, zone);
  if (field.type === 'number') {
    const value = readNumber(text, field.whole) * field.factor;
    return Number.isFinite(value) ? Number(value.toPrecision(9)) : null;
  }
  if (field.type === 'grid') {
    const values = text.trim().split(/[\s;]+/).map((v) => Number((readNumber(v) * field.factor).toPrecision(9)));
    return values.every(Number.isFinite) ? values : null;
  }
  if (field.type === 'id') return idOf(text);
  if (field.type === 'days') return text.trim().split(/\s+/);
  return text.trim();
}

/** Is a field asked, given what the others hold? */
export function isAsked(field, draft) {
  return !field.only || Object.values(draft).some((value) => field.only.includes(value));
}

/** {body, faults: {field: 'needed' | 'unread'}} of what was typed. */
export function readDraft(fields, draft, zone) {
  const body = {};
  const faults = {};
  for (const field of fields.filter((f) => isAsked(f, draft))) {
    const text = draft[field.name] ?? '';
    if (text.trim() === '') {
      if (field.needed) faults[field.name] = 'needed';
      continue;
    }
    const value = fromText(field, text, zone);
    if (value === null) faults[field.name] = 'unread';
    else body[field.name] = value;
  }
  return { body, faults };
}

/** An id from a name: what the tables take. */
export function idOf(name) {
  return name.normalize('NFD').replace(/[\u0300-\u036f]/g, '').toLowerCase().replace(/[^a-z0-9]+/g, '-').replace(/^-|-$/g, '').slice(0, 40);
}

export function newKey(now_s) {
  return `p-${Math.floor(now_s).toString(36)}-${Math.floor(Math.random() * 46656).toString(36)}`;
}

const ID_OF = { supplies: 'supply', zones: 'zone', mixes: 'mix', pots: 'pot', covers: 'cover', blocks: 'block' };

/** Fills in what the form need not ask. */
export function complete(kind, body, me, now_s) {
  if (['runs', 'orders', 'holds', 'requirements', 'raises'].includes(kind)) body.key ??= newKey(now_s);
  if (['sold', 'split', 'merged'].includes(body.event)) body.ref ??= newKey(now_s);
  if (kind === 'orders') body.at ??= new Date(now_s * 1000).toISOString().slice(0, 19) + 'Z';
  if (['orders', 'holds', 'requirements', 'raises', 'touch_checks'].includes(kind) && me?.account) body.who ??= me.account;
  if (kind === 'runs' && body.litres === undefined) body.state ??= 'confirmed';
  const id = ID_OF[kind];
  if (id && !body[id] && body.name) body[id] = idOf(body.name);
  return body;
}

/* ---- A form for any kind of record: what is typed is kept at once, faults stand at their field,
 * another's edit of the same record is shown beside one's own. */

const FROM_PLAN = ['zones', 'blocks', 'supplies', 'pots', 'mixes'];

export function word(ctx, value) {
  const key = `w_${String(value).replaceAll('-', '_')}`;
  return ctx.words.has(key) ? ctx.words.text(key) : plainName(value);
}

function labelKey(ctx, name) {
  return [name, name.replace(/_(l_min|min|l_h|mm_h|mm|cm2|cm|m|l|ml|kg|g|pct|ds_m)$/, '')].map((n) => `f_${n}`).find(ctx.words.has);
}

export function label(ctx, name) {
  const key = labelKey(ctx, name);
  return key ? ctx.words.text(key) : null;
}

/** [[id, name]] of what a field may name; of the newest row where a record has several. */
export function choices(ctx, of) {
  const items = [...ctx.desk.load(of)?.items ?? (FROM_PLAN.includes(of) ? ctx.plan[of] : null) ?? []];
  if (of === 'zones') items.sort(byWalk);
  return [...new Map(items.map((item) => [item[ID_OF[of]] ?? item.id, item]))].map(([id, { name, post }]) => [id, spaced(plainName(post), plainName(name, id)).join('')]);
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

/* Signing in leads back to where one was. */
function signInLink({ words, here }) {
  return here?.startsWith('sign-in') ? null : h('a', { href: `#/sign-in/${encodeURIComponent(here)}` }, words.text('sign_in'));
}

const UNDERWAY = ['saving', 'asking'];

/** What became of sending, as a paragraph; null before. */
export function outcomeOf(ctx, id, field) {
  const outcome = ctx.desk.outcome(id);
  if (!outcome) return null;
  const { state, status, problem, lang } = outcome;
  const { words } = ctx;
  if (state !== 'error') return h('p', { class: state === 'conflict' ? 'notice act' : 'notice', role: 'status', id: state === 'resumed' ? state : null, tabindex: '-1' }, words.text(`form_${state}`), UNDERWAY.includes(state) ? [' ', h('progress', { 'aria-label': words.text(`form_${state}`) })] : null);
  const there = /\/(\w+\/[^/]+)$/.exec(problem?.instance)?.[1];
  if (there) return h('p', { class: 'notice act', role: 'alert' }, words.text('there'), ' ', h('a', { href: `#/edit/${there}` }, words.text('change')));
  const known = words.has(`error_${status}`) ? words.text(`error_${status}`) : words.text('error_other', { status: String(status) });
  const signIn = [401, 403].includes(status) ? signInLink(ctx) : null;
  return h('p', { class: 'notice act', role: 'alert' }, field ? [h('b', {}, field), ': '] : null, known, ' ', problem?.detail && !outcome.said && status !== 401 ? h('bdi', { lang }, problem.detail) : null, ' ', signIn);
}

/** Who must sign in first, as a paragraph; null when the reader may write. */
export function askToSignIn(ctx) {
  const { desk, words } = ctx;
  if (desk.mayWrite()) return null;
  return h('p', { class: 'notice watch' }, words.text(desk.me?.role === 'viewer' ? 'viewer_only' : 'sign_in_first'), ' ', signInLink(ctx));
}

function conflictTable(ctx, fields, draft, theirs, zone) {
  const rows = fields.filter((f) => f.name in theirs).map((f) => [f, draft[f.name] ?? '', toText(f, theirs[f.name], zone)]).filter(([, mine, other]) => mine !== other);
  const { words } = ctx;
  return h(
    'table',
    {},
    h('thead', {}, h('tr', {}, h('td', {}), ['mine', 'theirs'].map((key) => h('th', { scope: 'col' }, words.text(key))))),
    h('tbody', {}, rows.map(([f, mine, other]) => h('tr', {}, h('th', { scope: 'row' }, label(ctx, f.name)), h('td', {}, mine || '–'), h('td', {}, other || '–')))),
  );
}

/** The range a refusal of a number names, in the reader's units ('0–39.37 in'); null when it names none. */
export function rangeOf(field, problem) {
  const { accepted_min: low, accepted_max: high } = problem ?? {};
  if (!field?.factor || (low ?? high) === undefined) return null;
  const say = (n) => String(Number((n / field.factor).toPrecision(4))).replace('.', field.point);
  return `${low === undefined ? '≤ ' : high === undefined ? '≥ ' : `${say(low)}–`}${say(high ?? low)}${field.unit ? ` ${field.unit}` : ''}`;
}

function shutOf(hold) {
  const of = ['zone', 'block', 'supply'].find((name) => hold[name]);
  return of ? `one-${of}` : 'whole-nursery';
}

/**
 * The form of a kind as a tree. options: {id of the draft, initial {field: text}, only [fields shown], hidden {added to what
 * is sent}, record (changes it instead of adding one), save(body) instead of sending, extra(draft) below the fields,
 * button}.
 */
export function formOf(ctx, kind, options = {}) {
  const { words, desk, format } = ctx;
  const zone = ctx.plan.nursery.time_zone;
  const id = `${options.id} ${format.us ? 'us' : ''}`;
  const { record, row = record } = options;
  /* what a record does without is not asked for when it is changed */
  const fields = fieldsOf(kind, format).filter((f) => (!options.only || options.only.includes(f.name)) && !(record && f.name === ID_OF[kind]))
    .map((f) => ({ ...f, needed: f.needed && row?.[f.name] !== null }));
  const draft = desk.draft(id);
  /* what was not typed follows the clock and the record, so that an old draft brings no old hour */
  const values = { ...draft };
  const initial = record && kind === 'holds' ? { shut: shutOf(record) } : options.initial;
  for (const f of fields) values[f.name] ??= initial?.[f.name] ?? (record ? toText(f, record[f.name], zone, record.per_row) : '');
  const outcome = desk.outcome(id);
  const faults = { ...(outcome?.faults ?? {}) };
  const named = outcome?.problem?.field?.split('/').pop();
  if (named && !faults[named]) faults[named] = 'refused';
  const range = rangeOf(fields.find((f) => f.name === named), outcome?.problem);
  if (range) outcome.said = true;
  /* the version that was on the page when the first figure was typed */
  const seen = () => {
    if (row) draft.$etag ??= row.etag;
  };
  const write = (name, value, asks) => {
    draft[name] = value;
    seen();
    desk.touch();
    if (asks) {
      desk.settle(id);
      ctx.redraw();
    } else ctx.renew();
  };
  const asks = new Set(fields.some((f) => f.only) ? fields.filter((f) => f.type === 'one').map((f) => f.name) : []);

  async function submit(event) {
    event.preventDefault();
    if (UNDERWAY.includes(desk.outcome(id)?.state)) return;
    /* of a record only what was typed is ours: the rest follows another's edit */
    if (!row) for (const f of fields) draft[f.name] ??= values[f.name];
    seen();
    desk.touch();
    const shown = { ...values, ...draft };
    const read = readDraft(fields, shown, zone);
    if (kind === 'gauge' && Date.parse(read.body.to) > ctx.clock() * 1000) read.faults.to = 'ahead';
    if (kind === 'orders' && !read.body.zone === !read.body.block) read.faults.zone = read.body.zone ? 'both' : 'needed';
    if (Object.keys(read.faults).length) {
      desk.settle(id, { state: 'error', status: 'form', faults: read.faults });
      ctx.redraw();
      document.querySelector('[aria-invalid="true"]')?.focus();
      return;
    }
    const typed = { ...options.hidden, ...read.body };
    /* asked so that nobody shuts all by leaving out one */
    delete typed.shut;
    if (kind === 'catch_cans') typed.per_row = perRow(gridOf(shown.catches_ml));
    /* what was left as it stood keeps its digits, whatever units it was shown in */
    for (const f of row ? fields : []) if (f.name in typed && row[f.name] !== null && shown[f.name] === toText(f, row[f.name], zone, row.per_row)) typed[f.name] = row[f.name];
    const body = record ? typed : complete(kind, typed, desk.me, ctx.now_s);
    /* what was emptied is taken away */
    for (const f of row ? fields : []) if (f.name !== 'shut' && (record || f.type !== 'yes')) body[f.name] ??= null;
    if (options.save) {
      await options.save(body, id);
      return;
    }
    const path = record ? record.self : kind;
    const answer = await desk.send(id, record ? 'PATCH' : 'POST', path, body, record ? draft.$etag : undefined);
    if (answer && !answer.ok) {
      document.querySelector('[aria-invalid="true"]')?.focus();
      return;
    }
    desk.drop(id);
    /* nobody types any more: the new plan may be shown */
    document.getElementById('f-ok')?.focus();
    options.saved?.(body, answer);
    ctx.redraw();
    ctx.askAgain();
  }

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
        'aria-describedby': [fault && `e-${field.name}`, words.has(`h_${field.name}`) && `h-${field.name}`].filter(Boolean).join(' ') || null,
        oninput: (event) => write(field.name, field.type === 'yes' ? (event.target.checked ? 'yes' : '') : event.target.value, asks.has(field.name)),
      };
      return h(
        'p',
        { class: field.type === 'yes' ? 'tick' : null },
        h('label', { for: `f-${field.name}` }, label(ctx, `${field.name}_${values.event}`) ?? label(ctx, field.name), field.unit ? `, ${field.unit}` : '', field.needed || field.type === 'yes' ? null : h('span', { class: 'quiet' }, ` ${words.text(field.name === ID_OF[kind] ? 'of_name' : kind === 'orders' && field.type === 'list' ? 'one_of_two' : 'optional')}`)),
        control(ctx, field, attributes, values[field.name]),
        words.has(`h_${field.name}`) ? h('span', { class: 'quiet', id: `h-${field.name}` }, words.text(`h_${field.name}`)) : null,
        fault ? h('span', { class: 'fault', id: `e-${field.name}` }, words.text(`fault_${fault}`), field.name === named && range ? ` ${words.text('fault_range', { range })}` : null) : null,
      );
    }),
    options.extra ? h('div', { live: () => [options.extra({ ...values, ...draft }, draft)] }) : null,
    theirs ? [
      conflictTable(ctx, fields, values, theirs, zone),
      h('p', {}, h('button', { type: 'button', onclick: () => { draft.$etag = theirs.etag; desk.settle(id); desk.touch(); ctx.redraw(); } }, words.text('keep_mine')), ' ',
        h('button', { type: 'button', onclick: () => { desk.drop(id); desk.settle(id); ctx.redraw(); } }, words.text('take_theirs'))),
    ] : null,
    options.save && outcome?.state === 'saved' && outcome.data.after ? null : outcomeOf(ctx, id, named && label(ctx, named)),
    askToSignIn(ctx),
    h('p', {}, h('button', { class: 'main', id: 'f-ok' }, words.text(options.button ?? 'save'))),
  );
}

/* A date of each day of the week, to name it by. */
const DAYS = Object.fromEntries(['mon', 'tue', 'wed', 'thu', 'fri', 'sat', 'sun'].map((day, i) => [day, addDays('2026-01-05', i)]));

/** A record's figures as pairs, in the reader's units. */
export function pairsOf(ctx, kind, item) {
  const fields = new Map(fieldsOf(kind, ctx.format).map((f) => [f.name, f]));
  const said = Object.entries(item).filter(([name, value]) => value !== null && value !== '' && !/^(self|etag|key|ref|per_row)$|_s$/.test(name) && !(item.catches_ml && name === 'catches_ml'));
  const say = (name, value) => {
    const field = fields.get(name);
    if (typeof value === 'boolean') return value ? '✓' : '–';
    if (name === 'days') return value.map((day) => ctx.format.weekday(DAYS[day])).join(' ');
    /* in units it was not typed in, no more digits than mean something */
    if (field?.factor) return `${toText(field, value, null, null, field.factor === 1 ? 6 : 4)} ${field.unit ?? ''}`;
    if (field?.of) return nameTree(choices(ctx, field.of).find(([id]) => id === value)?.[1], value);
    if (/^\d{4}-\d\d-\d\dT/.test(value)) return ctx.format.dayTime(toLocal(Date.parse(value) / 1000, ctx.plan.nursery.time_zone));
    if (/^\d{4}-\d\d-\d\d$/.test(value)) return ctx.format.dateFull(value);
    return nameTree(word(ctx, Array.isArray(value) ? value.join(' ') : value));
  };
  if (['holds', 'windows'].includes(kind) && !item.zone && !item.block && !item.supply) said.unshift(['zone', ctx.words.text('whole_nursery')]);
  const list = (rows) => (rows.length ? pairs(ctx, rows.map(([name, value]) => [labelKey(ctx, name) ?? name, say(name, value)])) : null);
  const known = ([name]) => labelKey(ctx, name);
  const rest = list(said.filter((row) => !known(row)));
  return [
    list(said.filter(known)),
    item.catches_ml ? evenness(ctx, rowsOf(item.catches_ml, item.per_row ?? undefined)) : null,
    rest ? h('details', { 'data-key': `rest-${item.self}` }, h('summary', {}, ctx.words.text('tables_only')), rest) : null,
  ];
}

/* ---- The views in which people write: sign-in, the day's work, walking the crop, a block's change, records. */

const FEELS = ['dry', 'right', 'wet'];
const PLACES = ['both', 'centre', 'edge'];
const CORRECTED_S = 600;
/* what was said before is of another walk */
const WALK_S = 12 * 3600;

function link(href, ...children) {
  return h('p', {}, h('a', { href, class: 'big' }, ...children));
}

function now(ctx) {
  return toLocal(ctx.now_s, ctx.plan.nursery.time_zone);
}

export function viewSignIn(ctx, back) {
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
    desk.resume();
    await desk.flush();
    if (back) location.replace(`#/${back}`);
    else ctx.redraw();
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
        desk.mayWrite() ? null : h('p', {}, words.text('viewer_only')),
        h('button', { type: 'button', onclick: signOut }, words.text('sign_out')),
        link('#/do', words.text('nav_do')),
      ] : h(
        'form',
        { class: 'record', onsubmit: submit },
        h('p', {}, h('label', { for: 'f-account' }, words.text('f_account')), h('input', { id: 'f-account', name: 'account', autocomplete: 'username', required: true, autocapitalize: 'none', value: draft.account ?? '', oninput: (e) => { draft.account = e.target.value; } })),
        h('p', {}, h('label', { for: 'f-password' }, words.text('f_password')), h('input', { id: 'f-password', name: 'password', type: 'password', autocomplete: 'current-password', required: true })),
        desk.outcome('session')?.status === 401 ? h('p', { class: 'notice act', role: 'alert' }, words.text('sign_in_wrong')) : outcomeOf(ctx, 'session'),
        h('p', {}, h('button', { class: 'main', id: 'f-ok' }, title)),
        h('p', { class: 'quiet' }, words.text('sign_in_how')),
      ),
    ],
  };
}

/** The day's work as tiles; with a kind, its form. */
export function viewDo(ctx, kind, preset) {
  if (isKind(kind)) return viewForm(ctx, kind, preset);
  const { words, desk } = ctx;
  const title = words.text('nav_do');
  return {
    title,
    body: [
      heading(title),
      askToSignIn(ctx),
      desk.waiting.length ? h('p', { class: 'notice watch' }, words.text('waiting_to_send', { n: desk.waiting.length })) : null,
      desk.refused.map((item, i) => refusedEntry(ctx, item, i)),
      h('div', { class: 'tiles' }, [
        link('#/walk', words.text('walk_title')),
        link('#/bench', words.text('bench_title')),
        ...DAYWORK.map((kind) => link(`#/do/${kind}`, words.text(`k_${kind}`))),
      ]),
      section('more-work', words.text('nav_more'), h('div', { class: 'tiles' }, [
        ['#/checks', 'checks_title'], ['#/records', 'records_title'], ['#/setup', 'setup_title'], desk.me?.account ? [] : ['#/sign-in', 'sign_in'],
      ].filter(([href]) => href).map(([href, key]) => link(href, words.text(key))))),
    ],
  };
}

/* A record that waited and was refused: back into its form to be put right, or away. */
function refusedEntry(ctx, { path, body, why, lang }, i) {
  const { words, desk, format, plan } = ctx;
  const away = (open) => {
    desk.refused.splice(i, 1);
    if (open) {
      const draft = desk.draft(`${path} ${format.us ? 'us' : ''}`);
      for (const f of fieldsOf(path, format)) if (f.name in body) draft[f.name] = toText(f, body[f.name], plan.nursery.time_zone);
      location.hash = `#/do/${path}`;
    }
    desk.touch();
    ctx.redraw();
  };
  return h('div', { class: 'notice act' }, h('p', {}, h('strong', {}, words.text(`k_${path}`)), ': ', words.text('fault_refused'), ' ', h('bdi', { lang }, why)), isKind(path) ? pairsOf(ctx, path, body) : null,
    isKind(path) ? h('button', { type: 'button', onclick: () => away(true) }, words.text('change')) : null, ' ', h('button', { type: 'button', onclick: () => away(false) }, words.text('remove')));
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

/* A valve cannot water one block alone. */
function watered(ctx, { zone: of, block }) {
  const { words, index } = ctx;
  const zone = index.zone(of || index.block(block)?.zone);
  return zone ? [heldNow(ctx, zone), h('p', { role: 'status' }, ...words.parts('order_waters', { zone: zoneName(ctx, zone.id), blocks: zone.blocks.flatMap((id, i) => [i ? ', ' : '', blockName(ctx, id)]) }))] : null;
}

/* What was ordered last: when it starts, once a plan has it. */
function ordered(ctx) {
  const { words, format, plan, desk } = ctx;
  const { key, zone, at_s } = desk.draft('ordered');
  if (!zone || at_s < ctx.now_s - 3600) return null;
  const of = ctx.index.zone(zone);
  const known = plan.made_at_s > at_s - 1;
  const run = known && zoneRuns(plan, zone).find(({ reasons }) => reasons.some(({ code, params }) => code === 'ordered' && params.order === key));
  const missing = known && plan.unplaced.find((one) => one.zone === zone && one.ordered);
  const said = run ? words.parts('order_starts', { zone: zoneName(ctx, zone), time: format.dayTime(run.start), minutes: format.minutes(run.minutes) })
    : missing ? [h('strong', {}, words.text('heading_unplaced')), ': ', sayWhat(ctx, missing.reason), ' ', sayThen(ctx, missing.reason)] : words.text('order_waits');
  return (!run && of && heldNow(ctx, of)) || h('p', { class: 'notice', role: 'status' }, said);
}

/* Of a hold without an end it is a day. */
function endOf(hold) {
  return hold.to_s ?? hold.from_s + 86400;
}

/* What keeps a zone shut now: all its blocks', its supply's and the nursery's holds as well. */
function heldNow(ctx, zone) {
  const { words, desk, format, now_s } = ctx;
  const hold = desk.load('holds')?.items?.filter((one) => one.from_s <= now_s && endOf(one) > now_s && !(one.allowed_pct > 0)
    && (one.zone ? one.zone === zone.id : one.block ? zone.blocks.includes(one.block) : !one.supply || one.supply === zone.supply)).sort((a, b) => endOf(b) - endOf(a))[0];
  return hold ? h('p', { class: 'notice act', role: 'status' }, ...words.parts('order_held', { then: words.text(endOf(hold) < now_s + 86400 ? 'order_after' : 'order_never'), zone: zoneName(ctx, zone.id), kind: word(ctx, hold.kind), until: format.until(toLocal(endOf(hold), ctx.plan.nursery.time_zone)) }), ' ', h('a', { href: '#/do/holds' }, words.text('k_holds'))) : null;
}

function holdsList(ctx) {
  const { words, desk, format } = ctx;
  const items = desk.load('holds')?.items?.filter((hold) => endOf(hold) > ctx.now_s) ?? [];
  const lift = async (hold) => {
    await desk.send('lift', 'DELETE', hold.self, undefined, hold.etag);
    ctx.askAgain();
  };
  const list = (key, some) => (some.length ? section(key, words.text(key), h('ul', { class: 'plain' }, some.map((hold) => h(
    'li',
    {},
    h('p', { class: 'who' }, word(ctx, hold.kind), ': ', hold.zone ? zoneName(ctx, hold.zone) : hold.block ? blockName(ctx, hold.block) : nameTree(ctx.index.supply(hold.supply)?.name, hold.supply ?? words.text('whole_nursery'))),
    h('p', { class: 'facts' }, `${format.dayTime(hold.from)} – ${hold.to ? format.until(hold.to) : '24 h'}`, hold.why ? [' · ', nameTree(hold.why)] : null),
    h('button', { type: 'button', id: `l-${hold.self}`, onclick: () => lift(hold) }, words.text('lift')),
  )))) : null);
  return [list('holds_now', items.filter((hold) => hold.from_s <= ctx.now_s)), list('holds_later', items.filter((hold) => hold.from_s > ctx.now_s)), outcomeOf(ctx, 'lift')];
}

/** One of the day's records; `preset` is 'zone=bed-1' and the like from the address. */
function viewForm(ctx, kind, preset) {
  const { words, desk } = ctx;
  const title = words.text(`k_${kind}`);
  const initial = Object.fromEntries(fieldsOf(kind).filter((f) => f.needed && ['time', 'date'].includes(f.type)).map((f) => [f.name, f.type === 'time' ? now(ctx) : now(ctx).slice(0, 10)]));
  if (kind === 'gauge') {
    const last_s = Math.max(...(desk.load(kind)?.items ?? []).map(({ to_s }) => to_s));
    initial.from = toLocal(last_s > 0 && last_s < ctx.now_s ? last_s : ctx.now_s - 86400, ctx.plan.nursery.time_zone);
  }
  const [name, value] = (preset ?? '').split('=');
  if (value) Object.assign(initial, { [name]: value, shut: `one-${name}` });
  const id = value ? `${kind} ${preset}` : kind;
  const options = { id, initial };
  if (kind === 'weighings') {
    options.extra = (values, own) => sealed(ctx, values, own);
    const draft = desk.draft(`${id} ${ctx.format.us ? 'us' : ''}`);
    options.saved = (body) => Object.assign(desk.draft('score'), { block: body.block, expected: draft.$lacks, found: body.capacity_kg - body.now_kg });
  }
  if (kind === 'orders') {
    options.extra = (values) => watered(ctx, values);
    options.button = 'order';
    options.saved = (body, answer) => answer && Object.assign(desk.draft('ordered'), { key: body.key, zone: body.zone ?? ctx.index.block(body.block)?.zone, at_s: ctx.now_s });
  }
  if (kind === 'catch_cans') options.extra = (values) => evenness(ctx, gridOf(values.catches_ml));
  return {
    title,
    body: [
      heading(title),
      words.has(`k_${kind}_how`) ? h('p', {}, words.text(`k_${kind}_how`)) : null,
      formOf(ctx, kind, options),
      kind === 'weighings' ? opened(ctx) : null,
      kind === 'orders' ? ordered(ctx) : null,
      kind === 'holds' ? holdsList(ctx) : null,
      h('p', {}, h('a', { href: `#/records/${kind}` }, words.text('records_of'))),
    ],
  };
}

/** Low-quarter uniformity of catches, in percent; null under four. */
export function lowQuarter(catches) {
  const values = [...catches].sort((a, b) => a - b);
  const low = values.slice(0, Math.max(1, Math.round(values.length / 4)));
  return values.length >= 4 && mean(values) > 0 ? (100 * mean(low)) / mean(values) : null;
}

const mean = (list) => list.reduce((sum, v) => sum + v, 0) / list.length;

/** The corner of a grid whose quarter caught least, as [row, place in it] from 1; null when it is no grid of 2 by 2 and more. */
export function dryCorner(rows) {
  const wide = rows[0].length;
  if (rows.length < 2 || wide < 2 || rows.some((row) => row.length !== wide)) return null;
  const half = (list, end) => (end ? list.slice(-Math.ceil(list.length / 2)) : list.slice(0, Math.ceil(list.length / 2)));
  const corners = [[0, 0], [0, 1], [1, 0], [1, 1]].map(([low, right]) => ({
    at: [low ? rows.length : 1, right ? wide : 1], caught: mean(half(rows, low).flatMap((row) => half(row, right))),
  }));
  return corners.reduce((least, one) => (one.caught < least.caught ? one : least)).at;
}

/* The cans as they stand, a quarter under or over the mean marked, and what they say. */
function evenness(ctx, rows) {
  const { words, format } = ctx;
  const catches = rows.flat();
  const du = lowQuarter(catches);
  if (du === null) return null;
  const middle = mean(catches);
  const kind = (v) => (v < 0.75 * middle ? 'low' : v > 1.25 * middle ? 'high' : null);
  const corner = dryCorner(rows);
  return [
    h('p', { role: 'status' }, words.text('cans_result', { n: catches.length, du: format.percent(du) }), ' ', words.text(du < 60 ? 'cans_poor' : 'cans_fair'),
      corner ? ` ${words.text('cans_corner', { row: format.number(corner[0]), can: format.number(corner[1]) })}` : null),
    h('table', { class: 'cans' }, h('caption', {}, words.text('cans_key')), h('tbody', {}, rows.map((row) => h('tr', {}, row.map((v) => h('td', { class: kind(v) }, format.number((100 * v) / middle), { low: ' ▼', high: ' ▲' }[kind(v)])))))),
  ];
}

/** Walking the crop: one tap a block. */
export function viewWalk(ctx) {
  const { words, desk, plan, format } = ctx;
  const title = words.text('walk_title');
  const state = desk.draft('walk');
  state.place ??= 'both';
  const age_s = (said) => ctx.clock() - Date.parse(said.at) / 1000;
  const tap = async (block, feel) => {
    const at = new Date(Math.floor(ctx.clock()) * 1000).toISOString().replace('.000', '');
    const before = state[block];
    const id = `walk ${block}`;
    const keep = (said) => {
      state[block] = said;
      desk.touch();
      ctx.redraw();
    };
    /* soon after, another tap puts the first one right, the same one takes it back */
    const wrong = before?.self && age_s(before) < CORRECTED_S;
    if (wrong && !(await desk.send(id, 'DELETE', before.self, undefined, before.etag))?.ok) return;
    if (wrong && before.feel === feel) {
      desk.settle(id);
      keep(undefined);
      return;
    }
    keep({ feel, at });
    const answer = await desk.send(id, 'POST', 'touch_checks', { block, at, place: state.place, feel, who: desk.me?.account ?? null });
    if (!answer || answer.status === 401) return;
    keep(answer.ok ? { feel, at, self: answer.self, etag: answer.etag } : before);
  };
  return {
    title,
    body: [
      heading(title),
      h('p', {}, words.text('walk_how')),
      askToSignIn(ctx),
      h('fieldset', { class: 'row' }, h('legend', {}, words.text('f_place')), PLACES.map((place) => h('label', {}, h('input', { type: 'radio', name: 'place', value: place, checked: state.place === place, onchange: () => { state.place = place; desk.touch(); } }), ' ', word(ctx, place)))),
      plan.zones.filter((zone) => zone.blocks.length).sort(byWalk).map((zone) => h('section', {}, h('h2', { class: 'who' }, spaced(postTag(ctx, zone), nameTree(zone.name, zone.id))), zone.blocks.map((id) => {
        const done = state[id] && age_s(state[id]) < WALK_S ? state[id] : null;
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
    ['judged', (p) => (one(p).findings ?? []).map((code) => verdict(words, { code })).join(' ') || '–'],
    ['x_use_tomorrow', (p) => format.potWater(one(p).use_tomorrow_l)],
    ['x_interval', (p) => format.days(one(p).interval_d)],
    ['x_next', (p) => format.about(one(p).next_at)],
    ['x_week_minutes', (p) => format.minutes(sum(p, (run) => run.minutes))],
    ['x_week_litres', (p) => format.volume(sum(p, (run) => run.litres))],
  ];
  return h('table', { class: 'both' }, h('caption', {}, words.text('preview_caption')), h('thead', {}, h('tr', {}, h('td', {}), ['before', 'after'].map((key) => h('th', { scope: 'col' }, words.text(key))))),
    h('tbody', {}, rows.map(([key, get]) => [get(before), get(after), key]).map(([a, b, key]) => h('tr', { class: a === b ? null : 'differs' }, h('th', { scope: 'row' }, words.text(key)), h('td', {}, a), h('td', {}, b)))));
}

/* The page was made anew: what is waited for may be out of sight. */
function show(selector) {
  document.querySelector(selector)?.scrollIntoView();
}

/** Changing a block: the newest row, a preview, then saving from a day on. */
export function viewChange(ctx, id) {
  const { words, desk } = ctx;
  const rows = desk.load(`blocks/${encodeURIComponent(id)}`)?.items;
  const row = rows?.at(-1);
  const name = plainName(ctx.index.block(id)?.name, id);
  const { from, potted, watered_in, ...theirs } = row ?? {};
  const title = words.text('change_title');
  const draftId = `change ${id}`;
  const formId = `${draftId} ${ctx.format.us ? 'us' : ''}`;
  const outcome = desk.outcome(formId);
  const found = outcome?.data?.after ? outcome.data : null;
  const preview = async (body) => {
    const changed = Object.fromEntries(Object.entries(body).filter(([key, value]) => key === 'from' || JSON.stringify(value) !== JSON.stringify(row[key] ?? null)));
    delete changed.block;
    await desk.send(formId, 'POST', `blocks/${encodeURIComponent(id)}/preview`, changed);
    document.querySelector('[aria-invalid="true"]')?.focus();
    show('.both');
  };
  const save = async () => {
    const same = rows.find((r) => r.from === found.state.from);
    const changed = desk.draft(formId).$etag !== row.etag;
    const answer = changed ? null : same
      ? await desk.send(formId, 'PUT', same.self, found.state, same.etag)
      : await desk.send(formId, 'POST', 'blocks', found.state);
    if (changed || answer?.status === 409) {
      /* the row of that day came meanwhile */
      desk.forget();
      desk.settle(formId, { state: 'conflict' });
      ctx.redraw();
    }
    if (!answer?.ok) return;
    for (const unit of ['', 'us']) desk.drop(`${draftId} ${unit}`);
    ctx.redraw();
    show('main .notice[role="status"]');
    ctx.askAgain();
  };
  const fields = fieldsOf('blocks', ctx.format);
  const initial = row ? Object.fromEntries(fields.map((f) => [f.name, toText(f, row[f.name], ctx.plan.nursery.time_zone)])) : {};
  Object.assign(initial, { from: now(ctx).slice(0, 10), potted: '', watered_in: '' });
  return {
    title,
    body: [
      heading(title),
      h('p', { class: 'large' }, h('a', { href: blockHref(id) }, h('bdi', {}, name))),
      h('p', {}, words.text('change_how')),
      row ? formOf(ctx, 'blocks', {
        id: draftId, initial, row, fresh: () => theirs, only: fields.map((f) => f.name).filter((n) => n !== 'block'), hidden: { block: id }, save: preview, button: 'preview',
      }) : h('p', {}, words.text(rows ? 'error_404' : 'loading')),
      found ? [beforeAfter(ctx, id, found), found.warnings.map(({ detail }) => h('p', { class: 'notice watch', lang: outcome.lang }, detail)), h('p', {}, h('button', { type: 'button', class: 'main', id: 'f-save', onclick: save }, words.text('save_from', { date: ctx.format.dateFull(found.state.from) })))] : null,
      section('history', words.text('history'), history(ctx, id, rows ?? [])),
    ],
  };
}

function history(ctx, id, rows) {
  const { words, desk } = ctx;
  const audit = desk.mayWrite() ? desk.load('audit')?.items?.filter((e) => JSON.stringify([e.what, e.after ?? e.before]).includes(`"${id}"`) || String(e.what).includes(`blocks/${id},`)) ?? [] : [];
  return [
    h('ul', { class: 'plain' }, [...rows].reverse().map((row) => h('li', {}, h('details', { 'data-key': `row-${row.from}` }, h('summary', {}, words.text('history_row', { date: ctx.format.dateFull(row.from) })), pairsOf(ctx, 'blocks', row))))),
    audit.length ? h('ul', { class: 'plain' }, audit.map((e) => h('li', {}, h('p', { class: 'who' }, ctx.format.dayTime(e.at), ' · ', e.who === 'command line' ? words.text('by_import') : nameTree(e.who.replace(/^\w+ /, ''))), h('p', { class: 'facts' }, changed(ctx, e))))) : h('p', { class: 'quiet' }, words.text('history_none')),
  ];
}

/* A line of the audit record: what was done to which kind of record, and its figures. */
function changed(ctx, { action, what, before, after }) {
  const { words } = ctx;
  const [kind] = what.split(/[/ ]/);
  const named = [words.has(`k_${kind}`) ? words.text(`k_${kind}`) : plainName(kind), ': ', words.text(`did_${action}`)];
  const figures = after ?? before;
  return isKind(kind) && figures ? h('details', { 'data-key': `${what}${action}` }, h('summary', {}, named), pairsOf(ctx, kind, figures)) : named;
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
    return /T\d\d:/.test(value) ? format.exact.time(value) : got.words[value] ?? plainName(ctx.index.block(value)?.name, value);
  };
  const inputs = ({ inputs: given = {}, labels = {} }) => Object.entries(labels).map(([name, text]) => `${text}: ${figure(given[name])}`).join(' · ');
  return {
    title,
    body: [
      heading(title),
      h('p', { class: 'large' }, blockName(ctx, id)),
      format.us ? h('p', { class: 'quiet' }, words.text('working_metric')) : null,
      got ? h('ol', { class: 'steps', lang: got.lang }, got.steps.map((step) => h(
        'li',
        {},
        h('p', { class: 'who' }, step.label, ' = ', figure(step.value), ' ', step.unit ?? ''),
        h('p', { class: 'facts' }, step.formula),
        h('p', { class: 'quiet' }, inputs(step)),
        h('p', { class: 'quiet' }, step.source),
      ))) : h('p', {}, words.text(got === undefined ? 'loading' : 'error_404')),
    ],
  };
}

/* A fifth more or less is said, with a mark. */
function ranSection(ctx) {
  const { words, format, desk } = ctx;
  const got = desk.load('checks');
  const rows = got?.meter.zones ?? [];
  const judge = ({ planned_l, ran_l, how }) => {
    if (how !== 'told') return words.text(`ran_${how}`);
    if (!planned_l) return words.text('ran_extra');
    const more = ran_l / planned_l - 1;
    return Math.abs(more) > 0.2 ? h('b', {}, `${more > 0 ? '▲ +' : '▼ −'}${format.percent(Math.abs(100 * more))}`) : '✓';
  };
  return section('ran', words.text('ran_title'), rows.length ? stacked(
    words, ['f_on', 'f_zone', 'ran_planned', 'ran_ran', 'judged'],
    rows.map((row) => [format.dateShort(row.date), zoneName(ctx, row.zone), format.volume(row.planned_l), row.how === 'silent' ? '?' : format.volume(row.ran_l), judge(row)]),
  ) : h('p', {}, words.text(got === undefined ? 'loading' : 'records_none')));
}

const LISTED = [...DAYWORK, 'touch_checks', ...SETUP];

/** All records of a kind, newest first, each to be changed or taken out. */
export function viewRecords(ctx, kind) {
  const { words, desk } = ctx;
  const title = isKind(kind) ? words.text(`k_${kind}`) : words.text('records_title');
  if (!isKind(kind)) {
    return { title, body: [heading(title), h('p', {}, h('a', { href: 'records.csv' }, words.text('records_csv'))), ranSection(ctx), h('div', { class: 'tiles' }, LISTED.map((k) => link(`#/records/${k}`, words.text(`k_${k}`))))] };
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
    await desk.send(`remove ${kind}`, 'DELETE', item.self, undefined, item.etag);
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
        desk.mayWrite() ? h('p', {}, kind !== 'windows' ? h('a', { href: `#/edit/${kind}/${encodeURIComponent(item.self.split('/').pop())}` }, words.text('change')) : null, ' ', h('button', { type: 'button', id: `r-${item.self}`, onclick: () => remove(item) }, words.text(desk.outcome('sure')?.self === item.self ? 'remove_sure' : 'remove'))) : null,
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
      isEmpty(ctx.plan) ? h('p', {}, words.text('empty_intro')) : null,
      askToSignIn(ctx),
      h('ol', { class: 'steps' }, SETUP.map((kind) => {
        const n = desk.load(kind)?.items?.length;
        return h('li', {}, link(`#/do/${kind}`, words.text(`k_${kind}`)), h('p', { class: 'quiet' }, n ? words.text('setup_has', { n }) : words.text('setup_none')));
      })),
      h('p', { class: 'quiet' }, words.text('empty_4')),
    ],
  };
}

/* ---- Beside the jar: the bench test step by step, its timers, what the jars say as they are typed; and what
 * the tested mixes hold in every pot. */

const HOUR_MIN = 60;
const NIGHT_MIN = 12 * 60;
/* docs/model.md 1: what is doubted */
const SPREAD_MOST_PCT = 3;
/* and what is refused */
const SCATTER_MOST = 2;
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
    most >= 100 && 'bench_full', least <= 0 && 'bench_nothing', least > 0 && most > SCATTER_MOST * least && 'bench_scatter',
    n === 1 && 'doubt_one_replicate', most - least > SPREAD_MOST_PCT && most <= SCATTER_MOST * least && 'doubt_replicates_differ',
    (dry >= wet || wet > soaked || dry >= soaked) && 'bench_order',
    soaked > wet && Math.abs(soaked - wet - mean) > MASSES_APART * mean && 'doubt_masses_disagree',
    porosity_pct > 99 && 'doubt_porosity_high', mean_pct < BANDS[0][0] && 'finding_root_rot',
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
    faults.some((fault) => ['bench_full', 'bench_nothing', 'bench_scatter'].includes(fault)) ? null : h('p', {}, words.text('bench_as_pot'), ' ', words.text(`finding_${bandOf(mean_pct)}`)),
    faults.map((fault) => h('p', { class: `notice ${['doubt_one_replicate', 'doubt_replicates_differ', 'doubt_masses_disagree'].includes(fault) ? 'watch' : 'act'}` }, words.text(fault))),
  ];
}

/** The width of a round vessel that holds so much so deep, in cm; null where it is none that anyone fills. */
export function oddWidth(volume_ml, height_cm) {
  const width_cm = Math.sqrt((4 * volume_ml) / (Math.PI * height_cm));
  return width_cm < height_cm / 10 || width_cm > height_cm * 5 ? width_cm : null;
}

function oddVessel({ words, format }, volume_ml, height_cm) {
  const width_cm = oddWidth(volume_ml, height_cm);
  return width_cm ? h('p', { class: 'notice watch' }, words.text('bench_odd', { width: format.length(width_cm), height: format.length(height_cm) })) : null;
}

export function viewBench(ctx) {
  const { words, desk, format, plan } = ctx;
  const title = words.text('bench_title');
  const draftId = `bench ${format.us ? 'us' : ''}`;
  const draft = desk.draft(draftId);
  draft.jars ??= ['', '', ''];
  const fields = new Map(fieldsOf('bench_tests', format).map((field) => [field.name, field]));
  const drained = fields.get('drained_ml');
  const number = (name) => readNumber(draft[name] ?? '');
  const metric = (name) => number(name) * fields.get(name).factor;
  const jars = () => readJars(number('vessel_volume_ml'), draft.jars.map((text) => readNumber(text)), ['mass_saturated_g', 'mass_drained_g', 'mass_dry_g'].map(number));
  const typed = (set) => (event) => {
    set(event.target.value);
    desk.touch();
    ctx.renew();
  };
  const input = (id, text, value, set, textual, fault) => h('p', {}, h('label', { for: id }, text), h('input', {
    'aria-invalid': fault ? 'true' : null, 'aria-describedby': fault && `e-${id}`, id, type: 'text', inputmode: textual ? null : 'decimal', autocomplete: 'off', enterkeyhint: 'next', value, oninput: typed(set),
  }), fault ? h('span', { class: 'fault', id: `e-${id}` }, words.text(`fault_${fault}`)) : null);
  const ask = (name) => {
    const field = fields.get(name);
    return input(`f-${name}`, [label(ctx, name), field.unit ? `, ${field.unit}` : '', field.needed ? null : h('span', { class: 'quiet' }, ` ${words.text('optional')}`)], draft[name] ?? '', (value) => { draft[name] = value; }, !field.factor, faults[name]);
  };
  const faults = desk.outcome('bench')?.faults ?? {};
  const mark = (name) => h('span', { live: () => (draft[name] && ctx.clock() >= draft[name] ? ['✓'] : []) });

  const save = async (event) => {
    event.preventDefault();
    const { body, faults } = readDraft([...fields.values()].filter((f) => f === drained || f.name === 'mix' || PLAIN.includes(f.name)), { ...draft, drained_ml: draft.jars.filter((text) => text.trim()).join(' ') }, plan.nursery.time_zone);
    if (Object.keys(faults).length || !jars().airs_pct.length) {
      desk.settle('bench', { state: 'error', status: 'form', faults });
      ctx.redraw();
      document.getElementById(faults.mix ? 'f-mix' : `f-${Object.keys(faults)[0]}`)?.focus();
      return;
    }
    if (draft.drain && draft.measured < draft.drain) body.drain_min = Math.max(1, Math.round(HOUR_MIN - (draft.drain - draft.measured) / 60));
    body.tested = toLocal(ctx.clock(), plan.nursery.time_zone).slice(0, 10);
    const at_s = Math.floor(ctx.clock()); // plans say whole seconds
    const answer = await desk.send('bench', 'POST', 'bench_tests', body);
    if (answer && !answer.ok) return;
    desk.drop(draftId);
    Object.assign(desk.draft('benched'), { mix: body.mix, batch: answer?.data?.batch ?? body.batch ?? '', at_s });
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
      ), h('section', { class: 'result', 'aria-labelledby': 'result' }, h('h2', { id: 'result' }, words.text('bench_result')), h('div', { live: () => [result(ctx, jars()), oddVessel(ctx, metric('vessel_volume_ml'), metric('vessel_height_cm'))], role: 'status' }),
        outcomeOf(ctx, 'bench'),
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
  if (!saved.mix || desk.outcome('bench')?.state === 'error') return null;
  const mix = newestFirst(plan.mixes).find((m) => m.id === saved.mix && m.batch === saved.batch);
  if (!mix || plan.made_at_s < saved.at_s) return h('p', { class: 'notice', role: 'status' }, words.text('bench_judging'), ' ', h('progress', { 'aria-label': words.text('bench_judging') }));
  return section('judged', [words.text('bench_judged'), ' ', mixName(mix)], mixBody(ctx, mix));
}

/* A plan has the older test of a mix as well, while blocks stood in it within its days. */
function newestFirst(mixes) {
  return [...mixes].sort((a, b) => (a.tested < b.tested ? 1 : -1));
}

function olderSaid({ plan, words }, mix) {
  return plan.mixes.some((m) => m.id === mix.id && m.batch === mix.batch && m.tested > mix.tested) ? h('p', { class: 'notice' }, words.text('mix_older')) : null;
}

function mixName(mix) {
  return [nameTree(mix.name, mix.id), mix.batch ? [' · ', nameTree(mix.batch)] : null];
}

function verdict(words, { code }) {
  return words.has(`finding_${code}`) ? words.text(`finding_${code}`) : code;
}

function growingOn({ words, format }, { growing_on }) {
  return h('p', {}, verdict(words, growing_on), ' ', words.text('finding_at', { air: format.percent(growing_on.value), height: format.length(growing_on.height_cm) }));
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
    h('thead', {}, h('tr', {}, ['f_pot', 'mix_air', 'x_available', 'mix_soaked'].map((key) => h('th', { scope: 'col' }, words.text(key))))),
    mix.pots.filter((pot) => Number.isFinite(pot.air_pct)).sort((a, b) => depth(a) - depth(b)).map((pot) => h(
      'tbody',
      {},
      h('tr', {}, h('th', { scope: 'row' }, nameTree(index.pot(pot.pot)?.name, pot.pot)), cell('mix_air', words.text('give_or_take', { value: format.percent(pot.air_pct), sd: format.number(pot.air_sd_pct, 1) })), cell('x_available', format.potWater(pot.available_l)), cell('mix_soaked', format.length(pot.wet_layer_cm))),
      h('tr', { class: 'says' }, h('td', { colspan: 4 }, pot.findings.map((finding) => verdict(words, finding)).join(' '), used(pot.pot).map((block, i) => [i ? ', ' : ` ${words.text('mix_used')} `, nameTree(block.name, block.id, blockHref(block.id))]))),
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
  const aside = Math.min(11 * em, 0.4 * width);
  const room = width - left - aside;
  const x = (share) => round(left + share * room);
  const y = (cm) => round(1.8 * em + height * (1 - cm / top_cm));
  const solid = 1 - mix.theta_s;
  const curve = Array.from({ length: 41 }, (_, i) => (i * top_cm) / 40).map((cm) => `${x(solid + waterAt(mix, cm))},${y(cm)}`);
  /* names stand aside, those of pots of about one depth above each other */
  let last = Infinity;
  const named = [...pots].sort((a, b) => a.height_cm - b.height_cm).map((pot) => {
    const at = y(pot.height_cm);
    last = Math.min(at, last - 1.15 * em);
    return [h('polyline', { class: 'mark-full', points: `${left},${at} ${left + room},${at} ${left + room + 0.8 * em},${last}` }), lettering(null, left + room + em, last + 0.3 * em, fitText(pot.name, aside - em, em))];
  });
  const part = (kind, from, to) => rect(kind, x(from), y(top_cm), x(to) - x(from), y(0) - y(top_cm));
  return picture(
    'pot', say.label, width, Math.ceil(y(0) + 0.8 * em),
    part('air', 0, 1),
    h('polygon', { class: 'available', points: `${x(solid)},${y(0)} ${curve.join(' ')} ${x(solid)},${y(top_cm)}` }),
    part('tight', solid, solid + mix.theta_r),
    part('solid', 0, solid),
    ruler(top_cm, us, y, em),
    named,
  );
}

function mixBody(ctx, mix) {
  const { words, format, index } = ctx;
  const pots = mix.pots.map(({ pot }) => ({ name: plainName(index.pot(pot)?.name, pot), height_cm: index.pot(pot)?.fill_height_cm })).filter((pot) => pot.height_cm > 0);
  const drawn = mix.path !== 'table' && [mix.theta_s, mix.theta_r, mix.alpha_per_cm, mix.n].every(Number.isFinite);
  return [
    growingOn(ctx, mix),
    h('p', { class: 'facts' }, words.text('mix_line', { air: format.exact.percent(mix.air_pct), se: format.exact.percent(mix.air_se_pct), height: format.length(mix.vessel_height_cm), n: mix.replicates, date: format.dateFull(mix.tested) })),
    mix.doubts.length ? h('ul', {}, mix.doubts.filter((code) => words.has(`doubt_${code}`)).map((code) => h('li', {}, words.text(`doubt_${code}`)))) : null,
    potTable(ctx, mix),
    drawn ? h('div', { class: 'pot-and-key' }, h('div', { class: 'canvas', draw: (width, em) => drawColumn(mix, pots, { label: words.text('column_label', { mix: plainName(mix.name, mix.id) }) }, format.us, width, em) }),
      h('dl', { class: 'pot-key' }, [['air', 'pot_key_air'], ['available', 'column_available'], ['tight', 'column_tight'], ['solid', 'pot_key_solid'], ['mark-full', 'column_pot']].map(([kind, key]) => h('div', {}, h('dt', {}, drawKey(kind), words.text(key)))))) : null,
    h('p', { class: 'facts' }, words.text('bench_pores', { pores: format.exact.percent(mix.total_porosity_pct) })),
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
      plan.mixes.length ? h('ul', { class: 'plain' }, newestFirst(plan.mixes).map((mix) => h(
        'li',
        {},
        h('h2', { class: 'who' }, h('a', { href: `#/mix/${encodeURIComponent(mix.id)}` }, mixName(mix))),
        olderSaid(ctx, mix),
        growingOn(ctx, mix),
        h('p', { class: 'facts' }, words.text('mix_tested', { date: format.dateFull(mix.tested) })),
      ))) : h('p', {}, words.text('mixes_none')),
      h('p', { class: 'quiet' }, words.text('mixes_when')),
    ],
  };
}

export function viewMix(ctx, id) {
  const { words, plan } = ctx;
  const mixes = newestFirst(plan.mixes.filter((mix) => mix.id === id));
  const title = plainName(mixes[0]?.name, id);
  return {
    title,
    body: [
      heading(nameTree(mixes[0]?.name, id)),
      h('p', {}, h('a', { href: '#/mixes' }, words.text('mixes_title')), ' · ', h('a', { href: '#/bench' }, words.text('bench_title')), ' · ', h('a', { href: '#/records/bench_tests' }, words.text('k_bench_tests'))),
      mixes.length ? mixes.map((mix, i) => section(`batch-${i}`, mix.batch ? words.text('mix_batch', { batch: plainName(mix.batch) }) : words.text('mix_no_batch'), olderSaid(ctx, mix), mixBody(ctx, mix))) : h('p', {}, words.text('mixes_none')),
    ],
  };
}

/* ---- What goes on paper, black on white, a page each: the crew's sheet with its exceptions, the wall card. */

const BLANKS = ['sheet_start', 'sheet_stop', 'sheet_meter', 'f_who', 'sheet_feel'];

function printButton(words) {
  return h('button', { type: 'button', onclick: () => print() }, words.text('print'));
}

const post = (item) => [item.post ? h('b', { class: 'post' }, plainName(item.post)) : null, ' '];

/** Runs as rows, each with its exception or null; runs that were added come after the issued ones. */
export function sheetRows(sheet) {
  const of = new Map((sheet.exceptions ?? []).filter((e) => e.run).map((e) => [e.run, e]));
  const rows = sheet.runs.map((run) => ({ run, exception: of.get(run.run) ?? null }));
  const added = (sheet.exceptions ?? []).filter((e) => e.code === 'added');
  return [...rows, ...added.map((exception) => ({ run: { ...exception, pulses: 1 }, exception }))];
}

function runRow(ctx, sheet, { run, exception }) {
  const { words, format } = ctx;
  const on = sheet.for;
  const time = format.range(run.start, run.end, on);
  const amount = (of) => (Number.isFinite(of?.depth_mm) ? format.depth(of.depth_mm) : of?.litres_pot > 0 ? words.text('run_pot', { water: format.potWater(of.litres_pot) }) : '');
  const code = exception?.code;
  const old = (now, then) => (code === 'dropped' || (now && now !== then) ? [h('s', {}, then), code === 'dropped' ? null : [' ', h('b', {}, now)]] : then);
  return h(
    'tr',
    { class: code ? 'changed' : null },
    h('th', { scope: 'row' }, post(run), nameTree(run.bed, run.zone), code ? h('b', {}, ` ▲ ${words.text(`sheet_${code}`)}`) : null, run.by_hand ? ` (${words.text('by_hand')})` : null, ['irrigation', null, undefined].includes(run.purpose) ? null : ` · ${word(ctx, run.purpose)}`, run.counts_on_rain_mm ? h('p', {}, sayWhat(ctx, { code: 'counts_on_rain', params: { rain_mm: run.counts_on_rain_mm } })) : null,
      run.blocks?.length ? h('p', {}, run.blocks.map((b, i) => [i ? ' · ' : '', nameTree(b.name, b.block), ' ', format.minutes(b.minutes)])) : null),
    h('td', { 'data-label': words.text('chart_time') }, old(exception?.start ? format.range(exception.start, exception.end, on) : '', time)),
    h('td', { 'data-label': words.text('f_minutes') }, old(exception?.minutes ? format.minutes(exception.minutes) : '', format.minutes(run.minutes)), run.pulses > 1 ? ` ${run.pulses}×${format.number(run.pulse_minutes)}/${format.number(run.pause_minutes)}` : ''),
    h('td', { 'data-label': words.text('sheet_amount') }, old(amount(exception), amount(run) || words.text('sheet_added'))),
    h('td', { 'data-label': words.text('sheet_volume') }, old(exception?.litres ? format.volume(exception.litres) : '', format.volume(run.litres))),
    BLANKS.map((name) => h('td', { class: 'blank' }, name === 'sheet_feel' ? words.text('sheet_drw') : '\u00a0')),
  );
}

function list(words, key, items, say) {
  return items.length ? [h('h3', {}, words.text(key)), h('ul', {}, items.map((item) => h('li', {}, say(item))))] : null;
}

function paperSheet(ctx, sheet) {
  const { words, format, plan } = ctx;
  const stop = (s) => words.text(`sheet_stop_${s.code}`, { limit: s.code === 'wind' ? words.text('wind', { speed: format.wind(s.limit_m_s) }) : format.temperature(s.limit_c) });
  const until = (text) => (text ? ` ${words.text('until', { until: format.until(text) })}` : '');
  const by = (text) => (text ? ` · ${words.text('by', { until: format.until(text) })}` : '');
  const { rung, age_s } = sheet.weather ?? { rung: 'forecast' };
  return h(
    'article',
    { class: 'paper' },
    h('h2', {}, words.text('sheet_head', { n: String(sheet.number), date: format.dateLong(sheet.for) })),
    h('p', {}, nameTree(plan.nursery.name), ' · ', words.text('sheet_issued', { time: format.dayTime(sheet.issued_at) }), sheet.replaces ? ` · ${words.text('sheet_replaces', { n: String(sheet.replaces) })}` : null, sheet.late ? ` · ${words.text('sheet_late')}` : null),
    rung === 'forecast' ? null : h('p', {}, h('b', {}, words.text(`built_${rung}`, { age: format.span(age_s) }))),
    h('p', { class: 'stops' }, h('b', {}, words.text('sheet_stops')), ' ', sheet.stops.map((s, i) => [i ? '; ' : '', stop(s), s.from ? h('b', {}, ` (${words.text('sheet_forecast', { from: format.dayTime(s.from) })})`) : null])),
    h('table', { class: 'stack' }, h('thead', {}, h('tr', {}, ['sheet_valve', 'chart_time', 'f_minutes', 'sheet_amount', 'sheet_volume', ...BLANKS].map((key) => h('th', { scope: 'col' }, words.text(key))))),
      h('tbody', {}, sheetRows(sheet).map((row) => runRow(ctx, sheet, row)))),
    sheet.runs.length ? null : h('p', {}, words.text('runs_none')),
    h('div', { class: 'two' },
      h('div', {},
        list(words, 'sheet_by_hand', sheet.by_hand, (b) => [post(b), nameTree(b.name, b.block), `: ${words.text('run_pot', { water: format.potWater(b.litres_pot) })}, ${format.minutes(b.hose_minutes)}`, b.part === 'edges' ? ` · ${words.text('sheet_edges')}` : null, by(b.limit)]),
        list(words, 'sheet_not', sheet.do_not_water, (d) => [post(d), nameTree(d.bed, d.zone), `: ${words.text(`sheet_not_${d.code}`)}`, until(d.until), d.by_hand ? `. ${words.text('sheet_shut')}` : null]),
        list(words, 'sheet_notes', [...sheet.notes, ...(sheet.exceptions ?? []).filter((e) => e.code === 'hold').map((e) => ({ ...e, from: e.start, to: e.end, mark: true }))], (n) => [n.mark ? h('b', {}, '▲ ') : null, post(n), nameTree(n.bed, n.zone ?? words.text('whole_nursery')), ': ', sayWhat(ctx, n.reason), ` ${words.text('from_to', { from: format.dayTime(n.from), to: format.until(n.to) })}`])),
      h('div', {},
        list(words, 'sheet_feel_three', sheet.feel, (f) => [post(f), nameTree(f.name, f.block), ` · ${words.text(`sheet_feel_${f.code}`)}`]),
        sheet.first_if_it_fails.length ? [h('h3', {}, words.text('sheet_first')), h('ol', {}, sheet.first_if_it_fails.map((f) => h('li', {}, post(f), nameTree(f.name, f.block), by(f.before))))] : null,
        h('h3', {}, words.text('sheet_remarks')), h('p', { class: 'remarks' }, sheet.remarks ? nameTree(sheet.remarks) : null))),
  );
}

/* Issued at the same hour each day. */
function nextSheet({ due_at }) {
  return addDays(due_at.slice(0, 10), 1) + due_at.slice(10);
}

/** #/sheet is the current one with its exceptions, #/sheet/NUMBER one as it was issued. */
export function viewSheet(ctx, number) {
  const { words, desk, format } = ctx;
  const sheet = desk.load(number ? `sheets/${encodeURIComponent(number)}` : 'sheet');
  const draft = desk.draft('sheet');
  const issue = async (event) => {
    event.preventDefault();
    const answer = await desk.send('sheet', 'POST', 'sheets', draft.remarks ? { remarks: draft.remarks } : {});
    if (!answer?.ok) return;
    desk.drop('sheet');
    /* the current one is of the plan that is served, and knows of this one with the next */
    location.hash = `#/sheet/${answer.data.number}`;
    ctx.askAgain();
  };
  const others = desk.load('sheets?limit=14')?.items ?? [];
  const title = words.text('sheet_title');
  return {
    title,
    body: [
      h('div', { class: 'noprint' }, heading(title), h('p', {}, words.text('sheet_how'), sheet && !number ? ` ${words.text('sheet_next', { time: format.dayTime(nextSheet(sheet)) })}` : null), sheet ? printButton(words) : null,
        sheet?.exceptions?.length ? h('p', { class: 'notice watch' }, words.text('sheet_changes', { n: sheet.exceptions.length })) : null,),
      sheet ? paperSheet(ctx, sheet) : h('p', {}, words.text(sheet === undefined ? 'loading' : 'sheet_none')),
      h('div', { class: 'noprint' },
        h('form', { class: 'record', onsubmit: issue }, h('p', {}, h('label', { for: 'f-remarks' }, words.text('sheet_remarks')), h('input', { id: 'f-remarks', value: draft.remarks ?? '', oninput: (e) => { draft.remarks = e.target.value; desk.touch(); } })),
          outcomeOf(ctx, 'sheet'), askToSignIn(ctx), h('p', {}, h('button', { class: 'main', id: 'f-issue' }, words.text('sheet_issue')))),
        others.length ? h('ul', { class: 'plain' }, others.map((s) => h('li', {}, h('a', { href: `#/sheet/${s.number}` }, words.text('sheet_head', { n: String(s.number), date: format.dateShort(s.for) })), ` · ${format.dayTime(s.issued_at)}`))) : null,
        h('p', {}, h('a', { href: '#/card' }, words.text('card_title')))),
    ],
  };
}

function cardCell(ctx, cell) {
  const { words, format } = ctx;
  if (!(cell.minutes > 0)) return '–';
  const each = cell.twice ? `2 × ${format.minutes(cell.minutes / 2)}` : format.minutes(cell.minutes);
  return [h('b', {}, each), cell.every_d > 1 ? ` ${words.text('card_every', { days: format.number(cell.every_d) })}` : null, cell.pulses > 1 ? ` ${words.text('card_parts', { n: cell.pulses })}` : null, cell.cut || cell.hours === 'short' ? ' ▼' : null, cell.hours === 'once' ? ' ◆' : null];
}

export function viewCard(ctx) {
  const { words, desk, format, plan } = ctx;
  const title = words.text('card_title');
  const card = desk.load('card');
  const hours = (v) => (v === null ? words.text('card_long') : format.span(v * 3600));
  const head = (first) => [first, ...card.et0_mm.map((mm) => `ET0 ${format.depth(mm)}`)];
  return {
    title,
    body: [
      h('div', { class: 'noprint' }, heading(title), h('p', {}, words.text('card_how')), card ? printButton(words) : h('p', {}, words.text(card === undefined ? 'loading' : 'error_404'))),
      card ? h(
        'article',
        { class: 'paper' },
        h('h2', {}, words.text('card_title')),
        h('p', {}, nameTree(plan.nursery.name), ' · ', words.text('card_made', { date: format.dateFull(card.made_at.slice(0, 10)) })),
        h('p', {}, words.text('card_days', Object.fromEntries([2, 4, 6, 8].map((mm) => [`mm${mm}`, format.depth(mm)])))),
        card.supplies.map((supply) => stacked(words, head('sheet_valve'), supply.zones.map((zone) => [[post(zone), nameTree(zone.bed, zone.zone)], ...zone.cells.map((cell) => cardCell(ctx, cell))]),
          [nameTree(supply.name, supply.supply), ` · ${format.flow(supply.flow_l_min)} · ${words.text('supply_valves', { n: supply.valves_at_once })}`])),
        h('p', { class: 'quiet' }, words.text('card_notes')),
        card.first_if_it_fails.length ? stacked(words, head('f_block'), card.first_if_it_fails.map((b) => [[post(b), nameTree(b.name, b.block)], ...b.safe_h.map(hours)]), words.text('card_fails')) : null,
        h('p', {}, words.text('card_sky')),
      ) : null,
    ],
  };
}

/* ---- What perchd said beside what people measured. */

function scored(items, say) {
  return items.length ? h('ul', { class: 'plain' }, items.map((item) => h('li', {}, say(item)))) : null;
}

/** The five checks of a sceptic: what to do, and what came of it. */
export function viewChecks(ctx) {
  const { words, desk, format } = ctx;
  const title = words.text('checks_title');
  const got = desk.load('checks');
  const draft = desk.draft('seal');
  const percent = (ratio) => format.percent(Number.isFinite(ratio) ? 100 * ratio : null);
  const beside = (said, found) => words.text('check_beside', { said, found });
  const water = format.potWater;
  const todo = (part, href) => (part.do ? h('p', {}, h('a', { href: `#/${href}` }, words.text(`check_${part.do}`))) : null);
  const seal = async (event) => {
    event.preventDefault();
    const answer = await desk.send('seal', 'POST', 'predictions', { blocks: [draft.block] });
    if (answer?.ok) desk.drop('seal');
    ctx.redraw();
  };
  const part = (n, ...body) => section(`check-${n}`, `${n}. ${words.text(`check_${n}`)}`, ...body);
  const sum = (m) => (m?.metered_l > 0 ? h('p', {}, `${format.dateShort(m.from)} – ${format.dateShort(m.to)}: `, beside(format.volume(m.planned_l), format.volume(m.metered_l)), ` · ${m.planned_l > 0 ? percent(m.ratio) : words.text('ran_extra')}`) : null);
  const body = got ? [
    part(1, todo(got.litres, 'do/catch_cans'), scored(got.litres.cans, (c) => [zoneName(ctx, c.zone), ` · ${format.dateShort(c.date)} · `, beside(format.depth(c.expected_mm), format.depth(c.caught_mm)), ` · ${percent(c.ratio)} · ${words.text('check_du', { du: format.percent(c.du_low_quarter_pct) })}`]),
      scored(got.litres.pots, (c) => [blockName(ctx, c.block), ` · ${format.dayTime(c.at)} · `, c.expected_ml === null ? water(c.given_ml / 1000) : beside(water(c.expected_ml / 1000), water(c.given_ml / 1000)), ` · ${words.text('check_drained', { drained: format.percent(c.drained_pct), target: format.percent(c.target_pct) })}`])),
    part(2, h('p', {}, words.text('check_seal_how')), h('form', { class: 'record', onsubmit: seal }, h('p', {}, h('label', { for: 'f-block' }, words.text('f_block')), select({ id: 'f-block', required: true, onchange: (e) => { draft.block = e.target.value; desk.touch(); } }, choices(ctx, 'blocks'), draft.block)),
      outcomeOf(ctx, 'seal'), askToSignIn(ctx), h('p', {}, h('button', { class: 'main', id: 'f-seal' }, words.text('check_seal')))),
      scored(got.water_lost.open, (o) => [blockName(ctx, o.block), ': ', words.text('check_open', { time: format.dayTime(o.sealed_at), until: format.until(o.until) }), ' ', h('a', { href: `#/do/weighings/block=${o.block}` }, words.text('k_weighings'))]),
      scored(got.water_lost.items, (w) => [blockName(ctx, w.block), ` · ${format.dayTime(w.weighed_at)} · `, beside(`${water(w.expected_l)} (${water(w.from_l)}–${water(w.to_l)})`, water(w.weighed_l)), ' · ', h('b', {}, words.text(w.watered ? 'check_watered' : w.inside ? 'check_hit' : 'check_miss'))]),
      got.water_lost.score ? h('p', { class: 'large' }, words.text('check_score', { hits: format.number(got.water_lost.score.inside), n: got.water_lost.score.count })) : null),
    part(3, todo(got.capacity, 'bench'), h('details', { 'data-key': 'held' }, h('summary', {}, words.text('mix_pots')), stacked(
      words, ['f_pot', 'f_mix', 'x_capacity', 'mix_air', 'check_measured'],
      got.capacity.items.map((c) => [nameTree(ctx.index.pot(c.pot)?.name, c.pot), nameTree(ctx.index.mix(c.mix)?.name, c.mix), water(c.capacity_l), words.text('give_or_take', { value: format.percent(c.air_pct), sd: format.number(c.air_sd_pct, 1) }),
        c.measured.length ? c.measured.map((m) => format.percent(m.air_pct)).join(', ') : '–']),
    ))),
    part(4, todo(got.thirst, 'walk'), scored(got.thirst.items, (t) => [blockName(ctx, t.block), ' · ', beside(format.dayTime(t.due_at), format.dayTime(t.said_at)), ' · ', h('b', {}, words.text(t.hit ? 'check_hit' : 'check_miss'))]),
      got.thirst.score ? h('p', { class: 'large' }, words.text('check_score', { hits: format.number(got.thirst.score.hits), n: got.thirst.score.count })) : null),
    part(5, todo(got.meter, 'do/runs'), sum(got.meter.yesterday), sum(got.meter.running), todo(got.rain, 'do/gauge'), scored(got.rain.items, (r) => [`${format.dayTime(r.from)} – ${format.dayTime(r.to)} · `, beside(format.depth(r.feed_mm), format.depth(r.gauge_mm))])),
  ] : [h('p', {}, words.text(got === undefined ? 'loading' : 'error_404'))];
  return { title, body: [heading(title), got ? h('p', {}, words.text('checks_how', { n: got.days })) : null, ...body] };
}

/* ---- The weather behind the plan. */

/** Where each part comes from, what was not taken, what was learnt, how right past forecasts were. */
export function viewWeather(ctx) {
  const { plan, words, format, weather_age_s } = ctx;
  const { rung, error, sources, rejected = [], learnt = [], skill = [], skill_against } = plan.weather;
  const kind = (name) => words.text(`kind_${name}`);
  const signed = (value, say) => (value > 0 ? `+${say(value)}` : say(value));
  const told = plan.notices.filter(({ code }) => /^(weather|sensor|feeds|forecast)_/.test(code));
  const title = words.text('heading_weather');
  return {
    title,
    body: [
      heading(title),
      told.length ? null : h('p', {}, words.text(`built_${rung}`, { age: format.span(weather_age_s) })),
      error ? h('p', { class: 'notice watch' }, ...words.parts('built_error', { text: h('bdi', {}, error) })) : null,
      told.length ? h('ul', { class: 'plain' }, told.map((notice) => noticeEntry(ctx, notice))) : null,
      section('sources', words.text('weather_sources'), sources.length ? h('ul', { class: 'plain' }, sources.map((source) => h(
        'li',
        {},
        h('p', { class: 'who' }, source.kind === 'normal' ? null : [nameTree(source.name), ' · '], kind(source.kind)),
        pairs(ctx, [
          ['f_from', format.dayTime(source.from)], ['weather_to', format.dayTime(source.to)], ['weather_hours', format.number(source.hours)],
          source.issued_at && ['weather_issued', format.dayTime(source.issued_at)], source.fetched_at && ['weather_fetched', format.span(ctx.now_s - source.fetched_at_s)],
        ].filter(Boolean)),
      ))) : h('p', {}, words.text('weather_none'))),
      section('rejected', words.text('weather_rejected'), rejected.length ? h('ul', {}, rejected.map((r) => h('li', {}, ...words.parts('rejected_line', {
        source: nameTree(r.source), part: words.text(`part_${r.part}`), mark: words.text(`mark_${r.mark}`), hours: format.number(r.hours), last: format.dayTime(r.last),
      })))) : h('p', {}, words.text('weather_all_taken'))),
      learnt.length ? section('learnt', words.text('weather_learnt'), learnt.map((l) => [h('p', { class: 'who' }, nameTree(l.source)), pairs(ctx, [
        ['learnt_air', signed(l.temperature_bias_c, format.degrees)], ['learnt_dew', signed(l.dewpoint_bias_c, format.degrees)], ['learnt_humidity', signed(l.humidity_bias_pct, format.percent)],
        ['learnt_wind', `× ${format.number(l.wind_ratio, 2)}`], ['learnt_sun', `× ${format.number(l.radiation_factor, 2)}`],
      ])])) : null,
      skill.length ? section('skill', words.text('weather_skill'), h('p', {}, words.text('skill_how', { kind: kind(skill_against) })), stacked(
        words, ['skill_ahead', 'skill_off', 'course_rain'],
        skill.map((k) => [words.text('days', { n: k.lead_d }), format.depth(k.et0_mae_mm), words.text('skill_hits', { hits: format.number(k.rain_hits), misses: format.number(k.rain_misses), wrong: format.number(k.rain_false) })]),
      )) : null,
    ],
  };
}
