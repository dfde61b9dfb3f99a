// The device's outbox: what was done at the bench while the studio's computer could not be reached. Every entry is
// written here first, with its own time and id, and leaves when the server has answered. The server knows entries by
// their ids, so sending one again after a lost answer records nothing twice.
import { openDB } from './vendor/idb.js';

const NAME = 'bench-outbox';
/** By what a worker is asked to send later. */
export const SYNC_TAG = NAME;
const SEND_MS = 12_000;
const SEND_FILE_MS = 120_000;

/** 'stored' survives the closing of the page; 'memory' where the browser gives no database (some private windows). */
export let storage = 'stored';

const memory = new Map();
let lastSeq = 0;
const opening = openDB(NAME, 1, {
  upgrade(db) {
    db.createObjectStore('entries', { keyPath: 'seq', autoIncrement: true });
  },
}).catch(() => {
  storage = 'memory';
  return null;
});

const store = {
  async all() {
    const db = await opening;
    return db ? db.getAll('entries') : [...memory.values()];
  },
  async add(entry) {
    const db = await opening;
    if (db) return db.add('entries', entry);
    lastSeq += 1;
    memory.set(lastSeq, { ...entry, seq: lastSeq });
    return lastSeq;
  },
  async get(seq) {
    const db = await opening;
    return db ? db.get('entries', seq) : memory.get(seq);
  },
  async put(entry) {
    const db = await opening;
    if (db) await db.put('entries', entry);
    else memory.set(entry.seq, entry);
  },
  async remove(seq) {
    const db = await opening;
    if (db) await db.delete('entries', seq);
    else memory.delete(seq);
  },
};

const listeners = new Set();
/** Calls back on every change here or in another tab: ({ kind, entry, html }). */
export const onChange = (listener) => listeners.add(listener);

const channel = 'BroadcastChannel' in globalThis ? new BroadcastChannel(NAME) : null;
channel?.addEventListener('message', () => {
  for (const listener of listeners) listener({ kind: 'elsewhere' });
});

/** How many wait, where every page can read it at once. */
const count = async () => {
  try {
    localStorage.setItem('unsent', String((await store.all()).length));
  } catch {
    // A browser that stores nothing still has the memory of this page.
  }
};

const changed = async (change) => {
  await count();
  channel?.postMessage('changed');
  for (const listener of listeners) listener(change);
};

export const entries = () => store.all();

/** Keeps one action. `fields` are the form's own, files among them, in its order. */
export async function keep({ clientId, lotId, lotNumber, personId, personName, url, at, words, fields }) {
  const entry = { clientId, lotId, lotNumber, personId, personName, url, at, words, fields, state: 'waiting' };
  const seq = await store.add(entry);
  await changed({ kind: 'kept', entry: { ...entry, seq } });
  return seq;
}

/** Takes an entry back that was never sent, or gives up one that was refused. */
export async function drop(seq) {
  await store.remove(seq);
  await changed({ kind: 'dropped' });
}

/** Lets a refused entry try again, and those behind it. */
export async function retry(seq) {
  const entry = await store.get(seq);
  if (entry) await store.put({ ...entry, state: 'waiting', refusal: undefined });
  await changed({ kind: 'retried' });
  return flush();
}

const bodyOf = (entry) => {
  const fields = [...entry.fields, ['clientId', entry.clientId], ['at', entry.at], ['person', entry.personId]];
  const withFile = entry.fields.some(([, value]) => value instanceof Blob);
  const body = withFile ? new FormData() : new URLSearchParams();
  for (const [name, value] of fields) body.append(name, value instanceof Blob ? value : String(value));
  return { body, waitMs: withFile ? SEND_FILE_MS : SEND_MS };
};

/** The server's own words out of a refusal's fragment. */
const wordsOf = (html) => {
  // A worker has no parser of pages; the bench shows the reason when it tries again.
  if (!('DOMParser' in globalThis)) return 'It was refused while no page was open: try again to see why.';
  const page = new DOMParser().parseFromString(html, 'text/html');
  const found = page.querySelector('.field-error, .notice.bad p, .refusal p');
  return found?.textContent.trim() || 'It was refused without a reason.';
};

/** Sends one entry. 'away' is everything that may pass by itself: no network, no answer in time, a server in trouble, or
 *  a stranger answering in its place, as hotel networks do. */
async function send(entry) {
  const { body, waitMs } = bodyOf(entry);
  const giveUp = new AbortController();
  const timer = setTimeout(() => giveUp.abort(), waitMs);
  try {
    const answer = await fetch(entry.url, {
      method: 'POST',
      body,
      headers: { 'HX-Request': 'true', 'HX-Request-Type': 'partial' },
      signal: giveUp.signal,
    });
    const html = await answer.text();
    if (answer.status === 401) return { outcome: 'signedOut', words: wordsOf(html) };
    if (answer.ok && !answer.redirected && html.startsWith('<div id="bench"')) return { outcome: 'sent', html };
    if (answer.status >= 400 && answer.status < 500 && ![408, 425, 429].includes(answer.status))
      return { outcome: 'refused', html, status: answer.status, words: wordsOf(html) };
    return { outcome: 'away' };
  } catch {
    return { outcome: 'away' };
  } finally {
    clearTimeout(timer);
  }
}

let running = null;
let again = false;

/** Sends what waits, each lot in its own order; a refused entry holds up its lot alone. Answers the last outcome. */
export function flush() {
  if (running) {
    again = true;
    return running;
  }
  running = oneTabAtATime(sendAll).then((outcome) => {
    running = null;
    return again && outcome !== 'away' ? flush() : outcome;
  });
  return running;
}

/** Two open tabs would send the same entry at once; harmless, since ids are known, but not needed. Locks exist in secure
 *  contexts only. */
const oneTabAtATime = (work) => (navigator.locks ? navigator.locks.request(NAME, work) : work());

/** Who is signed in on this page, where the page knows; the others' entries wait for them. The server checks it again. */
let sender = null;
export const sendAs = (personId) => {
  sender = personId;
};

async function sendAll() {
  let outcome = 'nothing';
  const stuck = new Set();
  const strangers = new Set();
  do {
    again = false;
    const waiting = (await store.all()).sort((x, y) => x.seq - y.seq);
    for (const { seq } of waiting) {
      // Read again: another tab may have sent it, or its maker taken it back.
      const entry = await store.get(seq);
      if (!entry || stuck.has(entry.lotId) || strangers.has(entry.personId)) continue;
      if (sender !== null && entry.personId !== sender) continue;
      if (entry.state === 'refused') {
        stuck.add(entry.lotId);
        continue;
      }
      for (const listener of listeners) listener({ kind: 'sending', entry });
      const result = await send(entry);
      outcome = result.outcome;
      if (outcome === 'sent') {
        await store.remove(seq);
        await changed({ kind: 'sent', entry, html: result.html });
      } else if (outcome === 'refused') {
        stuck.add(entry.lotId);
        await store.put({ ...entry, state: 'refused', refusal: { status: result.status, words: result.words } });
        await changed({ kind: 'refused', entry, html: result.html });
      } else if (outcome === 'signedOut') {
        strangers.add(entry.personId);
        await changed({ kind: 'signedOut', entry, words: result.words });
      } else {
        await changed({ kind: 'away', entry });
        return 'away';
      }
    }
  } while (again);
  return outcome;
}
