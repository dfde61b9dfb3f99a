import { type Html, html } from '../html.ts';
import { type FormState, field, formNotice, type Typed, textArea } from '../kit/field.ts';
import { otherVersion } from '../kit/otherVersion.ts';
import { pageHead } from '../kit/pageHead.ts';

/** What may change on a recipe itself; the formula is not in it. */
export const recipeHeadForm = (props: { form: FormState; recipeId: number; name: string; current: Typed }): Html =>
  html`${pageHead({ title: 'Name and note', crumb: { href: `/recipes/${props.recipeId}`, label: props.name } })}
${otherVersion({ typed: props.form.typed, current: props.current, labels: { name: 'Name', note: 'Note' } })}
<form method="post" action="/recipes/${props.recipeId}" class="panel stack">${formNotice(props.form)}
  <input type="hidden" name="version" value="${props.current['version'] ?? ''}">
  ${field({ name: 'name', label: 'Name', form: props.form, required: true })}
  ${textArea({ name: 'note', label: 'Note', form: props.form })}
  <p class="actions"><button class="primary">Save</button></p></form>`;
