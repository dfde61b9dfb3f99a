import {
  daysBetween,
  keeping,
  nearlyOutPpm,
  pastUsualLifeDays,
  stockValueMinor,
  supply,
  useSoonWithinDays,
} from '../../server/calc/shelf.ts';
import { type Html, html } from '../html.ts';
import { badge } from './pageHead.ts';
import { day, mass, money, percent, type Show, volume } from './show.ts';

/** What a list of containers shows of each. */
export interface ContainerItem {
  id: number;
  code: string;
  unit: 'mg' | 'ul';
  /** % w/v × 10 000 of a stock solution; null as bought. */
  concPpm: number | null;
  sourceCode: string | null;
  supplier: string;
  makerLot: string;
  receivedOn: string;
  openedOn: string | null;
  bestBeforeOn: string | null;
  priceMinor: number;
  freightMinor: number;
  receivedQuantity: number;
  onHandQuantity: number;
  /** Late freight and bills, less credits. */
  lateMinor?: number;
  /** As the books have it, where that is not the container's own price. */
  valueMinor?: number;
  recalledAt: number | null;
  closedAt: number | null;
  /** Class of the dye, by which its usual life is told; left out or null of what is no dye. */
  dyeClass?: string | null;
}

export const quantity = (show: Show, unit: 'mg' | 'ul', amount: number): string =>
  unit === 'mg' ? mass(show, amount) : volume(show, amount);

/** A jar filled to what is left of it: the level says it to those who see no colour. */
export const jar = (props: { hex: string | null; leftPpm: number; label: string; size?: 'small' | 'large' }): Html => {
  const height = (22 * Math.min(1_000_000, Math.max(0, props.leftPpm))) / 1_000_000;
  return html`<svg class="jar jar-${
    props.size ?? 'small'
  }" viewBox="0 0 24 32" role="img" aria-label="${props.label}"><rect class="jar-glass" x="2" y="7" width="20"
    height="24" rx="2"/>${
      height > 0 &&
      (props.hex
        ? html`<rect x="3" y="${30 - height}" width="18" height="${height}" fill="${props.hex}"/>`
        : html`<rect class="jar-plain" x="3" y="${30 - height}" width="18" height="${height}"/>`)
    }<rect class="jar-lid" x="4" y="1.5" width="16" height="4.5" rx="1"/></svg>`;
};

/** A span of days in the largest words that still tell something: '12 days', '7 weeks', '14 months', '3 years'. */
export const daysWords = (days: number): string => {
  const n = Math.abs(days);
  if (n < 21) return `${n} ${n === 1 ? 'day' : 'days'}`;
  if (n < 84) return `${Math.floor(n / 7)} weeks`;
  if (n < 730) return `${Math.floor(n / 30.4375)} months`;
  return `${Math.floor(n / 365.25)} years`;
};

/** How it stands against its best-before day, in words and a shape. */
export const keepingBadge = (props: {
  bestBeforeOn: string | null;
  todayOn: string;
  isSolution: boolean;
}): Html | '' => {
  const { state, leftDays } = keeping({
    bestBeforeOn: props.bestBeforeOn,
    todayOn: props.todayOn,
    useSoonWithinDays: props.isSolution ? useSoonWithinDays.solution : useSoonWithinDays.asBought,
  });
  if (state === 'past') return badge({ label: `best-before passed ${daysWords(leftDays ?? 0)} ago`, tone: 'bad' });
  if (state === 'useSoon')
    return badge({
      label: leftDays === 0 ? 'best before today' : `use within ${daysWords(leftDays ?? 0)}`,
      tone: 'warn',
    });
  return '';
};

/** What to watch about a supply: nothing when there is enough. */
export const supplyBadge = (props: { onHandQuantity: number; receivedQuantity: number }): Html | '' => {
  const { state } = supply({ ...props, nearlyOutPpm });
  if (props.onHandQuantity < 0) return badge({ label: 'below nothing: count it', tone: 'bad' });
  if (state === 'out') return badge({ label: 'none left', tone: 'bad' });
  return state === 'nearlyOut' ? badge({ label: 'nearly out', tone: 'warn' }) : '';
};

/** Older than its class usually keeps, where no best-before day says more: a warning to test it, not a verdict. */
export const ageBadge = (c: ContainerItem, todayOn: string): Html | '' => {
  const isSolution = c.concPpm !== null;
  const past = pastUsualLifeDays({
    dyeClass: c.dyeClass ?? null,
    isSolution,
    fromOn: c.openedOn ?? c.receivedOn,
    bestBeforeOn: c.bestBeforeOn,
    todayOn,
  });
  return past
    ? badge({ label: `past the usual ${daysWords(past.lifeDays)} of its class: test it first`, tone: 'warn' })
    : '';
};

/** Everything there is to watch about one container: what is recalled or closed is watched no further. */
export const containerBadges = (c: ContainerItem, todayOn: string): Html => {
  const isSolution = c.concPpm !== null;
  if (c.closedAt !== null || c.recalledAt !== null)
    return html`<span class="badges">${
      c.recalledAt !== null &&
      badge({
        label: 'recalled',
        tone: 'bad',
      })
    }${c.closedAt !== null && badge({ label: 'closed', tone: 'plain' })}</span>`;
  return html`<span class="badges">${supplyBadge(c)}${keepingBadge({
    bestBeforeOn: c.bestBeforeOn,
    todayOn,
    isSolution,
  })}${ageBadge(c, todayOn)}</span>`;
};

/** What the open containers hold, at what was paid, or at the moving average where the studio goes by that. A solution
 *  holds the part of its powder's price that went into it. */
export const shelfValueMinor = (containers: readonly ContainerItem[]): number =>
  Math.round(
    containers.reduce(
      (sum, c) =>
        sum + (c.valueMinor ?? (c.closedAt === null ? stockValueMinor({ ...c, lateMinor: c.lateMinor ?? 0 }) : 0)),
      0,
    ),
  );

const what = (c: ContainerItem): string =>
  c.concPpm === null
    ? [c.supplier, c.makerLot && `maker’s lot ${c.makerLot}`].filter(Boolean).join(' · ')
    : `${percent(c.concPpm)} solution from ${c.sourceCode ?? 'a powder'}`;

const age = (c: ContainerItem, todayOn: string): string => {
  const from = c.openedOn ?? c.receivedOn;
  const word = c.concPpm !== null ? 'made' : c.openedOn !== null ? 'opened' : 'received';
  const days = daysBetween({ fromOn: from, toOn: todayOn });
  return days <= 0 ? `${word} ${days === 0 ? 'today' : day(from)}` : `${word} ${daysWords(days)} ago`;
};

/** Containers as a table; on a narrow screen each row stands as a card of its own. */
export const containerTable = <C extends ContainerItem>(props: {
  containers: readonly C[];
  show: Show;
  todayOn: string;
  caption: string;
  hex?: string | null;
  /** Named where a list mixes containers of several things. */
  item?: (c: C) => Html;
  hexOf?: (c: C) => string | null;
}): Html => html`<div class="panel"><table class="plain shelf"><caption
  class="visually-hidden">${props.caption}</caption>
<thead><tr><th scope="col">Container</th><th scope="col" class="num">On hand</th><th scope="col">Age</th>
  <th scope="col" class="num">Value</th><th scope="col">Watch</th></tr></thead>
<tbody>${props.containers.map((c) => {
  const { leftPpm } = supply({ ...c, nearlyOutPpm });
  return html`<tr><th scope="row"><span class="shelf-name">${jar({
    hex: (props.hexOf ? props.hexOf(c) : props.hex) ?? null,
    leftPpm,
    label: `${percent(leftPpm, 0)} left`,
  })}<span><a href="/stock/${c.id}"><b>${c.code}</b></a>${
    props.item && html` ${props.item(c)}`
  }<br><span class="fine">${what(c)}</span></span></span></th>
  <td class="num" data-label="On hand"><b>${quantity(
    props.show,
    c.unit,
    c.onHandQuantity,
  )}</b><br><span class="fine">${percent(leftPpm, 0)} of ${quantity(props.show, c.unit, c.receivedQuantity)}</span></td>
  <td data-label="Age">${age(c, props.todayOn)}${
    c.bestBeforeOn && html`<br><span class="fine">best before ${day(c.bestBeforeOn)}</span>`
  }</td>
  <td class="num" data-label="Value">${money(props.show, shelfValueMinor([c]))}</td>
  <td>${containerBadges(c, props.todayOn)}</td></tr>`;
})}</tbody></table></div>`;
