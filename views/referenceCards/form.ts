import { type Html, html } from '../html.ts';
import { illuminantOptions, observerOptions } from '../kit/conditions.ts';
import { choice, type FormState, field, formNotice, textArea } from '../kit/field.ts';
import { pageHead } from '../kit/pageHead.ts';

export const cardForm = (p: { form: FormState }): Html => html`${pageHead({
  title: 'New reference card',
  crumb: { href: '/reference-cards', label: 'Reference cards' },
  lead: 'Patches in equal steps, each measured by an instrument. A card is found by itself from eight patches on.',
})}
<form class="panel stack" method="post" action="/reference-cards">${formNotice(p.form)}
  <div class="grid">${field({
    name: 'name',
    label: 'Name',
    form: p.form,
    required: true,
    placeholder: 'Studio card, May',
  })}
  ${field({
    name: 'columns',
    label: 'Patches in a row',
    form: p.form,
    inputmode: 'numeric',
    size: 'short',
    required: true,
  })}
  ${field({ name: 'rows', label: 'Rows', form: p.form, inputmode: 'numeric', size: 'short', required: true })}
  ${choice({
    name: 'illuminant',
    label: 'Light of the measurement',
    form: p.form,
    options: illuminantOptions,
    hint: 'Photos are read under D50, 2°. Others are adapted to it, an estimate.',
  })}
  ${choice({
    name: 'observer',
    label: 'Observer',
    form: p.form,
    options: observerOptions,
  })}</div>
  ${textArea({
    name: 'patches',
    label: 'Patches',
    form: p.form,
    rows: 10,
    required: true,
    hint: 'One line for each patch, row by row from the upper left: L* a* b*, with a name before it if you like. “white 96.5 -0.4 1.2”',
  })}
  ${field({ name: 'note', label: 'Note', form: p.form, placeholder: 'measured 3 May, mean of three', size: 'wide' })}
  <p><button class="primary">Keep the card</button></p></form>`;
