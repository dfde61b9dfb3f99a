import { type Html, html } from '../html.ts';
import { type FormState, field } from '../kit/field.ts';
import type { Show } from '../kit/show.ts';
import { type Container, deedPage, example } from './deed.ts';

export const wasteForm = (props: { container: Container; form: FormState; show: Show }): Html =>
  deedPage({
    ...props,
    title: `Write off from ${props.container.code}`,
    lead: 'What was lost without dyeing anything: spilt, spoilt, past its life.',
    action: 'wastes',
    button: 'Write it off',
    fields: html`${field({
      name: 'quantity',
      label: 'How much',
      form: props.form,
      required: true,
      autofocus: true,
      placeholder: example(props.container),
      size: 'short',
    })}
    ${field({ name: 'reason', label: 'Why', form: props.form, required: true, placeholder: 'spilt' })}`,
  });
