import { type Html, html } from '../html.ts';
import { type FormState, field, formNotice, type Option, selectField, textArea } from '../kit/field.ts';
import { pageHead } from '../kit/pageHead.ts';
import { keeper } from './deed.ts';

/** Receive a container. */
export const receiptForm = (props: {
  form: FormState;
  items: readonly Option[];
  currency: string;
  proposedCode: string | null;
}): Html => {
  const { form } = props;
  return html`${pageHead({
    title: 'Receive a container',
    crumb: { href: '/stock', label: 'Stock' },
    lead: 'Price, freight and quantity stand once saved: a later price belongs to a later container.',
  })}
<form method="post" action="/stock" class="stack">${formNotice(form)}${keeper(form)}
  <fieldset class="panel"><legend>What came</legend><div class="grid">
    ${selectField({
      name: 'item',
      label: 'Holds',
      form,
      options: props.items,
      required: true,
      none: 'Choose a dye, an auxiliary or goods',
    })}
    ${field({
      name: 'quantity',
      label: 'Quantity',
      form,
      required: true,
      placeholder: '250 g',
      size: 'short',
      hint: 'A mass; of a liquid a volume. Net, as on the label or weighed.',
    })}
    ${field({
      name: 'price',
      label: 'Price paid',
      form,
      required: true,
      unit: props.currency,
      inputmode: 'decimal',
      size: 'short',
    })}
    ${field({
      name: 'freight',
      label: 'Its share of the freight',
      form,
      unit: props.currency,
      inputmode: 'decimal',
      size: 'short',
    })}
    ${field({
      name: 'code',
      label: 'Label on the container',
      form,
      size: 'short',
      ...(props.proposedCode ? { placeholder: props.proposedCode } : {}),
      hint: props.proposedCode
        ? html`Left empty, it becomes
        <b>${props.proposedCode}</b>.`
        : 'Left empty, it is made from the code of what it holds.',
    })}
  </div></fieldset>
  <fieldset class="panel"><legend>From whom, and how long it keeps</legend><div class="grid">
    ${field({ name: 'supplier', label: 'Supplier', form })}
    ${field({ name: 'makerLot', label: 'Maker’s lot number', form, hint: 'A recall is found by it.' })}
    ${field({
      name: 'strength',
      label: 'Strength',
      form,
      required: true,
      unit: '%',
      inputmode: 'decimal',
      size: 'short',
      hint: 'Against your usual powder. 110 when it takes a tenth less of it.',
    })}
    ${field({ name: 'receivedOn', label: 'Received on', form, type: 'date', required: true, size: 'short' })}
    ${field({ name: 'openedOn', label: 'Opened on', form, type: 'date', size: 'short' })}
    ${field({
      name: 'bestBeforeOn',
      label: 'Best before',
      form,
      type: 'date',
      size: 'short',
      hint: 'From the label. Fibre-reactive powder is commonly given a year, and keeps longer dry and cool.',
    })}
    ${textArea({ name: 'note', label: 'Note', form, rows: 2 })}
  </div></fieldset>
  <p><button class="primary">Put it on the shelf</button> <a class="button quiet" href="/stock">Cancel</a></p>
</form>`;
};
