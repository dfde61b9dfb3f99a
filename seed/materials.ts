import { insertAuxiliary } from '../server/auxiliaries/queries.ts';
import type { AuxiliaryInput } from '../server/auxiliaries/schemas.ts';
import { insertDye } from '../server/dyes/queries.ts';
import type { DyeInput } from '../server/dyes/schemas.ts';
import { insertFibre } from '../server/fibres/queries.ts';
import type { FibreInput } from '../server/fibres/schemas.ts';
import type { Ground } from './colourWorld.ts';
import type { Named, Sowing } from './sowing.ts';

/* Goods, dyes and auxiliaries of the invented studio. Regains: Regulation (EU) 1007/2011, Annex IX, and ASTM D1909.
   Areal masses, put-ups and shrinkages are within the usual ranges of such goods (common practice). */

type FibreFacts = Partial<FibreInput> &
  Pick<FibreInput, 'name' | 'class' | 'kind'> & { costPerKg: number; ground: Ground };

const FIBRES: Readonly<Record<string, FibreFacts>> = {
  linen: {
    name: 'Linen, plain, 190 g',
    class: 'cellulose',
    kind: 'cloth',
    construction: 'plain weave, half bleached',
    arealMassMgPerM2: 190_000,
    widthMm: 1500,
    regainPpm: 120_000,
    shrinkLengthPpm: 45_000,
    shrinkWidthPpm: 30_000,
    costPerKg: 58,
    note: 'The library cloth: every dye has its ladder on it. Wet it out overnight, or it streaks.',
    ground: { low: 0.6, high: 0.83, outer: 0.3, gloss: 0.006, placesPct: 9, yieldFactor: 1 },
  },
  napkin: {
    name: 'Linen napkins, 45 cm, hemmed',
    class: 'cellulose',
    kind: 'cloth',
    construction: 'plain weave, drawn-thread hem',
    arealMassMgPerM2: 205_000,
    widthMm: 450,
    regainPpm: 120_000,
    shrinkLengthPpm: 40_000,
    shrinkWidthPpm: 30_000,
    costPerKg: 92,
    note: 'Hemmed with linen thread, so that the hem takes the dye.',
    ground: { low: 0.61, high: 0.83, outer: 0.3, gloss: 0.006, placesPct: 9, yieldFactor: 0.99 },
  },
  gauze: {
    name: 'Cotton gauze, theatre, 60 g',
    class: 'cellulose',
    kind: 'cloth',
    construction: 'open plain weave',
    arealMassMgPerM2: 60_000,
    widthMm: 3000,
    regainPpm: 85_000,
    shrinkLengthPpm: 80_000,
    shrinkWidthPpm: 40_000,
    costPerKg: 31,
    note: 'Three metres wide. Fold it in the pot, never knot it.',
    ground: { low: 0.68, high: 0.86, outer: 0.36, gloss: 0.005, placesPct: 8.5, yieldFactor: 0.94 },
  },
  drill: {
    name: 'Cotton drill, 260 g',
    class: 'cellulose',
    kind: 'cloth',
    construction: '2/1 twill',
    arealMassMgPerM2: 260_000,
    widthMm: 1500,
    regainPpm: 85_000,
    shrinkLengthPpm: 40_000,
    shrinkWidthPpm: 30_000,
    costPerKg: 27,
    note: 'For costumes.',
    ground: { low: 0.64, high: 0.84, outer: 0.26, gloss: 0.006, placesPct: 9, yieldFactor: 1.03 },
  },
  viscose: {
    name: 'Viscose challis, 125 g',
    class: 'cellulose',
    kind: 'cloth',
    construction: 'plain weave',
    arealMassMgPerM2: 125_000,
    widthMm: 1400,
    regainPpm: 130_000,
    shrinkLengthPpm: 80_000,
    shrinkWidthPpm: 50_000,
    uptakePpm: 880_000,
    costPerKg: 48,
    note: 'Dyes deeper than linen at the same percentage: its uptake factor says so.',
    ground: { low: 0.7, high: 0.86, outer: 0.28, gloss: 0.009, placesPct: 10.5, yieldFactor: 1.13 },
  },
  merinoSilk: {
    name: 'Merino/silk 70/30, fingering hank',
    class: 'protein',
    kind: 'yarn',
    construction: '4-ply',
    countText: '400 m per 100 g',
    putUpMassMg: 100_000,
    putUpLengthMm: 400_000,
    regainPpm: 161_000,
    costPerKg: 74,
    note: 'The silk strikes first, below 60 °C: start cool.',
    ground: { low: 0.53, high: 0.81, outer: 0.27, gloss: 0.009, placesPct: 7, yieldFactor: 1 },
  },
  merino: {
    name: 'Merino, sock hank',
    class: 'protein',
    kind: 'yarn',
    construction: '4-ply, high twist, combed',
    countText: '420 m per 100 g',
    putUpMassMg: 100_000,
    putUpLengthMm: 420_000,
    regainPpm: 182_500,
    costPerKg: 61,
    note: 'No shocks, no stirring: it felts.',
    ground: { low: 0.47, high: 0.78, outer: 0.25, gloss: 0.005, placesPct: 7, yieldFactor: 1.04 },
  },
  silk: {
    name: 'Silk habotai, 8 momme',
    class: 'protein',
    kind: 'cloth',
    construction: 'plain weave',
    arealMassMgPerM2: 34_720,
    widthMm: 1140,
    regainPpm: 110_000,
    shrinkLengthPpm: 50_000,
    shrinkWidthPpm: 20_000,
    costPerKg: 230,
    note: '',
    ground: { low: 0.66, high: 0.86, outer: 0.38, gloss: 0.014, placesPct: 6.5, yieldFactor: 0.92 },
  },
  flannel: {
    name: 'Wool flannel, 240 g',
    class: 'protein',
    kind: 'cloth',
    construction: '2/2 twill, milled',
    arealMassMgPerM2: 240_000,
    widthMm: 1500,
    regainPpm: 170_000,
    shrinkLengthPpm: 40_000,
    shrinkWidthPpm: 35_000,
    costPerKg: 79,
    note: '',
    ground: { low: 0.45, high: 0.77, outer: 0.22, gloss: 0.004, placesPct: 7, yieldFactor: 1.02 },
  },
};

const pct = (percent: number): number => Math.round(percent * 10_000);

/** Bands: dichlorotriazine dyes from a dyer's sheet of 2009, raised or lowered by dye; 1:2 metal-complex from memory. */
const dye = (
  code: string,
  name: string,
  bands: readonly [number, number, number],
  shownHex: string,
  more: Partial<DyeInput> = {},
): DyeInput => ({
  code,
  name,
  class: code.startsWith('F') ? 'reactive' : 'metalComplex',
  ciName: '',
  singleColourant: true,
  palePpm: pct(bands[0]),
  mediumPpm: pct(bands[1]),
  deepPpm: pct(bands[2]),
  solutionLifeDays: code.startsWith('F') ? 35 : 120,
  shownHex,
  hazardCodes: code.startsWith('F') ? 'H317, H334' : 'H317, H412',
  sdsUrl: '',
  note: '',
  ...more,
});

const DYES: readonly DyeInput[] = [
  dye('F11', 'Gorse yellow', [0.5, 2, 4], '#e0c63f', {
    ciName: 'C.I. Reactive Yellow 86',
    solutionLifeDays: 56,
    note: 'Greenish. Makes the clear greens with F58.',
  }),
  dye('F15', 'Apricot gold', [0.5, 2, 4], '#e39a28', {
    solutionLifeDays: 63,
    note: 'The yellow of most of our browns, rusts and greens.',
  }),
  dye('F31', 'Rowan red', [0.5, 2, 4], '#d14c57', {
    ciName: 'C.I. Reactive Red 2',
    solutionLifeDays: 56,
    note: 'Strikes fast: leads at the edges of an ice-dyed piece.',
  }),
  dye('F38', 'Foxglove', [0.4, 1.5, 4], '#d64588', { ciName: 'C.I. Reactive Red 11', solutionLifeDays: 56 }),
  dye('F52', 'Deepwater blue', [0.5, 2, 4], '#0f70a8', { ciName: 'C.I. Reactive Blue 4', solutionLifeDays: 49 }),
  dye('F58', 'Shallows turquoise', [0.5, 2, 4.5], '#1aa3ba', {
    note: 'Slow to wash clear. Give it ten minutes more of fixing.',
  }),
  dye('F61', 'Channel navy', [0.4, 2, 5], '#31567f', { note: 'Reddens when it dries.' }),
  dye('F90', 'Slate black', [0.6, 3, 7], '#35333a', {
    singleColourant: false,
    note: 'A blend of the merchant’s: parts on ice.',
  }),
  dye('M12', 'Bracken yellow', [0.2, 0.8, 2], '#cf9538'),
  dye('M24', 'Fox rust', [0.2, 0.8, 2], '#b3563a'),
  dye('M33', 'Dulse red', [0.2, 0.8, 2], '#983f58'),
  dye('M54', 'Heron blue', [0.2, 0.8, 2], '#2b6a90'),
  dye('M72', 'Kelp olive', [0.2, 0.8, 2], '#52694a'),
  dye('M92', 'Coal black', [0.3, 1.2, 3.5], '#3a3838', { note: 'Over 3 % it rubs.' }),
];

const auxiliary = (
  code: string,
  name: string,
  form: 'solid' | 'liquid',
  more: Partial<AuxiliaryInput> = {},
): AuxiliaryInput => ({
  code,
  name,
  form,
  hydrate: '',
  grade: '',
  bulkDensityGPerL: null,
  solutionConcPpm: null,
  hazardCodes: '',
  sdsUrl: '',
  note: '',
  ...more,
});

const AUXILIARIES: readonly AuxiliaryInput[] = [
  auxiliary('SODA', 'Soda ash', 'solid', {
    hydrate: 'anhydrous',
    grade: 'light',
    bulkDensityGPerL: 610,
    hazardCodes: 'H319',
    note: 'Dissolve it in warm water first, never onto the goods.',
  }),
  auxiliary('SALT', 'Common salt', 'solid', { grade: 'fine, without anticaking agent', bulkDensityGPerL: 1150 }),
  auxiliary('UREA', 'Urea', 'solid', { grade: 'prilled', bulkDensityGPerL: 750 }),
  auxiliary('CITR', 'Citric acid', 'solid', {
    hydrate: 'anhydrous',
    solutionConcPpm: 200_000,
    hazardCodes: 'H319',
    note: 'Kept as 20 % solution on the bench.',
  }),
  auxiliary('GLAU', 'Sodium sulphate', 'solid', { hydrate: 'anhydrous' }),
  auxiliary('AMSU', 'Ammonium sulphate', 'solid', { note: 'Lets go of its acid as the bath warms.' }),
  auxiliary('DETN', 'Non-ionic detergent', 'liquid', { hazardCodes: 'H318' }),
  auxiliary('ALGI', 'Sodium alginate', 'solid', { grade: 'low viscosity', note: 'Thickener for painting.' }),
];

/** Writes goods, dyes and auxiliaries into the studio's lists. */
export function stockTheLists({ deps: { db }, money }: Sowing): Omit<Named, 'methods'> {
  const fibres = new Map<string, number>();
  const grounds = new Map<string, Ground>();
  for (const [key, { costPerKg, ground, ...facts }] of Object.entries(FIBRES)) {
    const row = insertFibre(db, {
      construction: '',
      arealMassMgPerM2: null,
      widthMm: null,
      countText: '',
      putUpMassMg: null,
      putUpLengthMm: null,
      regainPpm: null,
      shrinkLengthPpm: 0,
      shrinkWidthPpm: 0,
      uptakePpm: 1_000_000,
      note: '',
      ...facts,
      costMinorPerKg: money(costPerKg),
    });
    fibres.set(key, row.id);
    grounds.set(key, ground);
  }
  return {
    fibres,
    grounds,
    dyes: new Map(DYES.map((d) => [d.code, insertDye(db, d).id])),
    auxiliaries: new Map(AUXILIARIES.map((a) => [a.code, insertAuxiliary(db, a).id])),
  };
}
