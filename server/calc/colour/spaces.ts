// The library as one file: of its modules there are 150, and reading them takes longer than starting the rest.
import culori from 'culori/require';
import { CalcError, finiteIn } from '../calcError.ts';
import { type Conditions, D65_2, type Lab, sameConditions } from './reading.ts';

const { convertLrgbToRgb, convertRgbToLrgb, formatHex, parseHex } = culori;

/** Tristimulus values on the trade's scale: Y = 100 for the perfect white. */
export interface Xyz {
  X: number;
  Y: number;
  Z: number;
}

/** Red, green, blue from 0 to 1; values outside are colours that the space cannot show. */
export interface Rgb {
  r: number;
  g: number;
  b: number;
}

export interface Lch {
  L: number;
  C: number;
  /** 0 ≤ hueDeg < 360; 0 where there is no chroma. */
  hueDeg: number;
}

/** Bradford: as in ICC profiles and the sRGB world. CAT16: Li et al., Color Res. Appl. 42 (2017) 703–718. */
export type AdaptationMethod = 'bradford' | 'cat16';

type Matrix3 = readonly [number, number, number, number, number, number, number, number, number];

const whiteFromXy = (x: number, y: number): Xyz => ({ X: (100 * x) / y, Y: 100, Z: (100 * (1 - x - y)) / y });

/* D65/2° is the white of IEC 61966-2-1 and D50/2° its four-digit companion, as chromaticities, because sRGB and the
   usual conversion programs stand on them (0.01 from CIE 015:2018 in XYZ). The others: CIE 015:2018, table of whites. */
const WHITES: Record<`${Conditions['illuminant']}/${Conditions['observerDeg']}`, Xyz> = {
  'A/2': { X: 109.85, Y: 100, Z: 35.58 },
  'D50/2': whiteFromXy(0.3457, 0.3585),
  'D65/2': whiteFromXy(0.3127, 0.329),
  'A/10': { X: 111.14, Y: 100, Z: 35.2 },
  'D50/10': { X: 96.72, Y: 100, Z: 81.43 },
  'D65/10': { X: 94.81, Y: 100, Z: 107.32 },
};

/** White point of a light and an observer, Y = 100. Sources: as WHITES. */
export function whiteXyz(conditions: Conditions): Xyz {
  const white = WHITES[`${conditions.illuminant}/${conditions.observerDeg}`];
  if (white === undefined) throw new CalcError('notKnown', 'conditions', 'this illuminant or observer is not known');
  return white;
}

// CIE 015:2018, 8.2.1: (6/29)³ and (29/3)³/27, exact.
const LAB_LIMIT = 216 / 24389;
const LAB_SLOPE = 24389 / 27;

const labF = (t: number): number => (t > LAB_LIMIT ? Math.cbrt(t) : (LAB_SLOPE * t + 16) / 116);
const labFInverse = (f: number): number => {
  const cube = f * f * f;
  return cube > LAB_LIMIT ? cube : (116 * f - 16) / LAB_SLOPE;
};

/** CIELAB from tristimulus values relative to the given white (CIE 015:2018, 8.2.1). The white must be of the same scale. */
export function labFromXyz({ xyz, white }: { xyz: Xyz; white: Xyz }): Lab {
  const fx = labF(finiteIn('xyz.X', xyz.X) / white.X);
  const fy = labF(finiteIn('xyz.Y', xyz.Y) / white.Y);
  const fz = labF(finiteIn('xyz.Z', xyz.Z) / white.Z);
  return { L: 116 * fy - 16, a: 500 * (fx - fy), b: 200 * (fy - fz) };
}

/** The inverse of `labFromXyz`; exact on both branches. Source: CIE 15:2018, as labFromXyz. */
export function xyzFromLab({ lab, white }: { lab: Lab; white: Xyz }): Xyz {
  const fy = (finiteIn('lab.L', lab.L) + 16) / 116;
  const fx = fy + finiteIn('lab.a', lab.a) / 500;
  const fz = fy - finiteIn('lab.b', lab.b) / 200;
  return { X: white.X * labFInverse(fx), Y: white.Y * labFInverse(fy), Z: white.Z * labFInverse(fz) };
}

/** XYZ from chromaticity x, y (y > 0) and luminance factor Y on the 0–100 scale. Definition. */
export function xyzFromXyY({ x, y, Y }: { x: number; y: number; Y: number }): Xyz {
  finiteIn('y', y, { min: 0, exclusiveMin: true });
  return { X: (finiteIn('x', x) * finiteIn('Y', Y)) / y, Y, Z: ((1 - x - y) * Y) / y };
}

const DEG = 180 / Math.PI;

/** Lightness, chroma and hue angle of Lab. Source: CIE 15:2018. */
export function lchFromLab(lab: Lab): Lch {
  const C = Math.hypot(lab.a, lab.b);
  // Under 1e-9 the angle is rounding noise of a grey, not a hue.
  if (C < 1e-9) return { L: lab.L, C, hueDeg: 0 };
  const angle = Math.atan2(lab.b, lab.a) * DEG;
  return { L: lab.L, C, hueDeg: angle < 0 ? (angle + 360) % 360 : angle };
}

/** Lab of lightness, chroma and hue angle. Source: CIE 15:2018. */
export function labFromLch({ L, C, hueDeg }: Lch): Lab {
  finiteIn('C', C, { min: 0 });
  const angle = finiteIn('hueDeg', hueDeg) / DEG;
  return { L: finiteIn('L', L), a: C * Math.cos(angle), b: C * Math.sin(angle) };
}

/* Bradford cone responses: ICC.1:2022, annex E. CAT16: Li et al. 2017, eq. 3. */
const CONES: Record<AdaptationMethod, Matrix3> = {
  bradford: [0.8951, 0.2664, -0.1614, -0.7502, 1.7135, 0.0367, 0.0389, -0.0685, 1.0296],
  cat16: [0.401288, 0.650173, -0.051461, -0.250268, 1.204414, 0.045854, -0.002079, 0.048952, 0.953127],
};

function times(m: Matrix3, v: readonly [number, number, number]): [number, number, number] {
  return [
    m[0] * v[0] + m[1] * v[1] + m[2] * v[2],
    m[3] * v[0] + m[4] * v[1] + m[5] * v[2],
    m[6] * v[0] + m[7] * v[1] + m[8] * v[2],
  ];
}

function inverse(m: Matrix3): Matrix3 {
  const [a, b, c, d, e, f, g, h, i] = m;
  const det = a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g);
  return [
    (e * i - f * h) / det,
    (c * h - b * i) / det,
    (b * f - c * e) / det,
    (f * g - d * i) / det,
    (a * i - c * g) / det,
    (c * d - a * f) / det,
    (d * h - e * g) / det,
    (b * g - a * h) / det,
    (a * e - b * d) / det,
  ];
}

const CONES_INVERSE: Record<AdaptationMethod, Matrix3> = {
  bradford: inverse(CONES.bradford),
  cat16: inverse(CONES.cat16),
};

/** Tristimulus values that look the same under another white (full adaptation, von Kries in the method's cone space).
 *  Sources: as the matrices above. */
export function adaptXyz(input: { xyz: Xyz; fromWhite: Xyz; toWhite: Xyz; method: AdaptationMethod }): Xyz {
  const cones = CONES[input.method];
  const from = times(cones, [input.fromWhite.X, input.fromWhite.Y, input.fromWhite.Z]);
  const to = times(cones, [input.toWhite.X, input.toWhite.Y, input.toWhite.Z]);
  const seen = times(cones, [input.xyz.X, input.xyz.Y, input.xyz.Z]);
  const [X, Y, Z] = times(CONES_INVERSE[input.method], [
    (seen[0] * to[0]) / from[0],
    (seen[1] * to[1]) / from[1],
    (seen[2] * to[2]) / from[2],
  ]);
  return { X, Y, Z };
}

/** Lab under other conditions, by chromatic adaptation: an estimate. How the goods truly shift with the light (or the
 *  observer) depends on their spectrum, which three numbers do not tell; where there is a spectrum, use `labFromSpectrum`.
 *  Sources: as adaptXyz. */
export function adaptLab(input: { lab: Lab; from: Conditions; to: Conditions; method: AdaptationMethod }): Lab {
  if (sameConditions(input.from, input.to)) return { ...input.lab };
  const fromWhite = whiteXyz(input.from);
  const toWhite = whiteXyz(input.to);
  const xyz = xyzFromLab({ lab: input.lab, white: fromWhite });
  return labFromXyz({ xyz: adaptXyz({ xyz, fromWhite, toWhite, method: input.method }), white: toWhite });
}

/** Linear light from sRGB's transfer curve (IEC 61966-2-1). Channels 0–1; values outside go through mirrored. Source: IEC 61966-2-1. */
export function linearFromSrgb(srgb: Rgb): Rgb {
  const { r, g, b } = convertRgbToLrgb(srgb);
  return { r, g, b };
}

/** sRGB, 0 to 1, of linear light. Source: IEC 61966-2-1. */
export function srgbFromLinear(linear: Rgb): Rgb {
  const { r, g, b } = convertLrgbToRgb(linear);
  return { r, g, b };
}

/* Primaries of IEC 61966-2-1 scaled so that r = g = b = 1 gives its white: derived here, since the matrix printed in the
   standard is rounded to four decimals. */
const SRGB_TO_XYZ: Matrix3 = (() => {
  const [R, G, B] = [whiteFromXy(0.64, 0.33), whiteFromXy(0.3, 0.6), whiteFromXy(0.15, 0.06)] as const;
  const primaries: Matrix3 = [R.X, G.X, B.X, R.Y, G.Y, B.Y, R.Z, G.Z, B.Z];
  const white = WHITES['D65/2'];
  const [r, g, b] = times(inverse(primaries), [white.X, white.Y, white.Z]);
  return [R.X * r, G.X * g, B.X * b, R.Y * r, G.Y * g, B.Y * b, R.Z * r, G.Z * g, B.Z * b];
})();
const XYZ_TO_SRGB = inverse(SRGB_TO_XYZ);

/** XYZ (D65/2°, Y = 100) of linear sRGB light. Source: IEC 61966-2-1. */
export function xyzFromLinearSrgb(linear: Rgb): Xyz {
  const [X, Y, Z] = times(SRGB_TO_XYZ, [linear.r, linear.g, linear.b]);
  return { X, Y, Z };
}

/** Linear sRGB light of XYZ (D65/2°, Y = 100); not clipped. Source: IEC 61966-2-1. */
export function linearSrgbFromXyz(xyz: Xyz): Rgb {
  const [r, g, b] = times(XYZ_TO_SRGB, [xyz.X, xyz.Y, xyz.Z]);
  return { r, g, b };
}

/** CIELAB of an sRGB colour, adapted by Bradford to the conditions asked for. Source: IEC 61966-2-1 and CIE 15:2018. */
export function labFromSrgb({ srgb, conditions }: { srgb: Rgb; conditions: Conditions }): Lab {
  const lab = labFromXyz({ xyz: xyzFromLinearSrgb(linearFromSrgb(srgb)), white: whiteXyz(D65_2) });
  return adaptLab({ lab, from: D65_2, to: conditions, method: 'bradford' });
}

export interface ShownColour {
  /** 0–1, clipped channel by channel where the screen cannot show the colour. */
  srgb: Rgb;
  /** Before clipping. */
  srgbExact: Rgb;
  inGamut: boolean;
  hex: string;
}

// Half a thousandth of one 8-bit step: rounding of a colour on the gamut's skin is not "out of gamut".
const GAMUT_SLACK = 0.0005 / 255 + 1e-6;
const clip = (x: number): number => Math.min(1, Math.max(0, x));

/** What a screen shows for a CIELAB colour: Bradford to D65/2°, sRGB, with a flag when it lies outside what sRGB can show.
 *  Source: IEC 61966-2-1 and CIE 15:2018. */
export function srgbFromLab({ lab, conditions }: { lab: Lab; conditions: Conditions }): ShownColour {
  const d65 = adaptLab({ lab, from: conditions, to: D65_2, method: 'bradford' });
  const srgbExact = srgbFromLinear(linearSrgbFromXyz(xyzFromLab({ lab: d65, white: whiteXyz(D65_2) })));
  const channels = [srgbExact.r, srgbExact.g, srgbExact.b];
  const srgb = { r: clip(srgbExact.r), g: clip(srgbExact.g), b: clip(srgbExact.b) };
  return {
    srgb,
    srgbExact,
    inGamut: channels.every((c) => c >= -GAMUT_SLACK && c <= 1 + GAMUT_SLACK),
    hex: formatHex({ mode: 'rgb', ...srgb }),
  };
}

/** sRGB of `#rgb`, `#rrggbb` (with or without the sign). Throws CalcError('unreadable', 'hex'). Definition. */
export function srgbFromHex(hex: string): Rgb {
  const digits = /^#?([0-9a-f]{3}|[0-9a-f]{6})$/i.exec(hex.trim())?.[1];
  const parsed = digits === undefined ? undefined : parseHex(`#${digits}`);
  if (parsed === undefined) throw new CalcError('unreadable', 'hex', 'a colour code has three or six digits 0–9, a–f');
  return { r: parsed.r, g: parsed.g, b: parsed.b };
}

/** `#rrggbb` of sRGB, 0 to 1, clipped. Definition. */
export function hexFromSrgb(srgb: Rgb): string {
  return formatHex({ mode: 'rgb', r: clip(srgb.r), g: clip(srgb.g), b: clip(srgb.b) });
}
