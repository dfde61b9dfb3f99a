import type { Db } from '../db/open.ts';
import type { SamplingPieceRow } from '../db/tables/sampling.ts';
import type { Actor } from '../deps.ts';
import { notFound, Refusal } from '../errors.ts';
import { freeRecipeName } from '../matching/queries.ts';
import type { ReadingInput } from '../readings/schemas.ts';
import { createRecipe } from '../recipes/revisions.ts';
import { dayOf } from '../settings/days.ts';
import { theStudio } from '../settings/queries.ts';
import { addSwatch } from '../swatches/addSwatch.ts';
import { blendName, colourOfPiece } from './pieces.ts';
import { type SamplingSheet, samplingSheet } from './planSamples.ts';
import { setPieceSwatch } from './queries.ts';

/** Makes a swatch of every piece that was read and is not one yet. Each blend is a recipe of its own; one dye at several depths is
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

/** Revisions of earlier swatches of this plan by their shares, so that later results stand on the same recipes. */
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
    depthConfirmed: true,
  };
  const name = freeRecipeName(db, blendName(sheet, piece));
  const dyeClass = sheet.stocks[0]?.dyeClass;
  if (dyeClass === undefined) throw notFound('stock of this plan');
  return createRecipe(db, { name, dyeClass, note: '', ...formula }, by, at).revision.id;
}

function readingOf(piece: SamplingPieceRow): ReadingInput {
  const colour = colourOfPiece(piece);
  if (colour === null || piece.source === null) throw new Refusal('conflict', `Piece ${piece.ordinal} was not read.`);
  return {
    colour,
    source: piece.source,
    asTyped: piece.asTyped,
    areaSharePpm: null,
    uncertaintyMilli: piece.uncertaintyMilli,
    note: '',
    photoId: piece.photoId,
  };
}
