import { type Html, html } from '../html.ts';
import { checkbox, type FormState, field, formNotice } from '../kit/field.ts';
import { pageHead } from '../kit/pageHead.ts';
import { cardFields } from './cardFields.ts';
import { photoField } from './form.ts';

/** What may change on a card. Its formula, goods and depth do not: they are what the sample is. */
export const editSwatchForm = (props: {
  form: FormState;
  swatchId: number;
  name: string;
  photoId: number | null;
}): Html => {
  const { form } = props;
  return html`${pageHead({
    title: 'Edit the card',
    crumb: { href: `/swatches/${props.swatchId}`, label: props.name },
    lead: 'The formula, goods and depth stand as they were dyed.',
  })}
<form method="post" action="/swatches/${props.swatchId}" enctype="multipart/form-data" class="stack">${formNotice(form)}
  <input type="hidden" name="version" value="${form.typed['version'] ?? ''}">
  <fieldset class="panel"><legend>The card</legend><div class="grid">
    ${field({ name: 'name', label: 'Name', form, required: true })}
    ${field({ name: 'cardPlace', label: 'Where the card is kept', form })}
    ${cardFields(form)}
    ${checkbox({
      name: 'archived',
      label: 'Put away',
      form,
      hint: 'It leaves the wall, and is found under “put away”.',
    })}
  </div></fieldset>
  <fieldset class="panel"><legend>Photo</legend>
    ${
      props.photoId !== null &&
      html`<img class="photo-now" src="/photos/${props.photoId}/640" alt="The photo now" width="320" height="240">`
    }
    <div class="grid">${photoField(form, props.photoId === null ? 'None yet.' : 'Choose another to replace it.')}
    ${props.photoId !== null && checkbox({ name: 'dropPhoto', label: 'Show no photo', form })}</div></fieldset>
  <p><button class="primary big">Save</button></p>
</form>`;
};
