import { type Html, html } from '../html.ts';
import { choice, type FormState, field, fieldError, formNotice, type Option } from '../kit/field.ts';
import { hiddenFields } from '../kit/hiddenFields.ts';
import { pageHead } from '../kit/pageHead.ts';

const fileButton = (id: string, words: string, form: FormState, capture: boolean): Html =>
  html`<label class="file-button" for="${id}"><input id="${id}" type="file" name="photo" accept="image/*" ${
    capture && html`capture="environment"`
  } ${form.errors['photo'] && html`aria-invalid="true" aria-describedby="f-photo-error"`}><span class="button big ${
    capture ? 'primary' : ''
  }">${words}</span></label>`;

/** The first step: a photo and the card that lies in it. */
export const photoStart = (p: {
  form: FormState;
  cards: readonly Option[];
  subject: { name: string; href: string } | null;
  hidden: readonly (readonly [string, string])[];
}): Html => html`${pageHead({
  title: 'Colour from a photo',
  crumb: p.subject
    ? { href: p.subject.href, label: p.subject.name }
    : { href: '/swatches/near', label: 'Near a colour' },
  lead: p.subject
    ? html`Of ${p.subject.name}: lay a reference card beside it, and take both in one photo.`
    : 'Lay a reference card beside what you want to match, and take both in one photo.',
})}
<form class="stack photo-start" method="post" action="/photo-readings" enctype="multipart/form-data"
  data-photo-start>${formNotice(p.form)}
  ${hiddenFields(p.hidden)}
  <section class="panel"><h2>Which card</h2>
  ${choice({ name: 'card', label: 'The card in the photo', form: p.form, options: p.cards })}
  <details class="grey-l"><summary>L* of a plain grey card</summary>${field({
    name: 'greyL',
    label: 'L* of the plain grey card',
    form: p.form,
    inputmode: 'decimal',
    size: 'short',
    hint: 'Only for the plain grey card. It stands on the card; one that reflects 18 % has L* 49.5.',
  })}</details>
  <p class="fine">A 24-patch chart says most. <a href="/reference-cards">The studio’s own cards</a></p></section>
  <section class="panel drop-photo" data-drop><h2>The photo</h2>
  <div class="file-buttons">${fileButton('take-photo', 'Take a photo', p.form, true)}${fileButton(
    'choose-photo',
    'Choose a photo',
    p.form,
    false,
  )}</div>
  <p class="fine" role="status" data-sending>On a computer, drop a photo here.</p>
  ${fieldError('photo', p.form)}
  <ul class="fine photo-advice"><li>Card and goods flat, close together, in the same light: a window or the open sky,
    no lamp beside it, no flash.</li><li>Straight from above; no shine on the card, no shadow of the
    phone.</li><li>Not too bright: the white patch must not run over.</li></ul>
  <noscript><p><button class="primary big">Read it</button></p></noscript></section></form>`;
