import type { AuxiliaryRow, FibreRow } from '../db/tables/materials.ts';
import type { MethodAuxiliaryRow, MethodFieldRow, MethodRow, MethodStepRow } from '../db/tables/recipes.ts';
import type { ScaleRow, StudioRow } from '../db/tables/studio.ts';
import type { RevisionWithComponents } from '../recipes/queries.ts';
import type { StockLotOverview } from '../stock/queries.ts';
import type { Rate } from './rates.ts';

/** Everything that a plan is made from, read once. */
export interface PlanContext {
  studio: StudioRow;
  scales: readonly ScaleRow[];
  fibre: FibreRow;
  method: MethodRow;
  steps: readonly MethodStepRow[];
  auxiliaries: readonly { line: MethodAuxiliaryRow; auxiliary: AuxiliaryRow }[];
  fields: readonly MethodFieldRow[];
  /** By the plan's colours, in their order. */
  revisions: readonly RevisionWithComponents[];
  /** Usable containers by `dye:ID` and `auxiliary:ID`, oldest first. */
  stockLots: ReadonlyMap<string, readonly StockLotOverview[]>;
  /** What their content costs, by id of the container: as it would be valued if the lot were closed now. */
  rates: ReadonlyMap<number, Rate>;
  goodsStockLot: StockLotOverview | null;
  /** What other lots that are planned or on the bench still want: of containers by their id, of items by `dye:ID` and
   *  `auxiliary:ID` as powder, in the unit as bought. */
  othersWant: { containers: ReadonlyMap<number, number>; items: ReadonlyMap<string, number> };
  /** Today in the studio's zone. */
  todayOn: string;
}
