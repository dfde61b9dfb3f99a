import { and, desc, eq, isNull, sql } from 'drizzle-orm';
import type { Db } from '../db/open.ts';
import { among, ready, readyInsert, rowById } from '../db/ready.ts';
import { lots } from '../db/tables/lots.ts';
import { orderLines } from '../db/tables/orders.ts';
import { people } from '../db/tables/studio.ts';
import {
  type ColourReadingRow,
  colourReadings,
  type SwatchColourRow,
  swatchColours,
  swatches,
} from '../db/tables/swatches.ts';

/** What a reading is of: exactly one of the three. */
export type ReadingSubject = { swatchId: number } | { lotId: number } | { orderLineId: number };

const of = (subject: ReadingSubject) =>
  'swatchId' in subject
    ? eq(colourReadings.swatchId, subject.swatchId)
    : 'lotId' in subject
      ? eq(colourReadings.lotId, subject.lotId)
      : eq(colourReadings.orderLineId, subject.orderLineId);

export const readingById = rowById(colourReadings);

/* Kept ready: an import asks these for every row. */
const standingOfSwatch = ready((db) =>
  db
    .select()
    .from(colourReadings)
    .where(and(eq(colourReadings.swatchId, sql.placeholder('swatchId')), isNull(colourReadings.withdrawnAt)))
    .orderBy(desc(colourReadings.readAt), colourReadings.id)
    .prepare(),
);
const swatchOfId = ready((db) =>
  db
    .select({ id: swatches.id })
    .from(swatches)
    .where(eq(swatches.id, sql.placeholder('swatchId')))
    .prepare(),
);
const dropColourOf = ready((db) =>
  db
    .delete(swatchColours)
    .where(eq(swatchColours.swatchId, sql.placeholder('swatchId')))
    .prepare(),
);
const addReading = readyInsert(colourReadings);
const addColour = readyInsert(swatchColours);

/** Readings of one thing that were not withdrawn, newest first. */
export const standingReadings = (db: Db, subject: ReadingSubject): ColourReadingRow[] =>
  'swatchId' in subject
    ? standingOfSwatch(db).all({ swatchId: subject.swatchId })
    : db
        .select()
        .from(colourReadings)
        .where(and(of(subject), isNull(colourReadings.withdrawnAt)))
        .orderBy(desc(colourReadings.readAt), colourReadings.id)
        .all();

export interface ReadingWithReader extends ColourReadingRow {
  readByName: string;
}

/** Every reading of one thing, the withdrawn ones too, newest first, with who read it. */
export const readingsOf = (db: Db, subject: ReadingSubject): ReadingWithReader[] =>
  db
    .select({ reading: colourReadings, readByName: people.name })
    .from(colourReadings)
    .innerJoin(people, eq(people.id, colourReadings.readBy))
    .where(of(subject))
    .orderBy(desc(colourReadings.readAt), colourReadings.id)
    .all()
    .map(({ reading, readByName }) => ({ ...reading, readByName }));

export function subjectExists(db: Db, subject: ReadingSubject): boolean {
  const row =
    'swatchId' in subject
      ? swatchOfId(db).get({ swatchId: subject.swatchId })
      : 'lotId' in subject
        ? db.select({ id: lots.id }).from(lots).where(eq(lots.id, subject.lotId)).get()
        : db.select({ id: orderLines.id }).from(orderLines).where(eq(orderLines.id, subject.orderLineId)).get();
  return row !== undefined;
}

export const insertReading = (db: Db, row: Omit<ColourReadingRow, 'id'>): ColourReadingRow => addReading(db, row);

export const setWithdrawn = (db: Db, readingId: number, at: number): ColourReadingRow | undefined =>
  db
    .update(colourReadings)
    .set({ withdrawnAt: at })
    .where(and(eq(colourReadings.id, readingId), isNull(colourReadings.withdrawnAt)))
    .returning()
    .get();

export function replaceSwatchColour(db: Db, swatchId: number, row: SwatchColourRow | null): void {
  dropColourOf(db).run({ swatchId });
  if (row) addColour(db, row);
}

export interface SwatchDisplay {
  hex: string;
  bands: { hex: string; share: number }[];
  inGamut: boolean;
}

/** What chips show of these swatches, by swatch id, in one statement; a swatch without reading is not in it. */
export function displayOfSwatches(db: Db, swatchIds: readonly number[]): Map<number, SwatchDisplay> {
  if (swatchIds.length === 0) return new Map();
  const rows = coloursOfSwatches(db).all({ swatchIds: JSON.stringify(swatchIds) });
  return new Map(
    rows.map((r) => [
      r.swatchId,
      { hex: r.hex, bands: r.bands.map((b) => ({ hex: b.hex, share: b.sharePpm })), inGamut: r.inGamut === 1 },
    ]),
  );
}

const coloursOfSwatches = ready((db) =>
  db.select().from(swatchColours).where(among(swatchColours.swatchId, 'swatchIds')).prepare(),
);

/** The order that an order line belongs to. */
export const orderOfLine = (db: Db, orderLineId: number): number | undefined =>
  db.select({ orderId: orderLines.orderId }).from(orderLines).where(eq(orderLines.id, orderLineId)).get()?.orderId;

/** A swatch's card number and name, a lot's number: what a page calls the thing whose colour is looked for. */
export const swatchNamed = (db: Db, swatchId: number): { code: string; name: string } | undefined =>
  db.select({ code: swatches.code, name: swatches.name }).from(swatches).where(eq(swatches.id, swatchId)).get();
export const lotNamed = (db: Db, lotId: number): { number: string; finishedAt: number | null } | undefined =>
  db.select({ number: lots.number, finishedAt: lots.finishedAt }).from(lots).where(eq(lots.id, lotId)).get();
