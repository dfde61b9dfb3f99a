import type { FormulaLine } from '../../server/recipes/schemas.ts';
import { type Html, html } from '../html.ts';
import { colourChip } from '../kit/colourChip.ts';
import { percent } from '../kit/show.ts';

/** '33.33 %': enough places to tell thirds from a third and a bit; an exact share shows only what it has. */
export const sharePercent = (ppm: number): string => percent(Math.round(ppm / 100) * 100);

/** A formula big: each dye with its share as a bar, its own depth, and the total. */
export const formulaPanel = (props: { totalDepthPpm: number; components: readonly FormulaLine[] }): Html =>
  html`<div class="formula"><p class="formula-total"><span class="fine">Total depth</span><span
    class="big-number">${percent(props.totalDepthPpm)}</span><span class="fine">on weight of goods</span></p>
  <ul class="formula-dyes">${props.components.map(
    (c) => html`<li>${colourChip({ hex: c.hex, label: c.dyeName })}
    <div class="grow"><p class="dye-name"><a href="/dyes/${c.dyeId}">${c.dyeName}</a> <span
      class="fine">${c.dyeCode}</span></p>
    <svg class="share-bar" viewBox="0 0 1000 8" preserveAspectRatio="none" aria-hidden="true"><rect class="share-of"
      width="1000" height="8" /><rect class="share-has" width="${c.sharePpm / 1000}" height="8" /></svg></div>
    <p class="dye-share"><b>${sharePercent(c.sharePpm)}</b><span class="fine">${percent(c.depthPpm)}
      owg</span></p></li>`,
  )}</ul></div>`;

/** A formula in a line: 'Lemon 50 %, Turquoise 30 %, Black 20 %'. */
export const formulaLine = (components: readonly Pick<FormulaLine, 'dyeName' | 'sharePpm'>[]): string =>
  components.map((c) => `${c.dyeName} ${sharePercent(c.sharePpm)}`).join(', ');

export type SoFarProps =
  | { kind: 'empty' }
  | { kind: 'notYet'; why: string }
  | {
      kind: 'whole';
      totalDepthPpm: number;
      components: readonly Pick<FormulaLine, 'dyeName' | 'sharePpm' | 'depthPpm'>[];
    };

/** The formula in both statements of it, while it is typed. */
export const soFar = (props: SoFarProps): Html =>
  html`<div id="so-far" class="so-far" aria-live="polite">${
    props.kind === 'empty'
      ? html`<p class="fine">Choose dyes and type their amounts: both ways of stating the formula appear here.</p>`
      : props.kind === 'notYet'
        ? html`<p class="fine">Not whole yet: ${props.why}</p>`
        : html`<div class="table-wrap"><table class="plain"><thead><tr><th scope="col">Dye</th><th scope="col"
          class="num">Share</th><th scope="col" class="num">Own depth</th></tr></thead><tbody>${props.components.map(
            (c) =>
              html`<tr><th scope="row">${c.dyeName}</th><td class="num">${sharePercent(c.sharePpm)}</td><td
                class="num">${percent(c.depthPpm)}</td></tr>`,
          )}</tbody><tfoot><tr><th scope="row">Total</th><td class="num">100 %</td><td
            class="num">${percent(props.totalDepthPpm)}</td></tr></tfoot></table></div>`
  }</div>`;
