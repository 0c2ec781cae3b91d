// SPDX-License-Identifier: GPL-3.0-or-later
import assert from 'node:assert/strict';
import { test } from 'node:test';

import { bandOf, drawColumn, oddWidth, readJars, viewBench, viewMix, viewMixes, waterAt } from '../../web/work.js';
import { METRIC, US, contextOf, findAll, plain, readPlan, textOf } from './help.mjs';

const near = (given, expected, within, what) => assert.ok(Math.abs(given - expected) <= within, `${what}: ${given}, not ${expected}`);

test('jars_give_air_mean_and_spread_by_hand_worked_figures', () => {
  const jars = readJars(1000, [131, 85, 96]);
  assert.deepEqual(jars.airs_pct.map((a) => Math.round(a * 10) / 10), [13.1, 8.5, 9.6]);
  near(jars.mean_pct, 10.4, 1e-9, 'mean'); // (13.1 + 8.5 + 9.6) / 3
  near(jars.sd_pct, Math.sqrt((2.7 ** 2 + 1.9 ** 2 + 0.8 ** 2) / 2), 1e-9, 'standard deviation');
  assert.deepEqual(jars.faults, ['doubt_replicates_differ']);
});

test('a_vessel_whose_depth_was_typed_in_millimetres_is_questioned', () => {
  assert.equal(oddWidth(1000, 12), null);
  near(oddWidth(1000, 120), 3.257, 0.001, 'sqrt(4000 / (pi 120))');
  assert.ok(oddWidth(1000, 1.2) > 30);
});

test('jars_are_doubted_and_refused_as_the_daemon_does', () => {
  const faults = (...drained) => readJars(1000, drained).faults;
  assert.deepEqual(faults(200), ['doubt_one_replicate']);
  assert.deepEqual(faults(200, 205, NaN), []);
  assert.deepEqual(faults(20, 200, 210), ['bench_scatter']);
  assert.deepEqual(faults(90, 92, 91), ['finding_root_rot']);
  assert.deepEqual(faults(1000, 1001), ['bench_full']);
  assert.deepEqual(faults(0, 0), ['bench_nothing', 'finding_root_rot']);
  assert.deepEqual(readJars(NaN, [200]).mean_pct, null);
  assert.deepEqual(readJars(0, [200]).mean_pct, null);
});

test('masses_give_all_pores_and_must_agree_with_what_drained', () => {
  near(readJars(1000, [208, 204, 212], [968, 760, 98]).porosity_pct, 87, 1e-9, 'pores'); // (968 - 98) / 1000
  near(readJars(1000, [208, 204, 212], [NaN, 760, 98]).porosity_pct, 87, 1e-9, 'pores from drained mass and air');
  assert.deepEqual(readJars(1000, [208, 204, 212], [968, 760, 98]).faults, []);
  assert.deepEqual(readJars(1000, [208, 204, 212], [868, 760, 98]).faults, ['doubt_masses_disagree']);
  assert.deepEqual(readJars(1000, [208, 204, 212], [98, 760, 968]).faults, ['bench_order']);
});

test('bands_of_air_are_those_of_the_model', () => {
  assert.deepEqual([9.9, 10, 12.9, 13, 24.9, 25, 30, 99].map(bandOf), ['too_wet', 'rather_wet', 'rather_wet', 'fit', 'fit', 'rather_dry', 'too_dry', 'too_dry']);
});

test('the_column_holds_all_pores_at_the_holes_and_less_above', () => {
  const [mix] = readPlan().mixes;
  assert.equal(waterAt(mix, 0), mix.theta_s);
  let before = mix.theta_s;
  for (let cm = 1; cm < 60; cm += 1) {
    assert.ok(waterAt(mix, cm) < before && waterAt(mix, cm) > mix.theta_r, `${cm} cm`);
    before = waterAt(mix, cm);
  }
  /* its mean over the vessel is the water that was measured there */
  const steps = 2000;
  const mean = Array.from({ length: steps }, (_, i) => waterAt(mix, (12 * (i + 0.5)) / steps)).reduce((a, b) => a + b) / steps;
  near(100 * mean, mix.capacity_pct, 0.1, 'capacity');
});

test('nothing_leaves_the_column_and_names_do_not_touch', () => {
  const plan = readPlan();
  const pots = plan.pots.filter((p) => p.fill_height_cm > 0).map((p) => ({ name: p.name, height_cm: p.fill_height_cm }));
  for (const width of [240, 328, 900]) {
    const tree = drawColumn(plan.mixes[0], pots, { label: '' }, false, width, 14);
    const at = findAll(tree, (n) => n.tag === 'text' && n.attributes.x > width / 2).map((n) => n.attributes.y);
    assert.equal(at.length, pots.length, 'every pot is named');
    assert.ok(Math.min(...at) > 14);
    for (let i = 1; i < at.length; i += 1) assert.ok(at[i - 1] - at[i] >= 14, `${at}`);
    for (const [x, y] of findAll(tree, (n) => n.tag === 'polygon').flatMap((n) => n.attributes.points.split(' ').map((p) => p.split(',').map(Number)))) {
      assert.ok(x >= 0 && x <= width && y >= 0 && y <= tree.attributes.height);
    }
    assert.equal(findAll(tree, (n) => n.attributes.class === 'mark-full').length, pots.length);
  }
});

test('a_mix_says_its_verdict_its_doubts_and_every_pot', () => {
  const ctx = contextOf(readPlan());
  const said = (view) => plain(view.body.flat(Infinity).filter(Boolean).map(textOf).join('\n'));
  const text = said(viewMix(ctx, 'fine'));
  assert.match(text, /for growing on\. \d+ % air in a vessel of 12 cm/);
  assert.match(text, /One jar says little: use three\./);
  for (const pot of ctx.plan.pots.filter((p) => p.fill_height_cm > 0)) assert.ok(text.includes(pot.name), pot.name);
  assert.match(said(viewMixes(ctx)), /Tested 20 Nov 2025/);
  assert.doesNotMatch(said(viewMixes(ctx)), /An older test/);
  const fine = ctx.plan.mixes.find((mix) => mix.id === 'fine');
  ctx.plan.mixes.push({ ...fine, tested: '2026-01-10', air_pct: 33.3 });
  const tests = said(viewMix(ctx, 'fine'));
  assert.ok(tests.indexOf('33.3') >= 0 && tests.indexOf('33.3') < tests.indexOf('An older test'), 'the newest first, the older one marked');
  assert.match(said(viewMix(ctx, 'none')), /No mix is tested yet/);
});

/* The bench with what was typed; look() gives it as it stands. */
function benchWith(draft, choice = METRIC) {
  const ctx = contextOf(readPlan(), choice);
  const outcomes = new Map();
  const drafts = new Map([['bench ', draft], ['bench us', draft], ['benched', {}]]);
  const sent = [];
  const desk = { ...ctx.desk, draft: (id) => drafts.get(id), drop: (id) => drafts.set(id, {}), outcome: (id) => outcomes.get(id), settle: (id, outcome) => outcomes.set(id, outcome), touch: () => {}, mayWrite: () => true };
  desk.send = async (...what) => sent.push(what) && { ok: true, data: { batch: 'b' } };
  Object.assign(ctx, { desk, clock: () => ctx.now_s, redraw: () => {}, renew: () => {}, askAgain: () => {} });
  globalThis.document = { getElementById: () => null };
  const look = () => viewBench(ctx).body;
  const parts = () => findAll(look(), (n) => n.attributes.live).flatMap((n) => [n.attributes.live()].flat(Infinity)).filter(Boolean);
  const part = (id) => [...findAll(look(), (n) => n.attributes.id === id), ...findAll(parts(), (n) => n.attributes.id === id)][0];
  return { ctx, draft, sent, look, parts, part, text: () => plain(parts().map(textOf).join('\n')), save: () => findAll(look(), (n) => n.tag === 'form')[0].attributes.onsubmit({ preventDefault: () => {} }) };
}

test('the_bench_says_while_it_is_typed_what_the_jars_say', () => {
  const jars = (...texts) => benchWith({ vessel_volume_ml: '1000', vessel_height_cm: '12', jars: texts }).text();
  assert.match(benchWith({}).text(), /Volume and drained water are wanted/);
  assert.match(jars('181', '225', '190,5'), /^Air 19\.9 %\njar 1: 18\.1 % · jar 2: 22\.5 % · jar 3: 19\.1 %\nThe jars scatter by 2\.3 %; their mean is good to 1\.3 %\.\nAs a pot of this depth: Fit for growing on\.\nThe jars differ/m);
  assert.match(jars('40', '95'), /One jar gave over twice as much as another.*Under 10 % air/s);
  assert.match(jars('1200'), /More drained than the jar holds\./);
  assert.doesNotMatch(jars('1200'), /As a pot/);
  const marks = (...texts) => findAll(benchWith({ vessel_volume_ml: '1000', jars: texts }).parts(), (n) => /^notice/.test(n.attributes.class ?? '')).map((n) => n.attributes.class);
  assert.deepEqual([marks('1200'), marks('181')], [['notice watch', 'notice act'].reverse(), ['notice watch']]);
  assert.match(jars('0', '0'), /Nothing drained/);
  const masses = { vessel_volume_ml: '1000', jars: ['150', '155'] };
  assert.match(benchWith({ ...masses, mass_saturated_g: '700', mass_drained_g: '900', mass_dry_g: '200' }).text(), /Masses must fall/);
  assert.match(benchWith({ ...masses, mass_saturated_g: '900', mass_drained_g: '500', mass_dry_g: '100' }).text(), /All pores together 80\.0 %.*disagree/s);
  assert.match(benchWith({ ...masses, mass_saturated_g: '1290', mass_drained_g: '1138', mass_dry_g: '100' }).text(), /More pores than its weight allows/);
  assert.match(benchWith({ vessel_volume_ml: '1000', vessel_height_cm: '120', jars: ['181'] }).text(), /A vessel 3\.3 cm wide and 120 cm deep\?/);
  assert.match(benchWith({ vessel_volume_ml: '34', vessel_height_cm: '47', jars: ['6'] }, US).text(), /in wide and 47 in deep\?/);
});

test('a_timer_that_is_over_says_since_when_and_is_set_anew', () => {
  const bench = benchWith({});
  bench.part('f-soak-60').attributes.onclick();
  assert.equal(bench.draft.soak, bench.ctx.now_s + 3600);
  assert.match(bench.text(), /Until 17:25\./);
  bench.draft.soak = bench.ctx.now_s;
  assert.match(bench.text(), /Time is up since 16:25\./);
  assert.doesNotMatch(bench.text(), /Until/);
  bench.part('f-soak-off').attributes.onclick();
  assert.ok(bench.part('f-soak-720'), 'an hour or a night');
});

test('the_bench_takes_more_jars_and_sends_only_what_can_be_judged', async () => {
  const bench = benchWith({});
  bench.part('f-jar-more').attributes.onclick();
  assert.ok(bench.part('f-jar-3'));
  await bench.save();
  const faults = () => findAll(bench.look(), (n) => n.attributes.class === 'fault').map((n) => n.attributes.id);
  assert.deepEqual(faults(), ['e-f-vessel_volume_ml', 'e-f-vessel_height_cm']);
  assert.match(plain(textOf({ children: bench.look().filter(Boolean) })), /Something is missing or not readable/);
  for (const [name, value] of [['vessel_volume_ml', '1000'], ['vessel_height_cm', '12'], ['jar-0', '150'], ['jar-3', '160']]) bench.part(`f-${name}`).attributes.oninput({ target: { value } });
  bench.part('f-mix').attributes.onchange({ target: { value: 'fine' } });
  Object.assign(bench.draft, { drain: bench.ctx.now_s + 1800 });
  const send = bench.ctx.desk.send;
  bench.ctx.desk.send = async () => ({ ok: false });
  await bench.save();
  assert.equal(bench.part('f-jar-3').attributes.value, '160', 'what was refused is not lost');
  bench.ctx.desk.send = send;
  await bench.save();
  const [[id, method, path, body]] = bench.sent;
  assert.deepEqual([id, method, path, body.drained_ml, body.mix, body.tested, body.drain_min], ['bench', 'POST', 'bench_tests', [150, 160], 'fine', '2026-01-13', 30], 'measured half an hour before the hour was over');
});

test('what_a_saved_test_means_is_waited_for_until_a_plan_has_it', () => {
  const bench = benchWith({});
  const told = () => plain(textOf({ children: bench.look().flat(Infinity).filter(Boolean) }));
  const saved = bench.ctx.desk.draft('benched');
  assert.doesNotMatch(told(), /works out|What it means/);
  Object.assign(saved, { mix: 'fine', batch: '', at_s: bench.ctx.plan.made_at_s + 1 });
  assert.match(told(), /works out what it means/);
  assert.equal(findAll(bench.look(), (n) => n.tag === 'progress').length, 1);
  saved.at_s = bench.ctx.plan.made_at_s;
  assert.match(told(), /What it means: Fine sowing mix/);
  assert.equal(findAll(bench.look(), (n) => n.tag === 'progress').length, 0);
  saved.batch = 'another';
  assert.match(told(), /works out what it means/, 'the plan has another delivery of it');
});
