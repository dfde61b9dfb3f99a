import { type ClosedLotFilter, closedLotSums, containerTies, costLineTotals } from '../costing/queries.ts';
import { takesParts } from '../costing/split.ts';
import type { Db } from '../db/open.ts';
import { historyTotals } from './history.ts';
import type { Reconciliation } from './schemas.ts';

/** What was written to a file, counted while it was written. */
export interface Written {
  rows: number;
  costMinor: number;
}

type UnitTie = Reconciliation['mg'];

/** Proves that the cost lines of the lots that a filter finds are the ledger's issues to them, to the mg and µL, and the sums of
 *  the batch history, to the minor unit. */
export function reconciliation(db: Db, filter: ClosedLotFilter): Reconciliation {
  const lines = costLineTotals(db, filter);
  const sums = closedLotSums(db, filter);
  const historyMinor =
    sums.dyeMinor + sums.auxiliaryMinor + sums.goodsMinor + sums.labourMinor + sums.overheadMinor + sums.otherMinor;
  const containers = containerTies(db, filter);
  const of = (unit: 'mg' | 'ul'): UnitTie => {
    const own = containers.filter((c) => c.unit === unit);
    return {
      lineQuantity: own.reduce((sum, c) => sum + c.lineQuantity, 0),
      ledgerQuantity: own.reduce((sum, c) => sum + c.ledgerQuantity, 0),
    };
  };
  const materialMinor = containers.reduce((sum, c) => sum + c.lineCostMinor, 0);
  const ledgerMinor = containers.reduce((sum, c) => sum + c.ledgerCostMinor, 0);
  return {
    lines,
    historyMinor,
    partMinor: takesParts(filter) ? historyTotals(db, filter).totalMinor : historyMinor,
    mg: of('mg'),
    ul: of('ul'),
    materialMinor,
    ledgerMinor,
    valuationDifferenceMinor: materialMinor - ledgerMinor,
    containers,
    ties: historyMinor === lines.costMinor && containers.every((c) => c.lineQuantity === c.ledgerQuantity),
  };
}
