import { type Html, html } from '../html.ts';
import { type FormState, formNotice } from '../kit/field.ts';
import { readingFields } from '../swatches/readingFields.ts';

/** The colour that came out, typed. */
export const lotReadingForm = (props: {
  lotId: number;
  form: FormState;
}): Html => html`<p><a class="button" href="/photo-readings/new?lotId=${props.lotId}">Read it from a
  photo</a></p><details ${Object.keys(props.form.errors).length > 0 && html`open`}><summary>Add a reading</summary>
<form method="post" action="/lots/${props.lotId}/readings" class="stack">${formNotice(props.form)}${readingFields(
  props.form,
)}<button>Keep the reading</button></form></details>`;
