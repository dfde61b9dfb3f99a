import type { Customer, LotOnLine, Order, OrderLineShown } from '../../server/orders/schemas.ts';
import { type Html, html } from '../html.ts';
import { colourChip } from '../kit/colourChip.ts';
import { checkbox, type FormState, formNotice, textArea } from '../kit/field.ts';
import { lotStatusBadge } from '../kit/lotStatus.ts';
import { fact, pageHead } from '../kit/pageHead.ts';
import { day, mass, money, percent, type Show } from '../kit/show.ts';
import { dueMark, isClosed, orderBadge } from './list.ts';

interface OrderPageProps {
  order: Omit<Order, 'lines' | 'customerName'>;
  customer: Customer;
  lines: readonly OrderLineShown[];
  priceMinor: number | null;
  todayOn: string;
  show: Show;
  mayWork: boolean;
  /** What may be done with it now, in the order in which it would be. */
  moves: readonly { noun: string; label: string; primary: boolean }[];
  form: FormState;
}

const toleranceWords = (line: OrderLineShown): string =>
  line.toleranceFormula === null
    ? 'nothing agreed'
    : line.toleranceMilli === null
      ? line.toleranceFormula
      : `${line.toleranceFormula} up to ${line.toleranceMilli / 1000}`;

const lotWords = (lot: LotOnLine): string =>
  [
    lot.pieces === null ? '' : `${lot.pieces} planned`,
    lot.goodPieces === null
      ? lot.status === 'finished' && lot.shared
        ? 'good pieces not shared out between its lines'
        : ''
      : `${lot.goodPieces} good${lot.shared ? ', shared out by pieces' : ''}`,
  ]
    .filter(Boolean)
    .join(' · ');

const wanted = (line: OrderLineShown): Html => {
  if (!line.swatch && !line.recipe && !line.wantedNote) return html`<p class="fine">No shade named yet.</p>`;
  return html`<div class="wanted">${
    line.swatch &&
    html`<a class="wanted-chip" href="/swatches/${line.swatch.swatchId}">${colourChip({
      hex: line.swatch.hex,
      label: line.swatch.name,
      size: 'tile',
      bands: line.swatch.bands,
    })}</a>`
  }<div>${
    line.swatch &&
    html`<p><a href="/swatches/${line.swatch.swatchId}"><b>${line.swatch.code}</b>
    ${line.swatch.name}</a> <span class="fine">${percent(line.swatch.depthPpm)}</span></p>`
  }
  ${
    line.recipe &&
    html`<p>Recipe <a href="/recipes/${line.recipe.recipeId}"><b>${line.recipe.name}</b></a>, revision
    ${line.recipe.number} <span class="fine">${percent(line.recipe.totalDepthPpm)}</span></p>`
  }
  ${line.wantedNote && html`<p class="wanted-words">“${line.wantedNote}”</p>`}</div></div>`;
};

const progress = (line: OrderLineShown): Html =>
  line.pieces === null
    ? html`<p class="line-progress"><span class="big-number">${line.goodPieces}</span> <span class="fine">good so
      far</span></p>`
    : html`<p class="line-progress"><span class="big-number">${line.goodPieces}<small> of ${line.pieces}</small></span>
      <span class="fine">${
        line.goodPieces >= line.pieces ? 'good pieces: all there' : 'good pieces so far'
      }</span></p>`;

/** Goods of several lots on one line: how they go together, or the question. */
const mixing = (line: OrderLineShown, props: OrderPageProps, canChange: boolean): Html => {
  const name = `mixingNote.${line.orderLineId}`;
  const form = textArea({
    name,
    label: `Lots ${line.mixedLots.join(' and ')} come together on this line. How?`,
    form: { typed: { [name]: line.mixingNote, ...props.form.typed }, errors: props.form.errors },
    rows: 2,
    hint:
      'No two lots dye quite alike. Bundled apart by lot, each with its label; ' +
      'or compared in daylight, no difference to be seen.',
  });
  const editor = html`<form method="post" action="/order-lines/${line.orderLineId}/mixing"
    class="stack">${form}<button>Keep the note</button></form>`;
  if (line.mixingNote === '')
    return html`<div class="notice warn">${
      props.mayWork && canChange
        ? editor
        : html`<p>Lots
      ${line.mixedLots.join(' and ')} come together on this line, and nobody has noted how.</p>`
    }</div>`;
  return html`<p class="mixing"><b>Lots ${line.mixedLots.join(' and ')} together:</b>
    ${line.mixingNote}</p>${
      props.mayWork &&
      canChange &&
      html`<details
    ${props.form.errors[name] && html`open`}><summary>Change this note</summary>${editor}</details>`
    }`;
};

const lineCard = (line: OrderLineShown, props: OrderPageProps): Html => {
  const isOpen = props.order.status === 'open' || props.order.status === 'inWork';
  const canChange = props.mayWork && !isClosed(props.order.status);
  return html`<li class="panel order-line"><div class="line-head"><h3>${line.description}</h3>${progress(line)}</div>
  ${wanted(line)}
  <dl class="facts">
    ${fact('Goods', line.fibre ? html`<a href="/fibres/${line.fibre.id}">${line.fibre.name}</a>` : 'not said')}
    ${fact('Dry mass', mass(props.show, line.dryMassMg))}
    ${fact('May differ by', toleranceWords(line))}
    ${fact('Price', money(props.show, line.priceMinor))}
  </dl>
  ${
    line.lots.length > 0 &&
    html`<ul class="plain-list">${line.lots.map(
      (lot) =>
        html`<li class="list-row"><span class="grow"><a href="/lots/${lot.lotId}">Lot ${lot.number}</a> <span
          class="fine">${lotWords(lot)}</span></span>${lotStatusBadge(lot.status)}</li>`,
    )}</ul>`
  }
  ${line.mixedLots.length > 1 && mixing(line, props, canChange)}
  <div class="actions">${
    props.mayWork &&
    isOpen &&
    html`<a class="button ${line.lots.length === 0 && 'primary'}" href="/lots/new?orderLineId=${line.orderLineId}">${
      line.lots.length === 0 ? 'Plan a lot for this line' : 'Plan another lot for this line'
    }</a>`
  }
  ${
    canChange &&
    html`<a class="button quiet" href="/order-lines/${line.orderLineId}/edit">Change <span
    class="visually-hidden">${line.description}</span></a>`
  }</div></li>`;
};

/** The button of a move; an order that would go out short asks for a word of confirmation beside it. */
const moveForm = (m: OrderPageProps['moves'][number], orderId: number, form: FormState): Html => {
  const askShort = m.noun === 'readiness' && form.errors['shortConfirmed'];
  const look = m.primary ? 'primary' : m.noun === 'cancellation' ? 'quiet' : '';
  return html`<form method="post" action="/orders/${orderId}/${m.noun}">${
    askShort && checkbox({ name: 'shortConfirmed', label: 'It goes out short', form })
  }<button class="${look}">${m.label}</button></form>`;
};

export const orderPage = (props: OrderPageProps): Html => {
  const { order, customer, show } = props;
  const at = `/orders/${order.orderId}`;
  const canChange = props.mayWork && !isClosed(order.status);
  return html`${pageHead({
    title: html`Order ${order.number}`,
    crumb: { href: '/orders', label: 'Orders' },
    lead: html`for <a href="/customers/${customer.customerId}">${customer.name}</a>`,
    actions: html`<a class="button" href="${at}/quote">Quote</a>${
      props.mayWork && html`<a class="button" href="${at}/edit">Change the order</a>`
    }`,
  })}
${formNotice(props.form)}
<section class="panel order-summary"><h2 class="visually-hidden">Where it stands</h2><dl class="facts">
  ${fact('State', orderBadge(order.status))}
  ${fact('Due', html`${day(order.dueOn)} ${dueMark(order, props.todayOn)}`)}
  ${fact('Ordered', day(order.orderedOn))}
  ${fact('Agreed price', html`<span class="big-number">${money(show, props.priceMinor)}</span>`)}
  ${customer.contact && fact('Contact', customer.contact)}
</dl>${order.note && html`<p class="order-note">${order.note}</p>`}
${
  props.mayWork &&
  html`<div class="actions moves">${props.moves.map((m) => moveForm(m, order.orderId, props.form))}</div>`
}</section>
<h2>${props.lines.length === 1 ? 'One line' : `${props.lines.length} lines`}</h2>
<ul class="order-lines">${props.lines.map((line) => lineCard(line, props))}</ul>
${canChange && html`<p><a class="button" href="${at}/lines/new">Another line</a></p>`}`;
};
