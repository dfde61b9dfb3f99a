import { type Html, html } from '../html.ts';
import { choice, type FormState, field, fieldError, formNotice, type Option, selectField } from '../kit/field.ts';
import { pageHead } from '../kit/pageHead.ts';

export interface CornersPageProps {
  planId: number;
  name: string;
  photoId: number;
  widthPx: number;
  heightPx: number;
  columns: number;
  count: number;
  form: FormState;
  cards: readonly Option[];
}

const CORNER_WORDS = ['upper left', 'upper right', 'lower right', 'lower left'] as const;

/** The four corner pieces of the sheet are shown with a finger; the card is found, or shown the same way. */
export const cornersPage = (p: CornersPageProps): Html => {
  const rows = Math.ceil(p.count / p.columns);
  const { form } = p;
  return html`${pageHead({
    title: 'Where do the pieces lie?',
    crumb: { href: `/sampling/${p.planId}`, label: p.name },
    lead: html`Drag the four numbered rings onto the middles of the corner pieces: 1 on the first piece, then
      clockwise. ${p.columns} pieces in a row, ${rows} ${
        rows === 1 ? 'row' : 'rows'
      }${p.count < rows * p.columns && ', the last as if it were full'}.`,
  })}
<form method="post" action="/sampling/${p.planId}/photo/${p.photoId}" class="stack"
  data-sheet="${p.widthPx} ${p.heightPx} ${p.columns} ${p.count}">${formNotice(form)}${fieldError(
    'gridCorners',
    form,
  )}${fieldError('corners', form)}
<div class="sheet-photo"><img src="/photos/${p.photoId}/1600" alt="The photo of the sheet" width="${p.widthPx}"
  height="${p.heightPx}"><svg viewBox="0 0 ${p.widthPx} ${p.heightPx}" preserveAspectRatio="none"
  data-handles></svg></div>
<div class="grid">${selectField({ name: 'card', label: 'Card', form, options: p.cards, required: true })}
${choice({
  name: 'cardBy',
  label: 'The card',
  form,
  options: [
    { value: 'find', label: 'finds itself' },
    { value: 'hand', label: 'I show its corners' },
  ],
  hint: 'By hand, the square rings go onto the middles of its corner patches.',
})}</div>
<details class="corner-numbers"><summary>Corners as numbers</summary><p class="hint">Pixels from the left and from the
  top of the upright photo, ${p.widthPx} by ${p.heightPx}.</p>
<div class="corner-fields">${CORNER_WORDS.map((words, i) =>
    field({ name: `grid${i}`, label: `Piece, ${words}`, form, placeholder: '120 340', required: true }),
  )}</div>
<div class="corner-fields">${CORNER_WORDS.map((words, i) =>
    field({ name: `card${i}`, label: `Card, ${words}`, form, placeholder: '120 340' }),
  )}</div></details>
<p><button class="primary">Read ${p.count} pieces</button></p></form>`;
};
