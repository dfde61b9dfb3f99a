import { type Html, html } from '../html.ts';

/** Codes for when the phone is lost: shown this once, to be printed or written down. */
export const codesOnPaper = (p: { codes: readonly string[]; name: string; studioName: string }): Html =>
  html`<section class="panel notice good paper-codes" role="status"><h2>Put these on paper now: they are shown this
    once</h2>
  <p>Each lets ${p.name} into ${p.studioName} once, after the passphrase, when the phone is lost. Keep the paper away
    from it.</p>
  <ol class="code-list">${p.codes.map((code) => html`<li><code>${code}</code></li>`)}</ol></section>`;
