import { and, desc, eq, sql } from 'drizzle-orm';
import type { SQLiteColumn, SQLiteTable } from 'drizzle-orm/sqlite-core';
import { copyInMemory, type Db, type OpenDatabase, openForReading, type Sqlite, sizeBytes } from '../db/open.ts';
import { ready, readyInsert, rowById } from '../db/ready.ts';
import {
  type ImportDraftRow,
  type ImportedThingRow,
  type ImportRow,
  importDrafts,
  importRows,
  imports,
} from '../db/tables/keeping.ts';
import { auxiliaries, dyes, fibres } from '../db/tables/materials.ts';
import { customers } from '../db/tables/orders.ts';
import { methods, recipeComponents, recipeRevisions, recipes } from '../db/tables/recipes.ts';
import { stockLots } from '../db/tables/stock.ts';
import { people } from '../db/tables/studio.ts';
import { CARD_COLUMNS, swatches, swatchSpectra } from '../db/tables/swatches.ts';

export type Thing = ImportedThingRow['thing'];

// ───────────── drafts ─────────────
export const insertDraft = (db: Db, row: Omit<ImportDraftRow, 'choicesJson'>): void => {
  db.insert(importDrafts).values(row).run();
};

export const draftById = (db: Db, draftId: string): ImportDraftRow | undefined =>
  db.select().from(importDrafts).where(eq(importDrafts.id, draftId)).get();

export const saveDraftChoices = (db: Db, draftId: string, choicesJson: string): void => {
  db.update(importDrafts).set({ choicesJson }).where(eq(importDrafts.id, draftId)).run();
};

export const dropDraft = (db: Db, draftId: string): void => {
  db.delete(importDrafts).where(eq(importDrafts.id, draftId)).run();
};

export const dropDraftsBefore = (db: Db, at: number): void => {
  db.delete(importDrafts).where(sql`${importDrafts.madeAt} < ${at}`).run();
};

export const listDrafts = (db: Db): Pick<ImportDraftRow, 'id' | 'kind' | 'fileName' | 'madeAt'>[] =>
  db
    .select({
      id: importDrafts.id,
      kind: importDrafts.kind,
      fileName: importDrafts.fileName,
      madeAt: importDrafts.madeAt,
    })
    .from(importDrafts)
    .orderBy(desc(importDrafts.madeAt))
    .all();

// ───────────── imports ─────────────
export const insertImport = (
  db: Db,
  row: Pick<ImportRow, 'kind' | 'fileName' | 'rowCount' | 'madeAt' | 'madeBy'>,
): ImportRow => db.insert(imports).values(row).returning().get();

export function insertImportRows(db: Db, rows: readonly ImportedThingRow[]): void {
  for (let i = 0; i < rows.length; i += 500) {
    db.insert(importRows)
      .values(rows.slice(i, i + 500))
      .run();
  }
}

export const importById = rowById(imports);

export const listImports = (db: Db, limit: number): (ImportRow & { madeByName: string })[] =>
  db
    .select({ row: imports, madeByName: people.name })
    .from(imports)
    .innerJoin(people, eq(people.id, imports.madeBy))
    .orderBy(desc(imports.id))
    .limit(limit)
    .all()
    .map(({ row, madeByName }) => ({ ...row, madeByName }));

export const thingsOf = (db: Db, importId: number): ImportedThingRow[] =>
  db
    .select()
    .from(importRows)
    .where(eq(importRows.importId, importId))
    .orderBy(importRows.line, importRows.thing, importRows.thingId)
    .all();

export const setUndoing = (db: Db, importId: number, undoing: 0 | 1): void => {
  db.update(imports).set({ undoing }).where(eq(imports.id, importId)).run();
};

/** Marks an import as taken back; false when it was already. */
export const markUndone = (db: Db, importId: number, at: number, by: number): boolean =>
  db
    .update(imports)
    .set({ undoing: 0, undoneAt: at, undoneBy: by })
    .where(and(eq(imports.id, importId), sql`${imports.undoneAt} is null`))
    .run().changes === 1;

/** The studio apart, to try an import on; null when it is larger than that. */
export const copyToTryOn = (sqlite: Sqlite, maxBytes: number): OpenDatabase | null =>
  sizeBytes(sqlite) <= maxBytes ? copyInMemory(sqlite) : null;

// ───────────── what is there already ─────────────
const idBy = (table: SQLiteTable & { id: SQLiteColumn }, key: SQLiteColumn) =>
  ready((db) =>
    db
      .select({ id: sql<number>`${table.id}` })
      .from(table)
      .where(sql`${key} = ${sql.placeholder('key')} collate nocase`)
      .prepare(),
  );
/* Kept ready: every row of a file asks some of them. */
const KEYS = {
  customer: idBy(customers, customers.name),
  fibre: idBy(fibres, fibres.name),
  dye: idBy(dyes, dyes.code),
  auxiliary: idBy(auxiliaries, auxiliaries.code),
  method: idBy(methods, methods.name),
  stockLot: idBy(stockLots, stockLots.code),
  swatch: idBy(swatches, swatches.code),
  recipe: idBy(recipes, recipes.name),
  person: idBy(people, people.name),
} as const;

/** The id of the thing with this code or name, in any case of (unaccented) letters. */
export const idOf = (db: Db, thing: keyof typeof KEYS, key: string): number | undefined =>
  KEYS[thing](db).get({ key })?.id;

/** Names under which the things of an import are found on pages. */
export const namesOf = (db: Db, thing: Thing, ids: readonly number[]): { id: number; name: string }[] => {
  const from = {
    customer: sql`select id, name from customers`,
    fibre: sql`select id, name from fibres`,
    dye: sql`select id, code || ' ' || name as name from dyes`,
    auxiliary: sql`select id, code || ' ' || name as name from auxiliaries`,
    method: sql`select id, name from methods`,
    stockLot: sql`select id, code as name from stock_lots`,
    recipe: sql`select id, name from recipes`,
    revision: sql`select v.id, r.name || ', revision ' || v.number as name from recipe_revisions v join recipes r on r.id = v.recipe_id`,
    swatch: sql`select id, code || ' ' || name as name from swatches`,
  }[thing];
  return db.all(sql`select * from (${from}) where id in (select value from json_each(${JSON.stringify(ids)}))`);
};

const classOf = ready((db) =>
  db
    .select({ class: dyes.class })
    .from(dyes)
    .where(eq(dyes.id, sql.placeholder('dyeId')))
    .prepare(),
);
export const classOfDye = (db: Db, dyeId: number) => classOf(db).get({ dyeId })?.class;

const addSpectrum = readyInsert(swatchSpectra);
export const insertSpectrum = (db: Db, row: typeof swatchSpectra.$inferInsert): void => {
  addSpectrum(db, row);
};

const formulas = ready((db) =>
  db
    .select({
      revisionId: recipeRevisions.id,
      number: recipeRevisions.number,
      entryStyle: recipeRevisions.entryStyle,
      totalDepthPpm: recipeRevisions.totalDepthPpm,
      dyeId: recipeComponents.dyeId,
      sharePpm: recipeComponents.sharePpm,
    })
    .from(recipeRevisions)
    .innerJoin(recipeComponents, eq(recipeComponents.revisionId, recipeRevisions.id))
    .where(eq(recipeRevisions.recipeId, sql.placeholder('recipeId')))
    .orderBy(recipeRevisions.number, recipeComponents.ordinal)
    .prepare(),
);

/** Revisions of a recipe with their formulas, oldest first: dye id → share. */
export const formulasOfRecipe = (
  db: Db,
  recipeId: number,
): { revisionId: number; number: number; entryStyle: string; totalDepthPpm: number; shares: Map<number, number> }[] => {
  const rows = formulas(db).all({ recipeId });
  const found = new Map<number, ReturnType<typeof formulasOfRecipe>[number]>();
  for (const { dyeId, sharePpm, ...revision } of rows) {
    const known = found.get(revision.revisionId) ?? { ...revision, shares: new Map() };
    known.shares.set(dyeId, sharePpm);
    found.set(revision.revisionId, known);
  }
  return [...found.values()];
};

// ───────────── taking back ─────────────
const statement = {
  swatch: (id: number) => [
    // Told to those who keep the library in memory before it goes.
    sql`update swatches set archived_at = coalesce(archived_at, 0) + 1 where id = ${id}`,
    sql`delete from swatch_spectra where swatch_id = ${id}`,
    sql`delete from swatch_colours where swatch_id = ${id}`,
    sql`delete from colour_readings where swatch_id = ${id}`,
    sql`delete from swatch_stock_lots where swatch_id = ${id}`,
    sql`delete from swatches where id = ${id}`,
  ],
  revision: (id: number) => [
    sql`delete from recipe_components where revision_id = ${id}`,
    sql`delete from recipe_revisions where id = ${id}`,
  ],
  recipe: (id: number) => [sql`delete from recipes where id = ${id}`],
  stockLot: (id: number) => [
    sql`delete from stock_ledger where stock_lot_id = ${id}`,
    sql`delete from stock_lots where id = ${id}`,
  ],
  dye: (id: number) => [sql`delete from dyes where id = ${id}`],
  auxiliary: (id: number) => [sql`delete from auxiliaries where id = ${id}`],
  fibre: (id: number) => [
    sql`delete from fibre_parts where fibre_id = ${id}`,
    sql`delete from fibres where id = ${id}`,
  ],
  method: (id: number) => [sql`delete from methods where id = ${id}`],
  customer: (id: number) => [sql`delete from customers where id = ${id}`],
} as const satisfies Record<Thing, (id: number) => unknown[]>;

/** Order in which things leave: what stands on others first. */
export const LEAVING_ORDER: readonly Thing[] = [
  'swatch',
  'revision',
  'recipe',
  'stockLot',
  'dye',
  'auxiliary',
  'fibre',
  'method',
  'customer',
];

/** Deletes one thing of an import that is being taken back. Throws the database's own refusal when something stands on it. */
export function deleteThing(db: Db, thing: Thing, id: number): void {
  for (const query of statement[thing](id)) db.run(query);
}

const TABLE_OF: Record<Thing, string> = {
  swatch: 'swatches',
  revision: 'recipe_revisions',
  recipe: 'recipes',
  stockLot: 'stock_lots',
  dye: 'dyes',
  auxiliary: 'auxiliaries',
  fibre: 'fibres',
  method: 'methods',
  customer: 'customers',
};

/** Tables whose rows name this thing, by the database's own references. */
export function tablesStandingOn(db: Db, thing: Thing, id: number): string[] {
  const references = db.all<{ table: string; column: string }>(sql`select m.name as "table", f."from" as "column"
    from sqlite_master m join pragma_foreign_key_list(m.name) f where m.type = 'table' and f."table" = ${TABLE_OF[thing]}`);
  return references
    .filter(
      ({ table, column }) =>
        db.get(sql`select 1 from ${sql.identifier(table)} where ${sql.identifier(column)} = ${id} limit 1`) !==
        undefined,
    )
    .map(({ table }) => table);
}

/** Things of an import that somebody changed since: their version rose, or something was added to their own rows. */
export const changedSince = (db: Db, importId: number): { thing: Thing; thingId: number }[] =>
  db.all(sql`select r.thing, r.thing_id as "thingId" from import_rows r where r.import_id = ${importId} and (
    (r.thing = 'customer' and (select version from customers where id = r.thing_id) > 1)
    or (r.thing = 'fibre' and (select version from fibres where id = r.thing_id) > 1)
    or (r.thing = 'dye' and (select version from dyes where id = r.thing_id) > 1)
    or (r.thing = 'auxiliary' and (select version from auxiliaries where id = r.thing_id) > 1)
    or (r.thing = 'method' and (select version from methods where id = r.thing_id) > 1)
    or (r.thing = 'recipe' and (select version from recipes where id = r.thing_id) > 1)
    or (r.thing = 'stockLot' and (select version from stock_lots where id = r.thing_id) > 1)
    or (r.thing = 'swatch' and (select version from swatches where id = r.thing_id) > (select case when w.archived_at is null then 1 else 2 end from swatches w where w.id = r.thing_id))
    or (r.thing = 'swatch' and exists (select 1 from colour_readings c where c.swatch_id = r.thing_id and c.read_at > (select made_at from imports where id = r.import_id))))`);

// ───────────── leaving ─────────────
/** One moment's view of everything, beside the connection that people write with: a connection of its own with an open read.
 *  A studio in memory is read as it is. */
export function openSnapshot(sqlite: Sqlite): { sqlite: Sqlite; close: () => void } {
  if (sqlite.memory || sqlite.name === '') return { sqlite, close: () => undefined };
  const open: OpenDatabase = openForReading(sqlite.name);
  open.sqlite.exec('BEGIN');
  // The view begins with the first read, not with BEGIN.
  open.sqlite.prepare('select count(*) from sqlite_master').get();
  return { sqlite: open.sqlite, close: () => open.sqlite.close() };
}

export interface ColumnOfTable {
  table: string;
  name: string;
  type: string;
  notNull: boolean;
  key: boolean;
  /** 'people.id' where it refers to another table. */
  refersTo: string | null;
}

/** Columns of every table in the order of the file. */
export const columnsOf = (sqlite: Sqlite): ColumnOfTable[] =>
  (
    sqlite
      .prepare(
        `select t.name as "table", c.name, c.type, c."notnull" as "notNull", c.pk as "key",
          (select f."table" || '.' || f."to" from pragma_foreign_key_list(t.name) f where f."from" = c.name) as "refersTo"
        from pragma_table_list t join pragma_table_info(t.name) c
        where t.schema = 'main' and t.type = 'table' and t.name not like 'sqlite_%' and t.name <> '__drizzle_migrations' order by t.name, c.cid`,
      )
      .all() as (Omit<ColumnOfTable, 'notNull' | 'key'> & { notNull: number; key: number })[]
  ).map((c) => ({ ...c, notNull: c.notNull === 1 || c.key > 0, key: c.key > 0 }));

/** Few enough that a turn is short and what was read is written before the garbage collector keeps it for long. */
const ROWS_A_TURN = 100;

/** Rows of one table in its own order, some at a time. */
export function* rowsOfTable(
  sqlite: Sqlite,
  table: string,
  columns: readonly string[],
): Generator<Record<string, string | number | null | Buffer>[]> {
  const quoted = columns.map((c) => `"${c}"`).join(', ');
  const select = sqlite.prepare(`select ${quoted} from "${table}"`);
  // An open iteration keeps every write on its connection out: only a connection of its own may hold one.
  if (!sqlite.readonly) {
    const rows = select.all() as Record<string, string | number | null | Buffer>[];
    for (let i = 0; i < rows.length; i += ROWS_A_TURN) yield rows.slice(i, i + ROWS_A_TURN);
    return;
  }
  let page: Record<string, string | number | null | Buffer>[] = [];
  for (const row of select.iterate() as IterableIterator<Record<string, string | number | null | Buffer>>) {
    page.push(row);
    if (page.length < ROWS_A_TURN) continue;
    yield page;
    page = [];
  }
  if (page.length > 0) yield page;
}

/** All rows of a query of the snapshot, one by one where it is a connection of its own. */
export const rowsOfQuery = <Row>(sqlite: Sqlite, query: string): Iterable<Row> =>
  (sqlite.readonly ? sqlite.prepare(query).iterate() : sqlite.prepare(query).all()) as Iterable<Row>;

/** Swatches of an import in the order in which they came. */
export const swatchesOfImport = (db: Db, importId: number): { swatchId: number; code: string }[] =>
  db.all(sql`select s.id as "swatchId", s.code from import_rows r join swatches s on s.id = r.thing_id
    where r.import_id = ${importId} and r.thing = 'swatch' order by r.line, s.id`);

/** What the files that can be imported again are made from. */
export const LIBRARY_QUERIES = {
  customers: 'select name, contact, note from customers order by id',
  fibres: `select name, class, kind, construction, areal_mass_mg_per_m2 as arealMassMgPerM2, width_mm as widthMm, count_text as countText,
      put_up_mass_mg as putUpMassMg, put_up_length_mm as putUpLengthMm, regain_ppm as regainPpm, shrink_length_ppm as shrinkLengthPpm,
      shrink_width_ppm as shrinkWidthPpm, uptake_ppm as uptakePpm, cost_minor_per_kg as costMinorPerKg, note from fibres order by id`,
  dyes: `select code, name, class, ci_name as ciName, single_colourant as singleColourant, pale_ppm as palePpm, medium_ppm as mediumPpm,
      deep_ppm as deepPpm, solution_life_days as solutionLifeDays, shown_hex as shownHex, hazard_codes as hazardCodes, sds_url as sdsUrl, note
    from dyes order by id`,
  auxiliaries: `select code, name, form, hydrate, grade, bulk_density_g_per_l as bulkDensityGPerL, solution_conc_ppm as solutionConcPpm,
      hazard_codes as hazardCodes, sds_url as sdsUrl, note from auxiliaries order by id`,
  // Open containers as bought. A solution is made from its powder and comes back when it is made again.
  stock: `select s.code, coalesce(d.code, a.code, f.name) as item, s.unit, s.received_quantity as receivedQuantity, s.price_minor as priceMinor,
      s.freight_minor as freightMinor, s.supplier, s.maker_lot as makerLot, s.strength_ppm as strengthPpm, s.received_on as receivedOn,
      s.opened_on as openedOn, s.best_before_on as bestBeforeOn, s.note,
      (select coalesce(sum(l.quantity), 0) from stock_ledger l where l.stock_lot_id = s.id) as onHand
    from stock_lots s left join dyes d on d.id = s.dye_id left join auxiliaries a on a.id = s.auxiliary_id left join fibres f on f.id = s.fibre_id
    where s.source_stock_lot_id is null and s.closed_at is null order by s.id`,
  // Goods before dyeing come last, as samples without dyes.
  swatches: `select * from (select r.id as recipeId, v.number as revision, s.id as swatchId, s.code, s.name, r.name as recipe, v.number as recipeRevision, v.entry_style as entryStyle, v.total_depth_ppm as recipeDepthPpm,
      s.depth_ppm as depthPpm, f.name as fibre, f.class as fibreClass, f.kind as fibreKind, m.name as method, s.dyed_on as dyedOn,
      s.dry_mass_mg as dryMassMg, ${CARD_COLUMNS.map((name) => `s.${swatches[name].name} as ${name}`).join(', ')}, p.name as madeBy, s.archived_at is not null as archived,
      (select json_group_array(json_object('code', d.code, 'sharePpm', c.share_ppm, 'depthPpm', c.depth_ppm) order by c.ordinal)
        from recipe_components c join dyes d on d.id = c.dye_id where c.revision_id = s.revision_id) as components,
      (select json_group_array(json_object('l', c.l, 'a', c.a, 'b', c.b, 'illuminant', c.illuminant, 'observer', c.observer, 'source', c.source,
          'asTyped', c.as_typed, 'areaSharePpm', c.area_share_ppm, 'uncertaintyMilli', c.uncertainty_milli, 'note', c.note, 'readAt', c.read_at) order by c.id)
        from colour_readings c where c.swatch_id = s.id and c.withdrawn_at is null) as readings,
      (select group_concat(t.code, '; ' order by t.code) from swatch_stock_lots x join stock_lots t on t.id = x.stock_lot_id
        where x.swatch_id = s.id and t.source_stock_lot_id is null and t.closed_at is null) as stockLots,
      (select json_object('startNm', q.start_nm, 'stepNm', q.step_nm, 'reflectance', json(q.reflectance)) from swatch_spectra q where q.swatch_id = s.id) as spectrum
    from swatches s join recipe_revisions v on v.id = s.revision_id join recipes r on r.id = v.recipe_id join fibres f on f.id = s.fibre_id
      join methods m on m.id = s.method_id join people p on p.id = s.made_by
    union all select null, null, f.id, null, 'undyed', null, null, null, null, 0, f.name, f.class, f.kind, null, null, null, ${CARD_COLUMNS.map(() => 'null').join(', ')}, p.name, 0, '[]',
      json_array(json_object('l', u.l, 'a', u.a, 'b', u.b, 'illuminant', u.illuminant, 'observer', u.observer, 'source', 'instrument', 'readAt', u.read_at)),
      null, u.spectrum
    from undyed_goods u join fibres f on f.id = u.fibre_id join people p on p.id = u.read_by)
    order by recipeId is null, recipeId, revision, swatchId`,
} as const;
