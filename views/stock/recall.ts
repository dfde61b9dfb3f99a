import type { Html } from '../html.ts';
import { type FormState, field } from '../kit/field.ts';
import type { Show } from '../kit/show.ts';
import { type Container, deedPage } from './deed.ts';

export const recallForm = (props: { container: Container; form: FormState; show: Show }): Html =>
  deedPage({
    ...props,
    title: `Recall ${props.container.code}`,
    lead: 'Something is wrong with it: wrong shade, wrong strength, a maker’s notice. It and the solutions made from it are offered to no plan from now on, and you get the list of every lot, swatch, order and customer that it touched.',
    action: 'recall',
    button: 'Recall it',
    fields: field({ name: 'reason', label: 'Why', form: props.form, required: true, autofocus: true }),
  });

export const liftingForm = (props: { container: Container; form: FormState; show: Show }): Html =>
  deedPage({
    ...props,
    title: `Lift the recall of ${props.container.code}`,
    lead: 'It and the solutions that were recalled with it are offered to plans again. The recall and its lifting stay on their pages.',
    action: 'recall-lifting',
    button: 'Lift the recall',
    fields: field({ name: 'reason', label: 'Why', form: props.form, required: true, autofocus: true }),
  });
