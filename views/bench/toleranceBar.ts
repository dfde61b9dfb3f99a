import { type Html, html } from '../html.ts';

/** How many tolerances of the scale lie each side of the target. */
const AROUND = 4;
const WIDTH = 320;
/** The part of the bar that leads up to where the tolerance matters: there the scale is coarse. */
const RUN_UP = 90;

/** Where an amount stands on the bar, 0 to WIDTH: the way up to the target is drawn short, the neighbourhood of the
 *  target wide, since a band of two parts in a hundred would not be seen otherwise. */
export function placeOnBar(p: { target: number; tolerance: number; amount: number }): number {
  const spread = Math.min(AROUND * p.tolerance, p.target);
  const begin = p.target - spread;
  const clamped = Math.max(0, Math.min(p.target + spread, p.amount));
  if (clamped < begin) return (RUN_UP * clamped) / begin;
  return RUN_UP + ((WIDTH - RUN_UP) * (clamped - begin)) / (2 * spread);
}

/** The tolerance band as a bar with the reading's place on it. */
export function toleranceBar(p: {
  target: number;
  tolerance: number;
  actual: number | undefined;
  label: string;
}): Html | '' {
  if (p.target <= 0 || p.tolerance <= 0) return '';
  const at = (amount: number): number => Number(placeOnBar({ ...p, amount }).toFixed(1));
  const from = at(p.target - p.tolerance);
  const to = at(p.target + p.tolerance);
  const mark = p.actual === undefined ? null : at(p.actual);
  return html`<svg class="tolerance-bar" viewBox="-6 0 ${WIDTH + 12} 34" role="img" aria-label="${p.label}"
    data-run-up="${RUN_UP}" data-width="${WIDTH}" data-around="${AROUND}"><rect class="bar-rail" x="0" y="14"
    width="${WIDTH}" height="10"/>${
      mark !== null &&
      html`<rect class="bar-fill" x="0" y="14" width="${mark}"
    height="10"/>`
    }<rect class="bar-band" x="${from}" y="8" width="${to - from}" height="22"/><path class="bar-break"
    d="M${RUN_UP - 3} 28l6 -18"/><line class="bar-target" x1="${at(p.target)}" x2="${at(p.target)}" y1="4"
    y2="34"/>${mark !== null && html`<path class="bar-mark" d="M${mark} 15l-6 -12h12z"/>`}</svg>`;
}
