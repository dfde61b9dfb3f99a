import { nearestInteger } from '../calc/rounding.ts';
import { hexOfReading, nameOfReading, readingText } from '../readings/display.ts';
import {
  LEAST_VOLUME_ML,
  type SamplePiece,
  type SamplingInput,
  type SamplingSheet,
  stockTotals,
  volumesOf,
} from './planSamples.ts';
import type { PieceOfPlan } from './queries.ts';
import { blendName } from './results.ts';
import type { SamplingWords } from './schemas.ts';

/** A piece's colour, where it was read. */
export const readingOfPiece = ({ l, a, b, illuminant, observer }: PieceOfPlan) =>
  l === null || a === null || b === null || illuminant === null || observer === null
    ? null
    : { l, a, b, illuminant, observer };

export function pieceViews(sheet: SamplingSheet) {
  return sheet.pieces.map((piece, i) => {
    const cup = sheet.volumes.cups[i];
    const reading = readingOfPiece(piece);
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

export const stockViews = (sheet: SamplingSheet) => {
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
export function planResource(sheet: SamplingSheet) {
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
        lab: readingOfPiece(piece),
        source: piece.source,
        uncertaintyMilli: piece.uncertaintyMilli,
        swatchId: piece.swatchId,
      };
    }),
  };
}

/** Pieces in a row where nobody said: a full rectangle about half as wide again as high, if their number allows it. */
export function usualColumns(count: number): number {
  const wanted = Math.sqrt(1.5 * count);
  const whole = Array.from({ length: Math.min(40, count) }, (_, i) => i + 1).filter((n) => count % n === 0);
  const [best] = whole.sort((x, y) => Math.abs(Math.log(x / wanted)) - Math.abs(Math.log(y / wanted)));
  return best !== undefined && Math.abs(Math.log(best / wanted)) < 0.5 ? best : Math.min(40, Math.ceil(wanted));
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
export function previewOf(input: SamplingInput, pieces: readonly SamplePiece[], codes: readonly string[]) {
  const volumes = volumesOf(input, input.stocks, pieces);
  const totals = stockTotals({ volumes });
  const measured = volumes.cups.flatMap((c) => c.stockMl.filter((v) => v > 0));
  return {
    kind: 'whole' as const,
    count: pieces.length,
    columns: input.gridColumns || usualColumns(pieces.length),
    goodsMg: input.pieceMassMg * pieces.length,
    stocks: totals.map((t, i) => ({ code: codes[i] ?? '', makeUl: t.makeUl, powderMg: t.powderMg })),
    leastUl: nearestInteger({ value: 1000 * Math.min(...measured), field: 'volume' }),
    tooSmall: measured.filter((v) => v < LEAST_VOLUME_ML).length,
  };
}
