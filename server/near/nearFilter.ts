import { dyeMassG } from '../calc/dyeMass.ts';
import type { Db } from '../db/open.ts';
import { type DepthsKept, type LibraryGoods, libraryGoods } from './library.ts';
import { formulaDyes, formulaTraits, lossOfMethods, powderInStock, uptakeOfFibres } from './queries.ts';

/** Which swatches a search may find. */
export interface NearFilter {
  fibreId?: number | undefined;
  methodId?: number | undefined;
  dyeClass?: string | undefined;
  depth?: 'pale' | 'medium' | 'deep' | undefined;
  /** Only those whose dyes are in stock for so much of their goods. */
  inStockForMassMg?: number | undefined;
}

type Range = readonly [number, number];
const ALL: Range = [0, Number.POSITIVE_INFINITY];

const meet = (one: Range, other: Range): Range | null => {
  const least = Math.max(one[0], other[0]);
  const most = Math.min(one[1], other[1]);
  return least <= most ? [least, most] : null;
};

/** The depths that the filter keeps of each goods in the library; undefined when it keeps all. */
export function depthsKept(db: Db, filter: NearFilter): DepthsKept | undefined {
  const { fibreId, methodId, dyeClass, depth, inStockForMassMg } = filter;
  const asked = [fibreId, methodId, dyeClass, depth, inStockForMassMg];
  if (asked.every((v) => v === undefined)) return undefined;
  const traits = new Map(
    dyeClass === undefined && depth === undefined ? [] : formulaTraits(db).map((t) => [t.revisionId, t]),
  );
  const deepest = inStockForMassMg === undefined ? undefined : deepestInStock(db, inStockForMassMg);
  return libraryGoods(db).map((goods) => {
    const trait = traits.get(goods.revisionId);
    if (fibreId !== undefined && goods.fibreId !== fibreId) return null;
    if (methodId !== undefined && goods.methodId !== methodId) return null;
    if (dyeClass !== undefined && trait?.dyeClass !== dyeClass) return null;
    let kept: Range | null = ALL;
    if (depth !== undefined && trait !== undefined) {
      const bands: Record<typeof depth, Range> = {
        // Borders lie half-way between a dye's bands and may fall on half a ppm; depths are whole ppm.
        pale: [0, Math.floor(trait.paleToPpm)],
        medium: [Math.floor(trait.paleToPpm) + 1, Math.ceil(trait.deepFromPpm) - 1],
        deep: [trait.deepFromPpm, Number.POSITIVE_INFINITY],
      };
      kept = bands[depth];
    }
    return deepest === undefined ? kept : meet(kept, [0, deepest(goods)]);
  });
}

/** The deepest depth (ppm) for which the powder in usable containers lasts, all containers of a dye together. The mass of dye
 *  grows in step with the depth, so the scarcest dye decides. */
function deepestInStock(db: Db, massMg: number): (goods: LibraryGoods) => number {
  const inStock = new Map(powderInStock(db).map((p) => [p.dyeId, p.standardMg]));
  const uptake = new Map(uptakeOfFibres(db).map((f) => [f.id, f.uptakePpm]));
  const loss = new Map(lossOfMethods(db).map((m) => [m.id, m.lossPpm]));
  const dyes = new Map<number, { dyeId: number; sharePpm: number }[]>();
  for (const { revisionId, ...dye } of formulaDyes(db)) dyes.set(revisionId, [...(dyes.get(revisionId) ?? []), dye]);
  return (goods) =>
    Math.min(
      ...(dyes.get(goods.revisionId) ?? []).map(({ dyeId, sharePpm }) => {
        const mgAtOnePct =
          1000 *
          dyeMassG({
            goodsDryMassG: massMg / 1000,
            depthPct: 1,
            sharePct: sharePpm / 10_000,
            coverageFactor: 1,
            lossFactor: (loss.get(goods.methodId) ?? 0) / 1e6,
            uptakeFactor: (uptake.get(goods.fibreId) ?? 1e6) / 1e6,
            strengthPct: 100,
          });
        return (10_000 * (inStock.get(dyeId) ?? 0)) / mgAtOnePct;
      }),
    );
}
