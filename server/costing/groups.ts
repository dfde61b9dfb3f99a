import { setImmediate as nextTurn } from 'node:timers/promises';
import { allocatedMinor, unitCostMinorPerGoodPiece } from '../calc/cost.ts';
import type { Db } from '../db/open.ts';
import {
  type ClosedLotFilter,
  type ColourOfLot,
  type CostedLot,
  coloursOfLots,
  costedLots,
  type LotForLine,
  type LotKey,
  linesOfLots,
} from './queries.ts';
import { type CostKind, costKinds, type Grouping } from './schemas.ts';

/** What a lot, or the part of it that belongs to a group, cost. Every number is whole: parts of a lot add to the lot. */
export interface Costs {
  byKind: Record<CostKind, number>;
  totalMinor: number;
  estimateMinor: number;
  dryMassMg: number;
  goodPieces: number;
  secondsValueMinor: number;
}

export interface LotPart extends Costs {
  lot: CostedLot;
  /** Part of the lot that is in the group, ppm; 1 000 000 for the whole. */
  sharePpm: number;
}

export interface CostGroup extends Costs {
  key: string;
  /** As its newest lot was closed under. */
  label: string;
  /** What that is called now. */
  labelNow: string;
  lotCount: number;
  /** Of the groups whose lots were asked for; none of the others. */
  lots: LotPart[];
}

export const nothingSpent = (): Costs => ({
  byKind: { dye: 0, auxiliary: 0, goods: 0, labour: 0, overhead: 0, other: 0 },
  totalMinor: 0,
  estimateMinor: 0,
  dryMassMg: 0,
  goodPieces: 0,
  secondsValueMinor: 0,
});

function add(to: Costs, from: Costs): void {
  for (const kind of costKinds) to.byKind[kind] += from.byKind[kind];
  to.totalMinor += from.totalMinor;
  to.estimateMinor += from.estimateMinor;
  to.dryMassMg += from.dryMassMg;
  to.goodPieces += from.goodPieces;
  to.secondsValueMinor += from.secondsValueMinor;
}

/** Cost of a kilogram of dry goods, minor units, unrounded; null of nothing. */
export const perKg = (costs: Pick<Costs, 'totalMinor' | 'dryMassMg'>): number | null =>
  costs.dryMassMg > 0 ? (costs.totalMinor * 1_000_000) / costs.dryMassMg : null;

/** Cost of a good piece, what the seconds bring taken off; null when none is good. Rework lots bring their cost and their good
 *  pieces into the group that they are in. */
export const perGoodPiece = (c: Pick<Costs, 'totalMinor' | 'goodPieces' | 'secondsValueMinor'>): number | null =>
  c.goodPieces > 0 && c.totalMinor >= 0
    ? unitCostMinorPerGoodPiece({
        materialsMinor: c.totalMinor,
        labourMinor: 0,
        overheadMinor: 0,
        reworkMinor: 0,
        secondsNetValueMinor: c.secondsValueMinor,
        goodCount: c.goodPieces,
      })
    : null;

interface Membership {
  key: string;
  label: string;
  labelNow: string;
  weight: number;
}

/** By what a lot that serves several order lines is shared out: the dry mass of the lines when every line says it, since the
 *  bath is shared by mass; else the pieces of each in the lot; else equally. Common practice. */
export function lineWeights(lines: readonly Pick<LotForLine, 'pieces' | 'lineDryMassMg'>[]): {
  by: 'mass' | 'pieces' | 'equally';
  weights: number[];
} {
  if (lines.every((l) => l.lineDryMassMg !== null))
    return { by: 'mass', weights: lines.map((l) => l.lineDryMassMg ?? 0) };
  if (lines.every((l) => l.pieces !== null)) return { by: 'pieces', weights: lines.map((l) => l.pieces ?? 0) };
  return { by: 'equally', weights: lines.map(() => 1) };
}

const byLot = <R extends { lotId: number }>(rows: readonly R[]): Map<number, R[]> => {
  const map = new Map<number, R[]>();
  for (const row of rows) {
    const list = map.get(row.lotId);
    if (list) list.push(row);
    else map.set(row.lotId, [row]);
  }
  return map;
};

/** In which groups each of these lots is, and with what weight; one that is in none is in the group ''. */
function membershipReader(db: Db, lots: readonly CostedLot[], by: Grouping) {
  const lotIds = lots.map((lot) => lot.lotId);
  const one = (key: string | number, label: string, labelNow = label): Membership[] => [
    { key: String(key), label, labelNow, weight: 1 },
  ];
  if (by === 'shade') {
    const colours = byLot<ColourOfLot>(coloursOfLots(db, lotIds));
    return (lot: CostedLot): Membership[] =>
      (colours.get(lot.lotId) ?? []).map((c) => ({
        key: String(c.recipeId),
        label: c.recipeName,
        labelNow: c.recipeNameNow,
        weight: c.sharePpm,
      }));
  }
  if (by === 'order' || by === 'customer') {
    const lines = byLot<LotForLine>(linesOfLots(db, lotIds));
    return (lot: CostedLot): Membership[] => {
      const served = lines.get(lot.lotId) ?? [];
      const { weights } = lineWeights(served);
      return served.map((l, i) => ({
        key: String(by === 'order' ? l.orderId : l.customerId),
        label: by === 'order' ? `${l.orderNumber}, ${l.customerName}` : l.customerName,
        labelNow: by === 'order' ? `${l.orderNumberNow}, ${l.customerNameNow}` : l.customerNameNow,
        weight: weights[i] ?? 0,
      }));
    };
  }
  return (lot: CostedLot): Membership[] => {
    if (by === 'method') return one(lot.methodId, lot.methodName, lot.methodNameNow);
    if (by === 'fibre') return one(lot.fibreId, lot.fibreName, lot.fibreNameNow);
    if (by === 'month') {
      const month = lot.closedOn.slice(0, 7);
      return one(month, month);
    }
    return one(lot.lotId, lot.number);
  };
}

const wholeLot = (lot: CostedLot): Costs => ({
  byKind: {
    dye: lot.dyeMinor,
    auxiliary: lot.auxiliaryMinor,
    goods: lot.goodsMinor,
    labour: lot.labourMinor,
    overhead: lot.overheadMinor,
    other: lot.otherMinor,
  },
  totalMinor: lot.dyeMinor + lot.auxiliaryMinor + lot.goodsMinor + lot.labourMinor + lot.overheadMinor + lot.otherMinor,
  estimateMinor: lot.estimateMinor,
  dryMassMg: lot.dryMassMg,
  goodPieces: lot.firstQuality,
  secondsValueMinor: lot.secondsValueMinor,
});

/** A lot's costs handed out by weights; each kind adds to the lot's. */
function shared(whole: Costs, weights: readonly number[]): Costs[] {
  const keys = weights.some((w) => w > 0) ? weights : weights.map(() => 1);
  const parts = weights.map(nothingSpent);
  const handOut = (totalMinor: number, give: (to: Costs, part: number) => void): void => {
    allocatedMinor({ totalMinor, keys }).forEach((part, i) => {
      const to = parts[i];
      if (to) give(to, part);
    });
  };
  for (const kind of costKinds) {
    handOut(whole.byKind[kind], (to, part) => {
      to.byKind[kind] = part;
      to.totalMinor += part;
    });
  }
  handOut(whole.estimateMinor, (to, part) => {
    to.estimateMinor = part;
  });
  handOut(whole.dryMassMg, (to, part) => {
    to.dryMassMg = part;
  });
  handOut(whole.goodPieces, (to, part) => {
    to.goodPieces = part;
  });
  handOut(whole.secondsValueMinor, (to, part) => {
    to.secondsValueMinor = part;
  });
  return parts;
}

/** Lots read at a time: some 10 ms, after which others get their turn. */
const LOTS_A_STRETCH = 1000;

/** Costs of the lots that a filter finds, by group; a lot of several groups is shared out so that the groups add to exactly
 *  the lots. Read in stretches, two statements each, so that thirty years do not stand in anybody's way; a lot is read whole. The lots
 *  themselves are kept of the groups that are asked for: of all they fill the memory.
 *  Groups come dearest first, months and lots by time. */
export async function costGroups(
  db: Db,
  filter: ClosedLotFilter,
  by: Grouping,
  lotsOf: (key: string) => boolean,
): Promise<{ groups: CostGroup[]; total: Costs; lotCount: number }> {
  const groups = new Map<string, CostGroup>();
  const total = nothingSpent();
  let lotCount = 0;
  for (let after: LotKey | null = null; ; await nextTurn()) {
    const lots: CostedLot[] = costedLots(db, filter, after, LOTS_A_STRETCH);
    const membersOf = membershipReader(db, lots, by);
    for (const lot of lots) {
      const whole = wholeLot(lot);
      add(total, whole);
      putInto(groups, lot, whole, membersOf(lot), lotsOf);
    }
    lotCount += lots.length;
    after = lots.at(-1) ?? null;
    if (lots.length < LOTS_A_STRETCH) break;
  }
  const list = [...groups.values()];
  if (by === 'month') list.sort((x, y) => (x.key < y.key ? -1 : 1));
  else if (by === 'lot') list.reverse();
  else list.sort((x, y) => Number(x.key === '') - Number(y.key === '') || y.totalMinor - x.totalMinor);
  return { groups: list, total, lotCount };
}

/** Adds a lot to the groups that it is in; to '' when to none. */
function putInto(
  groups: Map<string, CostGroup>,
  lot: CostedLot,
  whole: Costs,
  found: readonly Membership[],
  lotsOf: (key: string) => boolean,
): void {
  const merged = new Map<string, Membership>();
  for (const m of found) {
    const known = merged.get(m.key);
    if (known) known.weight += m.weight;
    else merged.set(m.key, { ...m });
  }
  const members = merged.size > 0 ? [...merged.values()] : [{ key: '', label: '', labelNow: '', weight: 1 }];
  const sum = members.reduce((t, m) => t + m.weight, 0);
  const parts =
    members.length === 1
      ? [whole]
      : shared(
          whole,
          members.map((m) => m.weight),
        );
  members.forEach(({ key, label, labelNow, weight }, i) => {
    const group = groups.get(key) ?? { key, label, labelNow, lotCount: 0, lots: [], ...nothingSpent() };
    group.label = label;
    const part = parts[i] ?? nothingSpent();
    group.lotCount += 1;
    if (lotsOf(key))
      group.lots.push({ ...part, lot, sharePpm: Math.round((1e6 * (sum > 0 ? weight : 1)) / (sum || members.length)) });
    add(group, part);
    groups.set(key, group);
  });
}
