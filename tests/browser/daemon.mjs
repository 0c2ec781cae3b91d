// SPDX-License-Identifier: GPL-3.0-or-later
// The real daemon under test: started, listened to, stopped; its records in a folder of its own.

import { spawn, spawnSync } from 'node:child_process';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

const ROOT = fileURLToPath(new URL('../../', import.meta.url));
const PERCHD = join(ROOT, process.env.PERCHD_BUILD ?? 'build', 'perchd');

export const DEMO_FILES = join(ROOT, 'config', 'demo');

export function makeFolder() {
  return mkdtemp(join(tmpdir(), 'perchd-browser-'));
}

export function removeFolder(folder) {
  return rm(folder, { recursive: true, force: true });
}

/** Runs a subcommand to its end; its output, or an error with what it said. */
export function runPerchd(...args) {
  const done = spawnSync(PERCHD, args, { encoding: 'utf8' });
  if (done.status !== 0) throw new Error(`perchd ${args.join(' ')}: exit ${done.status}\n${done.stdout}${done.stderr}`);
  return done.stdout;
}

/** Lets a person in. */
export function addAccount(folder, name, role, password) {
  const done = spawnSync(PERCHD, ['account', '--config', join(folder, 'perchd.conf'), '--role', role, 'add', name], { input: `${password}\n`, encoding: 'utf8' });
  if (done.status !== 0) throw new Error(`perchd account add ${name}: exit ${done.status}\n${done.stdout}${done.stderr}`);
}

const ASK_MS = 200;
const TRIES = Number(process.env.PATIENCE_MS ?? 120000) / ASK_MS;

/** What get() gives, as soon as it is so. */
export async function until(get, is) {
  for (let i = 0; i < TRIES; i += 1) {
    const got = await get();
    if (got !== null && is(got)) return got;
    await new Promise((done) => setTimeout(done, ASK_MS));
  }
  throw new Error(`waited in vain for ${is}`);
}

/** The daemon's first plan that is so; before its first one it answers 503, and is asked again. */
export function fetchPlan(url, is = () => true) {
  return until(async () => {
    const response = await fetch(`${url}api/v1/plan`);
    if (response.status === 200) return response.json();
    if (response.status !== 503) throw new Error(`${url}api/v1/plan: ${response.status} ${await response.text()}`);
    return null;
  }, is);
}

/** Starts a subcommand that serves; {url, stop(), said} once it answers. */
export function startPerchd(...args) {
  const child = spawn(PERCHD, args, { stdio: ['ignore', 'pipe', 'pipe'] });
  let said = '';
  const ended = new Promise((done) => {
    child.once('exit', done);
  });
  const stop = () => {
    child.kill('SIGTERM');
    return ended;
  };
  return new Promise((done, failed) => {
    const listen = (chunk) => {
      said += chunk;
      const url = /^serving (http:\S+)$/m.exec(said)?.[1];
      if (url) done({ url, stop, said });
    };
    child.stdout.on('data', listen);
    child.stderr.on('data', listen);
    ended.then((code) => failed(new Error(`perchd ${args.join(' ')}: exit ${code}\n${said}`)));
  });
}
