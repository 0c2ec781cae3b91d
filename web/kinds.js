// SPDX-License-Identifier: GPL-3.0-or-later
// The records a person can write, as forms: '!' is needed, after ':' stands what it takes (a unit,
// a kind of record, 'a|b' one of these), after '=' a value that decides whether the field is asked.

const LEAVES = 'leafless|leaf-out|in-leaf|winter';

const SPECS = {
  gauge: '!from:time !to:time !rain_mm:mm',
  runs: '!zone:zones !start:time !end:time litres:l purpose:irrigation|feed|wash-in|cooling|frost|flush|test',
  orders: 'zone:zones block:blocks minutes:min litres:l why:text',
  holds: '!kind:skip|spraying|re-entry|picking|dispatch|valve-out|pump-out|ban|hand-only zone:zones block:blocks supply:supplies !from:time to:time allowed_pct:%=ban why:text',
  requirements: '!zone:zones !from:time !to:time !minutes:min !purpose:wash-in|feed|flush|test why:text',
  raises: 'zone:zones supply:supplies !on:date most_min_day:min most_l_day:l why:text',
  weighings: '!block:blocks !at:time !capacity_kg:kg !now_kg:kg',
  touch_checks: '!block:blocks !at:time !place:both|centre|edge !feel:dry|right|wet',
  pot_events: `!block:blocks !on:date !event:pruned|spaced|counted|sold|moved|split|merged|ended|${LEAVES} pots:n=counted|sold|split|merged canopy_cm:cm=pruned plant_height_m:m=pruned zone:zones=moved cover:covers=moved spacing_cm:cm=spaced|moved row_cm:cm=spaced|moved into:blocks=split|merged`,
  drain_catches: '!block:blocks !at:time !given_ml:ml !drained_ml:ml',
  pour_throughs: '!block:blocks !at:time !method:pour-through|saturated|extract-2 !ec_ds_m:dS/m ph:pH',
  catch_cans: '!zone:zones !on:date !catches_ml:grid can_cm2:cm² minutes:min',
  supplies: 'supply:id !name:text !flow_l_min:l/min !valves_at_once:n daily_limit_l:l water_ec_ds_m:dS/m',
  zones: 'zone:id !name:text post:text !supply:supplies !method:overhead|drip|spray|subirrigation|hand !flow_l_min:l/min rate_mm_h:mm/h=overhead emitters_per_pot:x=drip|spray emitter_l_h:l/h=drip|spray leaching_pct:% priority:n',
  windows: 'zone:zones !from:text !to:text days:days',
  mixes: 'mix:id !name:text !class:peat|peat-perlite|coir|wood-fibre|bark-peat-sand|bark-aged|bark-fresh|generic',
  bench_tests: '!mix:mixes batch:id !tested:date !vessel_height_cm:cm !vessel_volume_ml:ml !drained_ml:grid drain_min:min mass_saturated_g:g mass_drained_g:g mass_dry_g:g vessel:id settled_volume_ml:ml settled_height_cm:cm',
  pots: 'pot:id !name:text !form:round|square !top_cm:cm !bottom_cm:cm height_cm:cm !fill_height_cm:cm volume_l:l',
  blocks: 'block:id !name:text !zone:zones !from:date !pots:n !pot:pots !mix:mixes batch:id cover:covers !spacing_cm:cm row_cm:cm canopy_cm:cm plant_height_m:m stage:plug|growing|established potted:yes watered_in:yes',
};

export const DAYWORK = ['gauge', 'runs', 'orders', 'holds', 'weighings', 'pot_events', 'requirements', 'raises', 'drain_catches', 'pour_throughs', 'catch_cans'];
export const SETUP = ['supplies', 'zones', 'windows', 'mixes', 'pots', 'bench_tests', 'blocks'];

/** What takes a number, and how many metric units one US customary unit is. */
const US = { mm: ['in', 25.4], 'mm/h': ['in/h', 25.4], cm: ['in', 2.54], m: ['ft', 0.3048], l: ['gal', 3.785411784], 'l/min': ['gal/min', 3.785411784], 'l/h': ['gal/h', 3.785411784], ml: ['fl oz', 29.5735295625], kg: ['lb', 0.45359237], 'cm²': ['in²', 6.4516] };
const NUMBERS = new Set([...Object.keys(US), 'min', '%', 'g', 'n', 'x', 'pH', 'dS/m']);
const LISTS = new Set(['zones', 'blocks', 'supplies', 'mixes', 'pots', 'covers']);

/** [{name, needed, type, options, unit, factor, of, only}] of a kind, in the reader's units. */
export function fieldsOf(kind, us) {
  return SPECS[kind].split(' ').map((spec) => {
    const [, mark, name, takes, only] = /^(!?)(\w+):([^=]+)=?(.*)$/.exec(spec);
    const field = { name, needed: mark === '!', type: takes, only: only ? only.split('|') : null };
    if (takes.includes('|')) return { ...field, type: 'one', options: takes.split('|') };
    if (LISTS.has(takes)) return { ...field, type: 'list', of: takes };
    if (takes === 'grid') return { ...field, unit: us ? US.ml[0] : 'mL', factor: us ? US.ml[1] : 1 };
    if (!NUMBERS.has(takes)) return field;
    const [unit, factor] = (us && US[takes]) || [takes.replace(/\bl\b/, 'L').replace('ml', 'mL'), 1];
    return { ...field, type: 'number', whole: takes === 'n', unit: 'nx'.includes(takes) ? null : unit, factor };
  });
}

export function isKind(kind) {
  return kind in SPECS;
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

/** The moment of a zone's local text, as RFC 3339 in UTC; null when it is none. */
export function fromLocal(text, zone) {
  const as_utc = Date.parse(`${text.slice(0, 16)}:00Z`) / 1000;
  if (!/^\d{4}-\d\d-\d\dT/.test(text) || !Number.isFinite(as_utc)) return null;
  const offset = (at) => Date.parse(`${toLocal(at, zone).replace('T', ' ')}Z`) / 1000 - Math.floor(at / 60) * 60;
  const at = as_utc - offset(as_utc - offset(as_utc));
  return new Date(at * 1000).toISOString().replace('.000', '');
}

/** A record's value as the text a field of it holds. */
export function toText(field, value, zone) {
  if (value === null || value === undefined) return '';
  if (field.type === 'time') return toLocal(Date.parse(value) / 1000, zone);
  if (field.type === 'number') return String(Number((value / field.factor).toPrecision(6)));
  if (field.type === 'yes') return value ? 'yes' : '';
  if (field.type === 'grid') return value.map((v) => Number((v / field.factor).toPrecision(6))).join(' ');
  if (Array.isArray(value)) return value.join(' ');
  return String(value);
}

function fromText(field, text, zone) {
  if (field.type === 'yes') return text === 'yes';
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

/** Fills in what the form need not ask. */
export function complete(kind, body, me, now_s) {
  if (['runs', 'orders', 'holds', 'requirements', 'raises'].includes(kind)) body.key ??= newKey(now_s);
  if (kind === 'orders') body.at ??= new Date(now_s * 1000).toISOString().slice(0, 19) + 'Z';
  if (['orders', 'holds', 'requirements', 'raises', 'touch_checks'].includes(kind) && me?.account) body.who ??= me.account;
  if (kind === 'runs' && body.litres === undefined) body.state ??= 'confirmed';
  const id = { supplies: 'supply', zones: 'zone', mixes: 'mix', pots: 'pot', blocks: 'block' }[kind];
  if (id && !body[id] && body.name) body[id] = idOf(body.name);
  return body;
}
