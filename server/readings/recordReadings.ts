import { D65_2, keptConditions, keptLab } from '../calc/colour/reading.ts';
import { labFromSrgb, srgbFromHex } from '../calc/colour/spaces.ts';
import type { Db } from '../db/open.ts';
import type { ColourReadingRow } from '../db/tables/swatches.ts';
import type { Actor } from '../deps.ts';
import { found, invalid, notFound, Refusal } from '../errors.ts';
import { swatchColour } from './display.ts';
import {
  insertReading,
  type ReadingSubject,
  readingById,
  replaceSwatchColour,
  setWithdrawn,
  standingReadings,
  subjectExists,
} from './queries.ts';
import type { ReadingInput } from './schemas.ts';

/** Records one colour of a swatch, a lot or an order line. */
export function recordReading(
  db: Db,
  { subject, ...input }: ReadingInput & { subject: ReadingSubject },
  by: Pick<Actor, 'personId'>,
  at: number,
): ColourReadingRow {
  const [row] = recordReadings(db, subject, [input], by, at);
  return found(row, 'reading');
}

/** Records the colours of one look at a thing: one for even goods, several with their shares for variegated goods. Nothing else
 *  writes readings, or what the wall shows of a swatch. */
export function recordReadings(
  db: Db,
  subject: ReadingSubject,
  inputs: readonly ReadingInput[],
  by: Pick<Actor, 'personId'>,
  at: number,
): ColourReadingRow[] {
  if (inputs.length === 0) return [];
  const share = inputs.reduce((sum, input) => sum + (input.areaSharePpm ?? 0), 0);
  if (share > 1_000_000) throw invalid({ 'share.0': `The shares add to ${share / 10_000} % of the area.` });
  return db.transaction((tx) => {
    if (!subjectExists(tx, subject)) throw notFound(nounOf(subject));
    const rows = inputs.map((input) =>
      insertReading(tx, {
        swatchId: 'swatchId' in subject ? subject.swatchId : null,
        lotId: 'lotId' in subject ? subject.lotId : null,
        orderLineId: 'orderLineId' in subject ? subject.orderLineId : null,
        ...storedColour(input),
        source: input.source,
        areaSharePpm: input.areaSharePpm,
        uncertaintyMilli: input.uncertaintyMilli,
        readAt: at,
        readBy: by.personId,
        note: input.note,
        withdrawnAt: null,
        photoId: input.photoId ?? null,
      }),
    );
    if ('swatchId' in subject) refresh(tx, subject.swatchId);
    return rows;
  });
}

const nounOf = (subject: ReadingSubject): string =>
  'swatchId' in subject ? 'swatch' : 'lotId' in subject ? 'lot' : 'order line';

/** Withdraws a reading; it stays in the record, struck out. */
export function withdrawReading(db: Db, readingId: number, at: number): ColourReadingRow {
  return db.transaction((tx) => {
    if (!readingById(tx, readingId)) throw notFound('reading');
    const row = setWithdrawn(tx, readingId, at);
    if (!row) throw new Refusal('conflict', 'This reading was withdrawn already.');
    if (row.swatchId !== null) refresh(tx, row.swatchId);
    return row;
  });
}

const refresh = (db: Db, swatchId: number): void =>
  replaceSwatchColour(db, swatchId, swatchColour(swatchId, standingReadings(db, { swatchId })));

/** A colour code is kept as it was typed, and as the CIELAB that it stands for. */
export function storedColour(
  input: ReadingInput,
): Pick<ColourReadingRow, 'l' | 'a' | 'b' | 'illuminant' | 'observer' | 'asTyped'> {
  if ('hex' in input.colour) {
    const { hex } = input.colour;
    const lab = labFromSrgb({ srgb: srgbFromHex(hex), conditions: D65_2 });
    return { ...keptLab(lab), ...keptConditions(D65_2), asTyped: input.asTyped || hex };
  }
  return { ...input.colour, asTyped: input.asTyped };
}
