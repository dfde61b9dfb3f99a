import { nearestInteger, roundedToStep } from '../calc/rounding.ts';
import {
  measureCapacitiesMl,
  measureDivisionUl,
  minimumMassMg,
  roundedWeighings,
  stockAdvice,
} from '../calc/weighing.ts';
import type { ScaleRow } from '../db/tables/studio.ts';
import type { RevisionWithComponents } from '../recipes/queries.ts';
import { pct } from './amountWords.ts';
import { rateFrom, type Stock, solutionAtHand } from './chosenJar.ts';
import { scaleFor } from './chosenScale.ts';
import type { PlanContext } from './planContext.ts';
import { costMinorOf } from './rates.ts';
import type { PlanInput, PlanLine, PlanLineHead } from './schemas.ts';

interface DyeLinesOf {
  components: readonly { component: RevisionWithComponents['components'][number]; depthPpm: number; stock: Stock }[];
  massesMg: readonly number[];
  colourOrdinal: number;
  context: PlanContext;
  input: PlanInput;
  scale: ScaleRow;
  liquorLimitMl: number;
  firstOrdinal: number;
}

/** The dyes of one colour: weighed as powder, or measured as stock solution where they are too little for the scale. */
export function dyeLines(a: DyeLinesOf): PlanLine[] {
  const { context } = a;
  const readability = a.massesMg.map((massMg) => (scaleFor(context.scales, massMg) ?? a.scale).readabilityMg);
  const advice = a.massesMg.map((massMg, i) => adviceFor(a, massMg, readability[i] ?? 0));
  // Powder lines of one colour are rounded together, so that they add to the rounded total.
  const powder = a.massesMg.flatMap((massMg, i) =>
    advice[i]?.kind === 'stock' ? [] : [{ massMg, readabilityMg: readability[i] ?? 1, i }],
  );
  const rounded = powder.length === 0 ? [] : roundedWeighings({ lines: powder });
  return a.components.map(({ component, depthPpm, stock }, i): PlanLine => {
    const massMg = a.massesMg[i] ?? 0;
    const base: DyeHead = {
      ordinal: a.firstOrdinal + i,
      kind: 'dye',
      dyeId: component.dye.id,
      auxiliaryId: null,
      code: component.dye.code,
      name: component.dye.name,
      colourOrdinal: a.colourOrdinal,
      vessel: null,
      basis: 'owg',
      basisText: `${pct(depthPpm)} owg`,
      depthPpm,
      exactUg: nearestInteger({ value: massMg * 1000, field: 'mass' }),
      strengthPpm: stock.lot?.strengthPpm ?? 1e6,
    };
    const told = advice[i];
    return told?.kind === 'stock'
      ? solutionLine({ base, told, stock, massMg, context })
      : powderLine({
          base,
          told,
          stock,
          weighing: rounded[powder.findIndex((p) => p.i === i)],
          step: readability[i] ?? 1,
          context,
        });
  });
}

type DyeHead = PlanLineHead & Pick<PlanLine, 'exactUg'>;
type Advice = ReturnType<typeof stockAdvice> | { kind: 'powder' };

/** Whether a mass is weighed as powder or measured as one of the solutions that the studio makes. */
function adviceFor(
  { context: { studio }, input, liquorLimitMl }: DyeLinesOf,
  massMg: number,
  readabilityMg: number,
): Advice {
  if (input.solutions === 'never') return { kind: 'powder' };
  const errorPct = studio.weighingFloorPpm / 10_000;
  return stockAdvice({
    massMg,
    floorMg: minimumMassMg({ readabilityMg, errorPct, rule: 'halfDigit' }),
    strengthsPct: [1, 0.1, 0.01].map((f) => (studio.stockConcPpm / 10_000) * f),
    measureCapacitiesMl,
    liquorVolumeMl: liquorLimitMl,
  });
}

function solutionLine(a: {
  base: DyeHead;
  told: Extract<Advice, { kind: 'stock' }>;
  stock: Stock;
  massMg: number;
  context: PlanContext;
}): PlanLine {
  const { told, stock } = a;
  const concPpm = nearestInteger({ value: told.strengthPct * 10_000, field: 'stockConc' });
  const step = measureDivisionUl({ capacityMl: told.measureCapacityMl });
  const volumeUl = roundedToStep({ value: told.volumeMl * 1000, step, field: 'volume' });
  const at = solutionAtHand(stock, concPpm, volumeUl, a.context.todayOn);
  const rate = rateFrom(a.context, at ?? stock.lot);
  // A solution that is still to be made costs what its powder costs.
  const costed = at ? volumeUl : nearestInteger({ value: a.massMg, field: 'mass' });
  return {
    ...a.base,
    plannedMassMg: null,
    plannedVolumeUl: volumeUl,
    concPpm,
    step,
    roundingErrorPct: told.volumeMl > 0 ? (100 * (volumeUl / 1000 - told.volumeMl)) / told.volumeMl : null,
    halfDigitErrorPct: null,
    stockLotId: at?.id ?? null,
    stockLotCode: at?.code ?? null,
    onHand: at?.onHandQuantity ?? null,
    short: at ? 0 : volumeUl,
    rate,
    estimateMinor: rate ? costMinorOf(costed, rate) : 0,
    advice: at ? null : `Too little to weigh: make ${pct(concPpm)} stock solution first.`,
  };
}

function powderLine(a: {
  base: DyeHead;
  told: Advice | undefined;
  stock: Stock;
  weighing: ReturnType<typeof roundedWeighings>[number] | undefined;
  step: number;
  context: PlanContext;
}): PlanLine {
  const { lot } = a.stock;
  const plannedMassMg = a.weighing?.roundedMg ?? 0;
  const rate = rateFrom(a.context, lot);
  return {
    ...a.base,
    plannedMassMg,
    plannedVolumeUl: null,
    concPpm: null,
    step: a.step,
    roundingErrorPct: a.weighing?.roundingErrorPct ?? null,
    halfDigitErrorPct: a.weighing?.halfDigitErrorPct ?? null,
    stockLotId: lot?.id ?? null,
    stockLotCode: lot?.code ?? null,
    onHand: lot?.onHandQuantity ?? null,
    short: Math.max(0, plannedMassMg - (lot?.onHandQuantity ?? 0)),
    rate,
    estimateMinor: rate ? costMinorOf(plannedMassMg, rate) : 0,
    advice: powderAdvice(plannedMassMg, a.told),
  };
}

function powderAdvice(plannedMassMg: number, told: Advice | undefined): string | null {
  if (plannedMassMg === 0) return 'This scale cannot show so little: use stock solution.';
  if (told?.kind !== 'noStockFits') return null;
  return told.reason === 'tooMuchLiquor'
    ? 'Below the scale’s floor, but the solution would be more than the liquor holds.'
    : 'Below the scale’s floor, and too little of any solution to measure.';
}
