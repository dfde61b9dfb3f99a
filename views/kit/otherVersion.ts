import { type Html, html } from '../html.ts';
import type { Typed } from './field.ts';

/** Shown above a form whose row somebody saved meanwhile: where the two differ, side by side. The form below holds what
 *  was typed, and now stands on the newer version, so that saving it again is a decision. */
export const otherVersion = (props: {
  typed: Typed;
  current: Typed;
  labels: Readonly<Record<string, string>>;
}): Html | '' => {
  const { typed, current } = props;
  if (typed['version'] === undefined || typed['version'] === current['version']) return '';
  const names = [...new Set([...Object.keys(current), ...Object.keys(typed)])].filter(
    (name) => name !== 'version' && (typed[name] ?? '').trim() !== (current[name] ?? '').trim(),
  );
  const label = (name: string): string => {
    const [, group = name, row] = /^(.+)\.(\d+)$/.exec(name) ?? [];
    const words = props.labels[group] ?? group;
    return row === undefined ? words : `${words}, row ${Number(row) + 1}`;
  };
  return html`<section class="panel notice warn"><h2>Saved by somebody else meanwhile</h2>
  <p>Theirs is kept. The form below holds yours: change it to what is right, and save again to replace theirs.</p>
  ${
    names.length === 0
      ? html`<p>The two say the same.</p>`
      : html`<div class="table-wrap" tabindex="0" role="region" aria-label="Where the two differ">
        <table class="plain"><thead><tr><th scope="col">Field</th><th scope="col">Theirs, as saved</th>
        <th scope="col">Yours, below</th></tr></thead><tbody>${names.map(
          (name) =>
            html`<tr><th scope="row">${label(name)}</th><td>${current[name] || '—'}</td><td>${
              typed[name] || '—'
            }</td></tr>`,
        )}</tbody></table></div>`
  }</section>`;
};
