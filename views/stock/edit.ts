import { type Html, html } from '../html.ts';
import { type FormState, field, formNotice, textArea } from '../kit/field.ts';
import { pageHead } from '../kit/pageHead.ts';
import type { Container } from './deed.ts';

/** Correct what is known of a container. */
export const containerForm = (props: { form: FormState; container: Container; isSolution: boolean }): Html => {
  const { form, container: c } = props;
  return html`${pageHead({
    title: `Edit ${c.code}`,
    crumb: { href: `/stock/${c.id}`, label: c.code },
    lead: c.itemName,
  })}
<form method="post" action="/stock/${c.id}" class="stack">${formNotice(
    form,
  )}<input type="hidden" name="version" value="${form.typed['version'] ?? ''}">
  <fieldset class="panel"><legend>The container</legend><div class="grid">
    ${field({ name: 'supplier', label: 'Supplier', form })}
    ${field({ name: 'makerLot', label: 'Maker’s lot number', form })}
    ${field({
      name: 'strength',
      label: props.isSolution ? 'Strength of the powder in it' : 'Strength',
      form,
      required: true,
      unit: '%',
      inputmode: 'decimal',
      size: 'short',
      hint: 'Lots that were weighed already keep what they were weighed by.',
    })}
    ${field({ name: 'openedOn', label: 'Opened on', form, type: 'date', size: 'short' })}
    ${field({ name: 'bestBeforeOn', label: 'Best before', form, type: 'date', size: 'short' })}
    ${textArea({ name: 'note', label: 'Note', form, rows: 3 })}
  </div></fieldset>
  <p class="fine">Quantity and price belong to the receipt and stand. A wrong count is put right by a stock-take.</p>
  <p><button class="primary">Save</button> <a class="button quiet" href="/stock/${c.id}">Cancel</a></p>
</form>`;
};
