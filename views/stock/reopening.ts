import { type Html, html } from '../html.ts';
import { type FormState, field } from '../kit/field.ts';
import type { Show } from '../kit/show.ts';
import { type Container, deedPage, example } from './deed.ts';

export const reopeningForm = (props: { container: Container; form: FormState; show: Show }): Html =>
  deedPage({
    ...props,
    title: `Open ${props.container.code} again`,
    lead: 'It was closed in error, or there is some left after all. Weigh it: what is in it becomes an entry of today, and what closing it wrote off as thrown away is taken back.',
    action: 'reopening',
    button: 'Open it again',
    fields: html`${field({
      name: 'counted',
      label: 'What is in it',
      form: props.form,
      required: true,
      autofocus: true,
      inputmode: 'text',
      size: 'short',
      ...(props.form.typed['counted']
        ? { hint: 'Filled in is what closing took out of the ledger.' }
        : { placeholder: example(props.container) }),
    })}
    ${field({ name: 'reason', label: 'Why', form: props.form, required: true, placeholder: 'closed the wrong jar' })}`,
  });
