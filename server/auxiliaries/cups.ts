import { scoopMassG } from '../calc/bath.ts';
import { nearestInteger } from '../calc/rounding.ts';
import { millilitresPerCupUS } from '../calc/units.ts';

interface Powder {
  form: 'solid' | 'liquid';
  bulkDensityGPerL: number | null;
}

/** Mass of a scoop of a powder, whole mg. Throws CalcError('missing', 'bulkDensity') while its grade's bulk density is not known. */
export const scoopMassMg = (powder: Powder, volumeUl: number): number =>
  nearestInteger({
    value: 1000 * scoopMassG({ volumeMl: volumeUl / 1000, bulkDensityKgPerM3: powder.bulkDensityGPerL ?? undefined }),
    field: 'scoop',
  });

/** One US cup of it; null for a liquid, and for a powder whose bulk density is not known. */
export const cupMassMg = (powder: Powder): number | null =>
  powder.form === 'liquid' || powder.bulkDensityGPerL === null ? null : scoopMassMg(powder, 1000 * millilitresPerCupUS);
