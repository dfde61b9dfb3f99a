import { type Html, html } from '../html.ts';
import { colourPatch } from '../kit/colourPatch.ts';

/** A colour that others are held against, as pages head themselves with it. */
export interface StandardProps {
  hex: string;
  inGamut: boolean;
  name: string;
  /** What it is of, with the address of that where it has one. */
  of: string;
  href: string | null;
  text: string;
  plusMinus: number | null;
}

/** The colour itself, large, with its name and figures; `more` stands below them. */
export const standardHead = (s: StandardProps, label: string, more: Html | false = false): Html =>
  html`<section class="near-standard" aria-label="${label}">${colourPatch({
    hex: s.hex,
    label: s.name,
    css: 'near-big',
  })}
  <div><p class="near-title">${s.name}</p><p>${
    s.href === null ? s.of : html`<a href="${s.href}">${s.of}</a>`
  } · ${s.text}${s.plusMinus !== null && html` · ± ${s.plusMinus.toFixed(1)}`}${
    !s.inGamut && html` · outside the screen’s range`
  }</p>${more}</div></section>`;
