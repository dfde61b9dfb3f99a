import { nearestInteger } from '../calc/rounding.ts';
import { stockMassG, stockVolumeMlOfMass } from '../calc/stockSolution.ts';
import type { Db } from '../db/open.ts';
import type { StockLotRow } from '../db/tables/stock.ts';
import { invalid } from '../errors.ts';
import { makingsFrom, moneySince } from './queries.ts';

/** Powder for so much solution of a strength, whole mg. */
export const powderMassMg = (wanted: { volumeUl: number; concPpm: number }): number =>
  nearestInteger({
    value: 1000 * stockMassG({ volumeMl: wanted.volumeUl / 1000, stockStrengthPct: wanted.concPpm / 10_000 }),
    field: 'volume',
  });

/** What to make a weighed powder up to, so that the strength is exactly what it says on the label: the water is adjusted to
 *  the powder, since weighed powder does not go back into the jar. */
export const makeUpVolumeUl = (weighed: { massMg: number; concPpm: number }): number =>
  nearestInteger({
    value: 1000 * stockVolumeMlOfMass({ massG: weighed.massMg / 1000, stockStrengthPct: weighed.concPpm / 10_000 }),
    field: 'mass',
  });

/** Further off than this is no inaccuracy of weighing but a slip of the keys: 50 g for 5 g. */
const FARTHEST = 1.25;
const farOff = (ratio: number): boolean => ratio > FARTHEST || ratio < 1 / FARTHEST;

/** The solution that comes of it: by default made up to the exact strength; made up to another volume, its strength is what
 *  the powder makes of that. Refuses a strength far from the one wanted, and a mass that is none for the volume wanted. */
export function preparedSolution(input: {
  massMg: number;
  concPpm: number;
  madeUpUl: number | null;
  wantedUl: number | null;
}): { volumeUl: number; concPpm: number } {
  const exactUl = makeUpVolumeUl(input);
  if (input.madeUpUl === null && input.wantedUl !== null && farOff(exactUl / input.wantedUl)) {
    throw invalid({
      mass: `${input.massMg / 1000} g makes ${exactUl / 1000} mL of ${input.concPpm / 10_000} % solution, not ${input.wantedUl / 1000} mL. Check what was typed.`,
    });
  }
  if (input.madeUpUl === null || input.madeUpUl === exactUl) return { volumeUl: exactUl, concPpm: input.concPpm };
  const ratio = exactUl / input.madeUpUl;
  if (farOff(ratio)) {
    const gotPct = Number(((input.concPpm * ratio) / 10_000).toPrecision(3));
    throw invalid({
      madeUpTo: `That makes ${gotPct} % instead of ${input.concPpm / 10_000} %. Check mass and volume, or ask for another strength.`,
    });
  }
  return { volumeUl: input.madeUpUl, concPpm: nearestInteger({ value: input.concPpm * ratio, field: 'mass' }) };
}

/** What goes over from a jar with the powder of a solution, in whole minor units: its share of what the jar cost, rounded up or
 *  down so that all solutions of the jar together are what their powder cost. Ten of 0.4 g at 1 c a gram are 4 c and not nothing. */
export function priceOfSolution(
  db: Db,
  source: Pick<StockLotRow, 'id' | 'priceMinor' | 'freightMinor' | 'receivedQuantity'>,
  massMg: number,
  at: number,
): number {
  // Over the quantity received, as whole numbers: a sum of fractions would itself be off.
  const received = BigInt(source.receivedQuantity);
  const exact = (making: { at: number; massMg: number }): bigint =>
    BigInt(source.priceMinor + source.freightMinor + moneySince(db, source.id, making.at)) * BigInt(making.massMg);
  const mine = exact({ at, massMg });
  const before = makingsFrom(db, source.id);
  const booked = before.reduce((sum, m) => sum + BigInt(m.priceMinor), 0n);
  const total = before.reduce((sum, m) => sum + exact(m), mine);
  const carried = (2n * total + received) / (2n * received) - booked;
  const [least, most] = [mine / received, (mine + received - 1n) / received];
  return Number(carried < least ? least : carried > most ? most : carried);
}
