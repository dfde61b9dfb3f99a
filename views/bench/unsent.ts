import { type Html, html } from '../html.ts';
import { clock, type Show } from '../kit/show.ts';
import { keptMark } from './keptMark.ts';

/** What is not sent, above the bench and in its log. The page alone knows it: it draws this with what is in its
 *  device's outbox. */

/** An entry of the outbox, as it is shown. */
export interface UnsentEntry {
  clientId: string;
  seq: number;
  at: number;
  words: string;
  /** Stored nowhere, but in this page. */
  held: boolean;
  mark: string;
  personName: string;
  /** Why it was refused; null of one that was not. */
  refused: string | null;
  /** What was typed, as it is kept. */
  asKept: string;
  /** The address of its photo or recording, in this page; null where it has none. */
  file: { address: string; name: string; isPicture: boolean } | null;
}

export interface UnsentProps {
  show: Show;
  queue: readonly UnsentEntry[];
  /** What waits for other lots or persons. */
  others: readonly { key: string; lotId: number; number: string; personName: string | null; count: number }[];
  connection: 'unknown' | 'open' | 'away';
  /** When the connection was lost. */
  since: number;
  /** The studio's computer answers, but has not taken what was sent. */
  stalled: boolean;
  signedOut: boolean;
  /** Where to sign in again. */
  signInHref: string;
  /** Whether this page opens again without network; null until it is known. */
  reopens: boolean | null;
  /** The browser sends what waits while the page is closed. */
  sendsClosed: boolean;
  storage: 'stored' | 'filesInMemory' | 'memory';
  /** When the device's own copy was made, of which this page is one; null of the server's. */
  kept: number | null;
}

const plural = (n: number, one: string, many: string): string => (n === 1 ? one : many);

/** How it stands, in a sentence. */
export function unsentState(p: UnsentProps): string {
  const n = p.queue.length;
  const things = `${n} ${plural(n, 'entry', 'entries')}`;
  const where = n > 0 && p.queue.every((e) => e.held) ? 'held in this open page' : 'kept on this device';
  if (p.signedOut)
    return n === 0
      ? 'Signed out. Sign in again to go on.'
      : `Signed out: ${things} on this device ${plural(n, 'goes', 'go')} out when you sign in again.`;
  if (p.queue.some((e) => e.refused !== null)) return `${things} not sent: one was refused and holds up the rest.`;
  if (p.connection === 'away') {
    const what =
      n === 0
        ? 'What you do is kept on this device and goes out by itself.'
        : `${things} not sent, ${where}; ${plural(n, 'it goes out by itself', 'they go out by themselves')}.`;
    return `No connection since ${clock(p.show, p.since)}. ${what}`;
  }
  if (n > 0 && p.stalled)
    return `${things} not sent: the studio’s computer answers, but has not taken ${plural(
      n,
      'it',
      'them',
    )}. Tried again, and ${where} meanwhile.`;
  if (n > 0) return `Sending ${things} …`;
  return p.connection === 'unknown' && p.kept !== null ? 'Looking for the studio’s computer …' : 'Connected.';
}

/** What the page can do without network. */
function promise(p: UnsentProps): string {
  if (p.storage === 'memory') return 'This device stores nothing for this page: keep it open until everything is sent.';
  if (!p.reopens)
    return 'Goes on without network as long as this page stays open. Closed, it opens again when the network is back, and sends the rest then.';
  const closed = p.sendsClosed ? '; what waits goes out even while it is closed' : '';
  const files =
    p.storage === 'filesInMemory'
      ? ' Photos and voice notes only as long as this page stays open, since this device does not store them.'
      : '';
  return `Works without network, closed and opened again too${closed}.${files}`;
}

const heldWords = (queue: readonly UnsentEntry[]): string => {
  const held = queue.filter((e) => e.held).length;
  const which = held < queue.length ? `${held} of them` : plural(held, 'It', 'They');
  return `${which} could not be stored on this device and ${plural(
    held,
    'stands',
    'stand',
  )} in this open page alone. Leave it open until ${plural(held, 'it is', 'they are')} sent.`;
};

const act = (e: UnsentEntry, name: 'drop' | 'retry', label: string): Html =>
  html`<button class="quiet" type="button" data-unsent-act="${name}" data-seq="${e.seq}">${label}</button>`;
const sure = (summary: string, button: Html): Html =>
  html`<details class="void"><summary>${summary}</summary>${button}</details>`;

const entryItem = (e: UnsentEntry, p: UnsentProps): Html =>
  e.refused === null
    ? html`<li><span class="grow"><b>${clock(p.show, e.at)}</b> ${e.words}</span>${sure(
        'Take back',
        act(e, 'drop', 'Take it back'),
      )}</li>`
    : html`<li class="is-refused"><span class="grow"><b>${clock(
        p.show,
        e.at,
      )}</b> ${e.words}<br><strong class="refused-words">Refused: ${e.refused}</strong><br><span class="fine">As
        kept: ${e.asKept}</span></span>${
          e.file &&
          html`<a class="button quiet" href="${e.file.address}"
        download="${e.file.name}">Save the
        file</a>`
        }${act(e, 'retry', 'Try again')}${sure('Drop it', act(e, 'drop', 'Yes, drop it'))}</li>`;

/** All besides its state: what to do, what waits, what waits for others. Where nothing is amiss it is one quiet
 *  line, since the next thing to weigh should fill the screen. */
export const unsentRest = (p: UnsentProps): Html =>
  html`${p.signedOut && html`<p><a class="button" href="${p.signInHref}">Sign in</a></p>`}${
    p.kept !== null &&
    html`<p class="fine">This page is the device’s own copy, as it was at ${clock(p.show, p.kept)}.</p>`
  }${p.queue.some((e) => e.held) && html`<p class="notice warn held-words">${heldWords(p.queue)}</p>`}${
    p.queue.length > 0 &&
    html`<details class="unsent-details"><summary>Not sent: ${p.queue.length}</summary><ol
      class="unsent-list">${p.queue.map((e) => entryItem(e, p))}</ol></details>`
  }${p.others.map(
    (o) =>
      html`<p class="fine" data-key="${o.key}">${o.count} ${
        o.personName === null ? 'more' : `of ${o.personName}`
      } for <a href="/lots/${o.lotId}/bench">lot ${o.number}</a>${
        o.personName === null ? '.' : `: out when ${o.personName} signs in here.`
      }</p>`,
  )}${(p.reopens !== null || p.storage === 'memory') && html`<p class="fine">${promise(p)}</p>`}`;

/** An entry that waits, in the log. */
export const entryInLog = (e: UnsentEntry, show: Show): Html =>
  html`<li class="is-kept" data-key="kept-${e.clientId}"><span class="log-at">${clock(
    show,
    e.at,
  )}</span><span class="log-what">${e.words} ${keptMark(e.mark)}${
    e.file?.isPicture &&
    html`<br><img src="${e.file.address}" alt="Photo at ${clock(show, e.at)}, kept on this device">`
  }</span><span class="fine">${e.personName}</span></li>`;
