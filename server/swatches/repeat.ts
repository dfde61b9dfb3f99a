import { fitWords } from '../calc/classFit.ts';
import { dyeMassG, ownDepthsPpm } from '../calc/dyeMass.ts';
import { nearestInteger, roundedToStep } from '../calc/rounding.ts';
import {
  measureCapacitiesMl,
  measureDivisionUl,
  minimumMassMg,
  roundedWeighings,
  type StockAdvice,
  stockAdvice,
} from '../calc/weighing.ts';
import type { Db } from '../db/open.ts';
import type { FibreRow } from '../db/tables/materials.ts';
import type { MethodRow } from '../db/tables/recipes.ts';
import { invalid } from '../errors.ts';
import { fibreById } from '../fibres/queries.ts';
import type { RevisionWithComponents } from '../recipes/queries.ts';
import { defaultScale, theStudio } from '../settings/queries.ts';
import { usableStockLots } from '../stock/queries.ts';
import type { WeighUpLine, WeighUpShown } from './schemas.ts';

/** What to weigh to repeat a swatch on other goods: each dye by  W · d · share · (1 + loss) · uptake / strength,  rounded to
 *  the studio's default scale so that the lines add up, with stock solution where the scale is too coarse. A first look: the
 *  plan of a lot adds auxiliaries, bath, containers and cost. */
export function repeatOf(
  db: Db,
  swatch: { revision: RevisionWithComponents; method: MethodRow },
  wanted: { massMg: number; fibreId: number; depthPpm: number },
): WeighUpShown {
  const fibre = fibreById(db, wanted.fibreId);
  if (!fibre) throw invalid({ fibreId: 'There are no such goods.' });
  const { revision, method } = swatch;
  const studio = theStudio(db);
  const readabilityMg = defaultScale(db)?.readabilityMg ?? 10;
  const floorMg = minimumMassMg({ readabilityMg, errorPct: studio.weighingFloorPpm / 10_000, rule: 'halfDigit' });
  const bathUl =
    method.bathMlPerKg === null
      ? null
      : nearestInteger({ value: (wanted.massMg * method.bathMlPerKg) / 1000, field: 'mass' });
  const liquorVolumeMl = bathUl === null ? wanted.massMg / 500 : bathUl / 1000;
  const used = revision.components.filter((c) => c.sharePpm > 0);
  const depths = ownDepthsPpm({ depthPpm: wanted.depthPpm, sharesPpm: used.map((c) => c.sharePpm) });
  const parts = used.map(({ dye, sharePpm }, i) => {
    const powders = usableStockLots(db, { dyeId: dye.id, auxiliaryId: null }).filter((s) => s.concPpm === null);
    const container = powders.find((s) => s.onHandQuantity > 0) ?? powders[0] ?? null;
    const exactMg =
      1000 *
      dyeMassG({
        goodsDryMassG: wanted.massMg / 1000,
        depthPct: wanted.depthPpm / 10_000,
        sharePct: sharePpm / 10_000,
        coverageFactor: 1,
        lossFactor: method.lossPpm / 1e6,
        uptakeFactor: fibre.uptakePpm / 1e6,
        strengthPct: (container?.strengthPpm ?? 1e6) / 10_000,
      });
    return { dye, ownDepthPpm: depths[i] ?? 0, container, exactMg };
  });
  const rounded = roundedWeighings({ lines: parts.map((p) => ({ massMg: p.exactMg, readabilityMg })) });
  const lines = parts.map(({ dye, ownDepthPpm, container, exactMg }, i): WeighUpLine => {
    const line = rounded[i];
    const advice = stockAdvice({
      massMg: exactMg,
      floorMg,
      strengthsPct: [1, 0.1, 0.01].map((f) => (studio.stockConcPpm / 10_000) * f),
      measureCapacitiesMl,
      liquorVolumeMl,
    });
    return {
      dyeId: dye.id,
      code: dye.code,
      name: dye.name,
      shownHex: dye.shownHex,
      ownDepthPpm,
      exactMg,
      roundedMg: line?.roundedMg ?? 0,
      roundingErrorPct: line?.roundingErrorPct ?? 0,
      halfDigitErrorPct: line?.halfDigitErrorPct ?? 0,
      stock: solutionOf(advice),
      noStockFits: advice.kind === 'noStockFits' ? advice.reason : null,
      container: container && {
        stockLotId: container.id,
        code: container.code,
        strengthPpm: container.strengthPpm,
        onHandMg: container.onHandQuantity,
      },
      shortMg: Math.max(0, nearestInteger({ value: exactMg - (container?.onHandQuantity ?? 0), field: 'mass' })),
    };
  });
  return {
    ...wanted,
    fibreName: fibre.name,
    uptakePpm: fibre.uptakePpm,
    lossPpm: method.lossPpm,
    readabilityMg,
    floorMg,
    lines,
    exactTotalMg: lines.reduce((sum, l) => sum + l.exactMg, 0),
    roundedTotalMg: lines.reduce((sum, l) => sum + l.roundedMg, 0),
    bathUl,
    warnings: warningsOf(revision, method, fibre, lines),
  };
}

function solutionOf(advice: StockAdvice): WeighUpLine['stock'] {
  if (advice.kind !== 'stock') return null;
  const stepUl = measureDivisionUl({ capacityMl: advice.measureCapacityMl });
  const volumeUl = roundedToStep({ value: advice.volumeMl * 1000, step: stepUl, field: 'volume' });
  return {
    strengthPpm: nearestInteger({ value: advice.strengthPct * 10_000, field: 'stockConc' }),
    volumeUl,
    stepUl,
    fills: advice.fills,
    roundingErrorPct: (100 * (volumeUl / 1000 - advice.volumeMl)) / advice.volumeMl,
  };
}

function warningsOf(
  revision: RevisionWithComponents,
  method: MethodRow,
  fibre: FibreRow,
  lines: readonly WeighUpLine[],
): string[] {
  const list: string[] = [];
  const { dyeClass } = revision.recipe;
  const fit = fitWords({ dyeClass, fibreClass: fibre.class });
  if (fit) list.push(fit);
  if (method.dyeClass !== null && method.dyeClass !== dyeClass) {
    list.push(`The method “${method.name}” is for ${method.dyeClass} dye, and this recipe is ${dyeClass}.`);
  }
  for (const line of lines) {
    if (!line.container) list.push(`No container of ${line.name} in stock.`);
    else if (line.shortMg > 0) {
      list.push(`${line.name}: container ${line.container.code} is short by ${(line.shortMg / 1000).toFixed(2)} g.`);
    }
  }
  return list;
}
