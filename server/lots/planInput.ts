/** How the mass of the goods was found. Masses in mg as typed; the counted (conditioned) mass follows in goodsMass.ts. */
export type MassFound =
  | { found: 'weighedDry'; massMg: number }
  | { found: 'stated'; massMg: number }
  | {
      found: 'weighedDamp';
      dampMassMg: number;
      moisture:
        | { kind: 'sample'; dampSampleMg: number; drySampleMg: number; driedTo: 'airDry' | 'ovenDry' }
        | { kind: 'known'; waterPpmOfDry: number };
    }
  | { found: 'fromArea'; lengthMm: number; widthMm: number | null; pieces: number }
  | { found: 'fromPutUps'; count: number };

export interface PlanColour {
  revisionId: number;
  swatchId: number | null;
  /** Total depth of this colour, ppm of the goods (or of its share). */
  depthPpm: number;
  sharePpm: number;
  placement: string;
}

export interface PlanInput {
  fibreId: number;
  methodId: number;
  goodsText: string;
  pieces: number | null;
  goodsOwner: 'studio' | 'customer';
  goodsStockLotId: number | null;
  mass: MassFound;
  coverage: 'eachOverAll' | 'eachOverItsShare';
  colours: PlanColour[];
  /** Overrides of the method's own volumes and loss; null takes the method's. */
  bathUl: number | null;
  soakUl: number | null;
  lossPpm: number | null;
  /** 'auto' takes stock solution below the scale's floor; 'never' weighs powder whatever the error. */
  solutions: 'auto' | 'never';
  /** Container to take a dye or auxiliary from, by `dye:ID` / `auxiliary:ID`; the oldest that holds enough otherwise. */
  stockLotChoices: Record<string, number>;
  orderLines: { orderLineId: number; pieces: number | null }[];
  /** Said by the person when more pieces are planned for a line than it wants. */
  morePiecesConfirmed?: boolean | undefined;
  plannedForOn: string | null;
  repeatsLotId: number | null;
}
