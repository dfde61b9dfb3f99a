import { type Html, html } from '../html.ts';
import { choice, type FormState } from '../kit/field.ts';
import { type Show, when } from '../kit/show.ts';
import { scopeText, type TokenItem } from './tokens.ts';

/** What becomes of one's API tokens when the passphrase changes. Neither is taken for granted: a token may be the
 *  reason for the change, or run a scale that nobody thinks of. */
export const tokensThen = (p: {
  form: FormState;
  tokens: readonly Omit<TokenItem, 'personName'>[];
  show: Show;
}): Html | false =>
  p.tokens.length > 0 &&
  html`<div class="notice"><p>These API tokens act in your name:</p><ul>${p.tokens.map(
    (t) =>
      html`<li><b>${t.name}</b>: may ${scopeText(t.scope)}, last used ${
        t.lastUsedAt === null ? 'never' : when(p.show, t.lastUsedAt)
      }</li>`,
  )}</ul>${choice({
    name: 'tokens',
    label: 'With the new passphrase they',
    form: p.form,
    options: [
      { value: 'end', label: 'end' },
      { value: 'keep', label: 'go on' },
    ],
    hint: 'End them if somebody else may know the old passphrase.',
  })}</div>`;
