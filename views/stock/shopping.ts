import type { ItemToBuy } from '../../server/stock/schemas.ts';
import { type Html, html } from '../html.ts';
import { daysWords, quantity } from '../kit/containers.ts';
import { type FormState, field, formNotice } from '../kit/field.ts';
import { badge, emptyState, pageHead } from '../kit/pageHead.ts';
import { money, type Show } from '../kit/show.ts';

/** With the container that was received last. */
type ShoppingItem = ItemToBuy & { lastStockLotId: number };

const HREF = { dye: '/dyes', auxiliary: '/auxiliaries', fibre: '/fibres' } as const;

const STATE = {
  short: badge({ label: 'planned lots want more', tone: 'bad' }),
  reorder: badge({ label: 'time to order', tone: 'warn' }),
  enough: '',
} as const;

const lasts = (days: number | null): string =>
  days === null ? 'not used of late' : days < 1 ? 'less than a day' : daysWords(Math.floor(days));

const row = (i: ShoppingItem, show: Show): Html => html`<tr>
  <th scope="row"><a href="${HREF[i.kind]}/${i.itemId}"><b>${i.code}</b> ${i.name}</a> ${STATE[i.state]}</th>
  <td class="num" data-label="On hand"><a href="/stock?item=${i.kind}-${i.itemId}">${quantity(
    show,
    i.unit,
    i.onHandQuantity,
  )}</a>${
    i.inSolutionQuantity > 0 &&
    html`<br><span class="fine">+ ${quantity(show, i.unit, i.inSolutionQuantity)} dissolved</span>`
  }</td>
  <td class="num" data-label="Planned lots want">${
    i.plannedQuantity > 0 ? quantity(show, i.unit, i.plannedQuantity) : '—'
  }</td>
  <td class="num" data-label="Used a day">${
    i.meanDailyQuantity > 0 ? quantity(show, i.unit, i.meanDailyQuantity) : '—'
  }<br><span class="fine">${lasts(i.lastsDays)}</span></td>
  <td class="num" data-label="Order again at">${
    i.reorderQuantity > 0 ? quantity(show, i.unit, i.reorderQuantity) : '—'
  }</td>
  ${
    i.containers > 0
      ? html`<td data-label="Buy"><b>${i.containers} × ${quantity(show, i.unit, i.lastQuantity)}</b>${
          i.lastSupplier && html`<br><span class="fine">last from ${i.lastSupplier}</span>`
        }</td><td class="num" data-label="At the last price"><a href="/stock/${i.lastStockLotId}">${money(
          show,
          i.costMinor,
        )}</a></td>`
      : html`<td></td><td></td>`
  }</tr>`;

const table = (caption: string, items: readonly ShoppingItem[], show: Show): Html =>
  html`<div class="panel"><table class="plain shelf shopping"><caption
    class="visually-hidden">${caption}</caption><thead><tr><th scope="col">What</th><th scope="col" class="num">On
    hand</th><th scope="col" class="num">Planned lots want</th><th scope="col" class="num">Used a day</th>
    <th scope="col" class="num">Order again at</th><th scope="col">Buy</th><th scope="col" class="num">At the last
      price</th></tr></thead><tbody>${items.map((i) => row(i, show))}</tbody></table></div>`;

/** What to buy, by real use. */
export const shoppingPage = (p: {
  items: readonly ShoppingItem[];
  form: FormState;
  csvHref: string;
  show: Show;
}): Html => {
  const buy = p.items.filter((i) => i.state !== 'enough');
  const enough = p.items.filter((i) => i.state === 'enough');
  const sum = buy.reduce((total, i) => total + i.costMinor, 0);
  return html`${pageHead({
    title: 'Shopping list',
    crumb: { href: '/stock', label: 'Stock' },
    lead: 'By what was really used, and by what planned lots still want.',
    actions: html`<a class="button" href="${p.csvHref}" download>As CSV</a><button type="button"
      data-print>Print</button>`,
  })}
${
  p.items.length === 0
    ? emptyState({
        title: 'Nothing was received yet',
        words: 'Once containers are received and weighed from, their use says when to buy again.',
      })
    : html`${
        buy.length === 0
          ? html`<div class="notice good" role="status"><p>Nothing to buy: there is enough of everything that is in
            use.</p></div>`
          : html`<h2>To buy</h2>${table(
              'To buy',
              buy,
              p.show,
            )}<p class="lines-sum">Together, at the last prices <b class="big-number">${money(p.show, sum)}</b></p>`
      }
${
  enough.length > 0 &&
  html`<details class="panel"><summary><h2>Enough of ${
    enough.length === 1 ? 'one more' : `${enough.length} more`
  }</h2></summary>${table('Enough', enough, p.show)}</details>`
}
<details class="panel no-print" ${
        Object.keys(p.form.errors).length > 0 && html`open`
      }><summary><h2>How it is reckoned</h2></summary>
<p>Used a day: what was issued and wasted in the days looked at, by their number (or since the first receipt, four
  weeks at least). Order again at: that use times the days until a parcel comes and the days of safety. Buy: enough
  for those days and the days to last, and for the planned lots, in containers like the last one.</p>
<form method="get" action="/stock/shopping">${formNotice(p.form)}<div class="grid">
  ${field({ name: 'windowDays', label: 'Days looked at', form: p.form, inputmode: 'numeric', size: 'short' })}
  ${field({
    name: 'leadTimeDays',
    label: 'Until a parcel comes',
    form: p.form,
    unit: 'days',
    inputmode: 'numeric',
    size: 'short',
  })}
  ${field({ name: 'safetyDays', label: 'Safety', form: p.form, unit: 'days', inputmode: 'numeric', size: 'short' })}
  ${field({ name: 'coverDays', label: 'To last', form: p.form, unit: 'days', inputmode: 'numeric', size: 'short' })}
</div><button>Reckon</button></form></details>`
}`;
};
