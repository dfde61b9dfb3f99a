/** A plan as its views need it: the shape of the snapshot, without the rules that make it. */
export interface PlanLineView {
  ordinal: number;
  kind: 'dye' | 'auxiliary';
  dyeId: number | null;
  auxiliaryId: number | null;
  code: string;
  name: string;
  colourOrdinal: number | null;
  vessel: 'bath' | 'soak' | null;
  basisText: string;
  exactUg: number | null;
  plannedMassMg: number | null;
  plannedVolumeUl: number | null;
  concPpm: number | null;
  step: number;
  roundingErrorPct: number | null;
  halfDigitErrorPct: number | null;
  strengthPpm: number;
  stockLotId: number | null;
  stockLotCode: string | null;
  short: number;
  advice: string | null;
}

export interface PlanView {
  fibreName: string;
  methodName: string;
  goodsText: string;
  pieces: number | null;
  dryMassMg: number;
  coverage: 'eachOverAll' | 'eachOverItsShare';
  colours: readonly {
    ordinal: number;
    recipeName: string;
    revisionNumber: number;
    depthPpm: number;
    sharePpm: number;
    placement: string;
    depthOverAllPct: number;
  }[];
  depthOverAllPct: number;
  weighedPct: number;
  lossPpm: number;
  lossMassUg: number;
  uptakePpm: number;
  lines: readonly PlanLineView[];
  bathUl: number | null;
  soakUl: number | null;
  makeUpWaterUl: number | null;
  bathOverUl: number;
  steps: readonly {
    ordinal: number;
    name: string;
    durationS: number;
    tempC: number | null;
    handsOnS: number;
    note: string;
  }[];
  fields: readonly { label: string; kind: string; unit: string; choices: string }[];
  estimate: readonly {
    kind: string;
    description: string;
    quantity: number;
    quantityUnit: 'mg' | 'ul' | 's';
    costMinor: number;
  }[];
  /** Not in the snapshots of plans made before it was kept: those went by the container. */
  valuation?: 'specific' | 'movingAverage';
  estimateMinor: number;
  warnings: readonly string[];
  cautions: readonly string[];
}
