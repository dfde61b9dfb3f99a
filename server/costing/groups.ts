import { setImmediate as nextTurn } from 'node:timers/promises';
import { unitCostMinorPerGoodPiece } from '../calc/cost.ts';
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
import { byLot, lineWeights, type PartOfLot, partsOfLots, sharedOut } from './split.ts';

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
  // Each by its name: this is done for every lot, and going through the kinds took longer than all the rest of it.
  to.byKind.dye += from.byKind.dye;
  to.byKind.auxiliary += from.byKind.auxiliary;
  to.byKind.goods += from.byKind.goods;
  to.byKind.labour += from.byKind.labour;
  to.byKind.overhead += from.byKind.overhead;
  to.byKind.other += from.byKind.other;
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

/** In which groups each of these lots is, and with what weight; one that is in none is in the group ''. */
function membershipReader(db: Db, lots: readonly CostedLot[], by: Grouping, asked: ReadonlyMap<number, PartOfLot>) {
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
      const part = asked.get(lot.lotId);
      const served = part?.lines ?? lines.get(lot.lotId) ?? [];
      const weights = part?.weights ?? lineWeights(served).weights;
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
  const parts = weights.map(nothingSpent);
  const handOut = (totalMinor: number, give: (to: Costs, part: number) => void): void => {
    sharedOut(totalMinor, weights).forEach((part, i) => {
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
    const asked = partsOfLots(
      db,
      filter,
      lots.map((lot) => lot.lotId),
    );
    const membersOf = membershipReader(db, lots, by, asked);
    for (const lot of lots) {
      const part = asked.get(lot.lotId);
      const whole = part ? ofPart(wholeLot(lot), part) : wholeLot(lot);
      add(total, whole);
      putInto(groups, lot, { whole, sharePpm: part?.sharePpm ?? 1_000_000 }, membersOf(lot), lotsOf);
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

/** The part of a lot's costs that is asked for, each kind in whole minor units. */
function ofPart(whole: Costs, { of }: PartOfLot): Costs {
  const byKind = { ...whole.byKind };
  for (const kind of costKinds) byKind[kind] = of(byKind[kind]);
  return {
    byKind,
    totalMinor: costKinds.reduce((sum, kind) => sum + byKind[kind], 0),
    estimateMinor: of(whole.estimateMinor),
    dryMassMg: of(whole.dryMassMg),
    goodPieces: of(whole.goodPieces),
    secondsValueMinor: of(whole.secondsValueMinor),
  };
}

/** Adds a lot to the groups that it is in; to '' when to none. It is shared out by its order lines, or its colours, and what
 *  several of them have in common is their sum. */
function putInto(
  groups: Map<string, CostGroup>,
  lot: CostedLot,
  { whole, sharePpm }: { whole: Costs; sharePpm: number },
  found: readonly Membership[],
  lotsOf: (key: string) => boolean,
): void {
  const members = found.length > 0 ? found : [{ key: '', label: '', labelNow: '', weight: 1 }];
  const weights = members.map((m) => m.weight);
  const parts = members.length === 1 ? [whole] : shared(whole, weights);
  const ppm = sharedOut(sharePpm, weights);
  const merged = new Map<string, { label: string; labelNow: string; part: Costs; sharePpm: number }>();
  members.forEach(({ key, label, labelNow }, i) => {
    const sum = merged.get(key) ?? { label, labelNow, part: nothingSpent(), sharePpm: 0 };
    add(sum.part, parts[i] ?? nothingSpent());
    sum.sharePpm += ppm[i] ?? 0;
    merged.set(key, sum);
  });
  for (const [key, { label, labelNow, part, sharePpm: ppmOfGroup }] of merged) {
    const group = groups.get(key) ?? { key, label, labelNow, lotCount: 0, lots: [], ...nothingSpent() };
    group.label = label;
    group.lotCount += 1;
    if (lotsOf(key)) group.lots.push({ ...part, lot, sharePpm: ppmOfGroup });
    add(group, part);
    groups.set(key, group);
  }
}
