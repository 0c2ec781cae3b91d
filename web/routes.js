// SPDX-License-Identifier: GPL-3.0-or-later
// Every view by the first part of its address: [part of the navigation, day tab, file, function]. The
// tests' sweeps go through this list, so no view is left out of them.

export const ROUTES = {
  tomorrow: ['plan', 'tomorrow', 'views', 'viewTomorrow'],
  today: ['plan', 'today', 'views', 'viewToday'],
  week: ['plan', 'week', 'views', 'viewWeek'],
  day: ['plan', 'week', 'views', 'viewDay'],
  zones: ['zones', null, 'views', 'viewZones'],
  zone: ['zones', null, 'views', 'viewZone'],
  block: ['zones', null, 'views', 'viewBlock'],
  notices: ['notices', null, 'views', 'viewNotices'],
  more: ['more', null, 'views', 'viewMore'],
  'sign-in': ['do', null, 'work', 'viewSignIn'],
  do: ['do', null, 'work', 'viewDo'],
  walk: ['do', null, 'work', 'viewWalk'],
  change: ['do', null, 'work', 'viewChange'],
  working: ['do', null, 'work', 'viewWorking'],
  records: ['do', null, 'work', 'viewRecords'],
  edit: ['do', null, 'work', 'viewEdit'],
  setup: ['do', null, 'work', 'viewSetup'],
  sheet: ['plan', 'sheet', 'work', 'viewSheet'],
  card: ['plan', 'sheet', 'work', 'viewCard'],
  checks: ['do', null, 'work', 'viewChecks'],
  bench: ['do', null, 'work', 'viewBench'],
  mixes: ['zones', null, 'work', 'viewMixes'],
  mix: ['zones', null, 'work', 'viewMix'],
};

/** Views that need no plan. */
export const PLANLESS = ['more', 'sign-in'];

/** {name, part, tab, file, view, id, rest} of an address such as '#/block/carex'; any other is tomorrow's. */
export function readAddress(hash) {
  const [named = '', raw = '', rest = ''] = hash.replace(/^#\/?/, '').split('/');
  const name = Object.hasOwn(ROUTES, named) ? named : 'tomorrow';
  const [part, tab, file, view] = ROUTES[name];
  let id = raw;
  try {
    id = decodeURIComponent(raw);
  } catch {
    /* a broken escape is looked up as it stands */
  }
  return { name, part, tab, file, view, id, rest };
}
