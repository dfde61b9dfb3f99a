import { CalcError } from '../calc/calcError.ts';
import { clothMassG, goodsDryMassGOfDamp, goodsDryMassGOfDriedSample, putUpsMassG } from '../calc/goods.ts';
import { nearestInteger } from '../calc/rounding.ts';
import type { FibreRow } from '../db/tables/materials.ts';
import type { MassFound } from './schemas.ts';

/** The mass that every percentage of the lot goes by, in mg: dry goods as conditioned in the studio (regain included).
 *  Throws CalcError naming the field that is missing or impossible. */
export function countedMassMg(
  mass: MassFound,
  fibre: Pick<FibreRow, 'arealMassMgPerM2' | 'widthMm' | 'putUpMassMg' | 'regainPpm' | 'name'>,
): number {
  return nearestInteger({ value: countedMassG(mass, fibre) * 1000, field: 'mass' });
}

function countedMassG(
  mass: MassFound,
  fibre: Pick<FibreRow, 'arealMassMgPerM2' | 'widthMm' | 'putUpMassMg' | 'regainPpm' | 'name'>,
): number {
  switch (mass.found) {
    case 'weighedDry':
    case 'stated':
      return mass.massMg / 1000;
    case 'weighedDamp': {
      if (fibre.regainPpm === null)
        throw new CalcError(
          'missing',
          'massFound',
          `${fibre.name} has no regain on its page, and damp goods need one.`,
        );
      const regainPct = fibre.regainPpm / 10_000;
      const dampMassG = mass.dampMassMg / 1000;
      return mass.moisture.kind === 'known'
        ? goodsDryMassGOfDamp({ dampMassG, actualRegainPct: mass.moisture.waterPpmOfDry / 10_000, regainPct })
        : goodsDryMassGOfDriedSample({
            dampMassG,
            sampleDampMassG: mass.moisture.dampSampleMg / 1000,
            sampleDryMassG: mass.moisture.drySampleMg / 1000,
            sampleDriedTo: mass.moisture.driedTo,
            regainPct,
          });
    }
    case 'fromArea': {
      if (fibre.arealMassMgPerM2 === null)
        throw new CalcError('missing', 'massFound', `${fibre.name} has no g/m² on its page: weigh the goods instead.`);
      const widthMm = mass.widthMm ?? fibre.widthMm;
      if (widthMm === null)
        throw new CalcError('missing', 'width', `${fibre.name} has no width on its page: type one.`);
      return (
        clothMassG({
          arealMassGPerM2: fibre.arealMassMgPerM2 / 1000,
          lengthM: mass.lengthMm / 1000,
          widthM: widthMm / 1000,
        }) * mass.pieces
      );
    }
    case 'fromPutUps': {
      if (fibre.putUpMassMg === null)
        throw new CalcError(
          'missing',
          'massFound',
          `${fibre.name} has no put-up mass on its page: weigh the goods instead.`,
        );
      return putUpsMassG({ count: mass.count, putUpMassG: fibre.putUpMassMg / 1000 });
    }
  }
}
