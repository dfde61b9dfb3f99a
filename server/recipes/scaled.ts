import { componentMassesG, dyeMassG } from '../calc/dyeMass.ts';
import { roundedWeighings } from '../calc/weighing.ts';
import type { RevisionWithComponents } from './queries.ts';

export interface ScaledLine {
  dyeId: number;
  dyeName: string;
  exactMg: number;
  roundedMg: number;
  roundingErrorPct: number;
  /** Whether half a digit of the scale stays under the studio's weighing floor. */
  weighsWell: boolean;
}

/** A revision on so many milligrams of goods, rounded to a scale so that the lines add to their rounded total. Dye of standard
 *  strength, without loss or uptake: those belong to a lot's plan. */
export function scaledRevision(input: {
  formula: Pick<RevisionWithComponents, 'revision' | 'components'>;
  goodsDryMassMg: number;
  readabilityMg: number;
  floorPpm: number;
}): { lines: ScaledLine[]; totalRoundedMg: number } {
  const { revision, components } = input.formula;
  const goodsDryMassG = input.goodsDryMassMg / 1000;
  const massesG =
    revision.entryStyle === 'split'
      ? componentMassesG({
          goodsDryMassG,
          depthPct: revision.totalDepthPpm / 10_000,
          sharesPct: components.map((c) => c.sharePpm / 10_000),
        })
      : components.map((c) =>
          dyeMassG({
            goodsDryMassG,
            depthPct: c.depthPpm / 10_000,
            sharePct: 100,
            coverageFactor: 1,
            lossFactor: 0,
            uptakeFactor: 1,
            strengthPct: 100,
          }),
        );
  const rounded = roundedWeighings({
    lines: massesG.map((massG) => ({ massMg: massG * 1000, readabilityMg: input.readabilityMg })),
  });
  const lines = components.flatMap((c, i) => {
    const line = rounded[i];
    if (!line) return [];
    const { exactMg, roundedMg, roundingErrorPct, halfDigitErrorPct } = line;
    const weighsWell = halfDigitErrorPct * 10_000 <= input.floorPpm;
    return [{ dyeId: c.dye.id, dyeName: c.dye.name, exactMg, roundedMg, roundingErrorPct, weighsWell }];
  });
  return { lines, totalRoundedMg: lines.reduce((sum, line) => sum + line.roundedMg, 0) };
}
