// SPDX-License-Identifier: GPL-3.0-or-later
// How the reader wants it: language, units, clock, colours; kept on the device. This script runs before
// the others are there, so that the one catalogue of words that is needed is on its way by then.

const STORED = 'perchd-display';
const ALLOWED = { language: ['en', 'es'], units: ['metric', 'us'], clock: ['24', '12'], theme: ['auto', 'light', 'dark'] };

export function readChoices() {
  const tag = navigator.language ?? '';
  const us = tag.endsWith('-US');
  const choices = { language: tag.startsWith('es') ? 'es' : 'en', units: us ? 'us' : 'metric', clock: us ? '12' : '24', theme: 'auto' };
  try {
    const kept = JSON.parse(localStorage.getItem(STORED) ?? '{}');
    for (const name of Object.keys(choices)) {
      if (ALLOWED[name].includes(kept[name])) choices[name] = kept[name];
    }
  } catch {
    /* no storage, or not ours: the defaults do */
  }
  return choices;
}

export function keepChoices(choices) {
  try {
    localStorage.setItem(STORED, JSON.stringify(choices));
  } catch {
    /* private mode: the choice lasts as long as the page */
  }
}

/** The words of a language; no other one is fetched. */
export async function fetchWords(language) {
  return (await import(`./words.${language}.js`)).default;
}

/** The colours of a choice, put on the page before anything is drawn. */
export function showTheme(theme) {
  const dark = theme === 'auto' ? matchMedia('(prefers-color-scheme: dark)').matches : theme === 'dark';
  document.documentElement.dataset.theme = dark ? 'dark' : 'light';
}

showTheme(readChoices().theme);
fetchWords(readChoices().language).catch(() => {});
