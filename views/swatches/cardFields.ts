import type { SwatchShown } from '../../server/swatches/schemas.ts';
import { type Html, html } from '../html.ts';
import { checkbox, choice, type FormState, type Option, selectField, textArea } from '../kit/field.ts';
import { fact } from '../kit/pageHead.ts';
import { stars } from './tile.ts';

/* What a card says besides what was dyed: as it is typed, shown and looked for. */

const RATINGS: readonly Option[] = [
  { value: '', label: 'none' },
  ...[1, 2, 3, 4, 5].map((n) => ({ value: String(n), label: '★'.repeat(n) })),
];

/** On the form of a new card and on that of one that is edited; where it is kept stands with its name. */
export const cardFields = (form: FormState, notePlaceholder?: string): Html =>
  html`${choice({ name: 'rating', label: 'Rating', form, options: RATINGS })}
    ${textArea({ name: 'note', label: 'Note', form, ...(notePlaceholder && { placeholder: notePlaceholder }) })}`;

/** On the page of the swatch; the note stands below the facts. */
export const cardFacts = (s: SwatchShown): Html => html`${fact('Card kept in', s.cardPlace || '—')}
  ${s.rating !== null && fact('Rating', stars(s.rating))}`;

const DEPTHS: readonly Option[] = [
  { value: 'pale', label: 'pale' },
  { value: 'medium', label: 'medium' },
  { value: 'deep', label: 'deep' },
];

/** What narrows the wall by the cards themselves, and the names by which the address has it. */
export const CARD_FILTERS = ['depth', 'inStock', 'archived'] as const;
export const cardFilters = (form: FormState): Html => html`${selectField({
  name: 'depth',
  label: 'Depth',
  form,
  none: 'any',
  options: DEPTHS,
})}
  <div class="wall-checks">${checkbox({
    name: 'inStock',
    label: 'all dyes in stock',
    form,
  })}${checkbox({ name: 'archived', label: 'put away', form })}</div>`;
