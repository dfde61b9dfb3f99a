import { Matrix } from 'ml-matrix';
import type { Lab } from '../../server/calc/colour/reading.ts';
import { D65_10 } from '../../server/calc/colour/reading.ts';
import { labFromXyz, whiteXyz, xyzFromLab } from '../../server/calc/colour/spaces.ts';
import { labFromSpectrum } from '../../server/calc/colour/spectra.ts';
import type { MeasuredSample, MeasuredSet } from './measuredMixtures.ts';

/* Plain predictors to be measured beside ours. Each works channel by channel on reflectance: 41 readings of a spectrum, or three
   channels made from Lab (cone-like responses relative to white). None uses any of the product's match code. */

export type Predictor = (sample: MeasuredSample) => Lab;
export type Learner = (set: MeasuredSet, known: readonly MeasuredSample[]) => Predictor;

export interface Channels {
  of(sample: { lab: Lab; spectrum: MeasuredSample['spectrum'] }): number[];
  lab(channels: readonly number[]): Lab;
}

/** Channels of curves that begin here, 10 nm apart. */
export const spectralChannelsFrom = (startNm: number): Channels => ({
  of: ({ spectrum }) => Array.from(spectrum.reflectance as ArrayLike<number>, (r) => Math.max(1e-4, r)),
  lab: (reflectance) =>
    labFromSpectrum({
      spectrum: { startNm, stepNm: 10, reflectance: reflectance.map((r) => Math.min(1.5, Math.max(0, r))) },
      conditions: D65_10,
    }),
});
export const spectralChannels = spectralChannelsFrom(380);

const CONES = new Matrix([
  [0.8951, 0.2664, -0.1614],
  [-0.7502, 1.7135, 0.0367],
  [0.0389, -0.0685, 1.0296],
]);
const CONES_BACK = new Matrix([
  [0.9869929, -0.1470543, 0.1599627],
  [0.4323053, 0.5183603, 0.0492912],
  [-0.0085287, 0.0400428, 0.9684867],
]);

export const labChannels: Channels = (() => {
  const white = whiteXyz(D65_10);
  const whiteCones = CONES.mmul(Matrix.columnVector([white.X, white.Y, white.Z])).to1DArray();
  return {
    of: ({ lab }) => {
      const { X, Y, Z } = xyzFromLab({ lab, white });
      return CONES.mmul(Matrix.columnVector([X, Y, Z]))
        .to1DArray()
        .map((v, i) => Math.max(1e-4, v / (whiteCones[i] as number)));
    },
    lab: (channels) => {
      const seen = Matrix.columnVector(channels.map((v, i) => v * (whiteCones[i] as number)));
      const [X, Y, Z] = CONES_BACK.mmul(seen).to1DArray() as [number, number, number];
      return labFromXyz({ xyz: { X, Y, Z }, white });
    },
  };
})();

const ks = (r: number) => (1 - Math.min(r, 0.999)) ** 2 / (2 * Math.min(r, 0.999));
const fromKs = (q: number) => 1 / (1 + Math.max(0, q) + Math.sqrt(Math.max(0, q) ** 2 + 2 * Math.max(0, q)));

/** (a) The known sample whose recipe is nearest, dye by dye, in the logarithm of the quantity. */
export const nearestNeighbour: Learner = (_set, known) => {
  const level = (x: number) => Math.log1p(x / 0.02);
  const vector = (sample: MeasuredSample) => new Map(sample.components.map((c) => [c.dyeId, level(c.depthPct)]));
  const all = known.map((sample) => ({ sample, at: vector(sample) }));
  return (query) => {
    const at = vector(query);
    let best = all[0] as (typeof all)[number];
    let least = Number.POSITIVE_INFINITY;
    for (const one of all) {
      let sum = 0;
      for (const dye of new Set([...at.keys(), ...one.at.keys()])) {
        sum += ((at.get(dye) ?? 0) - (one.at.get(dye) ?? 0)) ** 2;
      }
      if (sum < least) {
        least = sum;
        best = one;
      }
    }
    return best.sample.lab;
  };
};

/** K/S of each dye alone against quantity, linearly between the samples and in proportion beyond them. */
function ladders(channels: Channels, set: MeasuredSet, known: readonly MeasuredSample[]) {
  const base = channels.of(set.substrate).map(ks);
  const byDye = new Map<string | number, { quantity: number; ks: number[] }[]>();
  for (const sample of known) {
    const [only, more] = sample.components;
    if (only === undefined || more !== undefined) continue;
    const list = byDye.get(only.dyeId) ?? [];
    list.push({ quantity: only.depthPct, ks: channels.of(sample).map(ks) });
    byDye.set(only.dyeId, list);
  }
  for (const list of byDye.values()) list.sort((a, b) => a.quantity - b.quantity);
  const at = (dyeId: string | number, quantity: number): number[] => {
    const list = [{ quantity: 0, ks: base }, ...(byDye.get(dyeId) ?? [])];
    let i = list.findIndex((p) => p.quantity >= quantity);
    if (i < 0) i = list.length - 1;
    const high = list[Math.max(1, i)];
    const low = list[Math.max(1, i) - 1];
    if (high === undefined || low === undefined) return base;
    const t = (quantity - low.quantity) / (high.quantity - low.quantity);
    return low.ks.map((v, c) => Math.max(0, v + t * ((high.ks[c] as number) - v)));
  };
  return { base, byDye, at };
}

/** (b) K/S of each dye read at the total quantity, weighted by its share. */
export const weightedKs =
  (channels: Channels): Learner =>
  (set, known) => {
    const { at, base } = ladders(channels, set, known);
    return ({ components }) => {
      const total = components.reduce((sum, c) => sum + c.depthPct, 0);
      const mixed = base.map(() => 0);
      for (const { dyeId, depthPct } of components) {
        for (const [c, v] of at(dyeId, total).entries()) mixed[c] = (mixed[c] as number) + (depthPct / total) * v;
      }
      return channels.lab(mixed.map(fromKs));
    };
  };

/** (c) Single-constant Kubelka-Munk: each dye's K/S over the substrate's, at its own quantity, added up. */
export const singleConstant =
  (channels: Channels): Learner =>
  (set, known) => {
    const { at, base } = ladders(channels, set, known);
    return ({ components }) => {
      const sum = [...base];
      for (const { dyeId, depthPct } of components) {
        for (const [c, v] of at(dyeId, depthPct).entries()) sum[c] = (sum[c] as number) + v - (base[c] as number);
      }
      return channels.lab(sum.map(fromKs));
    };
  };

/** (d) Two-constant Kubelka-Munk layer over the substrate: k and s of every dye, channel by channel, in proportion to the
 *  quantity, fitted to all known samples by Levenberg-Marquardt on the cube root of reflectance. */
export const twoConstant =
  (channels: Channels): Learner =>
  (set, known) => {
    const dyes = [...new Set(known.flatMap((s) => s.components.map((c) => c.dyeId)))];
    const ground = channels.of(set.substrate);
    const rows = known.map((sample) => ({
      parts: sample.components.map((c) => ({ at: dyes.indexOf(c.dyeId), x: c.depthPct * 100 })),
      goal: channels.of(sample).map((r) => Math.cbrt(r + 0.003)),
    }));
    const fitted = ground.map((Rg, channel) => fitChannel(rows, dyes.length, Rg, channel));
    return ({ components }) =>
      channels.lab(
        fitted.map(({ k, s }, channel) => {
          let K = 0;
          let S = 0;
          for (const { dyeId, depthPct } of components) {
            const at = dyes.indexOf(dyeId);
            K += depthPct * 100 * Math.exp(k[at] as number);
            S += depthPct * 100 * Math.exp(s[at] as number);
          }
          return layer(K, S, ground[channel] as number);
        }),
      );
  };

function layer(K: number, S: number, Rg: number): number {
  const a = 1 + K / S;
  const b = Math.sqrt(Math.max(1e-12, a * a - 1));
  const x = b * S;
  const coth = x > 20 ? 1 : x < 1e-6 ? 1 / 1e-6 : 1 / Math.tanh(x);
  return Math.max(1e-5, (1 - Rg * (a - b * coth)) / (a - Rg + b * coth));
}

interface Row {
  parts: { at: number; x: number }[];
  goal: number[];
}

function fitChannel(rows: readonly Row[], dyeCount: number, Rg: number, channel: number): { k: number[]; s: number[] } {
  const size = 2 * dyeCount;
  let p = Array.from({ length: size }, (_, i) => (i < dyeCount ? 0 : Math.log(0.5)));
  const RIDGE = 1e-4;
  const predict = (q: readonly number[], { parts }: Row) => {
    let K = 0;
    let S = 0;
    for (const { at, x } of parts) {
      K += x * Math.exp(q[at] as number);
      S += x * Math.exp(q[dyeCount + at] as number);
    }
    return { K, S, f: Math.cbrt(layer(K, S, Rg) + 0.003) };
  };
  const costOf = (q: readonly number[]) => {
    let sum = 0;
    for (const row of rows) sum += (predict(q, row).f - (row.goal[channel] as number)) ** 2;
    for (let i = dyeCount; i < size; i += 1) sum += RIDGE * ((q[i] as number) - Math.log(0.5)) ** 2;
    return sum;
  };
  let cost = costOf(p);
  let damping = 1e-2;
  for (let step = 0; step < 40; step += 1) {
    const H = Matrix.zeros(size, size);
    const g = new Array<number>(size).fill(0);
    for (const row of rows) {
      const { K, S, f } = predict(p, row);
      const r = f - (row.goal[channel] as number);
      const dK = (Math.cbrt(layer(K * 1.0001 + 1e-9, S, Rg) + 0.003) - f) / (K * 0.0001 + 1e-9);
      const dS = (Math.cbrt(layer(K, S * 1.0001 + 1e-9, Rg) + 0.003) - f) / (S * 0.0001 + 1e-9);
      const local = row.parts.flatMap(({ at, x }) => [
        [at, dK * x * Math.exp(p[at] as number)] as const,
        [dyeCount + at, dS * x * Math.exp(p[dyeCount + at] as number)] as const,
      ]);
      for (const [i, vi] of local) {
        g[i] = (g[i] as number) + vi * r;
        for (const [j, vj] of local) H.set(i, j, H.get(i, j) + vi * vj);
      }
    }
    for (let i = dyeCount; i < size; i += 1) {
      H.set(i, i, H.get(i, i) + RIDGE);
      g[i] = (g[i] as number) + RIDGE * ((p[i] as number) - Math.log(0.5));
    }
    for (let i = 0; i < size; i += 1) H.set(i, i, H.get(i, i) * (1 + damping) + 1e-8);
    const move = solveSymmetric(H, g);
    const trial = p.map((v, i) => Math.max(-8, Math.min(9, v - Math.max(-1, Math.min(1, move[i] as number)))));
    const trialCost = costOf(trial);
    if (trialCost < cost) {
      const gain = (cost - trialCost) / cost;
      p = trial;
      cost = trialCost;
      damping /= 4;
      if (gain < 1e-4) break;
    } else {
      damping *= 6;
      if (damping > 1e8) break;
    }
  }
  return { k: p.slice(0, dyeCount), s: p.slice(dyeCount) };
}

function solveSymmetric(H: Matrix, g: readonly number[]): number[] {
  const n = g.length;
  const A = H.to2DArray();
  const v = [...g];
  for (let i = 0; i < n; i += 1) {
    const row = A[i] as number[];
    for (let k = i + 1; k < n; k += 1) {
      const other = A[k] as number[];
      const f = (other[i] as number) / (row[i] as number);
      if (f === 0) continue;
      for (let c = i; c < n; c += 1) other[c] = (other[c] as number) - f * (row[c] as number);
      v[k] = (v[k] as number) - f * (v[i] as number);
    }
  }
  for (let i = n - 1; i >= 0; i -= 1) {
    const row = A[i] as number[];
    let sum = v[i] as number;
    for (let c = i + 1; c < n; c += 1) sum -= (row[c] as number) * (v[c] as number);
    v[i] = sum / (row[i] as number);
  }
  return v;
}
