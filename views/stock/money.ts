import { type Html, html } from '../html.ts';
import { choice, type FormState, field } from '../kit/field.ts';
import type { Show } from '../kit/show.ts';
import { type Container, deedPage } from './deed.ts';

export const moneyForm = (props: { container: Container; form: FormState; show: Show }): Html =>
  deedPage({
    ...props,
    title: `Late money on ${props.container.code}`,
    lead: 'What came after the receipt: freight or a bill that was late, a credit note, a price reduced afterwards. It counts for what is still in stock; lots that were closed before keep their cost, and their part of it shows as a price difference of that day.',
    action: 'money',
    button: 'Write it down',
    fields: html`${choice({
      name: 'kind',
      label: 'It is',
      form: props.form,
      options: [
        { value: 'freight', label: 'Freight or duty' },
        { value: 'bill', label: 'Another bill' },
        { value: 'credit', label: 'A credit: money back' },
      ],
    })}${field({
      name: 'amount',
      label: `Amount (${props.show.currency})`,
      form: props.form,
      required: true,
      size: 'short',
      hint: 'Always more than nothing; what was written wrongly is set right by its opposite.',
    })}
    ${field({ name: 'on', label: 'Day of the bill or the credit note', form: props.form, type: 'date', size: 'short' })}
    ${field({
      name: 'reason',
      label: 'What for',
      form: props.form,
      required: true,
      placeholder: 'credit note 118, two bags were damp',
    })}`,
  });
