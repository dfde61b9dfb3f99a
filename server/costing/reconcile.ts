import type { Db } from '../db/open.ts';
import { historyTotals } from './exports.ts';
import { type ClosedLotFilter, type ContainerTie, closedLotSums, containerTies, costLineTotals } from './queries.ts';
import { takesParts } from './split.ts';

/** What was written to a file, counted while it was written. */
export interface Written {
  rows: number;
  costMinor: number;
}

export interface UnitTie {
  lineQuantity: number;
  ledgerQuantity: number;
}

export interface Reconciliation {
  /** Cost lines as they stand, and the sum that the batch history shows. */
  lines: { lines: number; lots: number; costMinor: number };
  historyMinor: number;
  /** What of it the customer or order of the filter carries: all of it when none is asked for. */
  partMinor: number;
  mg: UnitTie;
  ul: UnitTie;
  /** Materials from containers: by the cost lines, and what the ledger issued at the containers' own prices. */
  materialMinor: number;
  ledgerMinor: number;
  /** materialMinor − ledgerMinor: rounding to the minor unit, moving averages and corrected rates. */
  valuationDifferenceMinor: number;
  containers: ContainerTie[];
  /** Whether every quantity and every sum that must be equal is. */
  ties: boolean;
}

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
