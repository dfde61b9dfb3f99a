import { CalcError } from '../calc/calcError.ts';
import type { CardDefinition } from '../calc/colour/cardDefinitions.ts';
import type { CardCorners } from '../calc/colour/cardFinding.ts';
import type { CardReading, Region } from '../calc/colour/cardReading.ts';
import { homographyBetween, mapPoint, turnOfCorners } from '../calc/colour/homography.ts';
import type { Point } from '../calc/colour/pixelImage.ts';
import { ownDepthsPpm } from '../calc/dyeMass.ts';
import type { Db } from '../db/open.ts';
import type { SamplingPieceRow } from '../db/tables/sampling.ts';
import type { Actor, Deps } from '../deps.ts';
import { invalid, notFound, Refusal } from '../errors.ts';
import { freeRecipeName } from '../matching/queries.ts';
import { readablePhoto } from '../photoReadings/photoCopies.ts';
import { readPhoto } from '../photoReadings/photoReader.ts';
import { photoById } from '../photos/queries.ts';
import { createRecipe } from '../recipes/revisions.ts';
import { dayOf } from '../settings/days.ts';
import { theStudio } from '../settings/queries.ts';
import { addSwatch } from '../swatches/addSwatch.ts';
import { type SamplingSheet, samplingSheet } from './planSamples.ts';
import { setPieceColour, setPieceSwatch } from './queries.ts';

/** Four points, upper left first, clockwise, pixels of the upright photo. */
export type FourCorners = readonly [Point, Point, Point, Point];

/** Where the pieces lie: a grid of `columns`, filled row by row, whose four corners are the middles of its corner places (the
 *  last row counts as full, whether it is or not). Each is read in a spot of about a third of a step, its own part of the slant. */
export function pieceRegions(input: { corners: FourCorners; columns: number; count: number }): Region[] {
  const { corners, columns, count } = input;
  const rows = Math.ceil(count / columns);
  if (turnOfCorners(corners) !== 'clockwise') {
    throw new CalcError('outOfRange', 'gridCorners', 'the corners of the samples go clockwise from the first piece');
  }
  const right = Math.max(1, columns - 1);
  const down = Math.max(1, rows - 1);
  const map = homographyBetween(
    [
      { x: 0, y: 0 },
      { x: right, y: 0 },
      { x: right, y: down },
      { x: 0, y: down },
    ],
    corners,
  );
  // One row or column alone: the corners are those of the strip, and the pieces lie half-way down it.
  const middleOf = (i: number): Point => ({
    x: columns === 1 ? 0.5 : i % columns,
    y: rows === 1 ? 0.5 : Math.floor(i / columns),
  });
  const half = 0.18;
  return Array.from({ length: count }, (_, i): Region => {
    const { x, y } = middleOf(i);
    // The four sides of a small square of the sheet, so that a slanted photo reads a slanted square.
    const outline = [
      [-half, -half],
      [half, -half],
      [half, half],
      [-half, half],
    ].map(([dx, dy]) => mapPoint(map, x + (dx as number), y + (dy as number)));
    return { kind: 'area', outline, clusters: 'none' };
  });
}

export interface SheetPhoto {
  planId: number;
  photoId: number;
  card: CardDefinition;
  cardCorners: 'find' | CardCorners;
  gridCorners: FourCorners;
}

/** Reads the colour of every piece of a plan from one photo of the sheet with a card in it. Nothing is kept. */
export async function readSheetPhoto(
  deps: Deps,
  input: SheetPhoto,
): Promise<{ sheet: SamplingSheet; reading: CardReading }> {
  const sheet = samplingSheet(deps.db, input.planId);
  const photo = photoById(deps.db, input.photoId);
  if (!photo) throw notFound('photo');
  const readable = await readablePhoto(deps, photo);
  const { reading } = await readPhoto(readable.file, {
    card: input.card,
    corners: input.cardCorners,
    regions: pieceRegions({
      corners: input.gridCorners,
      columns: sheet.plan.gridColumns,
      count: sheet.pieces.length,
    }),
  });
  return { sheet, reading };
}

/** Keeps what was read of a sheet with the pieces that are no swatches yet; how many those were. */
export function keepSheetReading(
  db: Db,
  sheet: SamplingSheet,
  reading: Extract<CardReading, { outcome: 'read' }>,
  photoId: number,
): number {
  return db.transaction((tx) => {
    let kept = 0;
    sheet.pieces.forEach((piece, i) => {
      const region = reading.regions[i];
      if (piece.swatchId !== null || !region) return;
      setPieceColour(tx, piece.id, {
        l: Math.min(110, Math.max(0, region.lab.L)),
        a: region.lab.a,
        b: region.lab.b,
        illuminant: reading.conditions.illuminant,
        observer: reading.conditions.observerDeg === 2 ? '2' : '10',
        source: 'photoWithCard',
        asTyped: '',
        uncertaintyMilli: Math.round(1000 * region.plusMinus),
        photoId,
      });
      kept += 1;
    });
    return kept;
  });
}

export interface TypedResult {
  ordinal: number;
  l: number;
  a: number;
  b: number;
  illuminant: 'D65' | 'D50' | 'A';
  observer: '2' | '10';
  source: 'instrument' | 'typed';
  asTyped: string;
}

/** Keeps results that were typed or measured. A piece that is a swatch already refuses. */
export function keepResults(db: Db, planId: number, results: readonly TypedResult[]): void {
  db.transaction((tx) => {
    const { pieces } = samplingSheet(tx, planId);
    const byOrdinal = new Map(pieces.map((p) => [p.ordinal, p]));
    for (const { ordinal, ...colour } of results) {
      const piece = byOrdinal.get(ordinal);
      if (!piece) throw invalid({ ordinal: `There is no piece ${ordinal} in this plan.` });
      if (piece.swatchId !== null) throw new Refusal('conflict', `Piece ${ordinal} is a swatch already.`);
      setPieceColour(tx, piece.id, { ...colour, uncertaintyMilli: null, photoId: null });
    }
  });
}

/** Every piece that was read and is no swatch yet becomes one. Each blend is a recipe of its own; one dye at several depths is
 *  one recipe, since a revision holds the shares and a swatch its depth. */
export function makeSwatches(
  db: Db,
  planId: number,
  by: Actor,
  at: number,
  wish: { dyedOn: string | null; cardPlace: string },
): number[] {
  return db.transaction((tx) => {
    const sheet = samplingSheet(tx, planId);
    const waiting = sheet.pieces.filter((p) => p.l !== null && p.swatchId === null);
    if (waiting.length === 0) throw new Refusal('conflict', 'No piece was read that is not a swatch already.');
    const revisions = revisionsStandingAlready(sheet);
    const dyedOn = wish.dyedOn ?? dayOf(at, theStudio(tx).zone);
    return waiting.map((piece) => {
      const key = formulaKey(piece);
      let revisionId = revisions.get(key);
      if (revisionId === undefined) {
        revisionId = revisionOf(tx, sheet, piece, by, at);
        revisions.set(key, revisionId);
      }
      const swatch = addSwatch(
        tx,
        {
          code: null,
          name: blendName(sheet, piece),
          revisionId,
          depthPpm: piece.depthPpm,
          fibreId: sheet.plan.fibreId,
          methodId: sheet.plan.methodId,
          lotId: null,
          dryMassMg: sheet.plan.pieceMassMg,
          dyedOn,
          cardPlace: wish.cardPlace,
          photoId: null,
          rating: null,
          note: `${sheet.plan.name}, piece ${piece.ordinal}`,
          stockLotIds: [],
          readings: [readingOf(piece)],
        },
        by,
        at,
      );
      setPieceSwatch(tx, piece.id, swatch.id);
      return swatch.id;
    });
  });
}

const formulaKey = (piece: Pick<SamplingPieceRow, 'sharesPpm'>): string => piece.sharesPpm.join(':');

/** Shares of earlier swatches of this plan, so that a second batch of results stands on the same recipes. */
function revisionsStandingAlready(sheet: SamplingSheet): Map<string, number> {
  return new Map(
    sheet.pieces.flatMap((p) => (p.swatchRevisionId === null ? [] : [[formulaKey(p), p.swatchRevisionId] as const])),
  );
}

function revisionOf(db: Db, sheet: SamplingSheet, piece: SamplingPieceRow, by: Actor, at: number): number {
  const used = sheet.stocks.flatMap((stock, i) => {
    const sharePpm = piece.sharesPpm[i] ?? 0;
    return sharePpm > 0 ? [{ dyeId: stock.dyeId, sharePpm }] : [];
  });
  const formula = {
    entryStyle: 'split' as const,
    totalDepthPpm: piece.depthPpm,
    components: used,
    why: `Sampled by ${sheet.plan.name}`,
  };
  const name = freeRecipeName(db, blendName(sheet, piece));
  const dyeClass = sheet.stocks[0]?.dyeClass;
  if (dyeClass === undefined) throw notFound('stock of this plan');
  return createRecipe(db, { name, dyeClass, note: '', ...formula }, by, at).revision.id;
}

/** 'F11 40 F61 60' */
export const blendName = (sheet: Pick<SamplingSheet, 'stocks'>, piece: Pick<SamplingPieceRow, 'sharesPpm'>): string => {
  const parts = sheet.stocks.flatMap((stock, i) => {
    const share = piece.sharesPpm[i] ?? 0;
    return share > 0 ? [{ code: stock.code, share }] : [];
  });
  return parts.length === 1
    ? (parts[0]?.code ?? '')
    : parts.map((p) => `${p.code} ${Number((p.share / 10_000).toFixed(1))}`).join(' · ');
};

/** Own depths of the dyes of a piece, in the order of the stocks, ppm. */
export const ownDepthsOf = (piece: Pick<SamplingPieceRow, 'depthPpm' | 'sharesPpm'>): number[] =>
  ownDepthsPpm({ depthPpm: piece.depthPpm, sharesPpm: piece.sharesPpm });

function readingOf(piece: SamplingPieceRow) {
  const { l, a, b, illuminant, observer, source } = piece;
  if (l === null || a === null || b === null || illuminant === null || observer === null || source === null) {
    throw new Refusal('conflict', `Piece ${piece.ordinal} was not read.`);
  }
  return {
    colour: { l, a, b, illuminant, observer },
    source,
    asTyped: piece.asTyped,
    areaSharePpm: null,
    uncertaintyMilli: piece.uncertaintyMilli,
    note: '',
    photoId: piece.photoId,
  };
}
