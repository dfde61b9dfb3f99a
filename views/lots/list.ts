import type { LotListed, LotStatus } from '../../server/lots/schemas.ts';
import { type Html, html } from '../html.ts';
import { badge, emptyState, pageHead, pager } from '../kit/pageHead.ts';
import { goodsMass, money, type Show, when } from '../kit/show.ts';

export const statusBadge = (status: LotStatus): Html =>
  ({
    planned: badge({ label: 'planned', tone: 'plain' }),
    onBench: badge({ label: 'on the bench', tone: 'busy' }),
    finished: badge({ label: 'finished', tone: 'good' }),
    abandoned: badge({ label: 'given up', tone: 'bad' }),
  })[status];

export interface LotsPageProps {
  lots: readonly (LotListed & { estimateMinor: number })[];
  show: Show;
  status: LotStatus | null;
  words: string;
  nextHref: string | null;
  firstHref: string | null;
}

const tab = (p: LotsPageProps, status: LotStatus | null, label: string): Html =>
  html`<a href="/lots${status ? `?status=${status}` : ''}" ${
    p.status === status && html`aria-current="page"`
  }>${label}</a>`;

/** The production log: every lot, newest first. */
export const lotsPage = (p: LotsPageProps): Html => html`${pageHead({
  title: 'Production log',
  lead: 'Every production batch (lot): what was planned, what really happened, what it cost.',
  actions: html`<a class="button primary" href="/lots/new">Plan a lot</a>`,
})}
<div class="log-filter"><nav class="tabs" aria-label="State">${tab(p, null, 'all')}${tab(p, 'planned', 'planned')}${tab(
  p,
  'onBench',
  'on the bench',
)}${tab(p, 'finished', 'finished')}${tab(p, 'abandoned', 'given up')}</nav>
<form method="get" action="/lots" role="search"><label class="visually-hidden" for="lot-words">Search
  lots</label><input id="lot-words" type="search" name="words" value="${p.words}"
  placeholder="number, goods, shade, customer">${
    p.status &&
    html`<input type="hidden" name="status"
  value="${p.status}">`
  }<button>Search</button></form></div>
${
  p.lots.length === 0
    ? emptyState(
        p.words || p.status
          ? {
              title: 'No lot like that',
              words: 'Nothing in the log matches.',
              action: { href: '/lots', label: 'Show all lots' },
            }
          : {
              title: 'The log is empty',
              words:
                'A lot is everything dyed in one go. Plan one from a swatch, an order line or a recipe, and weigh it at the bench.',
              action: { href: '/lots/new', label: 'Plan a lot' },
            },
      )
    : html`<ul class="lot-list">${p.lots.map(
        (l) => html`<li><a href="/lots/${l.lotId}"><span class="lot-tag">${l.number}</span><span
          class="lot-what"><b>${l.colours}</b> on ${l.goodsText}<br><span
          class="fine">${goodsMass(p.show, l.dryMassMg)} ${l.fibreName} · ${l.methodName}${
            l.customers &&
            html` ·
          for ${l.customers}`
          }</span></span>
        <span class="lot-state">${statusBadge(l.status)}<span class="fine">${
          l.finishedAt !== null
            ? when(p.show, l.finishedAt)
            : l.startedAt !== null
              ? html`since ${when(p.show, l.startedAt)}`
              : html`planned ${when(p.show, l.plannedAt)}`
        }</span></span>
        <span class="lot-cost num">${
          l.costMinor !== null
            ? money(p.show, l.costMinor)
            : html`<span class="fine">est. ${money(p.show, l.estimateMinor)}</span>`
        }</span></a></li>`,
      )}</ul>${pager({ nextHref: p.nextHref, firstHref: p.firstHref })}`
}`;
