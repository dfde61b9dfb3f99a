import { CalcError } from '../calc/calcError.ts';
import type { CardDefinition } from '../calc/colour/cardDefinitions.ts';
import type { CardCorners } from '../calc/colour/cardFinding.ts';
import type { CardReading, Region } from '../calc/colour/cardReading.ts';
import { homographyBetween, mapPoint, turnOfCorners } from '../calc/colour/homography.ts';
import type { Point } from '../calc/colour/pixelImage.ts';
import { keptConditions, keptLab } from '../calc/colour/reading.ts';
import type { Db } from '../db/open.ts';
import type { Deps } from '../deps.ts';
import { found } from '../errors.ts';
import { readablePhoto } from '../photoReadings/photoCopies.ts';
import { readPhoto } from '../photoReadings/photoReader.ts';
import { photoById } from '../photos/queries.ts';
import { type SamplingSheet, samplingSheet } from './planSamples.ts';
import { setPieceColour } from './queries.ts';

const SQUARE = [
  [-1, -1],
  [1, -1],
  [1, 1],
  [-1, 1],
] as const;

/** Where the pieces lie: a grid of `columns`, filled row by row, whose four `corners` are the middles of its corner places, from the
 *  first clockwise (the last row counts as full, whether it is or not). Each piece is read in a spot of about a third of a step,
 *  slanted as its part of the photo is. */
export function pieceRegions(input: { corners: CardCorners; columns: number; count: number }): Region[] {
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
  // A single row or column: the corners are those of the strip, and the pieces lie half-way across it.
  const middleOf = (i: number): Point => ({
    x: columns === 1 ? 0.5 : i % columns,
    y: rows === 1 ? 0.5 : Math.floor(i / columns),
  });
  const half = 0.18;
  return Array.from({ length: count }, (_, i): Region => {
    const { x, y } = middleOf(i);
    // The four sides of a small square of the sheet, so that a slanted photo reads a slanted square.
    const outline = SQUARE.map(([dx, dy]) => mapPoint(map, x + dx * half, y + dy * half));
    return { kind: 'area', outline, clusters: 'none' };
  });
}

export interface SheetPhoto {
  planId: number;
  photoId: number;
  card: CardDefinition;
  cardCorners: 'find' | CardCorners;
  gridCorners: CardCorners;
}

/** Reads the colour of every piece of a plan from one photo of the sheet with a card in it. Keeps nothing. */
export async function readSheetPhoto(
  deps: Deps,
  input: SheetPhoto,
): Promise<{ sheet: SamplingSheet; reading: CardReading }> {
  const sheet = samplingSheet(deps.db, input.planId);
  const readable = await readablePhoto(deps, found(photoById(deps.db, input.photoId), 'photo'));
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

/** Keeps what was read from a sheet with the pieces that are not swatches yet, and says how many those were. */
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
        ...keptLab(region.lab),
        l: Math.min(110, Math.max(0, region.lab.L)),
        ...keptConditions(reading.conditions),
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
