import { liquorVolumeMl, makeUpWater } from '../calc/bath.ts';
import { CalcError } from '../calc/calcError.ts';
import { ownDepthsPpm, pieceDye } from '../calc/dyeMass.ts';
import { nearestInteger } from '../calc/rounding.ts';
import { stockVolumeMlOfMass } from '../calc/stockSolution.ts';
import type { ScaleRow } from '../db/tables/studio.ts';
import { auxiliaryLine } from './auxiliaryLine.ts';
import { lotCautions } from './cautions.ts';
import { chosenStock } from './chosenJar.ts';
import { dyeLines } from './dyeLines.ts';
import { estimateOf } from './estimate.ts';
import { countedMassMg } from './goodsMass.ts';
import type { PlanContext } from './planContext.ts';
import type { Plan, PlanInput, PlanLine } from './schemas.ts';
import { drawFromContainers } from './shortage.ts';
import { warningsOf } from './warnings.ts';

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

  const parts = partsOf(input, context);
  const piece = pieceOf({ input, parts, goodsDryMassG, lossPpm, uptakePpm: fibre.uptakePpm });
  const lines = linesOf({ input, context, parts, piece, scale, goodsDryMassG, dryMassMg, bathUl, soakUl });
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

type Part = ReturnType<typeof partsOf>[number];

/** The colours of a plan with their recipes, and each dye of them with its depth and the jar that it is planned from. */
function partsOf(input: PlanInput, context: PlanContext) {
  if (input.colours.length === 0) throw new CalcError('missing', 'colours', 'A lot needs at least one colour.');
  return input.colours.map((colour, i) => {
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
}

/** How much dye the piece wants, colour by colour. */
const pieceOf = (a: {
  input: PlanInput;
  parts: readonly Part[];
  goodsDryMassG: number;
  lossPpm: number;
  uptakePpm: number;
}): ReturnType<typeof pieceDye> =>
  pieceDye({
    goodsDryMassG: a.goodsDryMassG,
    coverageMode: a.input.coverage,
    lossFactor: a.lossPpm / 1e6,
    uptakeFactor: a.uptakePpm / 1e6,
    colours: a.parts.map(({ colour, components }) => ({
      areaSharePct: colour.sharePpm / 10_000,
      components: components.map((c) => ({
        depthPct: c.depthPpm / 10_000,
        strengthPct: (c.stock.lot?.strengthPpm ?? 1e6) / 10_000,
      })),
    })),
  });

/** What is weighed and measured: the dyes of each colour, then the auxiliaries of the method. */
function linesOf(a: {
  input: PlanInput;
  context: PlanContext;
  parts: readonly Part[];
  piece: ReturnType<typeof pieceDye>;
  scale: ScaleRow;
  goodsDryMassG: number;
  dryMassMg: number;
  bathUl: number | null;
  soakUl: number | null;
}): PlanLine[] {
  const { input, context, scale, goodsDryMassG, bathUl, soakUl } = a;
  const lines: PlanLine[] = [];
  const liquorLimitMl = (bathUl ?? soakUl ?? a.dryMassMg * 2) / 1000;
  a.parts.forEach(({ components }, i) => {
    const massesMg = (a.piece.colours[i]?.massesG ?? []).map((massG) => massG * 1000);
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
  return lines;
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
