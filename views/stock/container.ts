import { pctText } from '../../server/calc/quantity.ts';
import { nearlyOutPpm, supply } from '../../server/calc/shelf.ts';
import type { LedgerEntryLine, StockLot, StockLotEvent, StockMoney } from '../../server/stock/schemas.ts';
import { type Html, html, type Value } from '../html.ts';
import { containerBadges, containerTable, jar, quantity, shelfValueMinor } from '../kit/containers.ts';
import { type FormState, field } from '../kit/field.ts';
import { fact, pageHead, pager } from '../kit/pageHead.ts';
import { safety } from '../kit/safety.ts';
import { day, money, percent, type Show, when } from '../kit/show.ts';
import { itemHref, type StockItemOfList } from './list.ts';

type LedgerItem = Omit<LedgerEntryLine, 'entryId'> & {
  id: number;
  /** When that happened which made the entry necessary. */
  causedAt: number | null;
};

type ContainerDetail = StockItemOfList & Pick<StockLot, 'strengthPpm' | 'sourceStockLotId' | 'note' | 'recallReason'>;

type EventItem = Omit<StockLotEvent, 'eventId'> & { id: number; throughCode: string | null };

const EVENT_WORDS: Record<EventItem['kind'], string> = {
  closed: 'Closed',
  reopened: 'Opened again',
  recalled: 'Recalled',
  recallLifted: 'Recall lifted',
};

/** What was done with the container as a whole. */
const eventList = (events: readonly EventItem[], show: Show): Html =>
  html`<ul class="shelf-list">${events.map(
    (e) =>
      html`<li><b>${EVENT_WORDS[e.kind]}</b> ${when(show, e.at)}${
        e.throughId !== null && html` with <a href="/stock/${e.throughId}">${e.throughCode}</a>`
      }${e.reason && html`: ${e.reason}`}${
        e.personName &&
        html`
        <span class="fine">${e.personName}</span>`
      }</li>`,
  )}</ul>`;

const WORDS: Record<LedgerItem['kind'], string> = {
  receipt: 'received',
  issue: 'used',
  waste: 'written off',
  stockTake: 'stock-take',
  reversal: 'taken back',
};

/** Entered so much later than it happened: worth saying. */
const LATE_MS = 60 * 60_000;

const signed = (show: Show, unit: 'mg' | 'ul', amount: number): string =>
  `${amount > 0 ? '+' : amount < 0 ? '−' : ''}${quantity(show, unit, Math.abs(amount))}`;

const why = (e: LedgerItem, show: Show, receivedAt: number): Value => [
  e.lotId !== null && html`<a href="/lots/${e.lotId}">lot ${e.lotNumber ?? e.lotId}</a> `,
  e.solutionId !== null ? html`<a href="/stock/${e.solutionId}">${e.reason}</a>` : e.reason,
  e.causedAt !== null && html` <span class="fine">(the entry of ${when(show, e.causedAt)})</span>`,
  e.at < receivedAt && html` <span class="fine">(before it came, by its receipt)</span>`,
  e.kind === 'stockTake' && e.quantity === 0 && ' · count and ledger agreed',
];

/** The ledger, newest first, with what was there after each entry. */
export const ledgerTable = (props: {
  entries: readonly LedgerItem[];
  unit: 'mg' | 'ul';
  show: Show;
  /** When the container came by its ledger. */
  receivedAt?: number;
}): Html =>
  html`<div class="panel"><table class="plain shelf ledger"><caption class="visually-hidden">Ledger, newest
    first</caption>
<thead><tr><th scope="col">When</th><th scope="col">What</th><th scope="col" class="num">Quantity</th><th scope="col"
  class="num">Balance</th><th scope="col">Why</th><th scope="col">By</th></tr></thead>
<tbody>${props.entries.map(
    (e) =>
      html`<tr><th scope="row">${when(props.show, e.at)}${
        e.recordedAt - e.at > LATE_MS && html`<br><span class="fine">entered ${when(props.show, e.recordedAt)}</span>`
      }</th>
  <td data-label="What">${WORDS[e.kind]}</td><td class="num" data-label="Quantity">${signed(
    props.show,
    props.unit,
    e.quantity,
  )}</td>
  <td class="num" data-label="Balance"><b>${quantity(props.show, props.unit, e.balance)}</b></td>
    <td data-label="Why">${why(
      e,
      props.show,
      props.receivedAt ?? 0,
    )}</td><td data-label="By">${e.personName}</td></tr>`,
  )}</tbody></table></div>`;

/** Money that moved after the receipt; a credit is below nothing. */
type LateMoney = Pick<StockMoney, 'kind' | 'at' | 'amountMinor' | 'reason'> & { personName: string };

interface ContainerProps {
  container: ContainerDetail;
  safety: { hazardCodes: string; sdsUrl: string } | null;
  entries: readonly LedgerItem[];
  nextHref: string | null;
  firstHref: string | null;
  lateMoney: readonly LateMoney[];
  solutions: readonly StockItemOfList[];
  events: readonly EventItem[];
  strengthChanges: readonly { wasPpm: number; at: number; personName: string }[];
  /** What the record asks about it, made up already. */
  questions: Html | '';
  receivedAt: number;
  past: { form: FormState; quantity: number | null };
  mayLog: boolean;
  mayWork: boolean;
  mayOwn: boolean;
  show: Show;
  todayOn: string;
}

/** What stands in the way of using it. */
const notices = (props: ContainerProps): Html => {
  const { container: c, show } = props;
  return html`${
    c.recalledAt !== null &&
    html`<div class="notice bad shelf-notice"><p><b>Recalled</b> on ${when(
      show,
      c.recalledAt,
    )}: ${c.recallReason}. It is offered to no plan.</p><p><a href="/stock/${c.id}/touched">Everything it touched</a>${
      props.mayOwn && html` <a class="button quiet" href="/stock/${c.id}/recall-lifting/new">Lift the recall</a>`
    }</p></div>`
  }
${
  c.closedAt !== null &&
  html`<div class="notice shelf-notice"><p>Closed on ${when(show, c.closedAt)}. Its ledger stays.</p>${
    props.mayWork &&
    html`<p><a class="button quiet" href="/stock/${c.id}/reopening/new">Open it again</a>${
      c.recalledAt === null && html` <a class="button quiet" href="/stock/${c.id}/recall/new">Recall</a>`
    }</p>`
  }</div>`
}`;
};

/** How much there is, and what can be done with it. */
const holds = (props: ContainerProps): Html => {
  const { container: c, show } = props;
  const { leftPpm } = supply({ ...c, nearlyOutPpm });
  const isSolution = c.concPpm !== null;
  const open = c.closedAt === null;
  const canDissolve = open && c.unit === 'mg' && !isSolution && c.kind !== 'fibre' && c.recalledAt === null;
  const asOn = props.past.form.typed['on'] ?? '';
  return html`<section class="panel shelf-facts"><h2 class="visually-hidden">What it holds</h2>
  <div class="shelf-hero">${jar({
    hex: c.shownHex,
    leftPpm,
    label: `${percent(leftPpm, 0)} left`,
    size: 'large',
  })}
<div><span class="big-number">${quantity(show, c.unit, c.onHandQuantity)}</span><br><span class="fine">${percent(
    leftPpm,
    0,
  )} of ${quantity(show, c.unit, c.receivedQuantity)}
  ${isSolution ? 'made' : 'received'}</span></div>
<div class="badges">${containerBadges(c, props.todayOn)}</div></div>
${
  open &&
  props.mayLog &&
  html`<nav class="deeds" aria-label="What to do with it">${
    canDissolve && html`<a class="button primary" href="/stock/${c.id}/solutions/new">Make a solution</a>`
  }
<a class="button" href="/stock/${c.id}/stock-takes/new">Count it</a><a class="button"
  href="/stock/${c.id}/wastes/new">Write off</a>${
    props.mayWork &&
    html`<a class="button" href="/stock/${c.id}/closing/new">Close</a>${
      c.recalledAt === null && html`<a class="button quiet" href="/stock/${c.id}/recall/new">Recall</a>`
    }`
  }</nav>`
}
<form method="get" action="/stock/${c.id}" class="past-form">${field({
    name: 'on',
    label: 'On hand at the end of a day',
    form: props.past.form,
    type: 'date',
    size: 'short',
  })}<button>Show</button>
${
  props.past.quantity !== null &&
  html`<p class="past-answer" role="status">At the end of ${day(asOn)}: <b>${quantity(
    show,
    c.unit,
    props.past.quantity,
  )}</b></p>`
}</form></section>`;
};

const facts = (props: ContainerProps): Html => {
  const { container: c, show } = props;
  const isSolution = c.concPpm !== null;
  const per = c.unit === 'mg' ? '100 g' : '100 mL';
  return html`<section class="panel shelf-facts"><h2>Facts</h2><dl class="facts">
${
  isSolution
    ? html`${fact('Strength', `${percent(c.concPpm)} w/v`)}${fact(
        'Made from',
        html`<a href="/stock/${c.sourceStockLotId}">${c.sourceCode}</a>`,
      )}${fact('Made', day(c.receivedOn))}`
    : html`${fact('Supplier', c.supplier || '—')}${fact('Received', day(c.receivedOn))}${fact(
        'Opened',
        c.openedOn === null ? 'not yet' : day(c.openedOn),
      )}`
}
${fact('Maker’s lot', c.makerLot || '—')}
${fact('Best before', c.bestBeforeOn === null ? 'not noted' : day(c.bestBeforeOn))}
${fact(
  isSolution ? 'Strength of the powder' : 'Strength',
  html`${pctText({ ppm: c.strengthPpm })}${props.strengthChanges.map(
    (s) =>
      html`<br><span class="fine">${pctText({
        ppm: s.wasPpm,
      })} until ${when(show, s.at)}, changed by ${s.personName}</span>`,
  )}`,
)}
${
  !isSolution &&
  html`${fact('Price', money(show, c.priceMinor))}${fact('Freight', money(show, c.freightMinor))}${
    props.lateMoney.length > 0 && fact('Later bills less credits', money(show, c.lateMinor ?? 0))
  }`
}
${fact(
  `Cost per ${per}`,
  money(
    show,
    shelfValueMinor([(({ valueMinor: _, ...own }) => ({ ...own, closedAt: null, onHandQuantity: 100_000 }))(c)]),
  ),
)}${fact('Value of what is left', money(show, shelfValueMinor([c])))}</dl>${
    c.note && html`<p class="note-text">${c.note}</p>`
  }
${c.recalledAt === null && html`<p><a href="/stock/${c.id}/touched">What it went into</a></p>`}</section>`;
};

const LATE_MONEY: Record<LateMoney['kind'], string> = { freight: 'freight', bill: 'bill', credit: 'credit' };

const moneyAfter = (props: ContainerProps): Html | '' => {
  const { container: c, show } = props;
  if (props.lateMoney.length === 0 && !props.mayWork) return '';
  return html`<section id="money"><h2>Money after the receipt</h2>${
    props.lateMoney.length > 0 &&
    html`<div class="panel"><table class="plain shelf"><caption class="visually-hidden">Late freight, bills and credits
      of ${c.code}</caption><thead><tr><th scope="col">Day</th><th scope="col">What</th><th scope="col">What
      for</th><th scope="col">By</th><th scope="col" class="num">Amount</th></tr></thead><tbody>${props.lateMoney.map(
        (m) =>
          html`<tr><th scope="row">${when(show, m.at)}</th><td data-label="What">${LATE_MONEY[m.kind]}</td>
          <td data-label="What for">${m.reason}</td><td data-label="By">${m.personName}</td><td class="num"
            data-label="Amount">${money(show, m.amountMinor)}</td></tr>`,
      )}</tbody></table></div>`
  }${
    props.mayWork &&
    html`<p><a class="button quiet" href="/stock/${c.id}/money/new">Late freight, a bill or a credit</a></p>`
  }</section>`;
};

/** One container: what it is, what it holds, its ledger, and what can be done with it. */
export const containerPage = (props: ContainerProps): Html => {
  const { container: c, show } = props;
  const isSolution = c.concPpm !== null;
  return html`${pageHead({
    title: c.code,
    crumb: { href: '/stock', label: 'Stock' },
    lead: html`${isSolution && html`${percent(c.concPpm)} solution of `}<a href="${itemHref(c)}">${c.itemName}</a>`,
    actions: props.mayWork && html`<a class="button" href="/stock/${c.id}/edit">Edit</a>`,
  })}
${notices(props)}
${props.questions}
<div class="cols">${holds(props)}
${facts(props)}</div>
${
  props.solutions.length > 0 &&
  html`<section><h2>Solutions made from it</h2>${containerTable({
    containers: props.solutions,
    show,
    todayOn: props.todayOn,
    caption: `Solutions made from ${c.code}`,
    hex: c.shownHex,
  })}</section>`
}
${
  props.events.length > 1 &&
  html`<section><h2>Closed, recalled and taken back</h2>
  <div class="panel">${eventList(props.events, show)}</div></section>`
}
${!isSolution && moneyAfter(props)}
<section><h2>Ledger</h2>${ledgerTable({
    entries: props.entries,
    unit: c.unit,
    show,
    receivedAt: props.receivedAt,
  })}${pager({ nextHref: props.nextHref, firstHref: props.firstHref })}</section>
${props.safety && safety({ ...props.safety, powder: !isSolution && c.unit === 'mg' })}`;
};
