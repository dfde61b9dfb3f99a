import type { Lab } from './reading.ts';

/* DIN 6176:2018 (DIN99o; Cui, Luo, Rigg, Roesler & Witt, Color Res. Appl. 27 (2002) 282–290 for the family): a plain warp of
   CIELAB in which equal distances look about equally large, so that a fit of least squares does not spend itself on the
   chroma of saturated patches. Used between the lines only; no reading is given in it. */
const TURN = (26 * Math.PI) / 180;
const COS = Math.cos(TURN);
const SIN = Math.sin(TURN);

export type Triple = [number, number, number];

/** Lab (D65/2°) in the space in which steps look even. Sources: as at the head of this file. */
export function evenFromLab({ L, a, b }: Lab): Triple {
  const e = a * COS + b * SIN;
  const f = 0.83 * (b * COS - a * SIN);
  const g = Math.hypot(e, f);
  const chroma = Math.log(1 + 0.075 * g) / 0.0435;
  const hue = Math.atan2(f, e) + TURN;
  // A fit may ask for a black below black.
  return [303.67 * Math.log(1 + 0.0039 * Math.max(-20, L)), chroma * Math.cos(hue), chroma * Math.sin(hue)];
}

/** The inverse of `evenFromLab`. Sources: as at the head of this file. */
export function labFromEven([l, a, b]: Triple): Lab {
  const chroma = Math.hypot(a, b);
  const hue = Math.atan2(b, a) - TURN;
  const g = (Math.exp(0.0435 * chroma) - 1) / 0.075;
  const e = g * Math.cos(hue);
  const f = (g * Math.sin(hue)) / 0.83;
  return { L: (Math.exp(l / 303.67) - 1) / 0.0039, a: e * COS - f * SIN, b: e * SIN + f * COS };
}
