import { auxiliaryAmount } from '../calc/bath.ts';
import { nearestInteger, roundedToStep } from '../calc/rounding.ts';
import { stockVolumeMlOfMass } from '../calc/stockSolution.ts';
import { measureCapacitiesMl, measureDivisionUl } from '../calc/weighing.ts';
import type { AuxiliaryRow } from '../db/tables/materials.ts';
import type { MethodAuxiliaryRow } from '../db/tables/recipes.ts';
import { basisText, pct } from './amountWords.ts';
import { chosenStock, rateFrom, type Stock, solutionAtHand } from './chosenJar.ts';
import { scaleFor } from './chosenScale.ts';
import type { PlanContext } from './planContext.ts';
import { costMinorOf } from './rates.ts';
import type { PlanInput, PlanLine, PlanLineHead } from './schemas.ts';

/** An auxiliary of the method, by what its amount goes by. */
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
  const base: PlanLineHead = {
    ordinal: a.ordinal,
    kind: 'auxiliary',
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
  if (!('massG' in amount))
    return measuredLine({ base, volumeMl: amount.volumeMl, massMg: null, concPpm: null, stock, context });
  const massMg = amount.massG * 1000;
  const concPpm = auxiliary.solutionConcPpm;
  if (concPpm === null) return weighedLine({ base, massMg, stock, context });
  const volumeMl = stockVolumeMlOfMass({ massG: massMg / 1000, stockStrengthPct: concPpm / 10_000 });
  return measuredLine({ base, volumeMl, massMg, concPpm, stock, context });
}

const exactUgOf = (massMg: number): number => nearestInteger({ value: massMg * 1000, field: 'mass' });

/** Kept in solution (`concPpm`), or a liquid as bought: measured by volume. */
function measuredLine(a: {
  base: PlanLineHead;
  volumeMl: number;
  massMg: number | null;
  concPpm: number | null;
  stock: Stock;
  context: PlanContext;
}): PlanLine {
  const { volumeMl, massMg, concPpm, stock, context } = a;
  const capacity = measureCapacitiesMl.find((m) => m >= volumeMl) ?? measureCapacitiesMl.at(-1) ?? 1000;
  const step = measureDivisionUl({ capacityMl: capacity });
  const volumeUl = roundedToStep({ value: volumeMl * 1000, step, field: 'volume' });
  const asBought = stock.lot?.unit === 'ul' ? stock.lot : null;
  const at = concPpm === null ? asBought : solutionAtHand(stock, concPpm, volumeUl, context.todayOn);
  const powder = stock.lot?.unit === 'mg' ? stock.lot : null;
  const rate = rateFrom(context, at ?? powder);
  const costed = at ? volumeUl : nearestInteger({ value: massMg ?? 0, field: 'mass' });
  return {
    ...a.base,
    exactUg: massMg === null ? null : exactUgOf(massMg),
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
    estimateMinor: rate ? costMinorOf(costed, rate) : 0,
    advice: at === null && concPpm !== null ? `Kept as ${pct(concPpm)} solution: make some first.` : null,
  };
}

function weighedLine(a: { base: PlanLineHead; massMg: number; stock: Stock; context: PlanContext }): PlanLine {
  const { massMg, context } = a;
  const { lot } = a.stock;
  // To a thousandth at best: 1200 g of salt to the gram, whatever the dye scale shows.
  const thousandth = 10 ** Math.floor(Math.log10(Math.max(1, massMg / 1000)));
  const scale = scaleFor(context.scales, massMg) ?? context.scales[0];
  const step = Math.max(scale?.readabilityMg ?? 1, thousandth);
  const plannedMassMg = roundedToStep({ value: massMg, step, field: 'mass' });
  const rate = rateFrom(context, lot);
  return {
    ...a.base,
    exactUg: exactUgOf(massMg),
    plannedMassMg,
    plannedVolumeUl: null,
    concPpm: null,
    step,
    roundingErrorPct: massMg ? (100 * (plannedMassMg - massMg)) / massMg : null,
    halfDigitErrorPct: massMg ? (50 * step) / massMg : null,
    stockLotId: lot?.id ?? null,
    stockLotCode: lot?.code ?? null,
    onHand: lot?.onHandQuantity ?? null,
    short: Math.max(0, plannedMassMg - (lot?.onHandQuantity ?? 0)),
    rate,
    estimateMinor: rate ? costMinorOf(plannedMassMg, rate) : 0,
    advice: null,
  };
}
