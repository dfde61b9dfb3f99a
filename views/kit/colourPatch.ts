import { type Html, html } from '../html.ts';

/** A plain patch of colour that stretches to the shape that its class gives it. */
export const colourPatch = (p: { hex: string; label: string; css: string }): Html =>
  html`<svg class="${p.css}" viewBox="0 0 10 10" preserveAspectRatio="none" role="img"
    aria-label="${p.label}">${fill(p.hex)}</svg>`;

/** A small patch beside words that name the colour. */
export const colourDot = (hex: string, css = 'chip chip-small'): Html =>
  html`<svg class="${css}" viewBox="0 0 10 10" aria-hidden="true">${fill(hex)}</svg>`;

const fill = (hex: string): Html => html`<rect width="10" height="10" fill="${hex}"/>`;

/** Two colours edge to edge, so that the eye sees their border and nothing else. */
export const colourPair = ({ left, right, label }: { left: string; right: string; label: string }): Html => {
  const halves = html`<rect width="50.2" height="60" fill="${left}"/><rect x="50" width="50" height="60"
    fill="${right}"/>`;
  return html`<svg class="near-pair" viewBox="0 0 100 60" preserveAspectRatio="none" role="img"
    aria-label="${label}">${halves}</svg>`;
};
