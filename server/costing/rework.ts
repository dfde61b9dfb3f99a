import { passedPct, unitCostMinorPerGoodPiece } from '../calc/cost.ts';
import type { Db } from '../db/open.ts';
import type { Actor, Deps } from '../deps.ts';
import { found, invalid, notFound } from '../errors.ts';
import { lotById } from '../lots/queries.ts';
import { costedLotById, costSumsOf, insertRework, lotByNumber, reworksOf } from './queries.ts';
import type { Job } from './schemas.ts';

/** The cost of a lot and of every lot that dyed its pieces again, as one job.
 *  Source: IAS 2 Inventories, IASB (abnormal waste is expensed); unit cost, yield and right-first-time by definition. */
export function jobOf(db: Db, lotId: number): Job {
  const lot = found(costedLotById(db, lotId), 'closed lot');
  const reworks = reworksOf(db, lotId);
  const sums = costSumsOf(db, [lotId]);
  const ownMinor = sums.reduce((total, s) => total + s.costMinor, 0);
  const wastedMinor = sums.reduce((total, s) => total + s.wastedMinor, 0);
  const reworkMinor = reworks.reduce((total, r) => total + r.costMinor, 0);
  const secondsValueMinor = lot.secondsValueMinor + reworks.reduce((total, r) => total + r.secondsValueMinor, 0);
  const goodCount = lot.firstQuality + reworks.reduce((total, r) => total + r.firstQuality, 0);
  const startedCount = lot.firstQuality + lot.seconds + lot.rework + lot.scrap;
  const unitOf = (materialsMinor: number): number | null =>
    goodCount === 0 || materialsMinor < 0 || reworkMinor < 0
      ? null
      : unitCostMinorPerGoodPiece({
          materialsMinor,
          labourMinor: 0,
          overheadMinor: 0,
          reworkMinor,
          secondsNetValueMinor: secondsValueMinor,
          goodCount,
        });
  const share = (count: number): number | null =>
    startedCount === 0 ? null : passedPct({ passedCount: Math.min(count, startedCount), startedCount });
  return {
    reworks,
    reworkMinor,
    ownMinor,
    wastedMinor,
    secondsValueMinor,
    goodCount,
    startedCount,
    unitCostMinor: unitOf(ownMinor),
    stockUnitCostMinor: unitOf(ownMinor - wastedMinor),
    yieldPct: share(goodCount),
    rightFirstTimePct: share(lot.firstQuality),
  };
}

/** Notes that a lot dyed pieces of another lot again, by that lot's number; '' takes the note back. */
export function noteRework(deps: Deps, input: { lotId: number; ofNumber: string }, by: Actor): void {
  deps.db.transaction((tx) => {
    if (!lotById(tx, input.lotId)) throw notFound('lot');
    const number = input.ofNumber.trim();
    const of = number === '' ? null : lotByNumber(tx, number);
    if (of === undefined) throw invalid({ ofNumber: `There is no lot ${number}.` });
    if (of !== null) {
      if (of.id === input.lotId) throw invalid({ ofNumber: 'A lot does not dye its own pieces again.' });
      if (of.status !== 'finished') throw invalid({ ofNumber: `Lot ${of.number} is not finished yet.` });
      if (reworksOf(tx, input.lotId).some((r) => r.lotId === of.id))
        throw invalid({ ofNumber: `Lot ${of.number} is itself rework of this one.` });
      const left = costedLotById(tx, of.id)?.rework ?? 0;
      if (left === 0) throw invalid({ ofNumber: `By its outcome lot ${of.number} left no pieces to be dyed again.` });
    }
    insertRework(tx, { reworkLotId: input.lotId, ofLotId: of?.id ?? null, notedAt: deps.now(), notedBy: by.personId });
  });
}
