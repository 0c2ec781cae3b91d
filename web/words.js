// SPDX-License-Identifier: GPL-3.0-or-later
// Sentences from a catalogue: '{name}' is replaced, {one, other} is chosen by the parameter n.

import { h } from './tree.js';

/** A words object of a catalogue (words.en.js, words.es.js) for a locale such as 'en-GB'. */
export function makeWords(catalogue, locale) {
  const plural = new Intl.PluralRules(locale);
  const count = new Intl.NumberFormat(locale);

  function template(key, params) {
    const entry = catalogue[key];
    if (entry === undefined) return undefined;
    if (typeof entry === 'string') return entry;
    return entry[plural.select(params.n)] ?? entry.other;
  }

  /** The sentence as a list of strings and trees, so that names can be links. */
  function parts(key, params = {}) {
    const text = template(key, params) ?? key;
    return text
      .split(/(\{\w+\})/)
      .filter((piece) => piece !== '')
      .map((piece) => {
        const name = /^\{(\w+)\}$/.exec(piece)?.[1];
        if (name === undefined) return piece;
        const value = params[name];
        if (name === 'n' && typeof value === 'number') return count.format(value);
        return value === undefined || value === null ? unknown() : value;
      })
      .flat();
  }

  function unknown() {
    return catalogue.unknown;
  }

  return {
    locale,
    has: (key) => catalogue[key] !== undefined,
    parts,
    /** The sentence as one string; parameters must be strings or numbers. */
    text: (key, params) => parts(key, params).join(''),
  };
}

// Marks that reorder or hide text (Unicode bidirectional controls, C0 and C1 controls, zero width
// and byte-order marks) have no place in a name; letters that run right to left stay.
const UNSEEN = /[\u0000-\u001f\u007f-\u009f\u061c\u200b\u200e\u200f\u2028-\u202e\u2060\u2066-\u2069\ufeff]/g;

/** A name as people typed it, without unseen marks; the id when nothing is left. */
export function plainName(name, id = '') {
  const text = String(name ?? '').replace(UNSEEN, ' ').replace(/ {2,}/g, ' ').trim();
  return text === '' ? String(id) : text;
}

/** A name inside a sentence: kept from reordering its neighbours; a link when href is given. */
export function nameTree(name, id, href) {
  const bdi = h('bdi', {}, plainName(name, id));
  return href ? h('a', { href }, bdi) : bdi;
}

/** A name inside a label that can hold no elements: isolated by marks (FSI, PDI). */
export function nameText(name, id) {
  return `\u2068${plainName(name, id)}\u2069`;
}
