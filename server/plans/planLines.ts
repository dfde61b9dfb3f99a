import { auxiliaryAmount } from '../calc/bath.ts';
import { nearestInteger, roundedToStep } from '../calc/rounding.ts';
import { stockVolumeMlOfMass } from '../calc/stockSolution.ts';
import {
  measureCapacitiesMl,
  measureDivisionUl,
  minimumMassMg,
  roundedWeighings,
  stockAdvice,
} from '../calc/weighing.ts';
import type { AuxiliaryRow } from '../db/tables/materials.ts';
import type { MethodAuxiliaryRow } from '../db/tables/recipes.ts';
import type { ScaleRow } from '../db/tables/studio.ts';
import type { RevisionWithComponents } from '../recipes/queries.ts';
import { basisText, pct } from './amountWords.ts';
import { chosenStock, rateFrom, type Stock, solutionAtHand } from './chosenJar.ts';
import type { PlanContext } from './planContext.ts';
import { costMinorOf } from './rates.ts';
import type { PlanInput, PlanLine } from './schemas.ts';

/** The scale for a mass: the default one, or a coarser one whose capacity it is within. */
function scaleFor(scales: readonly ScaleRow[], massMg: number): ScaleRow | undefined {
  const holds = (s: ScaleRow): boolean => s.capacityMg === null || s.capacityMg >= massMg;
  return scales.find(holds) ?? [...scales].sort((a, b) => b.readabilityMg - a.readabilityMg)[0];
}

export function dyeLines(a: {
  components: readonly { component: RevisionWithComponents['components'][number]; depthPpm: number; stock: Stock }[];
  massesMg: readonly number[];
  colourOrdinal: number;
  context: PlanContext;
  input: PlanInput;
  scale: ScaleRow;
  liquorLimitMl: number;
  firstOrdinal: number;
}): PlanLine[] {
  const { context, input } = a;
  const { studio } = context;
  const readability = a.massesMg.map((massMg) => (scaleFor(context.scales, massMg) ?? a.scale).readabilityMg);
  const advice = a.massesMg.map((massMg, i) => {
    if (input.solutions === 'never') return { kind: 'powder' as const };
    const floorMg = minimumMassMg({
      readabilityMg: readability[i] ?? 0,
      errorPct: studio.weighingFloorPpm / 10_000,
      rule: 'halfDigit',
    });
    const strengthsPct = [1, 0.1, 0.01].map((f) => (studio.stockConcPpm / 10_000) * f);
    return stockAdvice({
      massMg,
      floorMg,
      strengthsPct,
      measureCapacitiesMl,
      liquorVolumeMl: a.liquorLimitMl,
    });
  });
  // Powder lines of one colour are rounded together, so that they add to the rounded total.
  const powder = a.massesMg.flatMap((massMg, i) =>
    advice[i]?.kind === 'stock' ? [] : [{ massMg, readabilityMg: readability[i] ?? 1, i }],
  );
  const rounded = powder.length === 0 ? [] : roundedWeighings({ lines: powder });
  return a.components.map(({ component, depthPpm, stock }, i): PlanLine => {
    const massMg = a.massesMg[i] ?? 0;
    const base = {
      ordinal: a.firstOrdinal + i,
      kind: 'dye' as const,
      dyeId: component.dye.id,
      auxiliaryId: null,
      code: component.dye.code,
      name: component.dye.name,
      colourOrdinal: a.colourOrdinal,
      vessel: null,
      basis: 'owg' as const,
      basisText: `${pct(depthPpm)} owg`,
      depthPpm,
      exactUg: nearestInteger({ value: massMg * 1000, field: 'mass' }),
    };
    const told = advice[i];
    if (told?.kind === 'stock') {
      const concPpm = nearestInteger({ value: told.strengthPct * 10_000, field: 'stockConc' });
      const step = measureDivisionUl({ capacityMl: told.measureCapacityMl });
      const volumeUl = roundedToStep({ value: told.volumeMl * 1000, step, field: 'volume' });
      const at = solutionAtHand(stock, concPpm, volumeUl, context.todayOn);
      const rate = rateFrom(context, at ?? stock.lot);
      return {
        ...base,
        plannedMassMg: null,
        plannedVolumeUl: volumeUl,
        concPpm,
        step,
        roundingErrorPct: told.volumeMl > 0 ? (100 * (volumeUl / 1000 - told.volumeMl)) / told.volumeMl : null,
        halfDigitErrorPct: null,
        strengthPpm: stock.lot?.strengthPpm ?? 1e6,
        stockLotId: at?.id ?? null,
        stockLotCode: at?.code ?? null,
        onHand: at?.onHandQuantity ?? null,
        short: at ? 0 : volumeUl,
        rate,
        estimateMinor:
          at && rate
            ? costMinorOf(volumeUl, rate)
            : rate
              ? costMinorOf(nearestInteger({ value: massMg, field: 'mass' }), rate)
              : 0,
        advice: at ? null : `Too little to weigh: make ${pct(concPpm)} stock solution first.`,
      };
    }
    const place = powder.findIndex((p) => p.i === i);
    const line = rounded[place];
    const plannedMassMg = line?.roundedMg ?? 0;
    const rate = rateFrom(context, stock.lot);
    const onHand = stock.lot?.onHandQuantity ?? null;
    return {
      ...base,
      plannedMassMg,
      plannedVolumeUl: null,
      concPpm: null,
      step: readability[i] ?? 1,
      roundingErrorPct: line?.roundingErrorPct ?? null,
      halfDigitErrorPct: line?.halfDigitErrorPct ?? null,
      strengthPpm: stock.lot?.strengthPpm ?? 1e6,
      stockLotId: stock.lot?.id ?? null,
      stockLotCode: stock.lot?.code ?? null,
      onHand,
      short: Math.max(0, plannedMassMg - (onHand ?? 0)),
      rate,
      estimateMinor: rate ? costMinorOf(plannedMassMg, rate) : 0,
      advice:
        plannedMassMg === 0
          ? 'This scale cannot show so little: use stock solution.'
          : told?.kind === 'noStockFits'
            ? told.reason === 'tooMuchLiquor'
              ? 'Below the scale’s floor, but the solution would be more than the liquor holds.'
              : 'Below the scale’s floor, and too little of any solution to measure.'
            : null,
    };
  });
}

export function auxiliaryLine(a: {
  line: MethodAuxiliaryRow;
  auxiliary: AuxiliaryRow;
  ordinal: number;
  goodsDryMassG: number;
  bathUl: number | null;
  soakUl: number | null;
  context: PlanContext;
  input: PlanInput;
}): PlanLine {
  const { line, auxiliary, context } = a;
  const amount = auxiliaryAmount({
    basis: line.basis,
    amount: line.amountMilli / 1000,
    vessel: line.vessel,
    goodsDryMassG: a.goodsDryMassG,
    ...(a.bathUl === null ? {} : { bathVolumeMl: a.bathUl / 1000 }),
    ...(a.soakUl === null ? {} : { soakVolumeMl: a.soakUl / 1000 }),
  });
  const stock = chosenStock(a.input, context, 'auxiliary', auxiliary.id);
  const base = {
    ordinal: a.ordinal,
    kind: 'auxiliary' as const,
    dyeId: null,
    auxiliaryId: auxiliary.id,
    code: auxiliary.code,
    name: auxiliary.name,
    colourOrdinal: null,
    vessel: line.vessel,
    basis: line.basis,
    basisText: basisText(line),
    depthPpm: null,
    strengthPpm: 1e6,
  };
  const massMg = 'massG' in amount ? amount.massG * 1000 : null;
  const exactUg = massMg === null ? null : nearestInteger({ value: massMg * 1000, field: 'mass' });
  // Kept in solution: measured by volume. A liquid as bought too.
  const concPpm = massMg === null ? null : auxiliary.solutionConcPpm;
  const volumeMl =
    massMg === null
      ? 'volumeMl' in amount
        ? amount.volumeMl
        : 0
      : concPpm === null
        ? null
        : stockVolumeMlOfMass({ massG: massMg / 1000, stockStrengthPct: concPpm / 10_000 });
  if (volumeMl !== null) {
    const capacity = measureCapacitiesMl.find((m) => m >= volumeMl) ?? measureCapacitiesMl.at(-1) ?? 1000;
    const step = measureDivisionUl({ capacityMl: capacity });
    const volumeUl = roundedToStep({ value: volumeMl * 1000, step, field: 'volume' });
    const at =
      concPpm === null
        ? stock.lot?.unit === 'ul'
          ? stock.lot
          : null
        : (solutionAtHand(stock, concPpm, volumeUl, context.todayOn) ?? null);
    const powder = stock.lot?.unit === 'mg' ? stock.lot : null;
    const rate = rateFrom(context, at ?? powder);
    return {
      ...base,
      exactUg,
      plannedMassMg: null,
      plannedVolumeUl: volumeUl,
      concPpm,
      step,
      roundingErrorPct: volumeMl > 0 ? (100 * (volumeUl / 1000 - volumeMl)) / volumeMl : null,
      halfDigitErrorPct: null,
      stockLotId: at?.id ?? null,
      stockLotCode: at?.code ?? null,
      onHand: at?.onHandQuantity ?? null,
      short: Math.max(0, volumeUl - (at?.onHandQuantity ?? 0)),
      rate,
      estimateMinor: rate
        ? costMinorOf(at ? volumeUl : nearestInteger({ value: massMg ?? 0, field: 'mass' }), rate)
        : 0,
      advice: at === null && concPpm !== null ? `Kept as ${pct(concPpm)} solution: make some first.` : null,
    };
  }
  // An auxiliary is weighed to a thousandth at best: 1200 g of salt to the gram, whatever the dye scale shows.
  const thousandth = 10 ** Math.floor(Math.log10(Math.max(1, (massMg ?? 0) / 1000)));
  const readabilityMg = Math.max(
    (scaleFor(context.scales, massMg ?? 0) ?? context.scales[0])?.readabilityMg ?? 1,
    thousandth,
  );
  const plannedMassMg = roundedToStep({ value: massMg ?? 0, step: readabilityMg, field: 'mass' });
  const rate = rateFrom(context, stock.lot);
  return {
    ...base,
    exactUg,
    plannedMassMg,
    plannedVolumeUl: null,
    concPpm: null,
    step: readabilityMg,
    roundingErrorPct: massMg ? (100 * (plannedMassMg - massMg)) / massMg : null,
    halfDigitErrorPct: massMg ? (50 * readabilityMg) / massMg : null,
    stockLotId: stock.lot?.id ?? null,
    stockLotCode: stock.lot?.code ?? null,
    onHand: stock.lot?.onHandQuantity ?? null,
    short: Math.max(0, plannedMassMg - (stock.lot?.onHandQuantity ?? 0)),
    rate,
    estimateMinor: rate ? costMinorOf(plannedMassMg, rate) : 0,
    advice: null,
  };
}
