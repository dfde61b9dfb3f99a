import { scoopMassG, soakConcGPerL } from '../calc/bath.ts';
import { CalcError } from '../calc/calcError.ts';
import { concGPerLOf, massMgOf, numberOfText, pctPpmOf, volumeUlOf } from '../calc/quantity.ts';
import { nearestInteger } from '../calc/rounding.ts';
import type { AuxiliaryRow } from '../db/tables/materials.ts';
import type { MethodAuxiliaryRow } from '../db/tables/recipes.ts';

type Auxiliary = Pick<AuxiliaryRow, 'name' | 'form' | 'bulkDensityGPerL' | 'solutionConcPpm'>;
const field = 'amount';

/** A typed amount of an auxiliary in thousandths of the unit of its basis (% owg, g/L, mL/L, g, mL).
 *  "1 cup/gal" or "2 tbsp" of a powder becomes a mass only by the bulk density of the grade in the jar; without one it is refused,
 *  since light and dense grades differ by nearly twice. Throws CalcError('amount'). */
export function amountMilliOf(input: {
  text: string;
  basis: MethodAuxiliaryRow['basis'];
  auxiliary: Auxiliary;
}): number {
  const { text, basis, auxiliary } = input;
  const milli = nearestInteger({ value: amountOf(text, basis, auxiliary) * 1000, field });
  if (milli <= 0) throw new CalcError('outOfRange', field, 'More than nothing, please.');
  return milli;
}

function amountOf(text: string, basis: MethodAuxiliaryRow['basis'], auxiliary: Auxiliary): number {
  switch (basis) {
    case 'owg':
      return pctPpmOf({ text, field }) / 10_000;
    case 'gPerL':
      return concentration(text, auxiliary);
    case 'mlPerL': {
      demandLiquid(auxiliary);
      const ratio = ratioOf(text);
      if (ratio === null) return numberOfText({ text: text.replace(/\s*ml$/i, ''), field });
      return (1000 * volumeMlOf(ratio.of)) / volumeMlOf(ratio.per);
    }
    case 'fixedMass':
      return mass(text, auxiliary);
    case 'fixedVolume':
      demandLiquid(auxiliary);
      return volumeMlOf(text, 'mL');
  }
}

/** g/L: a printed concentration, a mass per volume, or scoops per volume. */
function concentration(text: string, auxiliary: Auxiliary): number {
  const ratio = ratioOf(text);
  try {
    return concGPerLOf({ text, defaultUnit: 'gPerL', volumeSystem: 'US', field });
  } catch (error) {
    if (ratio === null) throw error;
  }
  const waterVolumeMl = volumeMlOf(ratio.per);
  if (isVolume(ratio.of)) {
    return soakConcGPerL({
      scoopVolumeMl: volumeMlOf(ratio.of),
      bulkDensityKgPerM3: scooped(auxiliary),
      waterVolumeMl,
    });
  }
  return massMgOf({ text: ratio.of, field }) / waterVolumeMl;
}

function mass(text: string, auxiliary: Auxiliary): number {
  return isVolume(text)
    ? scoopMassG({ volumeMl: volumeMlOf(text), bulkDensityKgPerM3: scooped(auxiliary) })
    : massMgOf({ text, defaultUnit: 'g', field }) / 1000;
}

function scooped(auxiliary: Auxiliary): number {
  if (auxiliary.form === 'liquid') {
    throw new CalcError('mismatch', field, `${auxiliary.name} is a liquid: choose mL/L or a volume for it.`);
  }
  if (auxiliary.bulkDensityGPerL === null) {
    throw new CalcError(
      'missing',
      field,
      `A cup of ${auxiliary.name} has no mass until the grade in the jar is known: light and dense grades differ by nearly twice. Put the bulk density on its page, or type grams.`,
    );
  }
  return auxiliary.bulkDensityGPerL;
}

/** Volumes are for liquids, and for solids that the studio keeps in solution. */
function demandLiquid(auxiliary: Auxiliary): void {
  if (auxiliary.form === 'solid' && auxiliary.solutionConcPpm === null) {
    throw new CalcError(
      'mismatch',
      field,
      `${auxiliary.name} is a solid: choose % of goods, g/L or a mass (cups and spoons are read there too), or say on its page that you keep it in solution.`,
    );
  }
}

/** "1 cup/gal", "½ cup per gallon", "5 mL/L": both sides; null when there is only one. */
function ratioOf(text: string): { of: string; per: string } | null {
  const [, of, per] = /^(.*[^\s\d].*?)\s*(?:\/|\bper\b)\s*([^/]*[a-z][^/]*)$/i.exec(text.trim()) ?? [];
  return of === undefined || per === undefined ? null : { of, per: /^\d/.test(per) ? per : `1 ${per}` };
}

const volumeMlOf = (text: string, defaultUnit?: 'mL'): number => {
  const volumeUl = volumeUlOf({ text, defaultUnit, volumeSystem: 'US', field });
  if (volumeUl === 0) throw new CalcError('outOfRange', field, 'More than nothing, please.');
  return volumeUl / 1000;
};

function isVolume(text: string): boolean {
  try {
    volumeUlOf({ text, volumeSystem: 'US', field });
    return true;
  } catch {
    return false;
  }
}
