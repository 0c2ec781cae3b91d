// SPDX-License-Identifier: GPL-3.0-or-later
// What people write: who they are, what they typed, what waits for a connection. Drafts and what
// waits are kept on the device, so that a locked phone, a reload or an ended session loses nothing.

const API = 'api/v1/';
const KEPT = 'perchd-desk';
const PATIENCE_MS = 20000;
const DENIED = [401, 403];

function readKept() {
  try {
    return { drafts: {}, waiting: [], ...JSON.parse(localStorage.getItem(KEPT) ?? '{}') };
  } catch {
    return { drafts: {}, waiting: [] };
  }
}

/** One request: {status, ok, data, etag}; rejects when nobody answers. */
export async function call(method, path, body, etag) {
  const headers = {};
  if (body !== undefined) headers['Content-Type'] = 'application/json';
  if (etag) headers['If-Match'] = etag;
  const response = await fetch(API + path, {
    method, headers, cache: 'no-cache', body: body === undefined ? undefined : JSON.stringify(body), signal: AbortSignal.timeout(PATIENCE_MS),
  });
  const text = await response.text();
  let data = null;
  try {
    data = JSON.parse(text);
  } catch {
    /* no body, or not ours: the status says enough */
  }
  return { status: response.status, ok: response.ok, data, etag: response.headers.get('ETag') };
}

export function makeDesk(redraw) {
  const kept = readKept();
  const loaded = new Map();
  /* what became of the last sending of a draft: {state: saving | saved | kept | error | conflict, ...} */
  const outcomes = new Map();

  function keep() {
    try {
      localStorage.setItem(KEPT, JSON.stringify(kept));
    } catch {
      /* private mode: kept as long as the page */
    }
  }

  const desk = {
    /** {account, role}; null until known. */
    me: null,
    waiting: kept.waiting,

    mayWrite: () => ['grower', 'admin'].includes(desk.me?.role),

    async whoAmI() {
      try {
        const { ok, data } = await call('GET', 'session');
        if (ok) desk.me = data;
      } catch {
        /* asked again with the next plan */
      }
    },

    /** What the API has at a path: undefined while it is asked for, null when it gave nothing. */
    load(path) {
      if (loaded.has(path)) return loaded.get(path);
      loaded.set(path, undefined);
      call('GET', path).then(({ ok, data, etag }) => loaded.set(path, ok ? { ...data, etag: data.etag ?? etag } : null), () => loaded.set(path, null)).then(redraw);
      return undefined;
    },

    forget: () => loaded.clear(),

    /** The draft of a form, an object of texts as typed; touch(id) keeps it. */
    draft: (id) => (kept.drafts[id] ??= {}),
    touch: keep,
    drop(id) {
      delete kept.drafts[id];
      keep();
    },
    outcome: (id) => outcomes.get(id),
    settle: (id, outcome) => {
      if (outcome) outcomes.set(id, outcome);
      else outcomes.delete(id);
    },

    /** Sends and notes under `id` what became of it; the answer, or null when nobody answered. */
    async send(id, method, path, body, etag) {
      outcomes.set(id, { state: 'saving' });
      redraw();
      try {
        const answer = await call(method, path, body, etag);
        if (answer.ok) {
          loaded.clear();
          outcomes.set(id, { state: 'saved', data: answer.data, etag: answer.etag });
        } else if (answer.status === 412) {
          loaded.clear();
          outcomes.set(id, { state: 'conflict' });
        } else {
          outcomes.set(id, { state: 'error', status: answer.status, problem: answer.data });
          if (DENIED.includes(answer.status)) await desk.whoAmI();
        }
        redraw();
        return answer;
      } catch {
        /* a new record may be sent twice without harm, so it waits and goes by itself */
        const waits = method === 'POST' && path !== 'session' && !path.endsWith('preview');
        if (waits) kept.waiting.push({ path, body });
        keep();
        outcomes.set(id, waits ? { state: 'kept' } : { state: 'error', status: 0 });
        redraw();
        return null;
      }
    },

    /** Sends what waited; stops at the first that nobody takes. */
    async flush() {
      while (kept.waiting.length) {
        const [{ path, body }] = kept.waiting;
        try {
          const { ok, status } = await call('POST', path, body);
          if (DENIED.includes(status) || status >= 500 || status === 429) break;
          kept.waiting.shift();
          if (!ok) kept.drafts[`refused ${path}`] = body;
        } catch {
          break;
        }
        keep();
      }
    },
  };
  return desk;
}
