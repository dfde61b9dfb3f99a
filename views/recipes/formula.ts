import { type Html, html } from '../html.ts';
import { colourChip } from '../kit/colourChip.ts';
import { percent } from '../kit/show.ts';

export interface ComponentItem {
  dyeId: number;
  dyeName: string;
  dyeCode: string;
  /** What the dye looks like on its own, where the studio said so. */
  hex: string | null;
  sharePpm: number;
  depthPpm: number;
}

/** '33.33 %': enough places to tell thirds from a third and a bit; an exact share shows only what it has. */
export const sharePercent = (ppm: number): string => percent(Math.round(ppm / 100) * 100);

/** A formula big: each dye with its share as a bar, its own depth, and the total. */
export const formulaPanel = (props: { totalDepthPpm: number; components: readonly ComponentItem[] }): Html =>
  html`<div class="formula"><p class="formula-total"><span class="fine">Total depth</span><span class="big-number">${percent(props.totalDepthPpm)}</span><span class="fine">on weight of goods</span></p>
  <ul class="formula-dyes">${props.components.map(
    (c) => html`<li>${colourChip({ hex: c.hex, label: c.dyeName })}
    <div class="grow"><p class="dye-name"><a href="/dyes/${c.dyeId}">${c.dyeName}</a> <span class="fine">${c.dyeCode}</span></p>
    <svg class="share-bar" viewBox="0 0 1000 8" preserveAspectRatio="none" aria-hidden="true"><rect class="share-of" width="1000" height="8" /><rect class="share-has" width="${c.sharePpm / 1000}" height="8" /></svg></div>
    <p class="dye-share"><b>${sharePercent(c.sharePpm)}</b><span class="fine">${percent(c.depthPpm)} owg</span></p></li>`,
  )}</ul></div>`;

/** A formula in a line: 'Lemon 50 %, Turquoise 30 %, Black 20 %'. */
export const formulaLine = (components: readonly ComponentItem[]): string =>
  components.map((c) => `${c.dyeName} ${sharePercent(c.sharePpm)}`).join(', ');
