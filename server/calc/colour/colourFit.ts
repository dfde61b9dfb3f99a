import { CalcError } from '../calcError.ts';
import { isGrey } from './cardDefinitions.ts';
import { deltaE2000 } from './deltaE.ts';
import { ridgeSolve, solveInPlace } from './denseSolve.ts';
import { evenFromLab, labFromEven, type Triple } from './evenSpace.ts';
import { D50_2, D65_2, type Lab } from './reading.ts';
import { adaptXyz, labFromXyz, linearSrgbFromXyz, whiteXyz, xyzFromLab, xyzFromLinearSrgb } from './spaces.ts';

type Vec = readonly [number, number, number];

/** One patch as known (D50/2°) and as seen (linear light), with its place on the card. */
export interface FitPatch {
  lab: Lab;
  linear: Vec;
  u: number;
  v: number;
  /** 0 for a patch seen well; larger where it says less (clipped, uneven). Added to the fit's noise, CIEDE2000-like units. */
  extraNoise: number;
}

/** Camera models in linear light, from the plainest on. */
export type CameraModel =
  /** gain per channel from one or two greys, then the sRGB primaries */
  | 'whiteBalance'
  /** weighted linear 3×3 */
  | 'linear'
  /** of degree 2: Finlayson, Mackiewicz & Hurlbert, IEEE Trans. Image Process. 24 (2015) 1460–1470 */
  | 'rootPolynomial'
  /** tone curve per channel from the card's greys, then the sRGB primaries */
  | 'greyCurve'
  | 'greyCurveLinear'
  | 'greyCurveRootPolynomial';

export interface FitReading {
  lab: Lab;
  /** Expected deviation before calibration, CIEDE2000-like units. */
  sd: number;
}

export interface ColourFit {
  models: readonly CameraModel[];
  /** Light seen at a place (in the card's units, see `positionOnCard`) as a colour under D50/2°. */
  read(linear: Vec, u: number, v: number): FitReading;
  /** The same without its uncertainty: for many pixels. */
  labOf(linear: Vec, u: number, v: number): Lab;
  /** CIEDE2000 of each patch read by a fit that never saw it. Empty when the card is too small for that. */
  heldOut: readonly number[];
  /** Turns `sd` into a half-width that held nine of ten held-out patches. */
  plusMinusPerSd: number;
  /** Change of lightness (even-space units, near L*) from the middle of the card to its edge along u and v. */
  lightPlane: { u: number; v: number };
}

export type Camera = (linear: Vec) => Lab;

/* What is believed before a photo is seen, in units near one CIEDE2000: an overall shift of 5, 0.15 per unit of distance from
   middle grey, 4 for bends over some 30 units, 1.5 for what the patch itself is off (print, weave, camera noise), 1.5 from the
   middle to the edge of the card for uneven light. The results hardly move when any of them is halved or doubled. */
const SHIFT = 5;
const STRETCH = 0.15;
const BEND = 4;
const BEND_REACH = 30;
const NOISE = 1.5;
const LIGHT = 1.5;
const MIDDLE = 50;

/** With fewer patches than this nothing can be held out. */
const MIN_FOR_HELD_OUT = 8;
/** Models whose held-out error is within this factor of the best one's are averaged: choosing a single one by some twenty
 *  patches is a lottery. */
const NEAR_BEST = 1.25;
const LIGHT_REACH = 1.6;

/** Learns how this photo turns colours into bytes. A camera model in linear light first, then what it leaves over is smoothed
 *  over the colour space by a Gaussian process (Rasmussen & Williams, 2006, eq. 2.25–2.26) with a plane of light over the
 *  card. Which models take part is decided by leaving each patch out in turn. A rule of our own. */
export function fitColours(patches: readonly FitPatch[]): ColourFit {
  if (patches.length === 0)
    throw new CalcError('missing', 'patches', 'a card with at least one readable patch is needed');
  const candidates = candidateModels(patches);
  const canHoldOut = patches.length >= MIN_FOR_HELD_OUT;
  let chosen = candidates;
  if (canHoldOut) {
    const scored = candidates
      .map((model) => ({ model, error: rms(heldOutOf(patches, [model]).map((h) => h.deltaE)) }))
      .filter((s) => Number.isFinite(s.error));
    const best = Math.min(...scored.map((s) => s.error));
    chosen = scored.filter((s) => s.error <= NEAR_BEST * best).map((s) => s.model);
  }
  const read = mixed(patches, chosen);
  const heldOut = canHoldOut ? heldOutOf(patches, chosen) : [];
  return {
    models: chosen,
    read: read.read,
    labOf: read.labOf,
    heldOut: heldOut.map((h) => h.deltaE),
    plusMinusPerSd: calibration(heldOut),
    lightPlane: read.lightPlane,
  };
}

/* A patch that the others contradict this much (times their median, and at least so many CIEDE2000) is dirt, glare, a thumb or
   a shadow: it is heard less, not thrown away. */
const ODD_RATIO = 3.5;
const ODD_LEAST = 9;

const MAX_ODD_SHARE = 1 / 5;

/** `fitColours`, heard again: the patch that stands out most counts less, and so on until none stands out. One at a time,
 *  since one false patch makes its neighbours in colour look false too. A rule of our own. */
export function fitCard(patches: readonly FitPatch[]): ColourFit & { odd: readonly number[] } {
  const odd: number[] = [];
  let heard = patches;
  let fit = fitColours(heard);
  while (fit.heldOut.length > 0) {
    const limit = Math.max(ODD_LEAST, ODD_RATIO * medianOf(fit.heldOut));
    let worst = -1;
    fit.heldOut.forEach((deltaE, i) => {
      if (deltaE > limit && !odd.includes(i) && (worst < 0 || deltaE > fit.heldOut[worst]!)) worst = i;
    });
    if (worst < 0 || odd.length + 1 > patches.length * MAX_ODD_SHARE) break;
    odd.push(worst);
    const noise = fit.heldOut[worst]!;
    heard = heard.map((p, i) => (i === worst ? { ...p, extraNoise: p.extraNoise + noise } : p));
    fit = fitColours(heard);
  }
  return { ...fit, odd: odd.sort((p, q) => p - q) };
}

const medianOf = (values: readonly number[]): number =>
  values.length === 0 ? 0 : [...values].sort((p, q) => p - q)[Math.floor((values.length - 1) / 2)]!;

/* A few held-out patches cannot carry a ninetieth percentile alone: the ratio found on photographs in general counts as this
   many more patches. */
const USUAL_RATIO = 1.75;
const USUAL_WEIGHT = 12;

function calibration(heldOut: readonly { deltaE: number; sd: number }[]): number {
  if (heldOut.length === 0) return USUAL_RATIO;
  const ratios = heldOut.map((h) => h.deltaE / h.sd).sort((p, q) => p - q);
  const ninetieth = ratios[Math.min(ratios.length - 1, Math.ceil(0.9 * ratios.length) - 1)]!;
  return (ninetieth * ratios.length + USUAL_RATIO * USUAL_WEIGHT) / (ratios.length + USUAL_WEIGHT);
}

const rms = (values: readonly number[]): number =>
  Math.sqrt(values.reduce((sum, v) => sum + v * v, 0) / Math.max(1, values.length));

function heldOutOf(patches: readonly FitPatch[], models: readonly CameraModel[]): { deltaE: number; sd: number }[] {
  return patches.map((patch, i) => {
    const rest = patches.filter((_, j) => j !== i);
    const { lab, sd } = mixed(rest, models).read(patch.linear, patch.u, patch.v);
    return { deltaE: deltaE2000({ standard: patch.lab, sample: lab }), sd: Math.hypot(sd, patch.extraNoise) };
  });
}

function mixed(patches: readonly FitPatch[], models: readonly CameraModel[]) {
  const fits = models.map((model) => smoothed(patches, camera(patches, model)));
  return {
    read(linear: Vec, u: number, v: number): FitReading {
      const mean: Triple = [0, 0, 0];
      let variance = 0;
      const all = fits.map((fit) => fit.read(linear, u, v));
      for (const one of all) {
        for (let c = 0; c < 3; c++) mean[c]! += one.even[c]! / all.length;
        variance += one.variance / all.length;
      }
      for (const one of all) {
        for (let c = 0; c < 3; c++) variance += (one.even[c]! - mean[c]!) ** 2 / all.length;
      }
      return { lab: labFromEven(mean), sd: Math.sqrt(variance) };
    },
    labOf(linear: Vec, u: number, v: number): Lab {
      const mean: Triple = [0, 0, 0];
      for (const fit of fits) {
        const { even } = fit.at(linear, u, v);
        for (let c = 0; c < 3; c++) mean[c]! += even[c]! / fits.length;
      }
      return labFromEven(mean);
    },
    lightPlane: {
      u: fits.reduce((sum, f) => sum + f.lightPlane.u, 0) / fits.length,
      v: fits.reduce((sum, f) => sum + f.lightPlane.v, 0) / fits.length,
    },
  };
}

/** The residual of a camera model, smoothed. Lightness, and the two of colour, each with the same belief. */
function smoothed(patches: readonly FitPatch[], seen: Camera) {
  const n = patches.length;
  const known = patches.map((p) => evenFromLab(seen(p.linear)));
  const places = patches.map((p) => inReach(p.u, p.v));
  const chromatic = new Float64Array(n * n);
  const lightness = new Float64Array(n * n);
  for (let i = 0; i < n; i++) {
    for (let j = 0; j < n; j++) {
      const k = belief(known[i]!, known[j]!) + (i === j ? NOISE ** 2 + patches[i]!.extraNoise ** 2 : 0);
      chromatic[i * n + j] = k;
      lightness[i * n + j] = k + LIGHT ** 2 * (places[i]![0] * places[j]![0] + places[i]![1] * places[j]![1]);
    }
  }
  const offL = new Float64Array(n);
  const offColour = new Float64Array(n * 2);
  patches.forEach((patch, i) => {
    const target = evenFromLab(patch.lab);
    offL[i] = target[0] - known[i]![0];
    offColour[i * 2] = target[1] - known[i]![1];
    offColour[i * 2 + 1] = target[2] - known[i]![2];
  });
  const identity = new Float64Array(n * n);
  for (let i = 0; i < n; i++) identity[i * n + i] = 1;
  const inverse = solveInPlace(lightness.slice(), identity, n, n);
  const alphaColour = solveInPlace(chromatic, offColour, n, 2);
  const alphaL = solveInPlace(lightness, offL, n, 1);
  const plane = { u: 0, v: 0 };
  places.forEach(([u, v], i) => {
    plane.u -= LIGHT ** 2 * u * alphaL[i]!;
    plane.v -= LIGHT ** 2 * v * alphaL[i]!;
  });
  const at = (linear: Vec, u: number, v: number): { even: Triple; z: Triple; k: Float64Array } => {
    const z = evenFromLab(seen(linear));
    const [pu, pv] = inReach(u, v);
    const even: Triple = [z[0], z[1], z[2]];
    const k = new Float64Array(n);
    for (let i = 0; i < n; i++) {
      k[i] = belief(z, known[i]!);
      even[0] += (k[i]! + LIGHT ** 2 * (pu * places[i]![0] + pv * places[i]![1])) * alphaL[i]!;
      even[1] += k[i]! * alphaColour[i * 2]!;
      even[2] += k[i]! * alphaColour[i * 2 + 1]!;
    }
    return { even, z, k };
  };
  return {
    lightPlane: plane,
    at,
    read(linear: Vec, u: number, v: number): { even: Triple; variance: number } {
      const { even, z, k } = at(linear, u, v);
      // The further from the card, the less its plane of light says: here the place is not held back.
      for (let i = 0; i < n; i++) k[i]! += LIGHT ** 2 * (u * places[i]![0] + v * places[i]![1]);
      let explained = 0;
      for (let i = 0; i < n; i++) {
        for (let j = 0; j < n; j++) explained += k[i]! * inverse[i * n + j]! * k[j]!;
      }
      const own = belief(z, z) + LIGHT ** 2 * (u * u + v * v);
      return { even, variance: Math.max(0, own - explained) + NOISE ** 2 };
    },
  };
}

/** A plane of light found on the card is trusted a little beyond its edge, not over the whole table. */
function inReach(u: number, v: number): readonly [number, number] {
  const clamp = (x: number): number => Math.max(-LIGHT_REACH, Math.min(LIGHT_REACH, x));
  return [clamp(u), clamp(v)];
}

function belief(p: Triple, q: Triple): number {
  const d2 = (p[0] - q[0]) ** 2 + (p[1] - q[1]) ** 2 + (p[2] - q[2]) ** 2;
  const dot = (p[0] - MIDDLE) * (q[0] - MIDDLE) + p[1] * q[1] + p[2] * q[2];
  return SHIFT ** 2 + STRETCH ** 2 * dot + BEND ** 2 * Math.exp(-d2 / (2 * BEND_REACH ** 2));
}

const WHITE_D50 = whiteXyz(D50_2);
const WHITE_D65 = whiteXyz(D65_2);

function labOfLinear(linear: Vec): Lab {
  const [r, g, b] = linear;
  const xyz = adaptXyz({
    xyz: xyzFromLinearSrgb({ r, g, b }),
    fromWhite: WHITE_D65,
    toWhite: WHITE_D50,
    method: 'bradford',
  });
  return labFromXyz({ xyz, white: WHITE_D50 });
}

/** sRGB light of a colour known under D50: what a camera without fault would have recorded. Source: IEC 61966-2-1 for sRGB. */
export function linearOfLab(lab: Lab): [number, number, number] {
  const xyz = xyzFromLab({ lab, white: WHITE_D50 });
  const { r, g, b } = linearSrgbFromXyz(
    adaptXyz({ xyz, fromWhite: WHITE_D50, toWhite: WHITE_D65, method: 'bradford' }),
  );
  return [r, g, b];
}

/** A plain sRGB reading, D50/2°, for showing what the correction did. */
export const uncorrectedLab = labOfLinear;

function greysOf(patches: readonly FitPatch[]): FitPatch[] {
  return patches.filter((p) => isGrey(p.lab) && p.extraNoise < 3).sort((p, q) => p.lab.L - q.lab.L);
}

const MIN_CURVE_GREYS = 3;
const MIN_CURVE_SPAN_L = 25;

function candidateModels(patches: readonly FitPatch[]): CameraModel[] {
  const greys = greysOf(patches);
  const span = greys.length === 0 ? 0 : greys[greys.length - 1]!.lab.L - greys[0]!.lab.L;
  // One more than the curve needs, so that holding out a grey leaves a curve.
  const curve = greys.length > MIN_CURVE_GREYS && span >= MIN_CURVE_SPAN_L;
  const models: CameraModel[] = [];
  if (curve) models.push('greyCurve');
  else models.push('whiteBalance');
  if (patches.length >= 10) {
    models.push('linear');
    if (curve) models.push('greyCurveLinear');
  }
  if (patches.length >= 16 && curve) models.push('greyCurveRootPolynomial');
  return models;
}

/** A camera model alone, without the smoothing of what it leaves over. A rule of our own. */
export function camera(patches: readonly FitPatch[], model: CameraModel): Camera {
  if (model === 'linear') return linearCamera(patches, (c) => c, plainTerms);
  if (model === 'rootPolynomial') return linearCamera(patches, (c) => c, rootTerms);
  if (model === 'whiteBalance') {
    const gain = whiteGain(patches);
    return ([r, g, b]) => labOfLinear([r * gain[0], g * gain[1], b * gain[2]]);
  }
  const curve = greyCurve(greysOf(patches));
  if (model === 'greyCurve') return (c) => labOfLinear(curve(c));
  return linearCamera(patches, curve, model === 'greyCurveLinear' ? plainTerms : rootTerms);
}

const plainTerms = (c: Vec): number[] => [c[0], c[1], c[2]];

const rootTerms = (c: Vec): number[] => {
  const [r, g, b] = [Math.max(0, c[0]), Math.max(0, c[1]), Math.max(0, c[2])];
  return [c[0], c[1], c[2], Math.sqrt(r * g), Math.sqrt(g * b), Math.sqrt(r * b)];
};

/** Weighted so that a dark patch counts as much as a light one does to the eye: 1 / (Y^⅔ + 0.02), Y from 0 to 1. */
function linearCamera(patches: readonly FitPatch[], curve: (c: Vec) => Vec, terms: (c: Vec) => number[]): Camera {
  const x = patches.map((p) => terms(curve(p.linear)));
  const known = patches.map((p) => xyzFromLab({ lab: p.lab, white: WHITE_D50 }));
  const map = ridgeSolve({
    x,
    y: known.map(({ X, Y, Z }) => [X, Y, Z]),
    weights: known.map(({ Y }, i) => (1 / ((Y / 100) ** (2 / 3) + 0.02) / (1 + patches[i]!.extraNoise)) ** 2),
    ridge: 1e-6,
  });
  return (linear) => {
    const t = terms(curve(linear));
    const xyz = [0, 0, 0];
    for (let k = 0; k < t.length; k++) for (let c = 0; c < 3; c++) xyz[c]! += t[k]! * map[k * 3 + c]!;
    return labFromXyz({ xyz: { X: xyz[0]!, Y: xyz[1]!, Z: xyz[2]! }, white: WHITE_D50 });
  };
}

/** Gain per channel from the greys there are (mean in the logarithm); without any, from the mean of all patches. */
function whiteGain(patches: readonly FitPatch[]): Vec {
  const greys = greysOf(patches);
  const basis = greys.length > 0 ? greys : patches;
  const sum: Triple = [0, 0, 0];
  for (const p of basis) {
    const target = linearOfLab(p.lab);
    for (let c = 0; c < 3; c++)
      sum[c]! += Math.log(Math.max(1e-4, target[c]!) / Math.max(1e-4, p.linear[c]!)) / basis.length;
  }
  return [Math.exp(sum[0]), Math.exp(sum[1]), Math.exp(sum[2])];
}

const DARKEST = 1e-4;

/** Tone curve per channel through the greys, straight between them in the logarithm, continued at both ends. */
function greyCurve(greys: readonly FitPatch[]): (c: Vec) => Vec {
  const channels = [0, 1, 2].map((c) => {
    const points = risingPoints(
      greys.map(
        (g) =>
          [Math.log(Math.max(DARKEST, g.linear[c]!)), Math.log(Math.max(DARKEST, linearOfLab(g.lab)[c]!))] as const,
      ),
    );
    return (value: number): number => {
      const x = Math.log(Math.max(1e-5, value));
      let i = 1;
      while (i < points.length - 1 && x > points[i]![0]) i++;
      const p = points[i - 1];
      const q = points[i];
      if (p === undefined) return value;
      if (q === undefined) return Math.exp(p[1] + x - p[0]);
      return Math.exp(p[1] + ((x - p[0]) * (q[1] - p[1])) / (q[0] - p[0]));
    };
  });
  return ([r, g, b]) => [channels[0]!(r), channels[1]!(g), channels[2]!(b)];
}

/** Points in rising order of both coordinates; greys that the camera cannot tell apart, or orders wrongly, are merged. */
function risingPoints(points: readonly (readonly [number, number])[]): (readonly [number, number])[] {
  const out: { x: number; y: number; n: number }[] = [];
  for (const [x, y] of points) {
    let last = { x, y, n: 1 };
    for (let top = out[out.length - 1]; top !== undefined && last.x < top.x + 0.02; top = out[out.length - 1]) {
      const n = last.n + top.n;
      last = { x: (last.x * last.n + top.x * top.n) / n, y: (last.y * last.n + top.y * top.n) / n, n };
      out.pop();
    }
    out.push(last);
  }
  return out.map((p) => [p.x, p.y] as const);
}
