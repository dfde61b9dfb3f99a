import { CalcError, finiteIn } from '../calcError.ts';
import { deltaE76, type Pair } from './deltaE.ts';
import type { Lab } from './reading.ts';
import { lchFromLab } from './spaces.ts';

export type GreyScaleGrade = '5' | '4-5' | '4' | '3-4' | '3' | '2-3' | '2' | '1-2' | '1';

/** The physical grey scale for change in colour: CIELAB difference of each pair and how far a made scale may be off it.
 *  Source: EN 20105-A02:1994 / ISO 105-A02, clause 2.4. The scale for staining has other numbers. */
const GREY_SCALE: Record<GreyScaleGrade, { deltaE76: number; tolerance: number }> = {
  '5': { deltaE76: 0, tolerance: 0.2 },
  '4-5': { deltaE76: 0.8, tolerance: 0.2 },
  '4': { deltaE76: 1.7, tolerance: 0.3 },
  '3-4': { deltaE76: 2.5, tolerance: 0.35 },
  '3': { deltaE76: 3.4, tolerance: 0.4 },
  '2-3': { deltaE76: 4.8, tolerance: 0.5 },
  '2': { deltaE76: 6.8, tolerance: 0.6 },
  '1-2': { deltaE76: 9.6, tolerance: 0.7 },
  '1': { deltaE76: 13.6, tolerance: 1 },
};

/** Best grade first. */
export const GREY_SCALE_GRADES: readonly GreyScaleGrade[] = ['5', '4-5', '4', '3-4', '3', '2-3', '2', '1-2', '1'];

/** Step of the grey scale for change that carries this grade ("4-5" or "4–5", "4/5"). Throws CalcError('notKnown', 'grade').
 *  Source: EN 20105-A02:1994 / ISO 105-A02. */
export function greyScaleBand(grade: string): { deltaE76: number; tolerance: number } {
  const band = GREY_SCALE[grade.trim().replace(/[–/]/, '-') as GreyScaleGrade];
  if (band === undefined) throw new CalcError('notKnown', 'grade', 'grades run 5, 4-5, 4, 3-4, 3, 2-3, 2, 1-2, 1');
  return { ...band };
}

/* Upper limits of ΔE_F for each grade, ISO 105-A05. From memory of the standard's text and not confirmed against a bought
   copy; each step of the physical scale falls in its own grade. */
const GRADE_LIMITS: readonly [number, GreyScaleGrade][] = [
  [0.4, '5'],
  [1.25, '4-5'],
  [2.1, '4'],
  [2.95, '3-4'],
  [4.1, '3'],
  [5.8, '2-3'],
  [8.2, '2'],
  [11.6, '1-2'],
  [Number.POSITIVE_INFINITY, '1'],
];

export interface GreyScaleChange {
  deltaEF: number;
  grade: GreyScaleGrade;
  /** Continuous grade, 1–5, one decimal; not the table's grade rounded. */
  gradeFine: number;
  meanChroma: number;
  meanHueDeg: number;
  hueTerm: number;
  chromaShare: number;
  deltaCF: number;
  deltaHF: number;
}

/** Grade of a change in colour by instrument: `reference` untreated, `test` treated, both D65/10°.
 *  D = ΔC·C̄·e^−x/100, x = ((h̄ − 280)/30)² · ΔC_F = (ΔC − D)/(1 + (20C̄/1000)²) · ΔH_F = (ΔH − D)/(1 + (10C̄/1000)²)
 *  ΔE_F = √(ΔL² + ΔC_F² + ΔH_F²).
 *  Source: ISO 105-A05; the continuous form and hue terms as in clauses 7.2 and 8 (1997), the rest from memory. */
export function greyScaleChange({ reference, test }: { reference: Lab; test: Lab }): GreyScaleChange {
  const E = deltaE76({ standard: reference, sample: test });
  const before = lchFromLab(reference);
  const after = lchFromLab(test);
  const dL = test.L - reference.L;
  const dC = after.C - before.C;
  const turn = after.hueDeg - before.hueDeg;
  const sign = (turn >= 0 ? 1 : -1) * (Math.abs(turn) <= 180 ? 1 : -1);
  const dH = sign * Math.sqrt(Math.max(0, E * E - dL * dL - dC * dC));
  const meanChroma = (before.C + after.C) / 2;
  const sum = after.hueDeg + before.hueDeg;
  let meanHueDeg = sum / 2;
  if (Math.abs(turn) > 180) meanHueDeg += sum < 360 ? 180 : -180;
  const off = Math.abs(meanHueDeg - 280);
  const hueTerm = ((off <= 180 ? off : 360 - off) / 30) ** 2;
  const D = (dC * meanChroma * Math.exp(-hueTerm)) / 100;
  const deltaCF = (dC - D) / (1 + ((20 * meanChroma) / 1000) ** 2);
  const deltaHF = (dH - D) / (1 + ((10 * meanChroma) / 1000) ** 2);
  const deltaEF = Math.sqrt(dL * dL + deltaCF * deltaCF + deltaHF * deltaHF);
  const grade = (GRADE_LIMITS.find(([limit]) => deltaEF < limit) as [number, GreyScaleGrade])[1];
  const fine = deltaEF <= 3.4 ? 5 - deltaEF / 1.7 : 5 - Math.log2(deltaEF / 0.85);
  const gradeFine = Math.round(Math.max(1, fine) * 10) / 10;
  return { deltaEF, grade, gradeFine, meanChroma, meanHueDeg, hueTerm, chromaShare: D, deltaCF, deltaHF };
}

/** 555 shade sorting: three digits for lightness, then either red-green and yellow-blue (a*, b*) or chroma and hue; 5 is the
 *  block around the standard, each step one block of the stated size; a higher digit is lighter, redder (or of more chroma),
 *  yellower (or further round in hue). Beyond 1–9 the digit stays at the end and `beyond` says so. Two pieces in adjacent
 *  blocks can be close, and two in one block a diagonal apart. Source: scheme as in 555 shade sorting notes (scribd.com/
 *  document/65285053); the direction of the digits is a convention that both sides must name. Block sizes > 0 in CIELAB units. */
export function shadeSort555(
  input: Pair & { axes: 'Lab' | 'LCh'; blockL: number; blockSecond: number; blockThird: number },
): { code: string; beyond: boolean } {
  const { standard, sample, axes } = input;
  const E = deltaE76(input);
  const dL = sample.L - standard.L;
  let second = sample.a - standard.a;
  let third = sample.b - standard.b;
  if (axes === 'LCh') {
    const one = lchFromLab(standard);
    const two = lchFromLab(sample);
    second = two.C - one.C;
    const turn = ((two.hueDeg - one.hueDeg + 540) % 360) - 180;
    third = Math.sign(turn) * Math.sqrt(Math.max(0, E * E - dL * dL - second * second));
  }
  let beyond = false;
  const digit = (field: string, difference: number, block: number): number => {
    const steps = Math.round(difference / finiteIn(field, block, { min: 0, exclusiveMin: true }));
    if (Math.abs(steps) > 4) beyond = true;
    return 5 + Math.max(-4, Math.min(4, steps));
  };
  const code = [
    digit('blockL', dL, input.blockL),
    digit('blockSecond', second, input.blockSecond),
    digit('blockThird', third, input.blockThird),
  ].join('');
  return { code, beyond };
}

export type DifferenceFormula = 'deltaE76' | 'deltaE2000' | 'deltaECmc21';

export interface ToleranceBand {
  name: string;
  limit: number;
}

/** Limits in use, tightest first. They are habits of trades, not constants of nature, and hold for their own formula only.
 *  CMC(2:1): mill and trading notes (0.8 strict, 1.0 usual). CIEDE2000: from memory; there is no universal limit. ΔE*ab: the
 *  grey scale's own steps. */
export const TOLERANCE_BANDS: Record<DifferenceFormula, readonly ToleranceBand[]> = {
  deltaECmc21: [
    { name: 'strict', limit: 0.8 },
    { name: 'usual', limit: 1 },
  ],
  deltaE2000: [
    { name: 'tight', limit: 0.8 },
    { name: 'usual', limit: 1.2 },
    { name: 'craft', limit: 2 },
  ],
  deltaE76: [
    { name: 'grade 4-5', limit: 0.8 },
    { name: 'grade 4', limit: 1.7 },
    { name: 'grade 3-4', limit: 2.5 },
  ],
};

/** The tightest named band that a difference fits, or undefined when it fits none. A rule of our own over the bands above. */
export function toleranceBand({
  formula,
  deltaE,
}: {
  formula: DifferenceFormula;
  deltaE: number;
}): ToleranceBand | undefined {
  finiteIn('deltaE', deltaE, { min: 0 });
  return TOLERANCE_BANDS[formula].find((band) => deltaE <= band.limit);
}

/** What a CIEDE2000 says to a person who holds the two pieces side by side. Common practice; no standard draws these lines. */
export function differenceInWords({ deltaE2000 }: { deltaE2000: number }): string {
  finiteIn('deltaE2000', deltaE2000, { min: 0 });
  if (deltaE2000 < 0.5) return 'not to be told apart';
  if (deltaE2000 < 1) return 'hardly seen, side by side';
  if (deltaE2000 < 2) return 'seen side by side, a match for most uses';
  if (deltaE2000 < 4) return 'near, but plainly another shade';
  if (deltaE2000 < 8) return 'the same sort of colour';
  return 'a different colour';
}

export interface ShadeShift {
  lightness: 'lighter' | 'darker' | 'level';
  chroma: 'brighter' | 'duller' | 'level';
  redGreen: 'redder' | 'greener' | 'level';
  yellowBlue: 'yellower' | 'bluer' | 'level';
}

/** Which way the sample lies from the standard; `level` within the threshold (CIELAB units, > 0) on that axis. A rule of our own. */
export function shadeShift(input: Pair & { threshold: number }): ShadeShift {
  const threshold = finiteIn('threshold', input.threshold, { min: 0, exclusiveMin: true });
  const way = <T extends string>(difference: number, more: T, less: T): T | 'level' =>
    Math.abs(difference) <= threshold ? 'level' : difference > 0 ? more : less;
  const { standard, sample } = input;
  return {
    lightness: way(sample.L - standard.L, 'lighter', 'darker'),
    chroma: way(lchFromLab(sample).C - lchFromLab(standard).C, 'brighter', 'duller'),
    redGreen: way(sample.a - standard.a, 'redder', 'greener'),
    yellowBlue: way(sample.b - standard.b, 'yellower', 'bluer'),
  };
}
