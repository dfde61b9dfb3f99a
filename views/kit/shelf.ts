import { type Html, html } from '../html.ts';
import { type ContainerItem, containerTable, keepingBadge, supplyBadge } from './containers.ts';
import { badge, emptyState } from './pageHead.ts';
import type { Show } from './show.ts';

/* What the pages of dyes and auxiliaries have in common: both lie on the shelf in containers, and are put away when
   they are no longer bought. */

/** What to watch about all open containers of one thing together. */
export const shelfWatch = (
  of: {
    onHandQuantity: number;
    receivedQuantity: number;
    openContainers: number;
    recalledContainers: number;
    bestBeforeOn: string | null;
  },
  todayOn: string,
): Html =>
  html`<span class="badges">${of.recalledContainers > 0 && badge({ label: 'a container is recalled', tone: 'bad' })}${
    of.openContainers === 0 ? badge({ label: 'none on the shelf', tone: 'plain' }) : supplyBadge(of)
  }${keepingBadge({ bestBeforeOn: of.bestBeforeOn, todayOn, isSolution: false })}</span>`;

/** The containers of one thing, or the way to receive the first. */
export const shelfContainers = (props: {
  /** As the stock pages name it: 'dye-3', 'auxiliary-7'. */
  item: string;
  name: string;
  containers: readonly ContainerItem[];
  closedCount: number;
  /** Why a container is received here. */
  words: string;
  hex?: string | null;
  mayWork: boolean;
  show: Show;
  todayOn: string;
}): Html => {
  const { item, containers, closedCount, show, todayOn } = props;
  const receive = { href: `/stock/new?item=${item}`, label: 'Receive a container' };
  return html`<section><h2>Containers</h2>
${
  containers.length === 0
    ? emptyState({
        title: 'Nothing on the shelf',
        words: props.words,
        ...(props.mayWork ? { action: receive } : {}),
      })
    : containerTable({ containers, show, todayOn, caption: `Containers of ${props.name}`, hex: props.hex ?? null })
}
${
  closedCount > 0 &&
  html`<p><a href="/stock?item=${item}&amp;closed=yes">${closedCount} closed ${
    closedCount === 1 ? 'container' : 'containers'
  }</a></p>`
}</section>`;
};

/** What is on no list any more, folded away below it. */
export const putAwayList = (things: readonly { href: string; name: string; code: string }[]): Html | '' =>
  things.length === 0
    ? ''
    : html`<details class="fold"><summary>Put away (${things.length})</summary><ul class="shelf-list">${things.map(
        (t) => html`<li><a href="${t.href}">${t.name}</a> <span class="fine">${t.code}</span></li>`,
      )}</ul></details>`;

export const putAwayNotice = (noun: string): Html =>
  html`<p class="notice shelf-notice">This ${noun} is put away: it is on no list.
  <b>Put it back</b> below to use it again.</p>`;

/** Puts the thing at this address away, or back. */
export const putAwayButton = (props: { at: string; noun: string; archived: boolean }): Html =>
  html`<form method="post" action="${props.at}/archiving"><input type="hidden" name="archived" value="${
    props.archived ? 'no' : 'yes'
  }"><button class="quiet">Put this ${props.noun} ${props.archived ? 'back' : 'away'}</button></form>`;
