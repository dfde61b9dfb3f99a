import { type Html, html } from './html.ts';

export interface ErrorProps {
  status: number;
  title: string;
  message: string;
  fields: Record<string, string>;
  reference: string | null;
}

/** The body of a page for a refusal, also used as a fragment. */
export const errorPanel = (props: ErrorProps): Html => html`<section class="refusal" role="alert">
  <h1>${props.title}</h1>
  <p>${props.message}</p>
  ${
    Object.keys(props.fields).length > 0 &&
    html`<ul>${Object.entries(props.fields).map(
      ([field, words]) => html`<li>${field && html`<b>${field}</b>: `}${words}</li>`,
    )}</ul>`
  }
  ${props.reference && html`<p class="fine">Reference <code>${props.reference}</code>: the log has the rest.</p>`}
  <p><a class="button" href="/">To the Today page</a></p>
</section>`;
