import { type Html, html } from '../html.ts';
import { hiddenFields } from '../kit/hiddenFields.ts';

export interface Picked {
  lightness: number;
  chroma: number;
  hue: number;
}

const slider = (p: { name: string; label: string; value: number; max: number; unit: string }): Html =>
  html`<div class="slider"><label for="pick-${p.name}">${p.label}</label><output for="pick-${p.name}"
    data-of="${p.name}">${p.value}${p.unit}</output>
  <input id="pick-${p.name}" type="range" name="${p.name}" min="0" max="${p.max}" step="1" value="${Math.min(
    p.max,
    Math.max(0, p.value),
  )}" data-unit="${p.unit}"></div>`;

/** Lightness, chroma and hue by three sliders, wide enough for a finger; with script also by a plane to draw on. Works
 *  without a keyboard, and by keyboard alone. */
export const pickColour = (p: { picked: Picked; hex: string; hidden: readonly (readonly [string, string])[] }): Html =>
  html`<form class="pick" action="/swatches/near" method="get" data-picker>
  ${hiddenFields(p.hidden)}
  <canvas class="pick-plane" width="144" height="66" hidden data-plane></canvas>
  <p class="fine pick-hint" hidden>Hue across, chroma upwards, at the lightness below. Grey is what no screen shows.</p>
  <div class="pick-sliders">${slider({
    name: 'lightness',
    label: 'Lightness',
    value: p.picked.lightness,
    max: 100,
    unit: '',
  })}
  ${slider({ name: 'chroma', label: 'Chroma', value: p.picked.chroma, max: 110, unit: '' })}
  ${slider({ name: 'hue', label: 'Hue', value: p.picked.hue, max: 359, unit: '°' })}</div>
  <div class="pick-go"><svg class="pick-chip" viewBox="0 0 10 10" preserveAspectRatio="none" role="img"
    aria-label="The picked colour"><rect width="10" height="10" fill="${p.hex}" data-chip/></svg>
  <button class="primary">Find near this</button></div></form>`;
