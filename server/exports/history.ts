import { unitCostMinorPerGoodPiece } from '../calc/cost.ts';
import {
  type CalledNames,
  type ClosedLot,
  type ClosedLotFilter,
  type ClosedLotKey,
  type ClosedLotSums,
  type CostLineOfLot,
  closedLotKeysAfter,
  closedLotSums,
  closedLotsAfter,
  closedLotsBefore,
  costLinesBetween,
  type LotCosts,
  type LotKey,
} from '../costing/queries.ts';
import { type PartOfLot, partsOfLots, takesParts } from '../costing/split.ts';
import type { Db } from '../db/open.ts';
import { found } from '../errors.ts';
import type { BatchHistoryLot } from './schemas.ts';

/** What a lot cost, by sort. Material is dye, auxiliaries and goods. */
export interface LotCost {
  materialMinor: number;
  labourMinor: number;
  overheadMinor: number;
  otherMinor: number;
  totalMinor: number;
}

export interface HistoryLot extends ClosedLot, LotCost {
  /** How much of the lot the row is: less than 1 000 000 where a customer or an order is asked for and others share the lot. */
  sharePpm: number;
  /** Minor units, unrounded; null when no piece is good, or corrections took more than was spent. */
  unitCostMinor: number | null;
}

export interface HistoryCostLine {
  line: CostLineOfLot;
  sharePpm: number;
  lot: ClosedLotKey;
}

const costOf = (sums: LotCosts): LotCost => {
  const materialMinor = sums.dyeMinor + sums.auxiliaryMinor + sums.goodsMinor;
  const { labourMinor, overheadMinor, otherMinor } = sums;
  return {
    materialMinor,
    labourMinor,
    overheadMinor,
    otherMinor,
    totalMinor: materialMinor + labourMinor + overheadMinor + otherMinor,
  };
};

function unitCostOf(lot: ClosedLot, cost: LotCost): number | null {
  const { materialMinor, labourMinor, overheadMinor, otherMinor } = cost;
  const materialsMinor = materialMinor + otherMinor;
  if (!lot.firstQuality || materialsMinor < 0 || labourMinor < 0 || overheadMinor < 0) return null;
  return unitCostMinorPerGoodPiece({
    materialsMinor,
    labourMinor,
    overheadMinor,
    reworkMinor: 0,
    secondsNetValueMinor: lot.secondsValueMinor ?? 0,
    goodCount: lot.firstQuality,
  });
}

/** What is counted of a lot and summed over many. */
const SUMMED = [
  'estimateMinor',
  'firstQuality',
  'dyeMinor',
  'auxiliaryMinor',
  'goodsMinor',
  'labourMinor',
  'overheadMinor',
  'otherMinor',
  'wastedMinor',
] as const satisfies readonly (keyof ClosedLot & keyof ClosedLotSums)[];
/** What is counted of a lot, and so is shared out with it. */
const COUNTED = [
  'pieces',
  'dryMassMg',
  'seconds',
  'rework',
  'scrap',
  'secondsValueMinor',
  ...SUMMED,
] as const satisfies readonly (keyof ClosedLot)[];

function partOf(lot: ClosedLot, { of }: PartOfLot): ClosedLot {
  const part = { ...lot };
  for (const key of COUNTED) {
    const whole = lot[key];
    if (whole !== null) part[key] = of(whole);
  }
  return part;
}

/** Lots with their costs; of a lot that others share, the part of the customer or order that is asked for. */
function withCosts(db: Db, filter: ClosedLotFilter, lots: readonly ClosedLot[]): HistoryLot[] {
  const parts = partsOfLots(
    db,
    filter,
    lots.map((lot) => lot.lotId),
  );
  return lots.map((whole) => {
    const part = parts.get(whole.lotId);
    const lot = part ? partOf(whole, part) : whole;
    const cost = costOf(lot);
    return { ...lot, ...cost, sharePpm: part?.sharePpm ?? 1_000_000, unitCostMinor: unitCostOf(lot, cost) };
  });
}

/** A page of closed lots with their costs, newest first. */
export const historyPage = (db: Db, filter: ClosedLotFilter, before: LotKey | null, limit: number): HistoryLot[] =>
  withCosts(db, filter, closedLotsBefore(db, filter, before, limit));

/** A page of closed lots with their costs, oldest first. */
export const lotsPage = (db: Db, filter: ClosedLotFilter, after: LotKey | null, limit: number): HistoryLot[] =>
  withCosts(db, filter, closedLotsAfter(db, filter, after, limit));

/** The cost lines of a page of closed lots, oldest lot first, and the lot at which the page ends. Two statements. */
export function costLinesPage(
  db: Db,
  filter: ClosedLotFilter,
  after: LotKey | null,
  limit: number,
  names: CalledNames,
): { lines: HistoryCostLine[]; last: LotKey | null } {
  const lots = closedLotKeysAfter(db, filter, after, limit);
  const last = lots.at(-1);
  if (last === undefined) return { lines: [], last: null };
  const byId = new Map(lots.map((lot) => [lot.lotId, lot]));
  const parts = partsOfLots(db, filter, [...byId.keys()]);
  const mine = lineSplitter(parts);
  const lines = costLinesBetween(db, filter, { after, last }, names).map((line) => ({
    line: mine(line),
    sharePpm: parts.get(line.lotId)?.sharePpm ?? 1_000_000,
    lot: found(byId.get(line.lotId), 'lot'),
  }));
  return { lines, last };
}

/** Cost lines as the part that is asked for. A line is what the part of the lines up to it is more than that of the lines before:
 *  so the parts of everybody add to the line, and the lines of one kind to the part of that kind that Costing shows. */
function lineSplitter(parts: ReadonlyMap<number, PartOfLot>): (line: CostLineOfLot) => CostLineOfLot {
  const soFar = new Map<string, number>();
  return (line) => {
    const part = parts.get(line.lotId);
    if (!part) return line;
    const key = `${line.lotId}:${line.kind}`;
    const before = soFar.get(key) ?? 0;
    const after = before + line.costMinor;
    soFar.set(key, after);
    return { ...line, quantity: part.of(line.quantity), costMinor: part.of(after) - part.of(before) };
  };
}

/** Sums over everything that a filter finds. */
export function historyTotals(
  db: Db,
  filter: ClosedLotFilter,
): LotCost & { lots: number; firstQuality: number; estimateMinor: number } {
  const whole = closedLotSums(db, filter);
  const { lots, firstQuality, estimateMinor, ...sums } = takesParts(filter) ? sumsOfParts(db, filter, whole) : whole;
  return { lots, firstQuality, estimateMinor, ...costOf(sums) };
}

const LOTS_A_READ = 500;

/** The same sums, of the part of each lot that is asked for. */
function sumsOfParts(db: Db, filter: ClosedLotFilter, whole: ClosedLotSums): ClosedLotSums {
  const sums = { ...whole };
  for (let after: LotKey | null = null; ; ) {
    const lots: ClosedLot[] = closedLotsAfter(db, filter, after, LOTS_A_READ);
    const parts = partsOfLots(
      db,
      filter,
      lots.map((lot) => lot.lotId),
    );
    for (const lot of lots) {
      const part = parts.get(lot.lotId);
      if (!part) continue;
      for (const key of SUMMED) {
        const counted = lot[key] ?? 0;
        sums[key] -= counted - part.of(counted);
      }
    }
    if (lots.length < LOTS_A_READ) return sums;
    after = lots.at(-1) ?? null;
  }
}

const LOTS_A_SCREEN = 100;

export const keyOf = (after: string | undefined): LotKey | null => {
  if (after === undefined) return null;
  const [finishedAt, lotId] = after.split('.').map(Number);
  return { finishedAt: finishedAt ?? 0, lotId: lotId ?? 0 };
};

/** One screen of lots, and where the next begins if there is one. */
export function screenOf(
  db: Db,
  filter: ClosedLotFilter,
  before: LotKey | null,
): { lots: BatchHistoryLot[]; next: string | null } {
  const read = historyPage(db, filter, before, LOTS_A_SCREEN + 1);
  const lots = read.slice(0, LOTS_A_SCREEN).map((lot) => ({ ...lot, finishedOn: lot.closedOn }));
  const last = lots.at(-1);
  return { lots, next: read.length > lots.length && last ? `${last.finishedAt}.${last.lotId}` : null };
}
