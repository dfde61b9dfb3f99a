import type { FastifyRequest } from 'fastify';
import { emptyForm, type FormState, type Option } from '../../views/kit/field.ts';
import type { PreviewProps } from '../../views/sampling/form.ts';
import { type PieceView, type SamplingPlanProps, samplingPlanPage } from '../../views/sampling/plan.ts';
import { nearestInteger } from '../calc/rounding.ts';
import type { Db } from '../db/open.ts';
import type { Rendering } from '../http/page.ts';
import { allows } from '../people/guards.ts';
import { hexOfReading, nameOfReading, readingText } from '../readings/display.ts';
import { cardChoices } from '../referenceCards/cards.ts';
import { showOf } from '../settings/show.ts';
import { blendName, colourOfPiece } from './pieces.ts';
import {
  LEAST_VOLUME_ML,
  type SamplePiece,
  type SamplingInput,
  type SamplingSheet,
  samplingSheet,
  stockTotals,
  usualColumns,
  volumesOf,
} from './planSamples.ts';
import type { SamplingPlanShown, SamplingWords } from './schemas.ts';

export const cardOptions = (db: Db): Option[] => cardChoices(db).map((c) => ({ value: c.card, label: c.name }));

const RESULT_DEFAULTS = { source: 'instrument', illuminant: 'D65', observer: '10' };

/** A set's page: what to mix, what came out, and the forms to say so. */
export function planRendering(
  db: Db,
  request: FastifyRequest,
  planId: number,
  forms: { form?: FormState; photoForm?: FormState; messages?: readonly string[] } = {},
): Rendering {
  const sheet = samplingSheet(db, planId);
  const { plan, fibreName, methodName, madeByName } = sheet;
  return {
    title: plan.name,
    section: 'swatches',
    body: samplingPlanPage({
      planId,
      name: plan.name,
      kind: plan.kind,
      fibreName,
      methodName,
      pieceMassMg: plan.pieceMassMg,
      liquorMlPerKg: plan.liquorMlPerKg,
      reservePpm: plan.reservePpm,
      gridColumns: plan.gridColumns,
      note: plan.note,
      madeAt: plan.madeAt,
      madeByName,
      stocks: stockViews(sheet),
      pieces: pieceViews(sheet),
      form: { typed: { ...RESULT_DEFAULTS, ...forms.form?.typed }, errors: forms.form?.errors ?? {} },
      photoForm: forms.photoForm ?? emptyForm,
      cards: cardOptions(db),
      messages: forms.messages ?? [],
      mayWork: allows(request.actor, 'work'),
      show: showOf(db),
    }),
  };
}

export function pieceViews(sheet: SamplingSheet): PieceView[] {
  return sheet.pieces.map((piece, i) => {
    const cup = sheet.volumes.cups[i];
    const reading = colourOfPiece(piece);
    return {
      ordinal: piece.ordinal,
      name: blendName(sheet, piece),
      depthPpm: piece.depthPpm,
      sharesPpm: piece.sharesPpm,
      stockMl: [...(cup?.stockMl ?? [])],
      waterMl: cup?.waterMl ?? null,
      hex: reading && hexOfReading(reading).hex,
      colourName: reading ? nameOfReading(reading) : '',
      readingText: reading ? readingText(reading) : '',
      plusMinus: piece.uncertaintyMilli === null ? null : piece.uncertaintyMilli / 1000,
      swatchId: piece.swatchId,
      swatchCode: piece.swatchCode,
    };
  });
}

export const stockViews = (sheet: SamplingSheet): SamplingPlanProps['stocks'] => {
  const totals = stockTotals(sheet);
  return sheet.stocks.map((s, i) => ({
    code: s.code,
    name: s.name,
    shownHex: s.shownHex,
    concPpm: s.concPpm,
    usedUl: totals[i]?.usedUl ?? 0,
    makeUl: totals[i]?.makeUl ?? 0,
    powderMg: totals[i]?.powderMg ?? 0,
  }));
};

/** A set as the API tells it. */
export function planResource(sheet: SamplingSheet): SamplingPlanShown {
  const { id, archivedAt: _a, madeAt: _m, madeBy: _b, ...plan } = sheet.plan;
  const stocks = stockViews(sheet);
  return {
    planId: id,
    ...plan,
    stocks: sheet.stocks.map((s, i) => ({
      dyeId: s.dyeId,
      code: s.code,
      concPpm: s.concPpm,
      usedUl: stocks[i]?.usedUl ?? 0,
      makeUl: stocks[i]?.makeUl ?? 0,
      powderMg: stocks[i]?.powderMg ?? 0,
    })),
    pieces: sheet.pieces.map((piece, i) => {
      const cup = sheet.volumes.cups[i];
      return {
        ordinal: piece.ordinal,
        depthPpm: piece.depthPpm,
        sharesPpm: piece.sharesPpm,
        stockUl: (cup?.stockMl ?? []).map((v) => v * 1000),
        waterUl: cup?.waterMl === undefined ? null : cup.waterMl * 1000,
        lab: colourOfPiece(piece),
        source: piece.source,
        uncertaintyMilli: piece.uncertaintyMilli,
        swatchId: piece.swatchId,
      };
    }),
  };
}

/** A form's words as the rule's input; the columns follow once the number of pieces is known. */
export const samplingInputOf = (words: SamplingWords): SamplingInput => ({
  name: words.name,
  kind: words.kind,
  fibreId: words.fibreId,
  methodId: words.methodId,
  stocks: words.dyes.map(({ dyeId, conc }) => ({ dyeId, concPpm: conc })),
  ladder:
    words.from === null || words.to === null || words.count === null
      ? null
      : { fromPpm: words.from, toPpm: words.to, count: words.count, spacing: words.spacing },
  blend: words.depth === null ? null : { depthsPpm: [words.depth], stepPct: words.step },
  recipes: null,
  pieceMassMg: words.pieceMass,
  liquorMlPerKg: words.ratio,
  reservePpm: words.reserve,
  gridColumns: words.gridColumns ?? 0,
  note: words.note,
});

/** What a set that is still being typed comes to. */
export function previewOf(
  input: SamplingInput,
  pieces: readonly SamplePiece[],
  codes: readonly string[],
): PreviewProps {
  const volumes = volumesOf(input, input.stocks, pieces);
  const totals = stockTotals({ volumes });
  const measured = volumes.cups.flatMap((c) => c.stockMl.filter((v) => v > 0));
  return {
    kind: 'whole',
    count: pieces.length,
    columns: input.gridColumns || usualColumns(pieces.length),
    goodsMg: input.pieceMassMg * pieces.length,
    stocks: totals.map((t, i) => ({ code: codes[i] ?? '', makeUl: t.makeUl, powderMg: t.powderMg })),
    leastUl: nearestInteger({ value: 1000 * Math.min(...measured), field: 'volume' }),
    tooSmall: measured.filter((v) => v < LEAST_VOLUME_ML).length,
  };
}
