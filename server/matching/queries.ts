import { sql } from 'drizzle-orm';
import type { DyeClass } from '../calc/classFit.ts';
import type { Db } from '../db/open.ts';
import type { ColourReadingRow } from '../db/tables/swatches.ts';
import type { UndyedColour } from './schemas.ts';

/** Changes whenever a swatch's colours, goods or curve change, whoever wrote them: the database's triggers keep the number. */
export const libraryStamp = (db: Db): string => {
  const row = db.get<{ changes: number; curves: number; measured: number; white: string }>(sql`select
      (select coalesce(max(sequence), 0) from swatch_changes) as changes,
      (select count(*) from swatch_spectra) as curves,
      (select coalesce(max(measured_at), 0) from swatch_spectra) as measured,
      (select count(*) || ' ' || coalesce(max(read_at), 0) || ' ' || coalesce(sum(l + 1000 * a + 1000000 * b), 0) || ' ' || total(length(spectrum)) || ' ' || total(json_extract(spectrum, '$.reflectance[4]')) from undyed_goods) as white`);
  return `${row.changes} ${row.curves} ${row.measured} ${row.white}`;
};

export interface ReadSwatchRow
  extends Pick<
    ColourReadingRow,
    'id' | 'l' | 'a' | 'b' | 'illuminant' | 'observer' | 'source' | 'readAt' | 'areaSharePpm'
  > {
  swatchId: number;
  revisionId: number;
  depthPpm: number;
}

/** Readings that stand, of all swatches on the wall that were dyed on these goods by this method, swatch by swatch. A
 *  predicted colour is nothing to learn from. */
export const readSwatches = (db: Db, fibreId: number, methodId: number): ReadSwatchRow[] =>
  db.all(sql`select s.id as swatchId, s.revision_id as revisionId, s.depth_ppm as depthPpm, r.id, r.l, r.a, r.b, r.illuminant,
      r.observer, r.source, r.read_at as readAt, r.area_share_ppm as areaSharePpm
    from swatches s join colour_readings r on r.swatch_id = s.id
    where s.fibre_id = ${fibreId} and s.method_id = ${methodId} and s.archived_at is null and r.withdrawn_at is null
      and r.source <> 'predicted'
    order by s.id, r.id`);

export interface CurveRow {
  swatchId: number;
  revisionId: number;
  depthPpm: number;
  startNm: number;
  stepNm: 5 | 10 | 20;
  /** JSON. */
  reflectance: string;
}

export const curvesOf = (db: Db, fibreId: number, methodId: number): CurveRow[] =>
  db.all(sql`select s.id as swatchId, s.revision_id as revisionId, s.depth_ppm as depthPpm, c.start_nm as startNm,
      c.step_nm as stepNm, c.reflectance
    from swatches s join swatch_spectra c on c.swatch_id = s.id
    where s.fibre_id = ${fibreId} and s.method_id = ${methodId} and s.archived_at is null order by s.id`);

export const curveOfSwatch = (db: Db, swatchId: number): Omit<CurveRow, 'revisionId' | 'depthPpm'> | undefined =>
  db.get(sql`select swatch_id as swatchId, start_nm as startNm, step_nm as stepNm, reflectance from swatch_spectra
    where swatch_id = ${swatchId}`);

/** Dyes of every formula on these goods by this method. */
export const formulasOn = (
  db: Db,
  fibreId: number,
  methodId: number,
): { revisionId: number; dyeId: number; sharePpm: number }[] =>
  db.all(sql`select revision_id as revisionId, dye_id as dyeId, share_ppm as sharePpm from recipe_components
    where share_ppm > 0 and revision_id in (select revision_id from swatches where fibre_id = ${fibreId} and method_id = ${methodId})
    order by revision_id, ordinal`);

/** The goods as they are before dyeing, where somebody read them. */
export const undyedOf = (db: Db, fibreId: number): UndyedColour | undefined => {
  const row = db.get<(Omit<UndyedColour, 'spectrum'> & { spectrum: string | null }) | undefined>(sql`select
    fibre_id as fibreId, l, a, b, illuminant, observer, spectrum, read_at as readAt
    from undyed_goods where fibre_id = ${fibreId}`);
  return row && { ...row, spectrum: row.spectrum === null ? null : JSON.parse(row.spectrum) };
};

/** Keeps the colour of goods before dyeing in place of what was there. */
export const keepUndyed = (db: Db, row: UndyedColour & { readBy: number }): void => {
  const spectrum = row.spectrum && JSON.stringify(row.spectrum);
  db.run(sql`insert into undyed_goods (fibre_id, l, a, b, illuminant, observer, read_at, read_by, spectrum)
    values (${row.fibreId}, ${row.l}, ${row.a}, ${row.b}, ${row.illuminant}, ${row.observer}, ${row.readAt}, ${row.readBy}, ${spectrum})
    on conflict (fibre_id) do update set l = excluded.l, a = excluded.a, b = excluded.b, illuminant = excluded.illuminant,
      observer = excluded.observer, read_at = excluded.read_at, read_by = excluded.read_by, spectrum = excluded.spectrum,
      import_id = null`);
};

/** Notes which import brought the colours of these undyed goods. */
export const undyedCameWith = (db: Db, fibreIds: readonly number[], importId: number): void => {
  db.run(sql`update undyed_goods set import_id = ${importId}
    where fibre_id in (select value from json_each(${JSON.stringify(fibreIds)}))`);
};

/** Goods whose colour before dyeing came with an import and has not been read again since. */
export const undyedOfImport = (db: Db, importId: number): { id: number; name: string }[] =>
  db.all(sql`select f.id, f.name from undyed_goods u join fibres f on f.id = u.fibre_id
    where u.import_id = ${importId} order by f.name`);

/** Removes the colours of undyed goods that an import brought. */
export const dropUndyedOfImport = (db: Db, importId: number): void => {
  db.run(sql`delete from undyed_goods where import_id = ${importId}`);
};

/** Goods and methods that have read swatches, those with most first; with dyes named, only swatches that hold one of them. */
export const sampledGoods = (
  db: Db,
  dyeIds?: readonly number[],
): { fibreId: number; fibreName: string; methodId: number; methodName: string; swatches: number }[] =>
  db.all(sql`select s.fibre_id as fibreId, f.name as fibreName, s.method_id as methodId, m.name as methodName, count(*) as swatches
    from swatches s join swatch_colours c on c.swatch_id = s.id join fibres f on f.id = s.fibre_id join methods m on m.id = s.method_id
    where s.archived_at is null and f.archived_at is null and m.archived_at is null
      ${dyeIds === undefined ? sql`` : sql`and s.revision_id in (select revision_id from recipe_components where dye_id in (select value from json_each(${JSON.stringify(dyeIds)})))`}
    group by s.fibre_id, s.method_id order by swatches desc, f.name, m.name`);

export interface CardOfSwatch {
  swatchId: number;
  code: string;
  name: string;
  hex: string | null;
}

/** Card numbers and colours of swatches, in any order. */
export const cardsOf = (db: Db, swatchIds: readonly number[]): CardOfSwatch[] =>
  swatchIds.length === 0
    ? []
    : db.all(sql`select s.id as swatchId, s.code, s.name, c.hex
        from swatches s left join swatch_colours c on c.swatch_id = s.id where s.id in ${[...swatchIds]}`);

export interface DyeChoiceRow {
  dyeId: number;
  code: string;
  name: string;
  class: DyeClass;
  shownHex: string | null;
  deepPpm: number | null;
  /** Swatches and lots that name it. */
  used: number;
  /** Powder in usable containers, mg. */
  onHandMg: number;
}

/** Every dye in use, with how much it is used and what is there of it. */
export const dyeChoices = (db: Db): DyeChoiceRow[] =>
  db.all(sql`select d.id as dyeId, d.code, d.name, d.class, d.shown_hex as shownHex, d.deep_ppm as deepPpm,
      (select count(*) from recipe_components k join swatches s on s.revision_id = k.revision_id where k.dye_id = d.id)
        + (select count(*) from recipe_components k join lot_colours c on c.revision_id = k.revision_id where k.dye_id = d.id) as used,
      coalesce((select sum(g.quantity) from stock_lots t join stock_ledger g on g.stock_lot_id = t.id
        where t.dye_id = d.id and t.unit = 'mg' and t.closed_at is null and t.recalled_at is null), 0) as onHandMg
    from dyes d where d.archived_at is null order by d.class, d.code`);

export const dyeIdsByCode = (db: Db, codes: readonly string[]): { dyeId: number; code: string }[] =>
  codes.length === 0
    ? []
    : db.all(
        sql`select id as dyeId, code from dyes where code collate nocase in (select value from json_each(${JSON.stringify(codes)}))`,
      );

export const dyeNames = (db: Db, dyeIds: readonly number[]): { dyeId: number; code: string; name: string }[] =>
  dyeIds.length === 0 ? [] : db.all(sql`select id as dyeId, code, name from dyes where id in ${[...dyeIds]}`);

/** A recipe's name that is not taken yet: 'teal', 'teal 2', 'teal 3'. */
export const freeRecipeName = (db: Db, wanted: string): string => {
  const taken = new Set(
    db
      .all<{ name: string }>(
        sql`select lower(name) as name from recipes where name like ${`${wanted.replace(/[\\%_]/g, (c) => `\\${c}`)}%`} escape '\\'`,
      )
      .map((r) => r.name),
  );
  for (let n = 1; ; n++) {
    const name = n === 1 ? wanted : `${wanted} ${n}`;
    if (!taken.has(name.toLowerCase())) return name;
  }
};

/** The newest swatch of a formula on these goods that has a colour: what a lot of it should look like. */
export const standardSwatchOf = (
  db: Db,
  of: { revisionId: number; fibreId: number; exceptLotId: number },
): { swatchId: number } | undefined =>
  db.get(sql`select s.id as swatchId from swatches s join swatch_colours c on c.swatch_id = s.id
    where s.revision_id = ${of.revisionId} and s.archived_at is null and (s.lot_id is null or s.lot_id <> ${of.exceptLotId})
    order by s.fibre_id = ${of.fibreId} desc, s.id desc limit 1`);

/** Changes with every plan of a lot and every change of a swatch's colours. The colours of a lot are never overwritten. */
export const soldStamp = (db: Db): string =>
  `${db.get<{ id: number | null }>(sql`select max(id) as id from lot_colours`).id} ${libraryStamp(db)}`;

/** Hue families of what was dyed in lots, with the number of lots: what the studio sells. The colour of a lot is that of its
 *  swatch, else of the newest swatch of its formula. */
export const soldFamilies = (db: Db): { hueFamilies: string; lots: number }[] =>
  db.all(sql`with newest as materialized (select s.revision_id, max(s.id) as swatch_id from swatches s join swatch_colours c on c.swatch_id = s.id
      group by s.revision_id)
    select c.hue_families as hueFamilies, count(distinct k.lot_id) as lots
    from lot_colours k left join newest n on n.revision_id = k.revision_id
      join swatch_colours c on c.swatch_id = coalesce(k.swatch_id, n.swatch_id) group by c.hue_families`);
