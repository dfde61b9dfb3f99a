// The bench: running timers, the large keypad, and everything that makes the page hold when the network does not. Without
// this file the page's forms work by themselves.
import { benchWith, readingAsked, showContainer, unsentPanel, wordsOfEntry } from './benchKept.js';
import { isHeld, markSent, swap } from './benchSwap.js';
import * as outbox from './outbox.js';

const first = document.getElementById('bench');
const lotId = Number(first.dataset.lot);
const personId = Number(first.dataset.person);
outbox.sendAs(personId);

/** The server's last page of this bench, as it came. What waits on this device is worked in anew each time. */
let serverHtml = first.outerHTML;
let server = { ...first.dataset };
/** When the device's own copy was made, if this page is one. */
let kept = server.keptCopy === undefined ? null : Number(server.now);
/** The line that somebody tapped; null: the next that wants something. */
let chosen = new URLSearchParams(location.search).has('line')
  ? (first.querySelector('.now-weigh')?.dataset.line ?? null)
  : null;
let queue = [];
let others = [];
let connection = 'unknown';
let since = 0;
let signedOut = false;
/** Whether this page would open again without network; null until it is known. */
let reopens = window.isSecureContext && 'serviceWorker' in navigator ? null : false;

// ── time ──

/** The server's clock counts, not the phone's: what it is ahead by is kept for pages that open without network. Below
 *  this, the difference may as well be the network's. */
const SAME_CLOCK_MS = 2000;
let aheadMs = 0;
const setClock = (serverNow, heardAt) => {
  const ahead = serverNow - heardAt;
  aheadMs = Math.abs(ahead) < SAME_CLOCK_MS ? 0 : ahead;
  try {
    localStorage.setItem('clockAheadMs', String(aheadMs));
  } catch {
    // A browser that stores nothing has the phone's clock to go by.
  }
};
if (kept === null) {
  const { responseStart = 0 } = performance.getEntriesByType('navigation')[0] ?? {};
  setClock(Number(server.now), performance.timeOrigin + responseStart);
} else {
  try {
    aheadMs = Number(localStorage.getItem('clockAheadMs') ?? 0);
  } catch {
    aheadMs = 0;
  }
}
const now = () => Math.round(Date.now() + aheadMs);

const pad = (n) => String(n).padStart(2, '0');
const countdown = (seconds) => {
  const s = Math.floor(Math.abs(seconds));
  const clock =
    s >= 3600
      ? `${Math.floor(s / 3600)}:${pad(Math.floor((s % 3600) / 60))}:${pad(s % 60)}`
      : `${Math.floor(s / 60)}:${pad(s % 60)}`;
  return seconds < 0 ? `over by ${clock}` : clock;
};
const tick = () => {
  for (const timer of document.querySelectorAll('.timer[data-ends-at]')) {
    if (!timer.dataset.endsAt) continue;
    const left = (Number(timer.dataset.endsAt) - now()) / 1000;
    const text = countdown(left);
    const shown = timer.firstElementChild;
    if (shown && shown.textContent !== text) shown.textContent = text;
    timer.classList.toggle('overdue', left < 0);
  }
};
setInterval(tick, 500);

// ── the keypad ──

const KEYS = ['7', '8', '9', '4', '5', '6', '1', '2', '3', '.', '0', '⌫'];

/** Puts a keypad under the reading: big keys for gloved hands, the field itself stays typable. */
const addKeypad = (bench) => {
  for (const input of bench.querySelectorAll('input[data-keypad]')) {
    const keypad = document.createElement('div');
    keypad.className = 'keypad';
    for (const key of KEYS) {
      const button = document.createElement('button');
      button.type = 'button';
      button.textContent = key;
      button.dataset.digit = key;
      if (key === '⌫') button.setAttribute('aria-label', 'Delete the last digit');
      keypad.append(button);
    }
    input.closest('.reading-row')?.after(keypad);
  }
};
document.addEventListener('click', (event) => {
  const key = event.target.closest?.('.keypad button[data-digit]');
  const input = key?.form?.querySelector('input[data-keypad]');
  if (!input) return;
  input.value = key.dataset.digit === '⌫' ? input.value.slice(0, -1) : input.value + key.dataset.digit;
  input.dispatchEvent(new Event('input', { bubbles: true }));
});

// ── showing ──

const freshId = () =>
  `d-${[...crypto.getRandomValues(new Uint8Array(16))].map((b) => b.toString(16).padStart(2, '0')).join('')}`;
/** Ids that went into the outbox: a form that shows one again gets a new one, a second tap on the same form none. */
const used = new Set();
const wayIds = new Map();
/** The id of a way out that was worked out here: the same from one showing to the next until it went into the outbox. */
const wayId = (way) => {
  const known = wayIds.get(way);
  if (known && !used.has(known)) return known;
  wayIds.set(way, freshId());
  return wayIds.get(way);
};
/** The entry whose answer the page waits for, a moment only: it shows as kept when the answer takes longer. */
let awaited = null;

const benchElement = () => document.getElementById('bench');
const panelOnScreen = () => benchElement().querySelector('.now-weigh');
/** The line into whose form somebody is typing. */
const heldLine = () => {
  const form = panelOnScreen()?.querySelector('.weigh-form');
  return form && isHeld(form) ? panelOnScreen().dataset.line : null;
};

function render({ moveOn = false } = {}) {
  const before = panelOnScreen()?.dataset.line;
  const stay = moveOn ? undefined : before;
  const want = benchWith({
    serverHtml,
    queue: queue.filter((e) => e.clientId !== awaited),
    chosen: heldLine() ?? chosen,
    stay,
    wayId,
  });
  addKeypad(want);
  for (const input of want.querySelectorAll('input[name=clientId]'))
    if (used.has(input.value)) input.setAttribute('value', freshId());
  swap(benchElement(), want);
  // A form into which somebody types already again was left alone: it is free for the next entry all the same.
  for (const input of benchElement().querySelectorAll('input[name=clientId]')) {
    if (!used.has(input.value) || input.value === awaited) continue;
    input.value = freshId();
    for (const button of input.form.querySelectorAll('button')) button.disabled = false;
  }
  // A form that was left alone may have another container tapped than the page that came.
  showContainer(panelOnScreen());
  tick();
  showUnsent();
  if (moveOn && panelOnScreen()?.dataset.line !== before) showTop(panelOnScreen());
}

/** The next line comes from its top: on a phone the button that was tapped stands where its target scrolled away. */
function showTop(panel) {
  if (panel && panel.getBoundingClientRect().top < 60) panel.scrollIntoView({ block: 'start' });
}

const unsent = document.createElement('section');
unsent.id = 'unsent';
unsent.className = 'unsent';
unsent.setAttribute('aria-label', 'Not yet sent');
// One element for good: a screen reader tells what changes in it, not that it is there.
const unsentState = document.createElement('p');
unsentState.className = 'unsent-state';
unsentState.setAttribute('role', 'status');
const unsentRest = document.createElement('div');
unsent.append(unsentState, unsentRest);
first.before(unsent);
let shownUnsent = '';

function showUnsent() {
  const shown = queue.filter((e) => e.clientId !== awaited);
  unsent.classList.toggle('is-away', connection === 'away' || signedOut);
  unsent.classList.toggle(
    'is-refused',
    shown.some((e) => e.state === 'refused'),
  );
  const { state, nodes, quiet } = unsentPanel({
    bench: benchElement(),
    queue: shown,
    others,
    connection,
    since,
    signedOut,
    reopens,
    sendsClosed: sync !== null,
    storage: outbox.storage,
    kept,
    open: unsent.querySelector('.unsent-details')?.open ?? false,
  });
  unsent.classList.toggle('is-quiet', quiet);
  if (unsentState.textContent !== state) unsentState.textContent = state;
  const text = nodes
    .map((n) => n.outerHTML.replace('<details class="unsent-details" open="">', '<details class="unsent-details">'))
    .join('');
  // Left alone when nothing changed, so that an opened question stays open.
  if (text === shownUnsent) return;
  shownUnsent = text;
  unsentRest.replaceChildren(...nodes);
}

async function readQueue() {
  const all = (await outbox.entries()).sort((x, y) => x.seq - y.seq);
  queue = all.filter((e) => e.lotId === lotId && e.personId === personId);
  const groups = new Map();
  for (const e of all) {
    if (e.lotId === lotId && e.personId === personId) continue;
    const key = `unsent-${e.lotId}-${e.personId}`;
    const group = groups.get(key) ?? {
      lotId: e.lotId,
      number: e.lotNumber,
      personName: e.personId === personId ? null : e.personName,
      count: 0,
    };
    group.count += 1;
    groups.set(key, group);
  }
  others = [...groups];
}

/** Takes a page of the server's, unless a newer one is here already. */
function take(html) {
  const holder = document.createElement('template');
  holder.innerHTML = html;
  const data = holder.content.firstElementChild.dataset;
  if (Number(data.newest) < Number(server.newest)) return;
  if (Number(data.person) !== personId) {
    // Somebody else signed in meanwhile, in another tab; this page is not theirs.
    signedOut = true;
    return;
  }
  serverHtml = html;
  server = { ...data };
  kept = null;
  signedOut = false;
  setClock(Number(data.now), Date.now());
  keepCopy();
}

// ── doing ──

const ACTION = /^\/lots\/\d+\/(?!outcome|abandonment)/;
const FOREGROUND_MS = 2500;
/** Where one tap is all (Start, which becomes End under the same finger), a second so soon is the first one's shake. */
const DOUBLE_TAP_MS = 600;
let lastTap = { on: null, at: 0 };

document.addEventListener('submit', async (event) => {
  const form = event.target;
  if (!form.closest('#bench') || !ACTION.test(new URL(form.action).pathname)) return;
  event.preventDefault();
  const data = new FormData(form, event.submitter);
  const clientId = String(data.get('clientId') ?? '') || freshId();
  const oneTap = form.querySelector('input:not([type=hidden]), textarea') === null;
  const shaken = oneTap && event.submitter === lastTap.on && event.timeStamp - lastTap.at < DOUBLE_TAP_MS;
  if (used.has(clientId) || shaken) return;
  if (form.matches('.weigh-form') && !isBelieved(form, event.submitter, data)) return;
  lastTap = { on: event.submitter, at: event.timeStamp };
  used.add(clientId);
  const at = now();
  const wasReading = document.activeElement?.id === 'reading';
  const words = wordsOfEntry(form, event.submitter, data);
  markSent(form);
  form.reset();
  for (const button of form.querySelectorAll('button')) button.disabled = true;
  if (queue.length === 0 && connection !== 'away') awaited = clientId;
  await outbox.keep({
    clientId,
    lotId,
    lotNumber: server.number,
    personId,
    personName: server.personName,
    url: new URL(form.action).pathname,
    at,
    words,
    fields: [...data].filter(([name]) => name !== 'clientId'),
  });
  chosen = null;
  if (awaited === clientId)
    setTimeout(() => {
      if (awaited !== clientId) return;
      awaited = null;
      afterOwn(wasReading);
    }, FOREGROUND_MS);
  else afterOwn(wasReading);
  await outbox.flush();
  if (wasReading && document.activeElement === document.body) document.getElementById('reading')?.focus();
});

/** Asks once about a reading that is hard to believe, here and at once; one that is believed says so when it is sent. */
function isBelieved(form, submitter, data) {
  const panel = form.closest('.now-weigh');
  const asked = panel && readingAsked(panel, form, String(data.get('amount') ?? ''));
  form.querySelector('.reading-doubt')?.remove();
  if (!asked) return true;
  if (asked.words && submitter?.value !== asked.confirming) {
    const doubt = document.createElement('div');
    doubt.className = 'reading-doubt notice warn';
    doubt.setAttribute('role', 'alert');
    const words = document.createElement('p');
    words.textContent = asked.words;
    const yes = document.createElement('button');
    yes.className = 'big confirm-reading';
    yes.name = 'confirmed';
    yes.value = asked.confirming;
    yes.textContent = `Yes, it is ${asked.amountWords}`;
    doubt.append(words, yes);
    // After the button that Enter presses: what is hard to believe is confirmed by a tap on its own words.
    form.append(doubt);
    doubt.scrollIntoView({ block: 'nearest' });
    return false;
  }
  data.set('confirmed', asked.confirming);
  return true;
}
// What was asked was about another reading.
document.addEventListener('input', (event) => {
  if (event.target.name === 'amount') event.target.form?.querySelector('.reading-doubt')?.remove();
});
document.addEventListener('change', (event) => {
  if (event.target.name !== 'stockLotId') return;
  event.target.form.querySelector('.reading-doubt')?.remove();
  showContainer(panelOnScreen());
});

/** The next line fills the screen; a keyboard goes on typing there, a gloved finger is not shown one. */
async function afterOwn(wasReading) {
  // With the entry itself, or its own line would be taken for one that still waits, and its ways out be passed over.
  await readQueue();
  render({ moveOn: true });
  if (wasReading) document.getElementById('reading')?.focus({ preventScroll: true });
}

document.addEventListener('click', (event) => {
  const tab = event.target.closest?.('.line-tab[data-line]');
  if (tab && !event.ctrlKey && !event.metaKey && !event.shiftKey) {
    event.preventDefault();
    const form = panelOnScreen()?.querySelector('.weigh-form');
    if (form && tab.dataset.line !== panelOnScreen().dataset.line) markSent(form);
    chosen = tab.dataset.line;
    render();
    panelOnScreen()?.scrollIntoView({ block: 'nearest' });
    return;
  }
  const again = event.target.closest?.('[data-ask-line]');
  if (again && !event.ctrlKey && !event.metaKey && !event.shiftKey) {
    event.preventDefault();
    chosen = again.dataset.askLine;
    render();
    panelOnScreen()?.scrollIntoView({ block: 'start' });
    return;
  }
  const act = event.target.closest?.('[data-unsent-act]');
  if (act) {
    if (act.dataset.unsentAct === 'drop') outbox.drop(Number(act.dataset.seq)).then(() => outbox.flush());
    else outbox.retry(Number(act.dataset.seq));
    return;
  }
  if (event.target.closest?.('a[href$="/outcome"]') && queue.length > 0) {
    event.preventDefault();
    unsentState.textContent = `Not yet: ${queue.length} ${queue.length === 1 ? 'entry is' : 'entries are'} not sent, and a finished lot takes none.`;
    shownUnsent = '';
    unsent.scrollIntoView({ block: 'start' });
  }
});

outbox.onChange(async (change) => {
  const own = change.entry?.lotId === lotId && change.entry.personId === personId;
  const wasAwaited = own && change.entry.clientId === awaited;
  if (change.kind === 'sending') return;
  if (wasAwaited && change.kind === 'refused' && change.html.startsWith('<div id="bench"')) {
    // Refused at once, with its maker still there: the form says so, with what was typed. Nothing is kept.
    awaited = null;
    take(change.html);
    const holder = document.createElement('template');
    holder.innerHTML = change.html;
    chosen = holder.content.querySelector('.now-weigh')?.dataset.line ?? null;
    connected();
    await outbox.drop((await outbox.entries()).find((e) => e.clientId === change.entry.clientId)?.seq);
    document.querySelector('#bench [data-focus]')?.focus();
    return;
  }
  if (wasAwaited && change.kind !== 'kept') awaited = null;
  if (own && change.kind === 'sent') take(change.html);
  if (change.kind === 'sent' || change.kind === 'refused') connected();
  if (change.kind === 'signedOut' && own) signedOut = true;
  if (change.kind === 'away') disconnected();
  await readQueue();
  if (change.kind === 'kept' && awaited === change.entry.clientId) return;
  render({ moveOn: wasAwaited });
  if (change.kind === 'elsewhere') refresh();
  if (change.kind === 'away') sendLater();
  tryLater();
});

// ── the network ──

let tryTimer = null;
let waitMs = 3000;
/** What waits is tried again now and then, since no event tells of every network that comes back. */
function tryLater() {
  clearTimeout(tryTimer);
  if (signedOut || !queue.some((e) => e.state === 'waiting') || connection !== 'away') return;
  tryTimer = setTimeout(() => outbox.flush(), waitMs);
  waitMs = Math.min(waitMs * 2, 30_000);
}

function connected() {
  waitMs = 3000;
  if (connection === 'open') return;
  connection = 'open';
  showUnsent();
  if (queue.some((e) => e.state === 'waiting')) outbox.flush();
}

function disconnected() {
  if (connection === 'away') return;
  connection = 'away';
  since = now();
  showUnsent();
}

let refreshing = null;
/** Asks for the bench as it is now. */
function refresh() {
  refreshing ??= askForBench().finally(() => {
    refreshing = null;
  });
  return refreshing;
}

async function askForBench() {
  const giveUp = new AbortController();
  const timer = setTimeout(() => giveUp.abort(), 12_000);
  try {
    const answer = await fetch(`/lots/${lotId}/bench?order=${server.order}`, {
      headers: { 'HX-Request': 'true', 'HX-Request-Type': 'partial' },
      signal: giveUp.signal,
    });
    const html = await answer.text();
    if (answer.ok && html.startsWith('<div id="bench"')) {
      take(html);
      connected();
      render();
    } else if (answer.status === 401) {
      signedOut = true;
      showUnsent();
    } else if (answer.redirected && answer.ok) {
      // The lot was finished by somebody else; half-typed input is not thrown away for it.
      const link = document.createElement('a');
      link.href = `/lots/${lotId}`;
      link.textContent = 'See the lot';
      const notice = document.createElement('p');
      notice.className = 'notice warn';
      notice.append('This lot was finished meanwhile. ', link, '.');
      if (!document.querySelector('.bench-over')) {
        notice.classList.add('bench-over');
        unsent.after(notice);
      }
    }
  } catch {
    disconnected();
  } finally {
    clearTimeout(timer);
  }
}

let stream = null;
let lostTimer = null;
/** Hears of the others' entries. Not while the page is out of sight: browsers give few connections to one address. */
function listen() {
  if (stream || document.hidden) return;
  stream = new EventSource(`/lots/${lotId}/live`);
  stream.addEventListener('open', () => {
    clearTimeout(lostTimer);
    connected();
  });
  stream.addEventListener('entry', (event) => {
    if (Number(event.data) > Number(server.newest) && awaited === null) refresh();
  });
  stream.addEventListener('error', () => {
    clearTimeout(lostTimer);
    if (stream?.readyState === EventSource.CLOSED) {
      // Refused: too many listeners, or signed out. Ask now and then instead.
      stream = null;
      lostTimer = setTimeout(() => {
        refresh();
        listen();
      }, 10_000);
    } else lostTimer = setTimeout(disconnected, 4000);
  });
}
function stopListening() {
  clearTimeout(lostTimer);
  stream?.close();
  stream = null;
}

window.addEventListener('online', () => {
  stopListening();
  listen();
  outbox.flush();
});
window.addEventListener('offline', () => {
  stopListening();
  disconnected();
});
document.addEventListener('visibilitychange', () => {
  if (document.hidden) {
    stopListening();
    sendLater();
  } else {
    listen();
    outbox.flush();
  }
});
window.addEventListener('pagehide', stopListening);
window.addEventListener('pageshow', (event) => {
  if (!event.persisted) return;
  listen();
  refresh();
});

// ── the device's own copy of this page ──

let worker = null;
const sendsLater = 'SyncManager' in window;
/** Where the browser can be asked to send what waits once the network is back, page or no page. */
let sync = null;
function sendLater() {
  // Refused where people turned it off; then it goes out when a page is open, as elsewhere.
  if (queue.some((e) => e.state === 'waiting')) sync?.register(outbox.SYNC_TAG).catch(() => undefined);
}
function keepCopy() {
  if (!worker) return;
  const assets = performance
    .getEntriesByType('resource')
    .map((entry) => entry.name)
    .filter((name) => name.startsWith(`${location.origin}/static/`));
  worker.postMessage({ kind: 'keep', path: location.pathname, assets });
}

if (reopens === null) {
  navigator.serviceWorker.addEventListener('message', (event) => {
    if (event.data?.kind !== 'kept' || event.data.path !== location.pathname) return;
    reopens = event.data.ok;
    showUnsent();
  });
  navigator.serviceWorker
    .register(
      ...(sendsLater
        ? ['/static/swSync.js', { scope: '/lots/', type: 'module' }]
        : ['/static/sw.js', { scope: '/lots/' }]),
    )
    .then(() => navigator.serviceWorker.ready)
    .then((registration) => {
      worker = registration.active;
      sync = sendsLater ? registration.sync : null;
      sendLater();
      if (kept === null) keepCopy();
      else reopens = true;
      showUnsent();
    })
    .catch(() => {
      // Refused, as with a certificate that this device does not trust.
      reopens = false;
      showUnsent();
    });
}

await readQueue();
if (!navigator.onLine) disconnected();
render();
listen();
outbox.flush();
if (kept !== null) refresh();
