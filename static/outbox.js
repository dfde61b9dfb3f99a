// The device's outbox: what was done at the bench while the studio's computer could not be reached. Every entry is
// written here first, with its own time and id, and leaves when the server has answered. The server knows entries by
// their ids, so sending one again after a lost answer records nothing twice.
import { openDB } from './vendor/idb.js';

const NAME = 'bench-outbox';
/** By what a worker is asked to send later. */
export const SYNC_TAG = NAME;
const SEND_MS = 12_000;
const SEND_FILE_MS = 120_000;

/** A database that neither answers nor refuses is taken for one that refuses, the sooner when it has done so before. */
const STORE_MS = { first: 6000, again: 500 };
/** Between two numbers that the database gives there is room for this many entries that it refused. */
const STEP = 2 ** -20;

/** What survives the closing of the page: 'stored' everything; 'filesInMemory' all but photos and recordings, which some
 *  private windows do not store; 'memory' nothing, where the browser gives no database or the device has no room. */
export let storage = 'stored';

let patienceMs = STORE_MS.first;
const inTime = (promise) => {
  let timer;
  const tooLate = new Promise((_, refuse) => {
    timer = setTimeout(() => {
      patienceMs = STORE_MS.again;
      refuse(new Error('The device’s database does not answer.'));
    }, patienceMs);
  });
  promise.then(() => (patienceMs = STORE_MS.first)).catch(() => undefined);
  return Promise.race([promise, tooLate]).finally(() => clearTimeout(timer));
};

let opening = null;
const opened = () => {
  opening ??= openDB(NAME, 1, {
    upgrade(db) {
      db.createObjectStore('entries', { keyPath: 'seq', autoIncrement: true });
    },
    // Some browsers end the connection of a page that slept.
    terminated() {
      opening = null;
    },
  });
  return opening;
};

/** Works on the database; refuses when it does. The next time it is opened anew, since a connection once broken stays so. */
async function inDatabase(work) {
  const own = opened();
  try {
    return await inTime(own.then(work));
  } catch (error) {
    if (opening === own) opening = null;
    throw error;
  }
}

/** What the device would not store, by number: entries (`held`), and changes of stored ones. It lives as long as this page. */
const held = new Map();
/** What the device would not delete: sent or taken back all the same. */
const gone = new Set();
/** What the database held when it last answered; null as long as it has not. */
let known = null;
let highest = 0;

export const hasFile = (entry) => entry.fields.some(([, value]) => value instanceof Blob);

function noteStorage(entry, stored) {
  if (stored) storage = storage === 'filesInMemory' && !hasFile(entry) ? storage : 'stored';
  else storage = hasFile(entry) && storage !== 'memory' ? 'filesInMemory' : 'memory';
}

const warn = (event) => {
  event.preventDefault();
  // What older browsers go by.
  event.returnValue = '';
};
/** A page that holds what is stored nowhere else does not close without a question. */
function guard() {
  if (!('document' in globalThis)) return;
  if ([...held.values()].some((entry) => entry.held)) addEventListener('beforeunload', warn);
  else removeEventListener('beforeunload', warn);
}

/** A file's bytes, since the file itself may be gone by the time it is sent. */
const copyOf = async (file) =>
  new File([await file.arrayBuffer()], file.name ?? 'file', { type: file.type, lastModified: file.lastModified });

async function hold(entry) {
  const fields = await Promise.all(
    entry.fields.map(async ([name, value]) => [name, value instanceof Blob ? await copyOf(value) : value]),
  );
  await store.all();
  highest += STEP;
  held.set(highest, { ...entry, fields, seq: highest, held: true });
  guard();
  return highest;
}

const store = {
  /** In no order. What is held here stands for what the database has under the same number. */
  async all() {
    known = await inDatabase((db) => db.getAll('entries')).catch(() => known);
    const stored = (known ?? []).filter(({ seq }) => !held.has(seq) && !gone.has(seq));
    for (const { seq } of stored) highest = Math.max(highest, seq);
    return [...stored, ...held.values()];
  },
  async add(entry) {
    let late = false;
    const adding = (db) =>
      db.add('entries', entry).then((seq) => {
        // Stored after all, once it was held here: one copy is enough.
        if (late) db.delete('entries', seq).catch(() => gone.add(seq));
        return seq;
      });
    try {
      const seq = await inDatabase(adding);
      known?.push({ ...entry, seq });
      noteStorage(entry, true);
      return seq;
    } catch {
      late = true;
      const seq = await hold(entry);
      noteStorage(entry, false);
      return seq;
    }
  },
  async get(seq) {
    return (await store.all()).find((entry) => entry.seq === seq);
  },
  async put(entry) {
    if (!entry.held) {
      try {
        await inDatabase((db) => db.put('entries', entry));
        return;
      } catch {
        // Still stored as it was; what has changed since stands here.
      }
    }
    held.set(entry.seq, entry);
  },
  async remove(seq) {
    const wasHeld = held.get(seq)?.held;
    held.delete(seq);
    known = known?.filter((entry) => entry.seq !== seq) ?? null;
    guard();
    if (!wasHeld) await inDatabase((db) => db.delete('entries', seq)).catch(() => gone.add(seq));
  },
};

let persisting = null;
/** Asks the browser not to clear what waits here when the device runs short of room. Some ask the person in their turn. */
export const askToPersist = () => {
  persisting ??= (async () => (await navigator.storage?.persist?.()) ?? false)().catch(() => false);
  return persisting;
};

const listeners = new Set();
/** Calls back on every change here or in another tab: ({ kind, entry, html }). */
export const onChange = (listener) => listeners.add(listener);

const channel = 'BroadcastChannel' in globalThis ? new BroadcastChannel(NAME) : null;
channel?.addEventListener('message', () => {
  for (const listener of listeners) listener({ kind: 'elsewhere' });
});

/** How many are stored, where every page can read it at once. What is held goes with this page. */
const count = async () => {
  try {
    localStorage.setItem('unsent', String((await store.all()).filter((e) => !e.held).length));
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

/** Keeps one action, stored or in the memory of this page. `fields` are the form's own, files among them, in its order.
 *  Throws when it can do neither, as with a file that can no longer be read: then nothing is kept. */
export async function keep({ clientId, lotId, lotNumber, personId, personName, url, at, words, fields }) {
  const entry = { clientId, lotId, lotNumber, personId, personName, url, at, words, fields, state: 'waiting' };
  askToPersist();
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
  const withFile = hasFile(entry);
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
  // What lies in a database that has not answered yet is still to be sent.
  return known === null ? 'away' : outcome;
}
