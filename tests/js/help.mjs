// SPDX-License-Identifier: GPL-3.0-or-later
// What the tests of the page's modules share.

import { readFileSync } from 'node:fs';
import { makeFormat } from '../../web/page.js';
import { indexPlan } from '../../web/page.js';
import english from '../../web/words.en.js';
import spanish from '../../web/words.es.js';
import { makeWords } from '../../web/page.js';

export const METRIC = { units: 'metric', clock: '24' };
export const US = { units: 'us', clock: '12' };

export function readPlan() {
  return JSON.parse(readFileSync(new URL('fixtures/plan.json', import.meta.url), 'utf8'));
}

export function wordsOf(language) {
  return language === 'es' ? makeWords(spanish, 'es') : makeWords(english, 'en-GB');
}

export function formatOf(choice = METRIC, language = 'en', today = '2026-01-13') {
  return makeFormat(wordsOf(language), choice, today);
}

/** What the views get, a quarter of an hour after the plan was made. */
export function contextOf(plan, choice = METRIC, language = 'en') {
  const words = wordsOf(language);
  const index = indexPlan(plan);
  return {
    plan,
    words,
    index,
    format: makeFormat(words, choice, index.today),
    now_s: plan.made_at_s + 900,
    age_s: 900,
    weather_age_s: plan.weather.age_s === null ? null : plan.weather.age_s + 900,
    choices: { language: 'en', units: 'metric', clock: '24', theme: 'auto' },
    choose: () => {},
    desk: { load: () => undefined, me: null, mayWrite: () => false, draft: () => ({}), outcome: () => undefined, touch: () => {}, waiting: [], refused: [] },
  };
}

/** Spaces that do not break look like others in a test's expectation. */
export function plain(text) {
  return text.replace(/[\u00a0\u202f]/g, ' ');
}

/** What a reader without sight or styles gets of a tree. */
export function textOf(tree) {
  return typeof tree === 'object' ? tree.children.map(textOf).join('') : String(tree);
}

/** All nodes of a tree for which keep(node) holds. */
export function findAll(tree, keep) {
  if (tree === null || typeof tree !== 'object') return [];
  if (Array.isArray(tree)) return tree.flatMap((part) => findAll(part, keep));
  return [...(keep(tree) ? [tree] : []), ...tree.children.flatMap((child) => findAll(child, keep))];
}
