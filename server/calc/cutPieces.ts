import { CalcError, finiteIn } from './calcError.ts';

/* Pieces that cloth is cut into, and what a label says they are made of. */

const positive = { min: 0, exclusiveMin: true };

/** A quarter or an eighth of the yard cut fat: half the width (a quarter of it for an eighth the other way) by half a yard.
 *  widthIn > 0, inches. Answers the shorter side first. Throws CalcError. Source: quilters' cutting charts, by kind. */
export function fatCutIn(input: { widthIn: number; cut: 'quarter' | 'eighth' }): number[] {
  const half = finiteIn('widthIn', input.widthIn, positive) / 2;
  return (input.cut === 'quarter' ? [18, half] : [9, half]).sort((x, y) => x - y);
}

/** The same by the metric cut: half the width by the length that is cut. Both > 0, cm. Throws CalcError. Source: as fatCutIn. */
export function fatQuarterCm(input: { widthCm: number; cutCm: number }): number[] {
  return [finiteIn('cutCm', input.cutCm, positive), finiteIn('widthCm', input.widthCm, positive) / 2].sort(
    (x, y) => x - y,
  );
}

export interface FibreShare {
  name: string;
  pct: number;
}

/** Fibres in the order of a label: descending share. Shares > 0 that add to 100 within a half. Throws CalcError.
 *  Sources: Regulation (EU) 1007/2011; US rules under the Textile Fiber Products Identification Act. An outline: follow local law. */
export function labelOrder(input: { fibres: readonly FibreShare[] }): FibreShare[] {
  const sum = input.fibres.reduce((total, { pct }) => total + finiteIn('fibres', pct, { ...positive, max: 100 }), 0);
  if (Math.abs(sum - 100) > 0.5) throw new CalcError('mismatch', 'fibres', 'the shares must add to 100 %');
  return [...input.fibres].sort((x, y) => y.pct - x.pct);
}
