import { countsFor } from '../calc/countsFor.ts';
import type { StockLotRow } from '../db/tables/stock.ts';
import type { ComponentOfLot } from '../lots/queries.ts';

/** What a scale or measure tells apart where the line was planned for the other: 0.01 g, 0.1 mL. */
export const OTHER_STEP = { mg: 10, ul: 100 } as const;

/** What one mg or µL of a container counts for in a line. */
export const countsForOne = (
  component: Pick<ComponentOfLot, 'plannedMassMg' | 'concPpm' | 'strengthPpm'>,
  stockLot: Pick<StockLotRow, 'unit' | 'strengthPpm' | 'concPpm'>,
): number =>
  countsFor(component, {
    massMg: stockLot.unit === 'mg' ? 1 : null,
    volumeUl: stockLot.unit === 'ul' ? 1 : null,
    stockLotStrengthPpm: stockLot.strengthPpm,
    stockLotConcPpm: stockLot.concPpm,
  });
