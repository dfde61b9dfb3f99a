import { Html, html } from '../html.ts';

/** Shown once, right after it was made. */
export type Opened =
  | { kind: 'link'; words: string; hours: number; urls: readonly { address: string; qrSvg: string }[] }
  | { kind: 'code'; code: string; minutes: number; urls: readonly { address: string; qrSvg: string }[] };

const codes = (urls: readonly { address: string; qrSvg: string }[]): Html =>
  html`<div class="qr-row">${urls.map(
    (u) =>
      html`<figure><div class="qr">${new Html(
        u.qrSvg,
      )}</div><figcaption><code class="token">${u.address}</code></figcaption></figure>`,
  )}</div>`;

export const openedNotice = (opened: Opened): Html =>
  opened.kind === 'link'
    ? html`<section class="panel notice good" role="status"><h2>Copy it now: it is shown this
      once</h2><p>${opened.words} It works once, within ${opened.hours} hours.</p>${codes(opened.urls)}</section>`
    : html`<section class="panel notice good" role="status"><h2>Type this on the device</h2>
      <p class="big-number">${opened.code}</p><p>Open the address on it and type the code. It works once,
      within ${opened.minutes} minutes.</p>${codes(opened.urls)}</section>`;
