import { deltaE2000 } from '../calc/colour/deltaE.ts';
import { type Conditions, conditionsInWords, conditionsOf, type Lab, sameConditions } from '../calc/colour/reading.ts';
import { adaptLab, srgbFromLab } from '../calc/colour/spaces.ts';
import { differenceInWords, type ShadeShift, shadeShift } from '../calc/colour/tolerance.ts';
import type { NearestFormula } from '../calc/match/nearest.ts';
import type { Db } from '../db/open.ts';
import { nearestSwatches } from './library.ts';
import { depthsKept, type NearFilter } from './nearFilter.ts';
import { nearTiles } from './queries.ts';
import { COMPARED_UNDER, type ComparedUnder, type NearTile } from './schemas.ts';
import type { Standard } from './standard.ts';

/** Under this (CIELAB units) a shift on one axis is not worth a word. Common practice; about what is just seen. */
const SHIFT_WORTH_SAYING = 0.7;

/** A swatch found, as the API tells it and with what pages draw of it. */
export interface NearHit extends Omit<NearTile, 'lab' | 'shift'> {
  lab: Lab;
  shift: ShadeShift;
  /** From the standard: in a* (redder) and b* (yellower). */
  towards: { a: number; b: number };
}

export interface NearAnswer {
  labCompared: Lab;
  hits: NearHit[];
  /** What was adapted, in a sentence; '' when nothing was. */
  adaptation: string;
}

/** The search as page and API answer it: nearest swatches with the difference in figures and in words. */
export function nearTo(
  db: Db,
  asked: {
    standard: Standard;
    under: Conditions;
    formula: NearestFormula;
    filter: NearFilter;
    count: number;
    /** Once there are so many, leaves out what is farther. */
    trim?: { beyondDeltaE2000: number; atLeast: number };
  },
): NearAnswer {
  const { standard, under, formula } = asked;
  const kept = depthsKept(db, asked.filter);
  const near = nearestSwatches(db, {
    standard,
    under,
    formula,
    count: asked.count,
    ...(kept === undefined ? {} : { depthsKept: kept }),
    ...(standard.swatchId === null ? {} : { exceptSwatchId: standard.swatchId }),
  });
  const found = near.map((n) => n.swatchId);
  const tiles = new Map(nearTiles(db, found).map((t) => [t.swatchId, t]));
  const labCompared = adaptLab({ lab: standard.lab, from: standard.conditions, to: under, method: 'bradford' });
  const { trim } = asked;
  const all = near.flatMap((n): NearHit[] => {
    const tile = tiles.get(n.swatchId);
    if (!tile) return [];
    const pair = { standard: labCompared, sample: n.lab };
    const difference = deltaE2000(pair);
    return [
      {
        ...tile,
        ...n,
        ...srgbOf(n.lab, under),
        deltaE2000: difference,
        words: differenceInWords({ deltaE2000: difference }),
        shift: shadeShift({ ...pair, threshold: SHIFT_WORTH_SAYING }),
        adaptedFrom: n.adaptedFrom === null ? null : conditionsInWords(n.adaptedFrom),
        towards: { a: n.lab.a - labCompared.a, b: n.lab.b - labCompared.b },
      },
    ];
  });
  const hits = trim ? all.filter((h, i) => i < trim.atLeast || h.deltaE2000 <= trim.beyondDeltaE2000) : all;
  return { labCompared, hits, adaptation: adaptationWords(standard, under, hits) };
}

const srgbOf = (lab: Lab, conditions: Conditions): { hex: string; inGamut: boolean } => {
  const { hex, inGamut } = srgbFromLab({ lab, conditions });
  return { hex, inGamut };
};

function adaptationWords(standard: Standard, under: Conditions, hits: readonly NearHit[]): string {
  const adapted = hits.filter((h) => h.adaptedFrom !== null).length;
  const own = !sameConditions(standard.conditions, under);
  if (adapted === 0 && !own) return '';
  const from = [...new Set(hits.flatMap((h) => h.adaptedFrom ?? []))].join(', ');
  const which = adapted === hits.length ? 'every swatch shown' : `${adapted} of the ${hits.length} swatches shown`;
  const what = [
    own ? `the colour looked for (from ${conditionsInWords(standard.conditions)})` : '',
    adapted === 0 ? '' : `${which} (from ${from})`,
  ].filter(Boolean);
  return `Adapted to ${conditionsInWords(under)} by the Bradford transform: ${what.join(' and ')}. An estimate, since it does not know the dyes’ spectra.`;
}

/** 'D65/10' as conditions, and back. */
export const conditionsAt = (key: ComparedUnder): Conditions => conditionsOf(COMPARED_UNDER[key]);
export const comparedUnder = ({ illuminant, observerDeg }: Conditions): ComparedUnder => `${illuminant}/${observerDeg}`;

export function nearestFormula(
  name: string,
  ratio: { l?: number | undefined; c?: number | undefined } = {},
): NearestFormula {
  if (name === 'deltaE2000') return { name: 'deltaE2000' };
  if (name === 'deltaECmc11') return { name: 'deltaECmc', l: 1, c: 1 };
  if (name === 'deltaECmc21') return { name: 'deltaECmc', l: 2, c: 1 };
  return { name: 'deltaECmc', l: ratio.l ?? 2, c: ratio.c ?? 1 };
}

export const formulaInWords = (formula: NearestFormula): string =>
  formula.name === 'deltaE2000' ? 'CIEDE2000' : `CMC(${formula.l}:${formula.c})`;
