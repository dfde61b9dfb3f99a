import { type Html, html } from '../html.ts';

/** Puts the thing at this address in the archive, or takes it out, in the words that it has for either. */
export const archiveButton = (props: { at: string; archived: boolean; put: string; take: string }): Html =>
  html`<form method="post" action="${props.at}/${props.archived ? 'restoring' : 'archiving'}"><button class="quiet">${
    props.archived ? props.take : props.put
  }</button></form>`;
