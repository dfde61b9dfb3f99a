import { and, desc, eq, inArray, isNull, sql } from 'drizzle-orm';
import type { Db } from '../db/open.ts';
import { ready, readyInsert } from '../db/ready.ts';
import { lots } from '../db/tables/lots.ts';
import { orderLines } from '../db/tables/orders.ts';
import { people } from '../db/tables/studio.ts';
import {
  type ColourReadingRow,
  colourReadings,
  type ReferenceCardRow,
  referenceCards,
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

export const readingById = (db: Db, readingId: number): ColourReadingRow | undefined =>
  db.select().from(colourReadings).where(eq(colourReadings.id, readingId)).get();

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
  const rows = db
    .select()
    .from(swatchColours)
    .where(inArray(swatchColours.swatchId, [...new Set(swatchIds)]))
    .all();
  return new Map(
    rows.map((r) => [
      r.swatchId,
      { hex: r.hex, bands: r.bands.map((b) => ({ hex: b.hex, share: b.sharePpm })), inGamut: r.inGamut === 1 },
    ]),
  );
}

/** The order that an order line belongs to. */
export const orderOfLine = (db: Db, orderLineId: number): number | undefined =>
  db.select({ orderId: orderLines.orderId }).from(orderLines).where(eq(orderLines.id, orderLineId)).get()?.orderId;

/** Number of the last change to a swatch's colours or goods; 0 when there was none. */
export const lastChange = (db: Db): number =>
  db.get<{ sequence: number }>(sql`select coalesce(max(sequence), 0) as sequence from swatch_changes`)?.sequence ?? 0;

export const changedSwatches = (db: Db, since: number): number[] =>
  db
    .all<{ swatchId: number }>(
      sql`select swatch_id as swatchId from swatch_changes where sequence > ${since} order by sequence`,
    )
    .map((r) => r.swatchId);

export type LibraryReadingRow = Pick<
  ColourReadingRow,
  'id' | 'l' | 'a' | 'b' | 'illuminant' | 'observer' | 'source' | 'readAt' | 'areaSharePpm'
> & { swatchId: number; fibreId: number; methodId: number; revisionId: number; depthPpm: number };

/** Readings that stand, of all swatches on the wall or of these, swatch by swatch, with what they were dyed by. */
export const libraryReadings = (db: Db, swatchIds?: readonly number[]): LibraryReadingRow[] =>
  db.all<LibraryReadingRow>(sql`select r.swatch_id as swatchId, r.id, r.l, r.a, r.b, r.illuminant, r.observer, r.source,
      r.read_at as readAt, r.area_share_ppm as areaSharePpm, s.fibre_id as fibreId, s.method_id as methodId,
      s.revision_id as revisionId, s.depth_ppm as depthPpm
    from swatches s join colour_readings r on r.swatch_id = s.id
    where s.archived_at is null and r.withdrawn_at is null
      ${swatchIds === undefined ? sql`` : sql`and s.id in (select value from json_each(${JSON.stringify(swatchIds)}))`}
    order by s.id, r.id`);

export interface FormulaTraits {
  revisionId: number;
  dyeClass: string;
  /** Borders of pale and deep for its main dye, ppm. */
  paleToPpm: number;
  deepFromPpm: number;
}

/* As on the wall: by the bands of the formula's main dye where the studio has noted them (half-way between two bands is the
   border), else 0.75 and 2.5 % on weight of goods. */
const PALE_TO_PPM = 7_500;
const DEEP_FROM_PPM = 25_000;

/** Dye class and depth borders of every formula that a swatch was dyed by. */
export const formulaTraits = (db: Db): FormulaTraits[] =>
  db.all<FormulaTraits>(sql`select v.id as revisionId, r.dye_class as dyeClass,
      coalesce((d.pale_ppm + d.medium_ppm) / 2, ${PALE_TO_PPM}) as paleToPpm,
      coalesce((d.medium_ppm + d.deep_ppm) / 2, ${DEEP_FROM_PPM}) as deepFromPpm
    from recipe_revisions v join recipes r on r.id = v.recipe_id
    left join recipe_components k on k.revision_id = v.id and k.ordinal =
      (select m.ordinal from recipe_components m where m.revision_id = v.id order by m.share_ppm desc, m.ordinal limit 1)
    left join dyes d on d.id = k.dye_id
    where v.id in (select revision_id from swatches)`);

/** Dyes of every formula that a swatch was dyed by. */
export const formulaDyes = (db: Db): { revisionId: number; dyeId: number; sharePpm: number }[] =>
  db.all(sql`select revision_id as revisionId, dye_id as dyeId, share_ppm as sharePpm from recipe_components
    where share_ppm > 0 and revision_id in (select revision_id from swatches)`);

/** Powder of each dye in usable containers, mg at standard strength. */
export const powderInStock = (db: Db): { dyeId: number; standardMg: number }[] =>
  db.all(sql`select t.dye_id as dyeId, sum(max(0, (select coalesce(sum(g.quantity), 0) from stock_ledger g where g.stock_lot_id = t.id))
      * (t.strength_ppm / 1000000.0)) as standardMg
    from stock_lots t where t.dye_id is not null and t.conc_ppm is null and t.unit = 'mg' and t.closed_at is null and t.recalled_at is null
    group by t.dye_id`);

/** What the mass of dye depends on besides depth and share, by fibre and by method. */
export const uptakeOfFibres = (db: Db): { id: number; uptakePpm: number }[] =>
  db.all(sql`select id, uptake_ppm as uptakePpm from fibres`);
export const lossOfMethods = (db: Db): { id: number; lossPpm: number }[] =>
  db.all(sql`select id, loss_ppm as lossPpm from methods`);

export interface NearTileRow {
  swatchId: number;
  code: string;
  name: string;
  depthPpm: number;
  fibreId: number;
  fibreName: string;
  methodId: number;
  methodName: string;
  revisionId: number;
  recipeName: string;
  dyes: string;
  photoId: number | null;
}

/** What a tile tells of these swatches, in any order. */
export const nearTiles = (db: Db, swatchIds: readonly number[]): NearTileRow[] =>
  swatchIds.length === 0
    ? []
    : db.all<NearTileRow>(sql`select s.id as swatchId, s.code, s.name, s.depth_ppm as depthPpm, s.fibre_id as fibreId,
        f.name as fibreName, s.method_id as methodId, m.name as methodName, s.revision_id as revisionId, r.name as recipeName, s.photo_id as photoId,
        (select group_concat(case when k.share_ppm = 1000000 then d.code else d.code || ' ' || printf('%.12g', round(k.share_ppm / 10000.0, 1)) end, ' · ' order by k.ordinal)
           from recipe_components k join dyes d on d.id = k.dye_id where k.revision_id = s.revision_id) as dyes
      from swatches s join fibres f on f.id = s.fibre_id join methods m on m.id = s.method_id
      join recipe_revisions v on v.id = s.revision_id join recipes r on r.id = v.recipe_id
      where s.id in ${[...swatchIds]}`);

/** A swatch's card number and name, a lot's number: what a page calls the thing whose colour is looked for. */
export const swatchNamed = (db: Db, swatchId: number): { code: string; name: string } | undefined =>
  db.select({ code: swatches.code, name: swatches.name }).from(swatches).where(eq(swatches.id, swatchId)).get();
export const lotNamed = (db: Db, lotId: number): { number: string; finishedAt: number | null } | undefined =>
  db.select({ number: lots.number, finishedAt: lots.finishedAt }).from(lots).where(eq(lots.id, lotId)).get();

export const listCards = (db: Db): ReferenceCardRow[] =>
  db.select().from(referenceCards).orderBy(sql`${referenceCards.archivedAt} is not null`, referenceCards.name).all();
export const cardById = (db: Db, cardId: number): ReferenceCardRow | undefined =>
  db.select().from(referenceCards).where(eq(referenceCards.id, cardId)).get();
export const cardNamed = (db: Db, name: string): ReferenceCardRow | undefined =>
  db.select().from(referenceCards).where(sql`${referenceCards.name} = ${name} collate nocase`).get();
export const insertCard = (db: Db, row: Omit<ReferenceCardRow, 'id'>): ReferenceCardRow =>
  db.insert(referenceCards).values(row).returning().get();
export const setCardArchived = (db: Db, cardId: number, archivedAt: number | null): ReferenceCardRow | undefined =>
  db.update(referenceCards).set({ archivedAt }).where(eq(referenceCards.id, cardId)).returning().get();
