import { type Html, html } from '../html.ts';
import { choice, type FormState, field, formNotice } from '../kit/field.ts';
import { pageHead } from '../kit/pageHead.ts';
import { money, type Show } from '../kit/show.ts';
import { type CostLineItem, lineQuantity } from './lines.ts';

/** What stands instead of a wrong line. */
export const correctionForm = (p: {
  line: CostLineItem;
  lotId: number;
  lotNumber: string;
  form: FormState;
  show: Show;
}): Html => {
  const { line, form } = p;
  const isTime = line.quantityUnit === 's';
  return html`${pageHead({
    title: 'Correct a cost line',
    crumb: { href: `/costing/lots/${p.lotId}#lines`, label: `Cost of lot ${p.lotNumber}` },
    lead: html`${line.description}: ${lineQuantity(p.show, line.quantityUnit, line.quantity)} at ${money(
      p.show,
      line.priceMinor,
    )} for ${lineQuantity(p.show, line.quantityUnit, line.perQuantity)} makes <b>${money(p.show, line.costMinor)}</b>`,
  })}
<form method="post" action="/costing/lines/${line.costLineId}/correction" class="panel stack">${formNotice(form)}
  ${choice({
    name: 'stands',
    label: 'Instead stands',
    form,
    options: [
      { value: 'line', label: 'what is typed below' },
      { value: 'nothing', label: 'nothing' },
    ],
  })}
  <div class="grid">
  ${field({
    name: 'quantity',
    label: isTime ? 'Time' : 'Quantity',
    form,
    hint: line.stockLotId !== null && html`Another quantity sets the ledger of ${line.stockLotCode} right too, today.`,
  })}
  ${field({
    name: 'price',
    label: isTime ? 'Rate' : 'Price',
    form,
    unit: p.show.currency,
    inputmode: 'decimal',
    size: 'short',
  })}
  ${field({ name: 'perQuantity', label: 'for', form, size: 'short' })}
  </div>
  ${field({ name: 'reason', label: 'Why', form, required: true, size: 'wide' })}
  ${
    line.kind === 'labour' &&
    html`<p class="fine">Overhead goes by the same hours and is a line of its own: correct that one as well.</p>`
  }
  <p><button class="primary">Write the correction</button></p></form>`;
};
