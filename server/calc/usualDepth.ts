import { finiteIn } from './calcError.ts';
import type { DyeClass } from './classFit.ts';

/** Depths beyond which nothing is gained, % owg: asked about, never refused. Common practice; no measured saturation was found in print.
 *  Black and turquoise go deeper than their class. */
const DEEPEST_PCT: Readonly<Record<DyeClass, number>> = {
  reactive: 8,
  acid: 5,
  metalComplex: 5,
  direct: 5,
  basic: 3,
  disperse: 6,
  vat: 10,
  natural: 500,
};
/** Bands are round figures: a tenth beyond one is nothing to ask about. A rule of our own. */
const ROOM = 1.1;

export interface DepthDoubt {
  /** The deepest that is usual, % owg. */
  usualPct: number;
  /** What it would be with the decimal point one place to the left, where that is usual. */
  perhapsPct: number | null;
}

/** Whether a depth should be asked about before it is planned: deeper than the dye's own deepest band or, where it has none, than its
 *  class is known to take. depthPct > 0 of one dye, or of all together with the deepest band of any; deepPct null for none. Null when
 *  there is nothing to ask. Throws CalcError. Common practice. */
export function depthDoubt(input: { depthPct: number; dyeClass: DyeClass; deepPct: number | null }): DepthDoubt | null {
  const depthPct = finiteIn('depthPct', input.depthPct, { min: 0, exclusiveMin: true });
  const usualPct = input.deepPct ?? DEEPEST_PCT[input.dyeClass];
  if (depthPct <= usualPct * ROOM) return null;
  const perhapsPct = depthPct / 10;
  return { usualPct, perhapsPct: perhapsPct <= usualPct ? perhapsPct : null };
}

/** The doubt as a question. Common practice. */
export const depthDoubtWords = (input: { depthPct: number; doubt: DepthDoubt }): string => {
  const pct = (value: number): string => `${Number(value.toPrecision(3))} %`;
  const { usualPct, perhapsPct } = input.doubt;
  return `${pct(input.depthPct)} is deeper than is usual (up to ${pct(usualPct)}).${perhapsPct === null ? '' : ` Is it ${pct(perhapsPct)}?`}`;
};
