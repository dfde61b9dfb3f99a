import { describe, expect, test } from 'vitest';
import * as bath from '../../server/calc/bath.ts';
import { CalcError, finiteIn } from '../../server/calc/calcError.ts';
import * as cost from '../../server/calc/cost.ts';
import { costChangePerKg, roundedParts } from '../../server/calc/costChange.ts';
import * as dyeMass from '../../server/calc/dyeMass.ts';
import * as goods from '../../server/calc/goods.ts';
import * as reorder from '../../server/calc/reorder.ts';
import * as rounding from '../../server/calc/rounding.ts';
import * as sampling from '../../server/calc/sampling.ts';
import * as schedule from '../../server/calc/schedule.ts';
import * as shelf from '../../server/calc/shelf.ts';
import * as stock from '../../server/calc/stockSolution.ts';
import * as weighing from '../../server/calc/weighing.ts';

/* A figure that cannot be is refused beside its own field, and never reckoned with: minus 5 g of dye, 120 % of water, a jar of
 * nothing. Each calculation stands here with what it takes and where each figure ends, as its comment says. */

/** The ends of what a figure may be: `from` and `to` are possible themselves, `over` and `under` are not. */
interface Ends {
  from?: number;
  over?: number;
  to?: number;
  under?: number;
  whole?: boolean;
  /** Figures at its ends that the others here allow, where the ends themselves are not. */
  possible?: number[];
  /** The name that the refusal gives it, where that is not its own. */
  as?: string;
}

const more: Ends = { over: 0 };
const any: Ends = {};
const some: Ends = { from: 0 };
const part: Ends = { from: 0, to: 100 };
const share: Ends = { from: 0, under: 100 };
const strength: Ends = { over: 0, to: 100 };
const count: Ends = { from: 1, whole: true };

type Figures = Record<string, number>;
interface Calculation {
  name: string;
  by: (figures: never) => unknown;
  /** Possible figures. */
  with: Figures;
  ends: Record<string, Ends>;
}

const calculation = <F extends Figures>(
  name: string,
  by: (figures: F) => unknown,
  figures: F,
  ends: { [K in keyof F]?: Ends },
): Calculation => ({ name, by: by as Calculation['by'], with: figures, ends: ends as Record<string, Ends> });

const tooFar = (ends: Ends): number[] => [
  ...(ends.from === undefined ? [] : [ends.from - 1, ends.from - 1e-6]),
  ...(ends.over === undefined ? [] : [ends.over, ends.over - 1]),
  ...(ends.to === undefined ? [] : [ends.to + 1, ends.to + 1e-6]),
  ...(ends.under === undefined ? [] : [ends.under, ends.under + 1]),
  ...(ends.whole ? [2.5] : []),
];
const justPossible = (ends: Ends): number[] =>
  ends.possible ?? [
    ...(ends.from === undefined ? [] : [ends.from]),
    ...(ends.over === undefined ? [] : [ends.over + 1e-6]),
    ...(ends.to === undefined ? [] : [ends.to]),
    ...(ends.under === undefined ? [] : [ends.under - 1e-6]),
  ];

const dye = {
  goodsDryMassG: 500,
  depthPct: 2,
  sharePct: 50,
  coverageFactor: 1,
  lossFactor: 0,
  uptakeFactor: 1,
  strengthPct: 100,
};
const lot = {
  materialsMinor: 1000,
  labourMinor: 3000,
  overheadMinor: 500,
  reworkMinor: 100,
  secondsNetValueMinor: 200,
  goodCount: 22,
};
const { rule } = { rule: reorder.reorderRule };

const CALCULATIONS: readonly Calculation[] = [
  calculation(
    'clothMassG',
    goods.clothMassG,
    { arealMassGPerM2: 190, lengthM: 2, widthM: 1.4 },
    {
      arealMassGPerM2: more,
      lengthM: more,
      widthM: more,
    },
  ),
  calculation(
    'arealMassGPerM2OfLinear',
    goods.arealMassGPerM2OfLinear,
    { linearMassGPerM: 217, widthM: 1.4 },
    { linearMassGPerM: more, widthM: more },
  ),
  calculation(
    'linearMassGPerMOfAreal',
    goods.linearMassGPerMOfAreal,
    { arealMassGPerM2: 155, widthM: 1.4 },
    { arealMassGPerM2: more, widthM: more },
  ),
  calculation('putUpsMassG', goods.putUpsMassG, { count: 4, putUpMassG: 100 }, { count, putUpMassG: more }),
  calculation('yarnLengthM', goods.yarnLengthM, { massG: 100, tex: 100 }, { massG: more, tex: more }),
  calculation('yarnMassG', goods.yarnMassG, { lengthM: 100, tex: 100 }, { lengthM: more, tex: more }),
  calculation(
    'resultantTex',
    (f) => goods.resultantTex({ system: 'Nm', ...f }),
    { singleCount: 30, plies: 2 },
    {
      singleCount: more,
      plies: count,
    },
  ),
  calculation('contentPctOfRegain', goods.contentPctOfRegain, { regainPct: 12 }, { regainPct: some }),
  calculation('regainPctOfContent', goods.regainPctOfContent, { contentPct: 12 }, { contentPct: share }),
  calculation(
    'ovenDryMassGOfContent',
    goods.ovenDryMassGOfContent,
    { massG: 100, contentPct: 12 },
    {
      massG: more,
      contentPct: share,
    },
  ),
  calculation(
    'ovenDryMassGOfRegain',
    goods.ovenDryMassGOfRegain,
    { massG: 100, regainPct: 12 },
    {
      massG: more,
      regainPct: some,
    },
  ),
  calculation(
    'conditionedMassG',
    goods.conditionedMassG,
    { ovenDryMassG: 100, regainPct: 12 },
    {
      ovenDryMassG: more,
      regainPct: some,
    },
  ),
  calculation(
    'goodsDryMassGOfDamp',
    goods.goodsDryMassGOfDamp,
    { dampMassG: 100, actualRegainPct: 40, regainPct: 12 },
    { dampMassG: more, actualRegainPct: some, regainPct: some },
  ),
  calculation(
    'goodsDryMassGOfDriedSample',
    (f) => goods.goodsDryMassGOfDriedSample({ sampleDriedTo: 'ovenDry', ...f }),
    { dampMassG: 100, sampleDampMassG: 54, sampleDryMassG: 40, regainPct: 12 },
    {
      dampMassG: more,
      sampleDampMassG: { over: 0, possible: [40] },
      sampleDryMassG: { over: 0, to: 54 },
      regainPct: some,
    },
  ),
  calculation('shrinkagePct', goods.shrinkagePct, { before: 50, after: 47 }, { before: more, after: more }),
  calculation(
    'cutLengthM',
    goods.cutLengthM,
    { finishedLengthM: 2, shrinkagePct: 4 },
    {
      finishedLengthM: more,
      shrinkagePct: { from: -100, under: 100 },
    },
  ),
  calculation(
    'finishedLengthM',
    goods.finishedLengthM,
    { cutLengthM: 2, shrinkagePct: 4 },
    {
      cutLengthM: more,
      shrinkagePct: { from: -100, under: 100 },
    },
  ),
  calculation(
    'arealMassGPerM2AfterWash',
    goods.arealMassGPerM2AfterWash,
    { arealMassGPerM2: 190, lengthShrinkagePct: 4, widthShrinkagePct: 2 },
    {
      arealMassGPerM2: more,
      lengthShrinkagePct: { from: -100, under: 100 },
      widthShrinkagePct: { from: -100, under: 100 },
    },
  ),
  calculation('dyeMassG', dyeMass.dyeMassG, dye, {
    goodsDryMassG: more,
    depthPct: some,
    sharePct: part,
    coverageFactor: { from: 0, to: 1 },
    lossFactor: some,
    uptakeFactor: more,
    strengthPct: { over: 0, to: 1000 },
  }),
  calculation(
    'depthPctOfMass',
    dyeMass.depthPctOfMass,
    { dyeMassG: 10, goodsDryMassG: 500 },
    {
      dyeMassG: some,
      goodsDryMassG: more,
    },
  ),
  calculation(
    'ownDepthsPpm',
    (f: { depthPpm: number }) => dyeMass.ownDepthsPpm({ sharesPpm: [600_000, 400_000], ...f }),
    { depthPpm: 20_000 },
    { depthPpm: { from: 0, whole: true } },
  ),
  calculation(
    'strengthCorrectedMassG',
    dyeMass.strengthCorrectedMassG,
    { dyeMassG: 10, strengthPct: 95 },
    {
      dyeMassG: some,
      strengthPct: { over: 0, to: 1000 },
    },
  ),
  calculation(
    'componentMassesG',
    (f: { goodsDryMassG: number; depthPct: number }) => dyeMass.componentMassesG({ sharesPct: [60, 40], ...f }),
    { goodsDryMassG: 500, depthPct: 2 },
    { goodsDryMassG: more, depthPct: some },
  ),
  calculation(
    'scaledMassesG',
    (f: { fromGoodsDryMassG: number; toGoodsDryMassG: number; massG: number }) =>
      dyeMass.scaledMassesG({ massesG: [f.massG], ...f }),
    { fromGoodsDryMassG: 500, toGoodsDryMassG: 800, massG: 10 },
    { fromGoodsDryMassG: more, toGoodsDryMassG: more, massG: some },
  ),
  calculation(
    'stockVolumeMl',
    stock.stockVolumeMl,
    { goodsDryMassG: 5, depthPct: 1.5, stockStrengthPct: 1 },
    {
      goodsDryMassG: more,
      depthPct: some,
      stockStrengthPct: strength,
    },
  ),
  calculation(
    'stockVolumeMlOfMass',
    stock.stockVolumeMlOfMass,
    { massG: 1, stockStrengthPct: 1 },
    {
      massG: some,
      stockStrengthPct: strength,
    },
  ),
  calculation(
    'stockMassG',
    stock.stockMassG,
    { volumeMl: 10, stockStrengthPct: 1 },
    {
      volumeMl: some,
      stockStrengthPct: strength,
    },
  ),
  calculation(
    'stockStrengthPctOfConc',
    stock.stockStrengthPctOfConc,
    { concGPerL: 10 },
    {
      concGPerL: { over: 0, to: 1000 },
    },
  ),
  calculation('concGPerLOfStock', stock.concGPerLOfStock, { stockStrengthPct: 1 }, { stockStrengthPct: strength }),
  calculation(
    'dilution',
    stock.dilution,
    { fromStrengthPct: 5, toStrengthPct: 1, toVolumeMl: 100 },
    {
      fromStrengthPct: { to: 100 },
      toStrengthPct: { over: 0, to: 5 },
      toVolumeMl: more,
    },
  ),
  calculation(
    'stockLeft',
    stock.stockLeft,
    { madeVolumeMl: 100, usedVolumeMl: 40, stockStrengthPct: 1 },
    {
      usedVolumeMl: { from: 0, to: 100 },
      stockStrengthPct: strength,
    },
  ),
  calculation(
    'stockAge',
    stock.stockAge,
    { madeAtMs: 0, nowMs: 1000, shelfLifeS: 100, useSoonWithinS: 10 },
    {
      madeAtMs: any,
      nowMs: any,
      shelfLifeS: more,
      useSoonWithinS: some,
    },
  ),
  calculation(
    'liquorVolumeMl',
    bath.liquorVolumeMl,
    { goodsDryMassG: 500, liquorRatioLPerKg: 20 },
    {
      goodsDryMassG: more,
      liquorRatioLPerKg: more,
    },
  ),
  calculation(
    'liquorRatioLPerKg',
    bath.liquorRatioLPerKg,
    { liquorVolumeMl: 1000, goodsDryMassG: 50 },
    {
      liquorVolumeMl: more,
      goodsDryMassG: more,
    },
  ),
  calculation(
    'liquorRatioLPerKgOfConc',
    bath.liquorRatioLPerKgOfConc,
    { depthPct: 2, concGPerL: 1 },
    {
      depthPct: more,
      concGPerL: more,
    },
  ),
  calculation(
    'concGPerLOfOwg',
    bath.concGPerLOfOwg,
    { owgPct: 2, liquorRatioLPerKg: 20 },
    {
      owgPct: some,
      liquorRatioLPerKg: more,
    },
  ),
  calculation(
    'owgPctOfConc',
    bath.owgPctOfConc,
    { concGPerL: 2, liquorRatioLPerKg: 20 },
    {
      concGPerL: some,
      liquorRatioLPerKg: more,
    },
  ),
  calculation(
    'owgPctOfRate',
    bath.owgPctOfRate,
    { massG: 10, goodsDryMassG: 500 },
    { massG: some, goodsDryMassG: more },
  ),
  calculation(
    'auxiliaryAmount on the goods',
    (f) => bath.auxiliaryAmount({ basis: 'owg', vessel: 'bath', ...f }),
    { amount: 50, goodsDryMassG: 10 },
    { amount: some, goodsDryMassG: more },
  ),
  calculation(
    'auxiliaryAmount in the bath',
    (f) => bath.auxiliaryAmount({ basis: 'gPerL', vessel: 'bath', ...f }),
    { amount: 50, bathVolumeMl: 10 },
    { amount: some, bathVolumeMl: more },
  ),
  calculation(
    'auxiliaryAmount in the soak',
    (f) => bath.auxiliaryAmount({ basis: 'mlPerL', vessel: 'soak', ...f }),
    { amount: 50, soakVolumeMl: 10 },
    { amount: some, soakVolumeMl: more },
  ),
  calculation(
    'auxiliaryStockVolumeMl',
    bath.auxiliaryStockVolumeMl,
    { volumeMl: 50, concGPerL: 40, stockStrengthPct: 20 },
    {
      volumeMl: more,
      concGPerL: some,
      stockStrengthPct: strength,
    },
  ),
  calculation(
    'makeUpWater',
    (f: { liquorVolumeMl: number; additionsMl: number }) => bath.makeUpWater({ ...f, additionsMl: [f.additionsMl] }),
    { liquorVolumeMl: 50, additionsMl: 37.5 },
    { liquorVolumeMl: more, additionsMl: some },
  ),
  calculation(
    'hydrateSwapMassG',
    (f) => bath.hydrateSwapMassG({ fromFormula: 'Na2CO3', toFormula: 'Na2CO3.10H2O', ...f }),
    { massG: 10 },
    {
      massG: some,
    },
  ),
  calculation(
    'acidSwap',
    bath.acidSwap,
    { volumeMl: 10, fromStrengthPct: 56, toStrengthPct: 5 },
    {
      volumeMl: some,
      fromStrengthPct: strength,
      toStrengthPct: strength,
    },
  ),
  calculation(
    'scoopMassG',
    bath.scoopMassG,
    { volumeMl: 240, bulkDensityKgPerM3: 600 },
    {
      volumeMl: some,
      bulkDensityKgPerM3: { over: 0, as: 'bulkDensity' },
    },
  ),
  calculation(
    'soakConcGPerL',
    bath.soakConcGPerL,
    { scoopVolumeMl: 240, bulkDensityKgPerM3: 600, waterVolumeMl: 4000 },
    {
      waterVolumeMl: more,
    },
  ),
  calculation(
    'exhaustionPct',
    bath.exhaustionPct,
    { startGPerL: 2, endGPerL: 0.5 },
    {
      startGPerL: { over: 0, possible: [0.5] },
      endGPerL: { from: 0, to: 2 },
    },
  ),
  calculation(
    'dyeLeftGPerL',
    bath.dyeLeftGPerL,
    { dyeMassG: 10, exhaustionPct: 80, bathVolumeMl: 1000 },
    {
      dyeMassG: some,
      exhaustionPct: part,
      bathVolumeMl: more,
    },
  ),
  calculation(
    'unitCostMinor',
    cost.unitCostMinor,
    { priceMinor: 1800, freightMinor: 300, discountMinor: 100, quantity: 500 },
    {
      priceMinor: some,
      freightMinor: some,
      discountMinor: { from: 0, to: 2100 },
      quantity: more,
    },
  ),
  calculation(
    'costMinorOfQuantity',
    cost.costMinorOfQuantity,
    { quantity: 2, unitCostMinor: 4 },
    {
      quantity: some,
      unitCostMinor: some,
    },
  ),
  calculation(
    'movingAverageUnitCost',
    (f: { quantity: number; unitCost: number }) => cost.movingAverageUnitCost({ holdings: [f] }),
    { quantity: 2, unitCost: 4 },
    { quantity: more, unitCost: some },
  ),
  calculation(
    'movingAverageAfter',
    (f: { quantity: number; paidMinor: number }) => cost.movingAverageAfter({ events: [f] }),
    { quantity: 2, paidMinor: 4 },
    { quantity: more, paidMinor: { from: 0, as: 'priceMinor' } },
  ),
  calculation(
    'fifoIssue',
    (f: { quantity: number; layerQuantity: number; unitCost: number }) =>
      cost.fifoIssue({
        layers: [
          { quantity: 1, unitCost: 1 },
          { quantity: f.layerQuantity, unitCost: f.unitCost },
        ],
        quantity: f.quantity,
      }),
    { quantity: 1, layerQuantity: 5, unitCost: 2 },
    { quantity: { over: 0, to: 6 }, layerQuantity: some, unitCost: some },
  ),
  calculation(
    'overheadRate',
    (f: { overhead: number; base: number }) => cost.overheadRate({ overheads: [f.overhead], base: f.base }),
    { overhead: 5, base: 10 },
    { overhead: some, base: more },
  ),
  calculation(
    'costMinorOfTime',
    cost.costMinorOfTime,
    { durationS: 5400, rateMinorPerHour: 1800 },
    {
      durationS: some,
      rateMinorPerHour: some,
    },
  ),
  calculation('unitCostMinorPerGoodPiece', cost.unitCostMinorPerGoodPiece, lot, {
    materialsMinor: some,
    labourMinor: some,
    overheadMinor: some,
    reworkMinor: some,
    secondsNetValueMinor: some,
    goodCount: count,
  }),
  calculation('markupPct', cost.markupPct, { priceMinor: 300, costMinor: 200 }, { priceMinor: some, costMinor: more }),
  calculation('marginPct', cost.marginPct, { priceMinor: 300, costMinor: 200 }, { priceMinor: more, costMinor: some }),
  calculation('marginPctOfMarkup', cost.marginPctOfMarkup, { markupPct: 50 }, { markupPct: { over: -100 } }),
  calculation('markupPctOfMargin', cost.markupPctOfMargin, { marginPct: 40 }, { marginPct: { under: 100 } }),
  calculation(
    'priceMinor at a markup',
    cost.priceMinor,
    { costMinor: 200, markupPct: 50 },
    {
      costMinor: some,
      markupPct: { from: -100 },
    },
  ),
  calculation(
    'priceMinor at a margin',
    cost.priceMinor,
    { costMinor: 200, marginPct: 50 },
    {
      costMinor: some,
      marginPct: { under: 100 },
    },
  ),
  calculation(
    'passedPct',
    cost.passedPct,
    { passedCount: 22, startedCount: 24 },
    {
      passedCount: { from: 0, to: 24 },
      startedCount: { over: 0, possible: [22] },
    },
  ),
  calculation(
    'roundedWeighing',
    weighing.roundedWeighing,
    { massMg: 1234, readabilityMg: 10 },
    {
      massMg: more,
      readabilityMg: { over: 0, as: 'step' },
    },
  ),
  calculation(
    'minimumMassMg',
    (f) => weighing.minimumMassMg({ rule: 'repeatability', ...f }),
    { readabilityMg: 10, errorPct: 1, sdMg: 5 },
    {
      readabilityMg: some,
      errorPct: strength,
      sdMg: some,
    },
  ),
  calculation('measureDivisionUl', weighing.measureDivisionUl, { capacityMl: 10 }, { capacityMl: more }),
  calculation(
    'stockAdvice',
    (f: { massMg: number; floorMg: number; liquorVolumeMl: number; measureCapacityMl: number; strengthPct: number }) =>
      weighing.stockAdvice({ ...f, strengthsPct: [f.strengthPct], measureCapacitiesMl: [f.measureCapacityMl] }),
    { massMg: 5, floorMg: 500, liquorVolumeMl: 1000, measureCapacityMl: 1, strengthPct: 1 },
    {
      massMg: more,
      floorMg: some,
      liquorVolumeMl: more,
      measureCapacityMl: more,
      strengthPct: { ...strength, as: 'stockStrengthPct' },
    },
  ),
  calculation(
    'weighingTolerance',
    weighing.weighingTolerance,
    { target: 500, step: 10, tolerancePct: 2 },
    {
      target: some,
      step: more,
      tolerancePct: some,
    },
  ),
  calculation(
    'readingVerdict',
    weighing.readingVerdict,
    { target: 500, reading: 510, tolerance: 10 },
    {
      target: more,
      reading: some,
      tolerance: some,
    },
  ),
  calculation(
    'overWeighFactor',
    (f: { planned: number; actual: number }) => weighing.overWeighFactor({ lines: [f] }),
    { planned: 500, actual: 510 },
    { planned: more, actual: some },
  ),
  calculation(
    'reorderPoint',
    (f: { usedQuantity: number; onHandQuantity: number; knownDays: number }) => reorder.reorderPoint({ rule, ...f }),
    { usedQuantity: 900, onHandQuantity: 500, knownDays: 90 },
    { usedQuantity: some, onHandQuantity: any, knownDays: some },
  ),
  calculation(
    'reorderPoint by a rule',
    (f: { windowDays: number; leadTimeDays: number; safetyDays: number }) =>
      reorder.reorderPoint({ usedQuantity: 1, onHandQuantity: 1, knownDays: 1, rule: { ...rule, ...f } }),
    { windowDays: 90, leadTimeDays: 14, safetyDays: 14 },
    { windowDays: { from: 1 }, leadTimeDays: some, safetyDays: some },
  ),
  calculation(
    'purchaseQuantity',
    (f: { meanDailyQuantity: number; onHandQuantity: number; plannedQuantity: number }) =>
      reorder.purchaseQuantity({ rule, ...f }),
    { meanDailyQuantity: 10, onHandQuantity: 100, plannedQuantity: 50 },
    { meanDailyQuantity: some, onHandQuantity: any, plannedQuantity: some },
  ),
  calculation(
    'supply',
    shelf.supply,
    { onHandQuantity: 50, receivedQuantity: 100, nearlyOutPpm: 100_000 },
    {
      onHandQuantity: any,
      receivedQuantity: some,
      nearlyOutPpm: { from: 0, to: 1_000_000 },
    },
  ),
  calculation(
    'stockValueMinor',
    shelf.stockValueMinor,
    { priceMinor: 100, freightMinor: 10, lateMinor: 0, receivedQuantity: 100, onHandQuantity: 50 },
    {
      priceMinor: some,
      freightMinor: some,
      lateMinor: { from: -110 },
      receivedQuantity: { over: 0, as: 'quantity' },
      onHandQuantity: any,
    },
  ),
  calculation(
    'keeping',
    (f: { useSoonWithinDays: number }) => shelf.keeping({ bestBeforeOn: '2026-04-01', todayOn: '2026-03-16', ...f }),
    { useSoonWithinDays: 30 },
    { useSoonWithinDays: some },
  ),
  calculation(
    'dayLater',
    (f: { days: number }) => shelf.dayLater({ on: '2026-03-16', ...f }),
    { days: 30 },
    { days: any },
  ),
  calculation(
    'depthLadderPpm',
    (f: { fromDepthPct: number; toDepthPct: number; count: number }) =>
      sampling.depthLadderPpm({ spacing: 'even', ...f }),
    { fromDepthPct: 1, toDepthPct: 4, count: 3 },
    {
      fromDepthPct: { over: 0, possible: [1e-4] },
      toDepthPct: { over: 1, possible: [1.0002] },
      count: { from: 2, to: 2000, whole: true },
    },
  ),
  calculation(
    'blendSharesPpm',
    sampling.blendSharesPpm,
    { dyeCount: 2, stepPct: 25 },
    {
      dyeCount: { from: 2, to: 4, whole: true },
      stepPct: { to: 50 },
    },
  ),
  calculation(
    'sampleSet',
    (f: {
      pieceDryMassG: number;
      reservePct: number;
      liquorRatioLPerKg: number;
      sharePct: number;
      strengthPct: number;
    }) =>
      sampling.sampleSet({
        ...f,
        samples: [{ depthPct: 1e-5, sharesPpm: [f.sharePct] }],
        stockStrengthsPct: [f.strengthPct],
      }),
    { pieceDryMassG: 5, reservePct: 10, liquorRatioLPerKg: 20, sharePct: 1_000_000, strengthPct: 1 },
    {
      pieceDryMassG: { over: 0, as: 'goodsDryMassG' },
      reservePct: some,
      liquorRatioLPerKg: { over: 0, possible: [1e-5] },
      sharePct: { from: 0, to: 1_000_000 },
      strengthPct: { to: 100, as: 'stockStrengthPct' },
    },
  ),
  calculation(
    'schedule',
    (f: { startAtMs: number; nowMs: number; plannedDurationS: number }) =>
      schedule.schedule({ ...f, steps: [{ stepId: '1', plannedDurationS: f.plannedDurationS }] }),
    { startAtMs: 0, nowMs: 1, plannedDurationS: 60 },
    { startAtMs: any, nowMs: any, plannedDurationS: some },
  ),
  calculation(
    'schedule of a step that ran',
    (f: { actualStartAtMs: number; actualEndAtMs: number }) =>
      schedule.schedule({ startAtMs: 0, nowMs: 1, steps: [{ stepId: '1', plannedDurationS: 60, ...f }] }),
    { actualStartAtMs: 1, actualEndAtMs: 2 },
    { actualStartAtMs: any, actualEndAtMs: { from: 1 } },
  ),
  calculation(
    'fixationTime',
    (f: { tempC: number }) => schedule.fixationTime({ dyeClass: 'reactive', procedure: 'immersion', ...f }),
    { tempC: 40 },
    { tempC: { from: -10, to: 150 } },
  ),
  calculation(
    'costChangePerKg',
    (f: { dryMassG: number; quantity: number; costMinor: number }) =>
      costChangePerKg({
        earlier: { dryMassG: 100, parts: [] },
        later: { dryMassG: f.dryMassG, parts: [{ key: 'dye', ...f }] },
      }),
    { dryMassG: 100, quantity: 5, costMinor: 7 },
    { dryMassG: more, quantity: any, costMinor: any },
  ),
  calculation(
    'roundedParts',
    (f: { parts: number; total: number }) => roundedParts({ parts: [f.parts, 0.5], total: f.total }),
    { parts: 1.5, total: 2 },
    { parts: any, total: { whole: true } },
  ),
  calculation(
    'roundedToStep',
    (f: { value: number; step: number }) => rounding.roundedToStep({ field: 'value', ...f }),
    { value: 5, step: 2 },
    {
      value: any,
      step: more,
    },
  ),
  calculation(
    'roundedLines',
    (f: { value: number; step: number }) => rounding.roundedLines({ values: [f.value], step: f.step, field: 'value' }),
    { value: 5, step: 2 },
    { value: some, step: more },
  ),
  calculation(
    'largestRemainder',
    (f: { weight: number; total: number }) =>
      rounding.largestRemainder({ weights: [1, f.weight], total: f.total, field: 'share' }),
    { weight: 5, total: 2 },
    { weight: { from: 0, as: 'share' }, total: { whole: true, as: 'share' } },
  ),
];

const refusalOf = (work: () => unknown): CalcError | undefined => {
  try {
    work();
    return undefined;
  } catch (error) {
    if (error instanceof CalcError) return error;
    throw error;
  }
};

describe('a figure that cannot be', () => {
  test.each(CALCULATIONS)('$name', ({ by, with: figures, ends }) => {
    const work = (changed: Figures = {}) => by({ ...figures, ...changed } as never);
    expect(
      refusalOf(() => work()),
      'possible figures',
    ).toBeUndefined();
    for (const [field, range] of Object.entries(ends)) {
      const { as = field } = range;
      for (const value of [
        Number.NaN,
        Number.POSITIVE_INFINITY,
        Number.NEGATIVE_INFINITY,
        'five' as unknown as number,
      ]) {
        const refusal = refusalOf(() => work({ [field]: value }));
        expect([field, value, refusal?.field], `${refusal}`).toEqual([field, value, as]);
      }
      for (const value of tooFar(range)) {
        const refusal = refusalOf(() => work({ [field]: value }));
        expect([field, value, refusal?.field], `${refusal}`).toEqual([field, value, as]);
      }
      for (const value of justPossible(range))
        expect([field, value, refusalOf(() => work({ [field]: value }))?.field]).toEqual([field, value, undefined]);
    }
  });

  test('is refused in words that name it and say where it ends', () => {
    expect(refusalOf(() => finiteIn('massG', Number.NaN))).toMatchObject({
      code: 'notFinite',
      message: 'massG must be a number',
    });
    expect(refusalOf(() => finiteIn('massG', 0, { min: 0, exclusiveMin: true }))).toMatchObject({
      code: 'outOfRange',
      message: 'massG must be more than 0',
    });
    expect(refusalOf(() => finiteIn('massG', -1, { min: 0 }))?.message).toBe('massG must be at least 0');
    expect(refusalOf(() => finiteIn('sharePct', 101, { max: 100 }))).toMatchObject({
      name: 'CalcError',
      code: 'outOfRange',
      message: 'sharePct must be at most 100',
    });
    expect(finiteIn('massG', -1)).toBe(-1);
  });
});
