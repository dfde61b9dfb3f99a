import type { AuxiliaryRow, FibreRow } from '../db/tables/materials.ts';
import type { MethodAuxiliaryRow, MethodFieldRow, MethodRow, MethodStepRow } from '../db/tables/recipes.ts';
import type { ScaleRow, StudioRow } from '../db/tables/studio.ts';
import type { RevisionWithComponents } from '../recipes/queries.ts';
import type { StockLotOverview } from '../stock/queries.ts';
import type { Rate } from './lotCost.ts';
import type { PlanInput } from './planInput.ts';

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

export interface PlanLine {
  ordinal: number;
  kind: 'dye' | 'auxiliary';
  dyeId: number | null;
  auxiliaryId: number | null;
  code: string;
  name: string;
  colourOrdinal: number | null;
  vessel: 'bath' | 'soak' | null;
  basis: 'owg' | 'gPerL' | 'mlPerL' | 'fixedMass' | 'fixedVolume';
  /** What the amount was measured against, in words: "1.5 % owg", "50 g/L of bath". */
  basisText: string;
  depthPpm: number | null;
  /** Mass before rounding, µg; null for a liquid by volume. */
  exactUg: number | null;
  plannedMassMg: number | null;
  plannedVolumeUl: number | null;
  /** Strength of the solution that serves this line, ppm w/v; null when it is weighed or is a liquid as bought. */
  concPpm: number | null;
  /** Readability of the scale (mg) or division of the measure (µL). */
  step: number;
  /** 100 · (rounded − exact) / exact. */
  roundingErrorPct: number | null;
  /** Half a digit of this mass on this scale, %. */
  halfDigitErrorPct: number | null;
  strengthPpm: number;
  stockLotId: number | null;
  stockLotCode: string | null;
  onHand: number | null;
  /** What is missing in the container, in the line's unit; 0 when there is enough. */
  short: number;
  rate: Rate | null;
  estimateMinor: number;
  advice: string | null;
}

export interface PlanColourResult {
  ordinal: number;
  recipeName: string;
  revisionNumber: number;
  revisionId: number;
  swatchId: number | null;
  depthPpm: number;
  sharePpm: number;
  placement: string;
  /** Depth over the whole of the piece, % owg. */
  depthOverAllPct: number;
}

export interface PlanEstimateLine {
  kind: 'dye' | 'auxiliary' | 'goods' | 'labour' | 'overhead';
  description: string;
  quantity: number;
  quantityUnit: 'mg' | 'ul' | 's';
  rate: Rate;
  costMinor: number;
}

export interface Plan {
  fibreId: number;
  fibreName: string;
  methodId: number;
  methodName: string;
  goodsText: string;
  pieces: number | null;
  goodsOwner: 'studio' | 'customer';
  massFound: PlanInput['mass'];
  dryMassMg: number;
  coverage: PlanInput['coverage'];
  colours: PlanColourResult[];
  /** Dye on the whole of the piece as recipes state it, % owg, before loss, uptake and strength. */
  depthOverAllPct: number;
  /** Dye that is weighed, % owg of the piece, with loss, uptake and strength in it. */
  weighedPct: number;
  lossPpm: number;
  lossMassUg: number;
  uptakePpm: number;
  readabilityMg: number;
  lines: PlanLine[];
  bathUl: number | null;
  soakUl: number | null;
  /** Whether bath and soak grow with the goods (by the method's ratio) or were typed. */
  liquorFollowsGoods: boolean;
  /** Water beside all solutions in the bath, and by how much the solutions exceed it. */
  makeUpWaterUl: number | null;
  bathOverUl: number;
  steps: { ordinal: number; name: string; durationS: number; tempC: number | null; handsOnS: number; note: string }[];
  fields: { label: string; kind: MethodFieldRow['kind']; unit: string; choices: string }[];
  estimate: PlanEstimateLine[];
  /** How its materials are valued. */
  valuation: StudioRow['costing'];
  estimateMinor: number;
  warnings: string[];
  cautions: string[];
}
