// The bench: running timers, the large keypad, and everything that makes the page hold when the network does not. Without
// this file the page's forms work by themselves.
import {
  asked,
  benchWith,
  countdown,
  finishedMeanwhile,
  fragmentOf,
  keypad,
  notKept,
  readingAsked,
  readingDoubt,
  shownEntry,
  unsentRest,
  unsentState,
  wordsOfEntry,
} from './benchKept.js';
import { isHeld, markSent, swap } from './benchSwap.js';
import { followLine } from './line.js';
import * as outbox from './outbox.js';
import { fieldsOf, pressedOf } from './pressed.js';
import { goOnTyping, typesOn } from './typing.js';

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
let chosen = null;
/** The container that somebody tapped for a line. */
let tapped = null;
/** What the bench on the screen was drawn from. */
let shown = null;
/** What waits for this lot, as the views show it. */
let queue = [];
let others = [];
let connection = 'unknown';
let since = 0;
/** The studio's computer answers, but what was sent has not gone through: its disk may be full. */
let stalled = false;
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

const tick = () => {
  for (const timer of document.querySelectorAll('.timer[data-ends-at]')) {
    if (!timer.dataset.endsAt) continue;
    const left = (Number(timer.dataset.endsAt) - now()) / 1000;
    const text = left < 0 ? `over by ${countdown(-left)}` : countdown(left);
    const shown = timer.firstElementChild;
    if (shown && shown.textContent !== text) shown.textContent = text;
    timer.classList.toggle('overdue', left < 0);
  }
};
setInterval(tick, 500);

// ── the keypad ──

const addKeypad = (bench) => {
  for (const input of bench.querySelectorAll('input[data-keypad]'))
    input.closest('.reading-row')?.after(fragmentOf(keypad()));
};
document.addEventListener('click', (event) => {
  const key = event.target.closest?.('.keypad button[data-digit]');
  if (!key) return;
  goOnAtOnce(key.form);
  const input = key.isConnected ? key.form?.querySelector('input[data-keypad]') : readingField();
  if (!input) return;
  input.value = key.dataset.digit === '⌫' ? input.value.slice(0, -1) : input.value + key.dataset.digit;
  input.dispatchEvent(new Event('input', { bubbles: true }));
});

// ── showing ──

const freshId = () =>
  `d-${[...crypto.getRandomValues(new Uint8Array(16))].map((b) => b.toString(16).padStart(2, '0')).join('')}`;
/** Ids that went into the outbox: a form that shows one again gets a new one, a second tap on the same form none. */
const used = new Set();
const formIds = new Map();
/** The id of a form that was drawn here: the same from one showing to the next until it went into the outbox. */
const formId = (form) => {
  const known = formIds.get(form);
  if (known && !used.has(known)) return known;
  formIds.set(form, freshId());
  return formIds.get(form);
};
/** The entry whose answer the page waits for, a moment only: it shows as kept when the answer takes longer. */
let awaited = null;
let awaitedForm = null;

const benchElement = () => document.getElementById('bench');
const panelOnScreen = () => benchElement().querySelector('.now-weigh');
const lineOf = (panel) => (panel ? Number(panel.dataset.line) : null);
const readingForm = () => panelOnScreen()?.querySelector('.weigh-form') ?? null;
const readingField = () => readingForm()?.querySelector('input[data-keypad]') ?? null;
/** The line into whose form somebody is typing. */
const heldLine = () => (readingForm() && isHeld(readingForm()) ? lineOf(panelOnScreen()) : null);
if (new URLSearchParams(location.search).has('line')) chosen = lineOf(panelOnScreen());

const lineShown = () => shown?.lines.find((l) => l.componentId === shown.currentId);
/** The container that is chosen in a form. */
const containerOf = (form) => {
  const id = Number(new FormData(form).get('stockLotId'));
  return lineShown()?.containers.find((c) => c.id === id);
};

function render({ moveOn = false } = {}) {
  const before = lineOf(panelOnScreen());
  const want = benchWith({
    serverHtml,
    queue: queue.filter((e) => e.clientId !== awaited),
    chosen: heldLine() ?? chosen,
    stay: moveOn ? null : before,
    tapped,
    newId: formId,
  });
  shown = want.shown;
  addKeypad(want.bench);
  for (const input of want.bench.querySelectorAll('input[name=clientId]'))
    if (used.has(input.value)) input.setAttribute('value', freshId());
  swap(benchElement(), want.bench);
  // A form into which somebody types already again was left alone: it is free for the next entry all the same.
  for (const input of benchElement().querySelectorAll('input[name=clientId]')) {
    if (!used.has(input.value) || input.value === awaited) continue;
    input.value = freshId();
    for (const button of input.form.querySelectorAll('button')) button.disabled = false;
  }
  askForMeasure();
  tick();
  showUnsent();
  if (moveOn && lineOf(panelOnScreen()) !== before) showTop(panelOnScreen());
  if (moveOn) goOnTyping(panelOnScreen() ?? benchElement().querySelector('.all-weighed'));
}

/** A form that was left alone says all the same in what the container is measured that is tapped in it. */
function askForMeasure() {
  const form = readingForm();
  const line = lineShown();
  if (!form || !line) return;
  const { unit, measure } = asked(line);
  form.querySelector('.unit').textContent = unit;
  form.elements.measure.value = measure;
  form.elements.measure.setAttribute('value', measure);
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
const stateLine = document.createElement('p');
stateLine.className = 'unsent-state';
stateLine.setAttribute('role', 'status');
const rest = document.createElement('div');
unsent.append(stateLine, rest);
first.before(unsent);
let shownUnsent = '';

function showUnsent() {
  const waiting = queue.filter((e) => e.clientId !== awaited);
  const isAway = connection === 'away' || signedOut;
  const isRefused = waiting.some((e) => e.refused !== null);
  unsent.classList.toggle('is-away', isAway);
  unsent.classList.toggle('is-refused', isRefused);
  unsent.classList.toggle('is-quiet', waiting.length === 0 && !isAway);
  const props = {
    show: JSON.parse(server.scale).show,
    queue: waiting,
    others,
    connection,
    since,
    stalled,
    signedOut,
    signInHref: `/sign-in?to=${encodeURIComponent(location.pathname)}`,
    reopens,
    sendsClosed: sync !== null,
    storage: outbox.storage,
    kept,
  };
  const state = unsentState(props);
  if (stateLine.textContent !== state) stateLine.textContent = state;
  const html = String(unsentRest(props));
  // Left alone when nothing changed, so that an opened question stays open.
  if (html === shownUnsent) return;
  shownUnsent = html;
  const wasOpen = unsent.querySelector('.unsent-details')?.open ?? false;
  rest.replaceChildren(fragmentOf(html));
  const details = unsent.querySelector('.unsent-details');
  if (details) details.open = wasOpen || isRefused;
}

async function readQueue() {
  const all = (await outbox.entries()).sort((x, y) => x.seq - y.seq);
  queue = all.filter((e) => e.lotId === lotId && e.personId === personId).map(shownEntry);
  const groups = new Map();
  for (const e of all) {
    if (e.lotId === lotId && e.personId === personId) continue;
    const key = `unsent-${e.lotId}-${e.personId}`;
    const group = groups.get(key) ?? {
      key,
      lotId: e.lotId,
      number: e.lotNumber,
      personName: e.personId === personId ? null : e.personName,
      count: 0,
    };
    group.count += 1;
    groups.set(key, group);
  }
  others = [...groups.values()];
}

/** Takes a page of the server's, unless a newer one is here already. */
function take(html) {
  const data = fragmentOf(html).firstElementChild.dataset;
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

/** What empties the form of an entry, by its id, until it is kept: an entry leaves its form then, and not before. */
const leaving = new Map();

document.addEventListener('submit', (event) => {
  const form = event.target;
  if (!form.closest('#bench') || !ACTION.test(new URL(form.action).pathname)) return;
  event.preventDefault();
  keepEntry(form, pressedOf(event), event.timeStamp);
});

async function keepEntry(form, pressed, tappedAt) {
  const data = fieldsOf(form, pressed);
  const clientId = String(data.get('clientId') ?? '') || freshId();
  const typable = [...form.querySelectorAll('input:not([type=hidden]), textarea')];
  const oneTap = typable.length === 0;
  const shaken =
    pressed === lastTap.on && tappedAt - lastTap.at < DOUBLE_TAP_MS && typable.every((field) => field.value === '');
  if (used.has(clientId) || shaken) return;
  if (form.matches('.weigh-form') && !isBelieved(form, pressed, data)) return;
  lastTap = { on: pressed, at: tappedAt };
  used.add(clientId);
  const entry = {
    clientId,
    lotId,
    lotNumber: server.number,
    personId,
    personName: server.personName,
    url: new URL(form.action).pathname,
    at: now(),
    words: wordsOfEntry(form, pressed, data, containerOf(form)?.code),
    fields: [...data].filter(([name]) => name !== 'clientId'),
  };
  typesOn(form);
  const buttons = [...form.querySelectorAll('button')];
  for (const button of buttons) button.disabled = true;
  form.querySelector('.not-kept')?.remove();
  const asSent = typedIn(form);
  leaving.set(clientId, () => {
    leaving.delete(clientId);
    // What was typed meanwhile is the next entry's.
    if (typedIn(form) !== asSent) return;
    markSent(form);
    form.reset();
    if (oneTap || form.matches('.weigh-form')) return;
    form.querySelector('input[name=clientId]').value = freshId();
    for (const button of buttons) button.disabled = false;
  });
  if (queue.length === 0 && connection !== 'away') {
    awaited = clientId;
    awaitedForm = form;
  }
  try {
    await outbox.keep(entry);
  } catch {
    leaving.delete(clientId);
    used.delete(clientId);
    if (awaited === clientId) awaited = null;
    for (const button of buttons) button.disabled = false;
    form.append(fragmentOf(notKept(outbox.hasFile(entry))));
    return;
  }
  chosen = null;
  tapped = null;
  await readQueue();
  if (awaited === clientId)
    setTimeout(() => {
      if (awaited !== clientId) return;
      awaited = null;
      render({ moveOn: true });
    }, FOREGROUND_MS);
  else render({ moveOn: true });
  await outbox.flush();
}

/** Asks once about a reading that is hard to believe, here and at once; one that is believed says so when it is sent. */
function isBelieved(form, pressed, data) {
  const line = lineShown();
  const reading = line && readingAsked(line, containerOf(form), String(data.get('amount') ?? ''));
  form.querySelector('.reading-doubt')?.remove();
  if (!reading) return true;
  if (reading.words && pressed?.value !== reading.confirming) {
    // After the button that Enter presses: what is hard to believe is confirmed by a tap on its own words.
    form.append(fragmentOf(readingDoubt(reading)));
    form.lastElementChild.scrollIntoView({ block: 'nearest' });
    // What a scale types next takes the place of the doubted reading rather than being written behind it.
    form.elements['amount']?.select?.();
    return false;
  }
  data.set('confirmed', reading.confirming);
  return true;
}
// What was asked was about another reading.
document.addEventListener('input', (event) => {
  if (event.target.name === 'amount') event.target.form?.querySelector('.reading-doubt')?.remove();
});
document.addEventListener('change', (event) => {
  if (event.target.name !== 'stockLotId') return;
  event.target.form.querySelector('.reading-doubt')?.remove();
  tapped = { line: lineOf(panelOnScreen()), container: Number(event.target.value) };
  render();
});

const typedIn = (form) =>
  JSON.stringify([...form.elements].map((f) => [f.value, f.checked, f.files?.[0]?.size, f.files?.[0]?.lastModified]));

/** Whoever types the next reading before the answer to the last one is here does not wait for it. */
function goOnAtOnce(form) {
  if (awaited === null || leaving.has(awaited) || form !== awaitedForm || !form.matches('.weigh-form')) return;
  awaited = null;
  render({ moveOn: true });
}
document.addEventListener(
  'keydown',
  (event) => {
    if (/^[\d.,]$/.test(event.key)) goOnAtOnce(event.target.form ?? readingForm());
  },
  true,
);

document.addEventListener('click', (event) => {
  const goTo = event.target.closest?.('.line-tab[data-line], [data-ask-line]');
  if (goTo && !event.ctrlKey && !event.metaKey && !event.shiftKey) {
    event.preventDefault();
    const line = Number(goTo.dataset.line ?? goTo.dataset.askLine);
    if (readingForm() && line !== lineOf(panelOnScreen())) markSent(readingForm());
    chosen = line;
    render();
    panelOnScreen()?.scrollIntoView({ block: goTo.dataset.line ? 'nearest' : 'start' });
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
    stateLine.textContent = `Not yet: ${queue.length} ${queue.length === 1 ? 'entry is' : 'entries are'} not sent, and a finished lot takes none.`;
    shownUnsent = '';
    unsent.scrollIntoView({ block: 'start' });
  }
});

/** Whether a refused entry can stand in its form again: a file does not come back with the page, and where the next one is
 *  being typed there is no room. Then it stays here until somebody gives it up. */
const goesBack = ({ html, entry }) =>
  html.startsWith('<div id="bench"') && !outbox.hasFile(entry) && !isHeld(awaitedForm);

outbox.onChange(async (change) => {
  const own = change.entry?.lotId === lotId && change.entry.personId === personId;
  if (change.kind === 'kept') leaving.get(change.entry.clientId)?.();
  const wasAwaited = own && change.entry.clientId === awaited;
  if (change.kind === 'sending') return;
  if (wasAwaited && change.kind === 'refused' && goesBack(change)) {
    // Refused at once, with its maker still there: the form says so, with what was typed. Nothing is kept.
    awaited = null;
    take(change.html);
    chosen = lineOf(fragmentOf(change.html).querySelector('.now-weigh'));
    connected();
    await outbox.drop((await outbox.entries()).find((e) => e.clientId === change.entry.clientId)?.seq);
    document.querySelector('#bench [data-focus]')?.focus();
    return;
  }
  if (wasAwaited && change.kind !== 'kept') awaited = null;
  if (own && change.kind === 'sent') take(change.html);
  if (change.kind === 'sent' || change.kind === 'refused') {
    stalled = false;
    waitMs = FIRST_WAIT_MS;
    connected();
  }
  if (change.kind === 'signedOut' && own) signedOut = true;
  if (change.kind === 'away') {
    stalled = true;
    line.ask();
  }
  await readQueue();
  if (change.kind === 'kept' && awaited === change.entry.clientId) return;
  render({ moveOn: wasAwaited });
  if (change.kind === 'elsewhere') refresh();
  if (change.kind === 'away') sendLater();
  if (change.kind === 'sent') catchUp();
  tryLater();
});

// ── the network ──

let tryTimer = null;
const FIRST_WAIT_MS = 3000;
let waitMs = FIRST_WAIT_MS;
/** What waits is tried again now and then, since no event tells of every network that comes back. */
function tryLater() {
  clearTimeout(tryTimer);
  if (signedOut || !queue.some((e) => e.state === 'waiting') || !stalled) return;
  tryTimer = setTimeout(() => outbox.flush(), waitMs);
  waitMs = Math.min(waitMs * 2, 30_000);
}

function connected() {
  if (connection === 'open') return;
  connection = 'open';
  waitMs = FIRST_WAIT_MS;
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
/** Asks for the bench as it is now. What becomes new while the answer is on its way is not in it, and is asked for next. */
function refresh() {
  const toldBefore = told;
  refreshing ??= askForBench().finally(() => {
    refreshing = null;
    if (told !== toldBefore) catchUp();
  });
  return refreshing;
}

/** The number of the newest thing at this bench, as the stream last told it. */
let told = 0;
/** The lot was finished meanwhile: nothing more is to come. */
let over = false;
/** Asks for what this page has not yet. News is heard once, and may come while an answer is awaited or the line is lost. */
function catchUp() {
  if (told > Number(server.newest) && awaited === null && !over) refresh();
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
      over = true;
      if (!document.querySelector('.bench-over')) unsent.after(fragmentOf(finishedMeanwhile(lotId)));
    }
  } catch {
    line.ask();
  } finally {
    clearTimeout(timer);
  }
}

const line = followLine({
  address: `/lots/${lotId}/live`,
  onNews: (newest) => {
    told = newest;
    catchUp();
  },
  onOpen: () => {
    connected();
    if (!signedOut) catchUp();
  },
  onLost: disconnected,
  onBlind: refresh,
});

window.addEventListener('online', () => {
  line.stop();
  line.listen();
  outbox.flush();
});
window.addEventListener('offline', () => {
  line.stop();
  disconnected();
});
document.addEventListener('visibilitychange', () => {
  if (document.hidden) sendLater();
  else outbox.flush();
});
window.addEventListener('pageshow', (event) => {
  if (!event.persisted) return;
  line.listen();
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

/** A database that takes its time does not keep the bench from anybody. */
const QUEUE_MS = 500;
const reading = readQueue().then(() => 'read');
const soon = await Promise.race([reading, new Promise((resolve) => setTimeout(resolve, QUEUE_MS))]);
if (!navigator.onLine) disconnected();
render();
if (soon !== 'read') reading.then(() => render());
line.listen();
outbox.askToPersist();
outbox.flush();
if (kept !== null) refresh();
