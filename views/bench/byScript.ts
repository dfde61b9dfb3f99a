import { type Html, html } from '../html.ts';

/** Small things that only the page's own script adds to the bench. */

const KEYS = ['7', '8', '9', '4', '5', '6', '1', '2', '3', '.', '0', '⌫'];

/** Big keys for gloved hands, under the reading; the field itself stays typable. */
export const keypad = (): Html =>
  html`<div class="keypad">${KEYS.map(
    (key) =>
      html`<button type="button" data-digit="${key}" ${
        key === '⌫' && html`aria-label="Delete the last digit"`
      }>${key}</button>`,
  )}</div>`;

/** Asks once about a reading that is hard to believe. */
export const readingDoubt = (asked: { words: string; confirming: string; amountWords: string }): Html =>
  html`<div class="reading-doubt notice warn" role="alert"><p>${asked.words}</p><button class="big confirm-reading"
    name="confirmed" value="${asked.confirming}">Yes, it is ${asked.amountWords}</button></div>`;

/** The device has kept nothing: the form holds what stands in it. */
export const notKept = (hasFile: boolean): Html =>
  html`<p class="field-error not-kept" role="alert">${
    hasFile
      ? 'Not kept: this device does not give the file any more. Choose or record it again; the words stand here.'
      : 'Not kept: this device refused it. It stands here still: try again.'
  }</p>`;

export const finishedMeanwhile = (lotId: number): Html =>
  html`<p class="notice warn bench-over">This lot was finished meanwhile. <a href="/lots/${lotId}">See the
    lot</a>.</p>`;
