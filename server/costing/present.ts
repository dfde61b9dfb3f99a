import { GROUPING_WORDS } from '../../views/costing/costs.ts';
import type { Db } from '../db/open.ts';
import type { CostLineRow } from '../db/tables/lots.ts';
import { type CostGroup, type Costs, perGoodPiece, perKg } from './groups.ts';
import { costLinesOf } from './queries.ts';
import type { Grouping, WrittenLines } from './schemas.ts';

const monthName = (month: string): string =>
  new Intl.DateTimeFormat('en-GB', { timeZone: 'UTC', month: 'long', year: 'numeric' }).format(
    Date.parse(`${month}-01T00:00:00Z`),
  );

/** A group's name on a page. */
export const labelOf = (by: Grouping, g: Pick<CostGroup, 'key' | 'label'>): string =>
  g.key === '' ? GROUPING_WORDS[by].none : by === 'month' ? monthName(g.label) : g.label;

export const figuresOf = (c: Costs) => ({
  byKind: c.byKind,
  totalMinor: c.totalMinor,
  estimateMinor: c.estimateMinor,
  dryMassMg: c.dryMassMg,
  goodPieces: c.goodPieces,
  perKgMinor: perKg(c),
  perPieceMinor: perGoodPiece(c),
});

/** The conditions that an address carries on, without those that are empty. */
export const carried = (typed: Record<string, string>, more: Record<string, string>): string =>
  String(
    new URLSearchParams(
      Object.entries({
        from: typed['from'] ?? '',
        to: typed['to'] ?? '',
        order: typed['order'] ?? '',
        customerId: typed['customerId'] ?? '',
        methodId: typed['methodId'] ?? '',
        fibreId: typed['fibreId'] ?? '',
        ...more,
      }).filter(([name, value]) => value !== '' || name === 'from' || name === 'to' || name === 'of'),
    ),
  );

/** Lines of one lot that were just written, as the API answers them. */
export const writtenLines = (db: Db, written: readonly Pick<CostLineRow, 'id' | 'lotId'>[]): WrittenLines => {
  const ids = new Set(written.map((w) => w.id));
  return {
    lines: costLinesOf(db, [...new Set(written.map((w) => w.lotId))]).flatMap((l) =>
      ids.has(l.costLineId) ? [l] : [],
    ),
  };
};
