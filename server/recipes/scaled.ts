import { componentMassesG, dyeMassG } from '../calc/dyeMass.ts';
import { roundedWeighings } from '../calc/weighing.ts';
import type { Db } from '../db/open.ts';
import { invalid } from '../errors.ts';
import { defaultScale, theStudio } from '../settings/queries.ts';
import type { RevisionWithComponents } from './queries.ts';
import type { Scaled } from './schemas.ts';

type Formula = Pick<RevisionWithComponents, 'revision' | 'components'>;

/** A revision on so many milligrams of goods, for the studio's default scale and weighing floor; refuses while there is no scale. */
export function scaledFor(db: Db, formula: Formula, goodsDryMassMg: number): Scaled {
  const readabilityMg = defaultScale(db)?.readabilityMg;
  if (readabilityMg === undefined) throw invalid({ readabilityMg: 'Add a scale in Settings first.' });
  const floorPpm = theStudio(db).weighingFloorPpm;
  return { goodsDryMassMg, readabilityMg, ...scaledRevision({ formula, goodsDryMassMg, readabilityMg, floorPpm }) };
}

/** A revision on so many milligrams of goods, rounded to a scale so that the lines add to their rounded total. Dye of standard
 *  strength, without loss or uptake: those belong to a lot's plan. */
function scaledRevision(input: {
  formula: Formula;
  goodsDryMassMg: number;
  readabilityMg: number;
  floorPpm: number;
}): Pick<Scaled, 'lines' | 'totalRoundedMg'> {
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
