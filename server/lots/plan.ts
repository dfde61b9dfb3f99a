import { auxiliaryAmount, liquorVolumeMl, makeUpWater } from '../calc/bath.ts';
import { CalcError } from '../calc/calcError.ts';
import { dyeClassNames, fitWords } from '../calc/classFit.ts';
import { ownDepthsPpm, pieceDye } from '../calc/dyeMass.ts';
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
import type { StockLotOverview } from '../stock/queries.ts';
import { lotCautions } from './cautions.ts';
import { countedMassMg } from './goodsMass.ts';
import { costMinorOf, type Rate, rateOfStockLot, rateOfTime } from './lotCost.ts';
import type { PlanInput } from './planInput.ts';
import type { Plan, PlanContext, PlanEstimateLine, PlanLine } from './planShape.ts';
import { drawFromContainers, shortageWords } from './shortage.ts';

/** The whole of a plan: goods, weigh-up, bath, schedule, estimate, warnings. Pure: the same context gives the same plan.
 *  Throws CalcError naming the field that will not do. */
export function computePlan(input: PlanInput, context: PlanContext): Plan {
  const { fibre, method } = context;
  const dryMassMg = countedMassMg(input.mass, fibre);
  if (dryMassMg > 1_000_000_000) throw new CalcError('outOfRange', 'mass', 'That is more than a tonne of goods.');
  const goodsDryMassG = dryMassMg / 1000;
  const lossPpm = input.lossPpm ?? method.lossPpm;
  const bathUl = input.bathUl ?? volumeOf(goodsDryMassG, method.bathMlPerKg);
  const soakUl = input.soakUl ?? volumeOf(goodsDryMassG, method.soakMlPerKg);
  const scale = context.scales[0];
  if (!scale) throw new CalcError('missing', 'scale', 'The studio has no scale yet: add one in Settings.');

  if (input.colours.length === 0) throw new CalcError('missing', 'colours', 'A lot needs at least one colour.');
  const parts = input.colours.map((colour, i) => {
    const revision = context.revisions[i];
    if (!revision) throw new CalcError('missing', 'colours', 'That recipe is not there.');
    const depths = ownDepthsPpm({ depthPpm: colour.depthPpm, sharesPpm: revision.components.map((c) => c.sharePpm) });
    const components = revision.components.map((component, j) => ({
      component,
      depthPpm: depths[j] ?? 0,
      stock: chosenStock(input, context, 'dye', component.dye.id),
    }));
    return { colour, revision, components: components.filter((c) => c.depthPpm > 0) };
  });
  const piece = pieceDye({
    goodsDryMassG,
    coverageMode: input.coverage,
    lossFactor: lossPpm / 1e6,
    uptakeFactor: fibre.uptakePpm / 1e6,
    colours: parts.map(({ colour, components }) => ({
      areaSharePct: colour.sharePpm / 10_000,
      components: components.map((c) => ({
        depthPct: c.depthPpm / 10_000,
        strengthPct: (c.stock.lot?.strengthPpm ?? 1e6) / 10_000,
      })),
    })),
  });

  const lines: PlanLine[] = [];
  const liquorLimitMl = (bathUl ?? soakUl ?? dryMassMg * 2) / 1000;
  parts.forEach(({ components }, i) => {
    const massesMg = (piece.colours[i]?.massesG ?? []).map((massG) => massG * 1000);
    lines.push(
      ...dyeLines({
        components,
        massesMg,
        colourOrdinal: i + 1,
        context,
        input,
        scale,
        liquorLimitMl,
        firstOrdinal: lines.length + 1,
      }),
    );
  });
  for (const { line, auxiliary } of context.auxiliaries) {
    lines.push(
      auxiliaryLine({ line, auxiliary, ordinal: lines.length + 1, goodsDryMassG, bathUl, soakUl, context, input }),
    );
  }

  drawFromContainers(lines);
  const inBath = lines.filter(
    (l) => l.plannedVolumeUl !== null && (l.kind === 'dye' ? bathUl !== null : l.vessel === 'bath'),
  );
  const water =
    bathUl === null
      ? null
      : makeUpWater({ liquorVolumeMl: bathUl / 1000, additionsMl: inBath.map((l) => exactVolumeMl(l)) });
  const estimate = estimateOf({ input, context, lines, dryMassMg });
  const plan: Plan = {
    fibreId: fibre.id,
    fibreName: fibre.name,
    methodId: method.id,
    methodName: method.name,
    goodsText: input.goodsText,
    pieces: input.pieces,
    goodsOwner: input.goodsOwner,
    massFound: input.mass,
    dryMassMg,
    coverage: input.coverage,
    colours: parts.map(({ colour, revision }, i) => ({
      ordinal: i + 1,
      recipeName: revision.recipe.name,
      revisionNumber: revision.revision.number,
      revisionId: revision.revision.id,
      swatchId: colour.swatchId,
      depthPpm: colour.depthPpm,
      sharePpm: colour.sharePpm,
      placement: colour.placement,
      depthOverAllPct: piece.colours[i]?.depthOverAllPct ?? 0,
    })),
    depthOverAllPct: piece.depthOverAllPct,
    weighedPct: piece.weighedPct,
    lossPpm,
    lossMassUg: nearestInteger({ value: piece.lossMassG * 1e6, field: 'mass' }),
    uptakePpm: fibre.uptakePpm,
    readabilityMg: scale.readabilityMg,
    lines,
    bathUl,
    soakUl,
    liquorFollowsGoods: input.bathUl === null && input.soakUl === null,
    makeUpWaterUl: water === null ? null : nearestInteger({ value: water.waterMl * 1000, field: 'bath' }),
    bathOverUl: water === null ? 0 : nearestInteger({ value: water.overMl * 1000, field: 'bath' }),
    steps: context.steps.map(({ ordinal, name, durationS, tempC, handsOnS, note }) => ({
      ordinal,
      name,
      durationS,
      tempC,
      handsOnS,
      note,
    })),
    fields: context.fields.map(({ label, kind, unit, choices }) => ({ label, kind, unit, choices })),
    estimate,
    valuation: context.studio.costing,
    estimateMinor: estimate.reduce((sum, line) => sum + line.costMinor, 0),
    warnings: [],
    cautions: lotCautions({
      dyeClasses: parts.map(({ revision }) => revision.recipe.dyeClass),
      weighsPowder: lines.some((l) => l.kind === 'dye'),
      auxiliaries: context.auxiliaries.map(({ auxiliary }) => auxiliary),
      hottestC: context.steps.reduce<number | null>(
        (hot, s) => (s.tempC === null ? hot : Math.max(hot ?? s.tempC, s.tempC)),
        null,
      ),
      methodCautions: method.cautions,
    }),
  };
  plan.warnings = warningsOf(plan, input, context);
  return plan;
}

const volumeOf = (goodsDryMassG: number, mlPerKg: number | null): number | null =>
  mlPerKg === null
    ? null
    : nearestInteger({
        value: liquorVolumeMl({ goodsDryMassG, liquorRatioLPerKg: mlPerKg / 1000 }) * 1000,
        field: 'bath',
      });

const exactVolumeMl = (line: PlanLine): number =>
  line.exactUg !== null && line.concPpm !== null
    ? stockVolumeMlOfMass({ massG: line.exactUg / 1e6, stockStrengthPct: line.concPpm / 10_000 })
    : (line.plannedVolumeUl ?? 0) / 1000;

/** The scale for a mass: the default one, or a coarser one whose capacity it is within. */
function scaleFor(scales: readonly ScaleRow[], massMg: number): ScaleRow | undefined {
  const holds = (s: ScaleRow): boolean => s.capacityMg === null || s.capacityMg >= massMg;
  return scales.find(holds) ?? [...scales].sort((a, b) => b.readabilityMg - a.readabilityMg)[0];
}

interface Stock {
  lot: StockLotOverview | null;
  all: readonly StockLotOverview[];
}

/** The container of powder (or liquid as bought) that a line is planned from: the one chosen, else the oldest that holds
 *  anything within its best-before (first in, first out is proposed). With none such the oldest that there is gives the strength to plan
 *  by, and a warning. */
function chosenStock(input: PlanInput, context: PlanContext, kind: 'dye' | 'auxiliary', id: number): Stock {
  const all = context.stockLots.get(`${kind}:${id}`) ?? [];
  const asBought = all.filter((s) => s.concPpm === null);
  const choice = input.stockLotChoices[`${kind}:${id}`];
  const holding = asBought.filter((s) => s.onHandQuantity > 0);
  const fresh = (s: StockLotOverview): boolean => s.bestBeforeOn === null || s.bestBeforeOn >= context.todayOn;
  return {
    lot: asBought.find((s) => s.id === choice) ?? holding.find(fresh) ?? holding[0] ?? asBought[0] ?? null,
    all,
  };
}

const rateFrom = (context: PlanContext, container: StockLotOverview | null): Rate | null =>
  container === null ? null : (context.rates.get(container.id) ?? null);

/** A stock solution at hand of this strength, fresh enough and holding enough. */
const solutionAtHand = (stock: Stock, concPpm: number, volumeUl: number, todayOn: string): StockLotOverview | null =>
  stock.all.find(
    (s) =>
      s.concPpm === concPpm && s.onHandQuantity >= volumeUl && (s.bestBeforeOn === null || s.bestBeforeOn >= todayOn),
  ) ?? null;

function dyeLines(a: {
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

function auxiliaryLine(a: {
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

const pct = (ppm: number): string => `${Number((ppm / 10_000).toFixed(4))} %`;

function basisText(line: MethodAuxiliaryRow): string {
  const amount = Number((line.amountMilli / 1000).toFixed(3));
  switch (line.basis) {
    case 'owg':
      return `${amount} % owg`;
    case 'gPerL':
      return `${amount} g/L of ${line.vessel}`;
    case 'mlPerL':
      return `${amount} mL/L of ${line.vessel}`;
    case 'fixedMass':
      return `${amount} g, as stated`;
    case 'fixedVolume':
      return `${amount} mL, as stated`;
  }
}

function estimateOf(a: {
  input: PlanInput;
  context: PlanContext;
  lines: readonly PlanLine[];
  dryMassMg: number;
}): PlanEstimateLine[] {
  const { context, input } = a;
  const { studio, fibre } = context;
  const lines: PlanEstimateLine[] = [];
  for (const line of a.lines) {
    if (!line.rate) continue;
    const byVolume = line.plannedVolumeUl !== null && line.stockLotId !== null;
    const quantity = byVolume
      ? (line.plannedVolumeUl ?? 0)
      : (line.plannedMassMg ?? nearestInteger({ value: (line.exactUg ?? 0) / 1000, field: 'mass' }));
    lines.push({
      kind: line.kind,
      description: `${line.code} ${line.name}`.trim(),
      quantity,
      quantityUnit: byVolume ? 'ul' : 'mg',
      rate: line.rate,
      costMinor: line.estimateMinor,
    });
  }
  if (input.goodsOwner === 'studio') {
    const rate = context.goodsStockLot
      ? rateOfStockLot(context.goodsStockLot)
      : fibre.costMinorPerKg === null
        ? null
        : { priceMinor: fibre.costMinorPerKg, perQuantity: 1_000_000 };
    if (rate)
      lines.push({
        kind: 'goods',
        description: fibre.name,
        quantity: a.dryMassMg,
        quantityUnit: 'mg',
        rate,
        costMinor: costMinorOf(a.dryMassMg, rate),
      });
  }
  const handsOnS = context.steps.reduce((sum, s) => sum + s.handsOnS, 0);
  for (const [kind, description, minorPerHour] of [
    ['labour', 'Hands-on time of the steps', studio.labourRateMinorPerHour],
    ['overhead', 'Overhead by labour hours', studio.overheadRateMinorPerHour],
  ] as const) {
    const rate = rateOfTime(minorPerHour);
    if (handsOnS > 0 && minorPerHour > 0)
      lines.push({
        kind,
        description,
        quantity: handsOnS,
        quantityUnit: 's',
        rate,
        costMinor: costMinorOf(handsOnS, rate),
      });
  }
  return lines;
}

function warningsOf(plan: Plan, input: PlanInput, context: PlanContext): string[] {
  const list: string[] = [];
  for (const dyeClass of new Set(context.revisions.map((r) => r.recipe.dyeClass))) {
    const words = fitWords({ dyeClass, fibreClass: context.fibre.class });
    if (words) list.push(words);
    if (context.method.dyeClass !== null && context.method.dyeClass !== dyeClass) {
      list.push(
        `The method “${context.method.name}” is for ${dyeClassNames[context.method.dyeClass]} dye, and a recipe here is for ${dyeClassNames[dyeClass]} dye.`,
      );
    }
  }
  for (const revision of context.revisions) {
    for (const { dye } of revision.components) {
      if (dye.class !== revision.recipe.dyeClass)
        list.push(
          `${dye.code} is ${dyeClassNames[dye.class]} dye, and its recipe is for ${dyeClassNames[revision.recipe.dyeClass]} dye.`,
        );
    }
  }
  if (plan.bathOverUl > 0)
    list.push(
      `The solutions alone are ${(plan.bathOverUl / 1000).toFixed(1)} mL more than the bath: use stronger stock or a larger bath.`,
    );
  for (const line of plan.lines) {
    if (line.stockLotId === null && line.concPpm === null) list.push(`No container of ${line.name} in stock.`);
    if (line.advice) list.push(`${line.name}: ${line.advice}`);
  }
  list.push(...shortageWords(plan, context));
  const expired = new Set<string>();
  for (const line of plan.lines) {
    const lot = [...context.stockLots.values()].flat().find((s) => s.id === line.stockLotId);
    if (lot?.bestBeforeOn && lot.bestBeforeOn < context.todayOn && !expired.has(lot.code)) {
      expired.add(lot.code);
      list.push(`Container ${lot.code} (${lot.itemName}) is past its best-before day.`);
    }
  }
  if (input.coverage === 'eachOverItsShare') {
    const shares = plan.colours.reduce((sum, c) => sum + c.sharePpm, 0);
    if (shares < 999_500) list.push(`The shares add to ${pct(shares)}: the rest of the cloth stays undyed.`);
  }
  return list;
}
