// SPDX-License-Identifier: GPL-3.0-or-later
// A plan whose every name was typed by someone who means harm, or is merely far away.

export const NAMES = [
  '<img src=x onerror="document.title=\'taken\'">',
  '</bdi></p><script>document.title="taken"</script>',
  '"><svg onload=document.title="taken">',
  '\u202egnihton swohs siht\u202c',
  'שיחים ליד הגדר 3',
  '🌿🌵🌾 𝔊𝔯𝔞𝔰',
  'L'.repeat(300),
  'spaced '.repeat(43),
  'M'.repeat(200),
  "{block} {zone} {n} ' & &amp; %s",
];

const PLACES = ['nursery', 'zones', 'supplies', 'pots', 'mixes', 'blocks'];

/** The plan with names from NAMES in turn; ids stay. */
export function makeHostile(plan) {
  let next = 0;
  const name = () => NAMES[next++ % NAMES.length];
  for (const place of PLACES) {
    for (const item of [plan[place]].flat()) item.name = name();
  }
  for (const zone of plan.zones) zone.post = name();
  for (const block of plan.blocks) block.batch = name();
  plan.weather.error = name();
  for (const source of plan.weather.sources) source.name = name();
  plan.notices.push({ code: name(), severity: 'watch', since: null, since_s: null, params: { text: name() } });
  plan.notices.push({ code: 'weather_refused', severity: 'watch', since: null, since_s: null, params: { text: name() } });
  return plan;
}
