// SPDX-License-Identifier: GPL-3.0-or-later
// A stand-in for the daemon: serves web/ and a plan that a test can change or take away.

import { readFile } from 'node:fs/promises';
import { createServer } from 'node:http';
import { extname, join, normalize } from 'node:path';
import { fileURLToPath } from 'node:url';
import { gzipSync } from 'node:zlib';

const WEB = fileURLToPath(new URL('../../web/', import.meta.url));
const TYPES = {
  '.html': 'text/html; charset=utf-8',
  '.css': 'text/css; charset=utf-8',
  '.js': 'text/javascript; charset=utf-8',
  '.svg': 'image/svg+xml',
};
export const POLICY = "default-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'";

/** {url, answer, requests, close()}; answer(request) gives {status, headers, body} for the plan. */
export async function startStandIn(answer, port = 0) {
  const self = { answer, requests: [] };
  const server = createServer(async (request, response) => {
    const path = new URL(request.url, 'http://stand-in').pathname;
    self.requests.push(path);
    try {
      const { status = 200, headers = {}, body } = await reply(self, path);
      if (status === 0) {
        request.socket.destroy();
        return;
      }
      const bytes = gzipSync(body);
      response.writeHead(status, { 'Content-Encoding': 'gzip', 'Content-Security-Policy': POLICY, 'X-Content-Type-Options': 'nosniff', ...headers });
      response.end(bytes);
    } catch {
      response.writeHead(404).end();
    }
  });
  await new Promise((done) => server.listen(port, '127.0.0.1', done));
  self.url = `http://127.0.0.1:${server.address().port}/`;
  self.close = () => new Promise((done) => {
    server.closeAllConnections();
    server.close(done);
  });
  return self;
}

async function reply(self, path) {
  if (path === '/api/v1/plan') return self.answer(path);
  if (path === '/api/v1/session') return { headers: { 'Content-Type': 'application/json' }, body: '{"account":null,"role":null}' };
  const canned = /\/(hours|sheet|card|checks)$/.exec(path)?.[1];
  if (canned) return { headers: { 'Content-Type': 'application/json' }, body: await readFile(new URL(`../js/fixtures/${canned}.json`, import.meta.url)) };
  if (path.startsWith('/api/')) return { headers: { 'Content-Type': 'application/json' }, body: '{"items":[],"steps":[]}' };
  if (path === '/plan.txt') return { headers: { 'Content-Type': 'text/plain; charset=utf-8' }, body: 'the plan\n' };
  if (path === '/records.csv') return { headers: { 'Content-Type': 'text/csv; charset=utf-8' }, body: 'record,zone,block,key,state,start,end,litres,capacity_kg,now_kg,rain_mm\r\n' };
  if (path === '/favicon.ico') return { headers: { 'Content-Type': 'image/svg+xml' }, body: await readFile(join(WEB, 'icon.svg')) };
  const file = normalize(path === '/' ? '/index.html' : path);
  return { headers: { 'Content-Type': TYPES[extname(file)] ?? 'application/octet-stream' }, body: await readFile(join(WEB, file)) };
}

/** The plan as a daemon would give it so many seconds after it was made, by the daemon's clock. */
export function answerPlan(plan, age_s = 1500) {
  return {
    headers: { 'Content-Type': 'application/json', 'Cache-Control': 'no-cache', Date: new Date((plan.made_at_s + age_s) * 1000).toUTCString() },
    body: JSON.stringify(plan),
  };
}

export async function readFixture() {
  return JSON.parse(await readFile(new URL('../js/fixtures/plan.json', import.meta.url), 'utf8'));
}
