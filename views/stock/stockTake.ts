import { type Html, html } from '../html.ts';
import { type FormState, field } from '../kit/field.ts';
import type { Show } from '../kit/show.ts';
import { type Container, deedPage, example } from './deed.ts';

export const stockTakeForm = (props: { container: Container; form: FormState; show: Show }): Html =>
  deedPage({
    ...props,
    title: `Count ${props.container.code}`,
    lead: 'Weigh the container, take off its tare, and type what is really there. The difference becomes an entry; nothing is overwritten.',
    action: 'stock-takes',
    button: 'Record the count',
    fields: html`${field({
      name: 'counted',
      label: 'What is there',
      form: props.form,
      required: true,
      autofocus: true,
      inputmode: 'text',
      placeholder: example(props.container),
      size: 'short',
      hint: '0 when there is nothing.',
    })}
    ${field({ name: 'reason', label: 'Why', form: props.form, required: true })}`,
  });
