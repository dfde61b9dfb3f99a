import { sql } from 'drizzle-orm';
import type { Db } from '../db/open.ts';
import type { ColourReadingRow } from '../db/tables/swatches.ts';
import type { NearTile } from './schemas.ts';

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

/** Readings that stand, of all swatches on the wall or of these, swatch by swatch, with what they were dyed with. */
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

/** Dye class and depth borders of every formula that a swatch was dyed with. */
export const formulaTraits = (db: Db): FormulaTraits[] =>
  db.all<FormulaTraits>(sql`select v.id as revisionId, r.dye_class as dyeClass,
      coalesce((d.pale_ppm + d.medium_ppm) / 2, ${PALE_TO_PPM}) as paleToPpm,
      coalesce((d.medium_ppm + d.deep_ppm) / 2, ${DEEP_FROM_PPM}) as deepFromPpm
    from recipe_revisions v join recipes r on r.id = v.recipe_id
    left join recipe_components k on k.revision_id = v.id and k.ordinal =
      (select m.ordinal from recipe_components m where m.revision_id = v.id order by m.share_ppm desc, m.ordinal limit 1)
    left join dyes d on d.id = k.dye_id
    where v.id in (select revision_id from swatches)`);

/** Dyes of every formula that a swatch was dyed with. */
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

type NearTileRow = Pick<
  NearTile,
  | 'swatchId'
  | 'code'
  | 'name'
  | 'depthPpm'
  | 'fibreId'
  | 'fibreName'
  | 'methodId'
  | 'methodName'
  | 'revisionId'
  | 'recipeName'
  | 'dyes'
  | 'photoId'
>;

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

export interface MapRow {
  swatchId: number;
  code: string;
  name: string;
  hex: string;
  l: number;
  a: number;
  b: number;
}

/** Leading colours of swatches on the wall (CIELAB D65/2°), on some goods or on all: an even selection of at most so many. */
export function mapRows(
  db: Db,
  filter: { fibreId: number | null; methodId: number | null },
  most: number,
): { rows: MapRow[]; ofHowMany: number } {
  // All ids come as one text: reading thirty years of them row by row would take ten times as long as reading those drawn.
  const { fibreId, methodId } = filter;
  const onGoods =
    fibreId === null && methodId === null
      ? sql``
      : sql`and c.swatch_id in (select id from swatches where ${fibreId === null ? sql`1` : sql`fibre_id = ${fibreId}`}
          and ${methodId === null ? sql`1` : sql`method_id = ${methodId}`})`;
  const { json } = db.get<{ json: string }>(sql`select json_group_array(c.swatch_id) as json from swatch_colours c
    where c.swatch_id not in (select id from swatches where archived_at is not null) ${onGoods}`);
  const ids = (JSON.parse(json) as number[]).sort((x, y) => x - y);
  const step = Math.max(1, ids.length / most);
  const drawn = Array.from({ length: Math.min(ids.length, most) }, (_, i) => ids[Math.floor(i * step)]);
  const rows = db.all<MapRow>(sql`select s.id as swatchId, s.code, s.name, c.hex, c.l, c.a, c.b
    from swatches s join swatch_colours c on c.swatch_id = s.id
    where s.id in (select value from json_each(${JSON.stringify(drawn)})) order by s.id`);
  return { rows, ofHowMany: ids.length };
}
