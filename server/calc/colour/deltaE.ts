import { finiteIn } from '../calcError.ts';
import type { Lab } from './reading.ts';

export type { Lab } from './reading.ts';

/* Every function takes both colours under the same illuminant and observer; `demandSameConditions` is the guard for
   readings. The first colour is the standard: for CMC the order changes the result. */
export interface Pair {
  standard: Lab;
  sample: Lab;
}

const RAD = Math.PI / 180;
const DEG = 180 / Math.PI;
const POW25_7 = 25 ** 7;

function demandFinite({ standard, sample }: Pair): void {
  finiteIn('standard.L', standard.L);
  finiteIn('standard.a', standard.a);
  finiteIn('standard.b', standard.b);
  finiteIn('sample.L', sample.L);
  finiteIn('sample.a', sample.a);
  finiteIn('sample.b', sample.b);
}

/** ΔE*ab, the plain distance in CIELAB (CIE 015:2018, 8.2.1.3). Symmetric. */
export function deltaE76(pair: Pair): number {
  demandFinite(pair);
  const { standard, sample } = pair;
  return Math.hypot(sample.L - standard.L, sample.a - standard.a, sample.b - standard.b);
}

/** Every intermediate quantity of CIEDE2000, in the names of Sharma, Wu & Dalal, Color Res. Appl. 30 (2005) 21–30. */
export interface CieDe2000Steps {
  a1p: number;
  C1p: number;
  h1pDeg: number;
  a2p: number;
  C2p: number;
  h2pDeg: number;
  hBarpDeg: number;
  G: number;
  T: number;
  SL: number;
  SC: number;
  SH: number;
  RT: number;
  /** Signed differences sample − standard, unweighted. */
  dLp: number;
  dCp: number;
  dHp: number;
  deltaE2000: number;
}

const hueDegOf = (a: number, b: number): number => {
  if (a === 0 && b === 0) return 0;
  const h = Math.atan2(b, a) * DEG;
  return h < 0 ? h + 360 : h;
};

/** CIEDE2000 (kL = kC = kH = 1) step by step: for showing why two colours differ; the figure itself comes faster from
 *  `deltaE2000`. Source: Sharma, Wu & Dalal 2005, eqs. 2–22. */
export function deltaE2000Steps(pair: Pair): CieDe2000Steps {
  demandFinite(pair);
  const { standard: one, sample: two } = pair;
  const Cbar = (Math.hypot(one.a, one.b) + Math.hypot(two.a, two.b)) / 2;
  const G = 0.5 * (1 - Math.sqrt(Cbar ** 7 / (Cbar ** 7 + POW25_7)));
  const a1p = (1 + G) * one.a;
  const a2p = (1 + G) * two.a;
  const C1p = Math.hypot(a1p, one.b);
  const C2p = Math.hypot(a2p, two.b);
  const h1pDeg = hueDegOf(a1p, one.b);
  const h2pDeg = hueDegOf(a2p, two.b);
  const grey = C1p * C2p === 0;
  let dhp = grey ? 0 : h2pDeg - h1pDeg;
  if (dhp > 180) dhp -= 360;
  else if (dhp < -180) dhp += 360;
  const dLp = two.L - one.L;
  const dCp = C2p - C1p;
  const dHp = 2 * Math.sqrt(C1p * C2p) * Math.sin((dhp / 2) * RAD);
  let hBarpDeg = h1pDeg + h2pDeg;
  if (!grey) {
    if (Math.abs(h1pDeg - h2pDeg) <= 180) hBarpDeg /= 2;
    else hBarpDeg = hBarpDeg < 360 ? (hBarpDeg + 360) / 2 : (hBarpDeg - 360) / 2;
  }
  const Lbar = (one.L + two.L) / 2;
  const Cbarp = (C1p + C2p) / 2;
  const T =
    1 -
    0.17 * Math.cos((hBarpDeg - 30) * RAD) +
    0.24 * Math.cos(2 * hBarpDeg * RAD) +
    0.32 * Math.cos((3 * hBarpDeg + 6) * RAD) -
    0.2 * Math.cos((4 * hBarpDeg - 63) * RAD);
  const turnDeg = 30 * Math.exp(-(((hBarpDeg - 275) / 25) ** 2));
  const RC = 2 * Math.sqrt(Cbarp ** 7 / (Cbarp ** 7 + POW25_7));
  const SL = 1 + (0.015 * (Lbar - 50) ** 2) / Math.sqrt(20 + (Lbar - 50) ** 2);
  const SC = 1 + 0.045 * Cbarp;
  const SH = 1 + 0.015 * Cbarp * T;
  const RT = -Math.sin(2 * turnDeg * RAD) * RC;
  const l = dLp / SL;
  const c = dCp / SC;
  const h = dHp / SH;
  const deltaE = Math.sqrt(Math.max(0, l * l + c * c + h * h + RT * c * h));
  return { a1p, C1p, h1pDeg, a2p, C2p, h2pDeg, hBarpDeg, G, T, SL, SC, SH, RT, dLp, dCp, dHp, deltaE2000: deltaE };
}

/** CIEDE2000 of six plain numbers: the hot kernel, no checks, no allocation. The hue terms are had from the mean
 *  direction's sine and cosine by angle addition, so only one exp, one sin and no atan2 beyond the mean hue's are paid.
 *  Source: as deltaE2000. */
export function deltaE2000Of(L1: number, a1: number, b1: number, L2: number, a2: number, b2: number): number {
  const C1 = Math.sqrt(a1 * a1 + b1 * b1);
  const C2 = Math.sqrt(a2 * a2 + b2 * b2);
  const Cbar = (C1 + C2) / 2;
  const Cbar2 = Cbar * Cbar;
  const Cbar7 = Cbar2 * Cbar2 * Cbar2 * Cbar;
  const stretch = 1.5 - 0.5 * Math.sqrt(Cbar7 / (Cbar7 + POW25_7));
  const a1p = stretch * a1;
  const a2p = stretch * a2;
  const C1p = Math.sqrt(a1p * a1p + b1 * b1);
  const C2p = Math.sqrt(a2p * a2p + b2 * b2);
  const Cbarp = (C1p + C2p) / 2;
  const Lbar = (L1 + L2) / 2 - 50;
  const SL = 1 + (0.015 * Lbar * Lbar) / Math.sqrt(20 + Lbar * Lbar);
  const SC = 1 + 0.045 * Cbarp;
  const l = (L2 - L1) / SL;
  const c = (C2p - C1p) / SC;
  let T: number;
  let RT = 0;
  let dHp = 0;
  const product = C1p * C2p;
  if (product === 0) {
    // Without a hue on one side the hue difference is nothing, and SH and RT have nothing to weigh.
    T = 1;
  } else {
    let h1 = Math.atan2(b1, a1p) * DEG;
    if (h1 < 0) h1 += 360;
    let h2 = Math.atan2(b2, a2p) * DEG;
    if (h2 < 0) h2 += 360;
    let dh = h2 - h1;
    let mean = (h1 + h2) / 2;
    if (dh > 180) {
      dh -= 360;
      mean += mean < 180 ? 180 : -180;
    } else if (dh < -180) {
      dh += 360;
      mean += mean < 180 ? 180 : -180;
    }
    dHp = 2 * Math.sqrt(product) * Math.sin((dh / 2) * RAD);
    const cos1 = Math.cos(mean * RAD);
    const sin1 = Math.sin(mean * RAD);
    const cos2 = 2 * cos1 * cos1 - 1;
    const sin2 = 2 * sin1 * cos1;
    const cos3 = cos2 * cos1 - sin2 * sin1;
    const sin3 = sin2 * cos1 + cos2 * sin1;
    const cos4 = 2 * cos2 * cos2 - 1;
    const sin4 = 2 * sin2 * cos2;
    T =
      1 -
      0.17 * (cos1 * COS30 + sin1 * SIN30) +
      0.24 * cos2 +
      0.32 * (cos3 * COS6 - sin3 * SIN6) -
      0.2 * (cos4 * COS63 + sin4 * SIN63);
    const off = (mean - 275) / 25;
    // Past 8.6 widths the turn is below 1e-30 degrees.
    if (off > -8.6) {
      const Cbarp2 = Cbarp * Cbarp;
      const Cbarp7 = Cbarp2 * Cbarp2 * Cbarp2 * Cbarp;
      RT = -2 * Math.sqrt(Cbarp7 / (Cbarp7 + POW25_7)) * Math.sin(60 * Math.exp(-off * off) * RAD);
    }
  }
  const h = dHp / (1 + 0.015 * Cbarp * T);
  const squared = l * l + c * c + h * h + RT * c * h;
  return squared > 0 ? Math.sqrt(squared) : 0;
}

const COS30 = Math.cos(30 * RAD);
const SIN30 = Math.sin(30 * RAD);
const COS6 = Math.cos(6 * RAD);
const SIN6 = Math.sin(6 * RAD);
const COS63 = Math.cos(63 * RAD);
const SIN63 = Math.sin(63 * RAD);

/** CIEDE2000 with kL = kC = kH = 1. Symmetric in its two colours. Source: Sharma, Wu & Dalal 2005. */
export function deltaE2000(pair: Pair): number {
  demandFinite(pair);
  const { standard, sample } = pair;
  return deltaE2000Of(standard.L, standard.a, standard.b, sample.L, sample.a, sample.b);
}

/** CMC(l:c) of plain numbers, first colour the standard; no checks. Sources: as deltaECmc. */
export function deltaECmcOf(
  L1: number,
  a1: number,
  b1: number,
  L2: number,
  a2: number,
  b2: number,
  l: number,
  c: number,
): number {
  const C1 = Math.sqrt(a1 * a1 + b1 * b1);
  const C2 = Math.sqrt(a2 * a2 + b2 * b2);
  const dL = L2 - L1;
  const dC = C2 - C1;
  const dH2 = Math.max(0, (a2 - a1) ** 2 + (b2 - b1) ** 2 - dC * dC);
  const h1 = hueDegOf(a1, b1);
  const C4 = C1 ** 4;
  const F = Math.sqrt(C4 / (C4 + 1900));
  const T =
    h1 >= 164 && h1 <= 345
      ? 0.56 + Math.abs(0.2 * Math.cos((h1 + 168) * RAD))
      : 0.36 + Math.abs(0.4 * Math.cos((h1 + 35) * RAD));
  const SL = L1 < 16 ? 0.511 : (0.040975 * L1) / (1 + 0.01765 * L1);
  const SC = (0.0638 * C1) / (1 + 0.0131 * C1) + 0.638;
  const SH = SC * (F * T + 1 - F);
  return Math.sqrt((dL / (l * SL)) ** 2 + (dC / (c * SC)) ** 2 + dH2 / (SH * SH));
}

/** CMC(l:c): not symmetric, the ellipsoid is the standard's. 2:1 is usual for acceptability of textiles, 1:1 for
 *  perceptibility. l, c > 0. Source: Clarke, McDonald & Rigg, J. Soc. Dyers Colour. 100 (1984) 128–132; ISO 105-J03. */
export function deltaECmc(input: Pair & { l: number; c: number }): number {
  demandFinite(input);
  finiteIn('l', input.l, { min: 0, exclusiveMin: true });
  finiteIn('c', input.c, { min: 0, exclusiveMin: true });
  const { standard, sample } = input;
  return deltaECmcOf(standard.L, standard.a, standard.b, sample.L, sample.a, sample.b, input.l, input.c);
}
