import { CalcError, finiteIn } from '../calcError.ts';
import { type Conditions, D50_2, demandLab, type Lab } from './reading.ts';

export interface CardPatch {
  name: string;
  lab: Lab;
}

/** A reference card: patches of known colour in equal steps, `columns` by `rows`, told row by row from the upper left as the
 *  card's maker draws it. The step along a row and down a column may differ; patches fill most of a step. */
export interface CardDefinition {
  id: string;
  name: string;
  columns: number;
  rows: number;
  patches: readonly CardPatch[];
  conditions: Conditions;
}

/* Makers' published specification of the usual 24-patch chart, CIELAB D50/2°, for charts made from November 2014 on and
   for older ones; by way of the open data of colour-science/colour (BSD-3-Clause). A single chart differs from it by some
   0.4–0.8 CIEDE2000, the two versions from each other by 0.8 (median). */
const PATCHES_24: readonly (readonly [string, readonly [number, number, number], readonly [number, number, number]])[] =
  [
    ['dark skin', [37.54, 14.37, 14.92], [37.986, 13.555, 14.059]],
    ['light skin', [64.66, 19.27, 17.5], [65.711, 18.13, 17.81]],
    ['blue sky', [49.32, -3.82, -22.54], [49.927, -4.88, -21.905]],
    ['foliage', [43.46, -12.74, 22.72], [43.139, -13.095, 21.905]],
    ['blue flower', [54.94, 9.61, -24.79], [55.112, 8.844, -25.399]],
    ['bluish green', [70.48, -32.26, -0.37], [70.719, -33.397, -0.199]],
    ['orange', [62.73, 35.83, 56.5], [62.661, 36.067, 57.096]],
    ['purplish blue', [39.43, 10.75, -45.17], [40.02, 10.41, -45.964]],
    ['moderate red', [50.57, 48.64, 16.67], [51.124, 48.239, 16.248]],
    ['purple', [30.1, 22.54, -20.87], [30.325, 22.976, -21.587]],
    ['yellow green', [71.77, -24.13, 58.19], [72.532, -23.709, 57.255]],
    ['orange yellow', [71.51, 18.24, 67.37], [71.941, 19.363, 67.857]],
    ['blue', [28.37, 15.42, -49.8], [28.778, 14.179, -50.297]],
    ['green', [54.38, -39.72, 32.27], [55.261, -38.342, 31.37]],
    ['red', [42.43, 51.05, 28.62], [42.101, 53.378, 28.19]],
    ['yellow', [81.8, 2.67, 80.41], [81.733, 4.039, 79.819]],
    ['magenta', [50.63, 51.28, -14.12], [51.935, 49.986, -14.574]],
    ['cyan', [49.57, -29.71, -28.32], [51.038, -28.631, -28.638]],
    ['white', [95.19, -1.03, 2.93], [96.539, -0.425, 1.186]],
    ['neutral 8', [81.29, -0.57, 0.44], [81.257, -0.638, -0.335]],
    ['neutral 6.5', [66.89, -0.75, -0.06], [66.766, -0.734, -0.504]],
    ['neutral 5', [50.76, -0.13, 0.14], [50.867, -0.153, -0.27]],
    ['neutral 3.5', [35.63, -0.46, -0.48], [35.656, -0.421, -1.231]],
    ['black', [20.64, 0.07, -0.46], [20.461, -0.079, -0.973]],
  ];

const toLab = ([L, a, b]: readonly [number, number, number]): Lab => ({ L, a, b });

export const CHART_24_SINCE_2014: CardDefinition = {
  id: 'chart24Since2014',
  name: '24-patch chart, made from November 2014 on',
  columns: 6,
  rows: 4,
  patches: PATCHES_24.map(([name, newer]) => ({ name, lab: toLab(newer) })),
  conditions: D50_2,
};

export const CHART_24_BEFORE_2014: CardDefinition = {
  id: 'chart24Before2014',
  name: '24-patch chart, made before November 2014',
  columns: 6,
  rows: 4,
  patches: PATCHES_24.map(([name, , older]) => ({ name, lab: toLab(older) })),
  conditions: D50_2,
};

/** A plain grey (or white) card whose lightness is stated on it, or measured. L* 10–100. Common practice. */
export function greyCard({ L }: { L: number }): CardDefinition {
  finiteIn('L', L, { min: 10, max: 100 });
  return {
    id: 'greyCard',
    name: `plain grey card, L* ${L}`,
    columns: 1,
    rows: 1,
    patches: [{ name: 'grey', lab: { L, a: 0, b: 0 } }],
    conditions: D50_2,
  };
}

const MAX_SIDE = 40;

/** The studio's own card from measured patches, row by row. The readings must be under D50/2° (adapt them by name first).
 *  A rule of our own. */
export function studioCard(input: {
  id: string;
  name: string;
  columns: number;
  rows: number;
  patches: readonly CardPatch[];
  conditions: Conditions;
}): CardDefinition {
  const { columns, rows, patches, conditions } = input;
  for (const [field, n] of [
    ['columns', columns],
    ['rows', rows],
  ] as const) {
    if (!Number.isInteger(n) || n < 1 || n > MAX_SIDE) {
      throw new CalcError('outOfRange', field, `a card has 1 to ${MAX_SIDE} patches along a side`);
    }
  }
  if (patches.length !== columns * rows) {
    throw new CalcError('mismatch', 'patches', `a card of ${columns} by ${rows} needs ${columns * rows} patches`);
  }
  if (conditions.illuminant !== 'D50' || conditions.observerDeg !== 2) {
    throw new CalcError('mismatch', 'conditions', 'the patches of a card must be known under D50/2°');
  }
  patches.forEach((patch, i) => {
    demandLab(`patches.${i + 1}`, patch.lab);
  });
  return { ...input };
}

/** A patch counts as grey under this chroma: within it the three channels of a camera may share one tone curve. */
const GREY_CHROMA = 4;

/** Whether a patch is so near to grey that it tells of the light. A rule of our own. */
export const isGrey = (lab: Lab): boolean => Math.hypot(lab.a, lab.b) < GREY_CHROMA;
