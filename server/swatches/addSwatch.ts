import { isSaneDay } from '../calc/possibleTime.ts';
import type { Db } from '../db/open.ts';
import type { SwatchRow } from '../db/tables/swatches.ts';
import type { Actor } from '../deps.ts';
import { demandNone, type FieldErrors, found, invalid, stale } from '../errors.ts';
import { recordReadings } from '../readings/recordReadings.ts';
import type { ReadingInput } from '../readings/schemas.ts';
import { dayOf } from '../settings/days.ts';
import { theStudio } from '../settings/queries.ts';
import {
  containersOfFormula,
  highestCardNumber,
  insertSwatch,
  insertSwatchStockLots,
  knownParts,
  swatchById,
  updateSwatch,
} from './queries.ts';
import { type Card, EMPTY_CARD, type SwatchEdit, type SwatchInBody } from './schemas.ts';

/** A swatch to be added: without a code it gets the next free number; `lotId` is the production lot that it is cut from, null when
 *  it was dyed for itself; each container of dye that was used is of a dye of the formula. What is left out
 *  of the card is empty. */
export type SwatchInput = Omit<SwatchInBody, 'readings' | 'stockLotIds' | keyof Card> &
  Partial<Card> & {
    stockLotIds: readonly number[];
    readings: readonly ReadingInput[];
  };

/** The code that the next card gets: S-0001, S-0002, … */
export const nextCardCode = (db: Db): string => cardCode(highestCardNumber(db) + 1);
export const cardCode = (number: number): string => `S-${String(number).padStart(4, '0')}`;

/** Adds a sample to the library with the containers that it was dyed from and its colours, all or nothing. */
export function addSwatch(db: Db, input: SwatchInput, by: Pick<Actor, 'personId'>, at: number): SwatchRow {
  return db.transaction((tx) => {
    const { readings, stockLotIds, ...row } = input;
    const used = [...new Set(stockLotIds)];
    refuseUnknown(tx, input, used);
    if (input.dyedOn > dayOf(at, theStudio(tx).zone)) throw invalid({ dyedOn: 'That day has not come yet.' });
    if (!isSaneDay(input.dyedOn)) throw invalid({ dyedOn: 'Nothing in this studio was dyed so long ago.' });
    const swatch = insertSwatch(tx, { ...EMPTY_CARD, ...row, code: row.code ?? nextCardCode(tx), madeBy: by.personId });
    insertSwatchStockLots(tx, swatch.id, used);
    recordReadings(tx, { swatchId: swatch.id }, readings, by, at);
    return swatch;
  });
}

function refuseUnknown(db: Db, input: SwatchInput, stockLotIds: readonly number[]): void {
  const known = knownParts(db, input);
  const errors: FieldErrors = {};
  if (!known.revision) errors['revisionId'] = 'There is no such recipe revision.';
  if (!known.fibre) errors['fibreId'] = 'There are no such goods.';
  if (!known.method) errors['methodId'] = 'There is no such method.';
  if (!known.photo) errors['photoId'] = 'There is no such photo.';
  if (!known.lot) errors['lotId'] = 'There is no such lot.';
  const fitting = containersOfFormula(db, stockLotIds, input.revisionId);
  if (stockLotIds.some((id) => !fitting.has(id))) {
    errors['stockLotIds'] = 'A container that is not of one of the recipe’s dyes.';
  }
  demandNone(errors);
}

/** Saves what may change on a card: what it is called, where it is kept, what is thought of it. Its formula stands. */
export function editSwatch(db: Db, swatchId: number, edit: SwatchEdit, at: number): SwatchRow {
  const before = found(swatchById(db, swatchId), 'swatch');
  const { archived, version, ...changes } = edit;
  if (edit.photoId !== null && !knownParts(db, { ...before, photoId: edit.photoId }).photo) {
    throw invalid({ photoId: 'There is no such photo.' });
  }
  const saved = updateSwatch(
    db,
    swatchId,
    { ...changes, archivedAt: archived ? (before.archivedAt ?? at) : null },
    version,
  );
  if (!saved) throw stale('swatch');
  return saved;
}
