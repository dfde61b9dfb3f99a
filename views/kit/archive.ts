import { type Html, html } from '../html.ts';

/** Puts the thing at this address in the archive, or takes it out. */
export const archiveButton = (props: { at: string; noun: string; archived: boolean }): Html =>
  html`<form method="post" action="${props.at}/${props.archived ? 'restoring' : 'archiving'}"><button class="quiet">${
    props.archived ? 'Take it out of the archive' : `Put this ${props.noun} in the archive`
  }</button></form>`;
