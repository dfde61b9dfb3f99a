import { type Html, html } from '../html.ts';
import { choice, type FormState, field } from '../kit/field.ts';
import type { Show } from '../kit/show.ts';
import { type Container, deedPage } from './deed.ts';

export const closingForm = (props: { container: Container; form: FormState; show: Show }): Html =>
  deedPage({
    ...props,
    title: `Close ${props.container.code}`,
    lead: 'A closed container is offered to no plan. Its ledger stays, and ends at nothing. It can be opened again.',
    action: 'closing',
    button: 'Close the container',
    fields: html`${choice({
      name: 'how',
      label: 'It is',
      form: props.form,
      options: [
        { value: 'empty', label: 'Empty' },
        { value: 'discarded', label: 'Thrown away' },
      ],
      hint: 'Empty: what the ledger still shows is a stock-take’s difference. Thrown away: it is written off as waste.',
    })}${field({
      name: 'reason',
      label: 'Why',
      form: props.form,
      hint: 'Needed when something is thrown away. Waste dye goes by your local rule.',
    })}`,
  });
