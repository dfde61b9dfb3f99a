import { costChangePerKg, roundedParts } from '../calc/costChange.ts';
import { depthsDyed } from '../closings/asDyed.ts';
import type { Db } from '../db/open.ts';
import { invalid, notFound } from '../errors.ts';
import { costPartsOf, costSumsOf, type LotCostPart, type LotOfShade, lotsOfRecipe, recipeNameOf } from './queries.ts';
import { type CostKind, costKinds, type ShadeCost } from './schemas.ts';

export interface ShadeLot extends LotOfShade {
  dyedDepthPpm: number;
  /** Minor units a kilogram of goods, unrounded. */
  perKgByKind: Record<CostKind, number>;
  perKg: number;
  totalMinor: number;
}

type Change = NonNullable<ShadeCost['change']>;
type ChangeLine = Change['lines'][number];

/** Whole minor units a kilogram; over all lines the effects add to the difference exactly. */
type CostChange = Change & { earlier: ShadeLot; later: ShadeLot };

const LOTS_SHOWN = 24;

/** What a shade has cost, lot by lot. */
export function shadeSeries(db: Db, recipeId: number): { name: string; lots: ShadeLot[] } {
  const name = recipeNameOf(db, recipeId);
  if (name === undefined) throw notFound('recipe');
  const lots = lotsOfRecipe(db, recipeId, LOTS_SHOWN);
  const lotIds = lots.map((l) => l.lotId);
  const sums = costSumsOf(db, lotIds);
  const depths = new Map(depthsDyed(db, lotIds).map((d) => [d.lotColourId, d.dyedPpm]));
  return {
    name,
    lots: lots.map((lot) => {
      const own = sums.filter((s) => s.lotId === lot.lotId);
      const kg = lot.dryMassMg / 1e6;
      const perKgOf = (kind: CostKind): number => (own.find((s) => s.kind === kind)?.costMinor ?? 0) / kg;
      const perKgByKind = {
        dye: perKgOf('dye'),
        auxiliary: perKgOf('auxiliary'),
        goods: perKgOf('goods'),
        labour: perKgOf('labour'),
        overhead: perKgOf('overhead'),
        other: perKgOf('other'),
      };
      const totalMinor = own.reduce((t, s) => t + s.costMinor, 0);
      return {
        ...lot,
        dyedDepthPpm: depths.get(lot.lotColourId) ?? lot.depthPpm,
        perKgByKind,
        totalMinor,
        perKg: totalMinor / kg,
      };
    }),
  };
}

const keyOf = (p: LotCostPart): string => `${p.kind}:${p.itemId ?? ''}:${p.unit}`;

/** Why a kilogram cost more, or less, in one lot than in another, to the minor unit. */
export function changeBetween(db: Db, lots: readonly ShadeLot[], earlierId: number, laterId: number): CostChange {
  const earlier = lots.find((l) => l.lotId === earlierId);
  const later = lots.find((l) => l.lotId === laterId);
  if (!earlier) throw invalid({ earlier: 'Choose a lot of this shade.' });
  if (!later) throw invalid({ later: 'Choose a lot of this shade.' });
  const parts = costPartsOf(db, [earlierId, laterId]);
  const of = (lotId: number) => parts.filter((p) => p.lotId === lotId).map((p) => ({ ...p, key: keyOf(p) }));
  const change = costChangePerKg({
    earlier: { dryMassG: earlier.dryMassMg / 1000, parts: of(earlierId) },
    later: { dryMassG: later.dryMassMg / 1000, parts: of(laterId) },
  });
  const earlierMinorPerKg = Math.round(change.earlierPerKg);
  const laterMinorPerKg = Math.round(change.laterPerKg);
  const differenceMinor = laterMinorPerKg - earlierMinorPerKg;
  const rounded =
    change.effects.length === 0
      ? []
      : roundedParts({
          parts: change.effects.flatMap((e) => [e.priceEffect, e.quantityEffect]),
          total: differenceMinor,
        });
  const lines = change.effects.map((effect, i): ChangeLine => {
    const [kind = 'other', , unit = 'piece'] = effect.key.split(':') as [CostKind, string, LotCostPart['unit']];
    const quantityPerKg = (lot: ShadeLot): number =>
      (parts.find((p) => p.lotId === lot.lotId && keyOf(p) === effect.key)?.quantity ?? 0) / (lot.dryMassMg / 1e6);
    return {
      kind,
      label: parts.find((p) => keyOf(p) === effect.key)?.label ?? '',
      unit,
      earlierQuantityPerKg: quantityPerKg(earlier),
      laterQuantityPerKg: quantityPerKg(later),
      priceEffectMinor: rounded[2 * i] ?? 0,
      quantityEffectMinor: rounded[2 * i + 1] ?? 0,
    };
  });
  lines.sort((x, y) => costKinds.indexOf(x.kind) - costKinds.indexOf(y.kind));
  return { earlier, later, earlierMinorPerKg, laterMinorPerKg, differenceMinor, lines };
}
