import { type Html, html } from '../html.ts';

/** How the page calls what it has not sent. */
export const KEPT = 'kept on this device';
/** Of what the device would not store. */
export const HELD = 'held in this open page';

export const keptMark = (words: string = KEPT): Html => html`<mark class="kept">${words}</mark>`;
