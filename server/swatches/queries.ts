import { and, desc, eq, sql } from 'drizzle-orm';
import type { Db } from '../db/open.ts';
import { ready, readyInsert, rowById } from '../db/ready.ts';
import { lotClosings, lotColours, lots } from '../db/tables/lots.ts';
import { type FibreRow, fibres } from '../db/tables/materials.ts';
import { type MethodRow, methods, recipeRevisions } from '../db/tables/recipes.ts';
import { stockLots } from '../db/tables/stock.ts';
import { people, photos } from '../db/tables/studio.ts';
import { type SwatchRow, swatches, swatchStockLots } from '../db/tables/swatches.ts';
import type { ContainerUsed, LotFromSwatch, SwatchEdit, SwatchFilterInput, SwatchTile } from './schemas.ts';

interface TileRecord extends Omit<SwatchTile, 'bands' | 'lab'> {
  l: number | null;
  a: number | null;
  b: number | null;
  bands: string | null;
}

const toTile = ({ l, a, b, bands, ...row }: TileRecord): SwatchTile => ({
  ...row,
  bands: bands === null ? [] : JSON.parse(bands),
  lab: l === null || a === null || b === null ? null : { l, a, b },
});

const tileColumns = sql`s.id as swatchId, s.code, s.name, s.revision_id as revisionId, r.name as recipeName, s.depth_ppm as depthPpm,
  s.fibre_id as fibreId, f.name as fibreName, s.method_id as methodId, m.name as methodName, s.dyed_on as dyedOn, s.rating, s.photo_id as photoId,
  c.hex, c.bands, c.l, c.a, c.b,
  (select group_concat(case when k.share_ppm = 1000000 then d.code else d.code || ' ' || printf('%.12g', round(k.share_ppm / 10000.0, 1)) end, ' · ' order by k.ordinal)
     from recipe_components k join dyes d on d.id = k.dye_id where k.revision_id = s.revision_id) as dyes`;
const tileTables = sql`swatches s join recipe_revisions v on v.id = s.revision_id join recipes r on r.id = v.recipe_id
  join fibres f on f.id = s.fibre_id join methods m on m.id = s.method_id left join swatch_colours c on c.swatch_id = s.id`;

const likeWord = (word: string): string => `%${word.replace(/[\\%_]/g, (c) => `\\${c}`)}%`;

/* Pale, medium, deep: by the bands of the swatch's own main dye where the studio has noted them (half-way between two bands
   is the border), else 0.75 and 2.5 % on weight of goods: the borders of the middle band of common acid and reactive sheets. */
const PALE_TO_PPM = 7_500;
const DEEP_FROM_PPM = 25_000;
const borders = sql`with border as materialized (select v.id as revision_id,
    coalesce((d.pale_ppm + d.medium_ppm) / 2, ${PALE_TO_PPM}) as pale_to, coalesce((d.medium_ppm + d.deep_ppm) / 2, ${DEEP_FROM_PPM}) as deep_from
  from recipe_revisions v join recipe_components k on k.revision_id = v.id and k.ordinal =
    (select m.ordinal from recipe_components m where m.revision_id = v.id order by m.share_ppm desc, m.ordinal limit 1)
  join dyes d on d.id = k.dye_id)`;

function wanted(filter: SwatchFilterInput) {
  const conditions = [sql`s.archived_at is ${filter.archived ? sql`not null` : sql`null`}`];
  if (filter.fibreId !== undefined) conditions.push(sql`s.fibre_id = ${filter.fibreId}`);
  if (filter.methodId !== undefined) conditions.push(sql`s.method_id = ${filter.methodId}`);
  if (filter.dyeId !== undefined) {
    conditions.push(sql`s.revision_id in (select revision_id from recipe_components where dye_id = ${filter.dyeId})`);
  }
  const bandIs = {
    pale: sql`s.depth_ppm <= pale_to`,
    medium: sql`s.depth_ppm > pale_to and s.depth_ppm < deep_from`,
    deep: sql`s.depth_ppm >= deep_from`,
  };
  if (filter.depth !== undefined) {
    conditions.push(
      sql`exists (select 1 from border where border.revision_id = s.revision_id and ${bandIs[filter.depth]})`,
    );
  }
  if (filter.hue !== undefined) conditions.push(sql`c.hue_families like ${`%,${filter.hue},%`}`);
  if (filter.inStock) {
    conditions.push(sql`s.revision_id not in (select k.revision_id from recipe_components k where k.dye_id not in (
      select t.dye_id from stock_lots t where t.dye_id is not null and t.closed_at is null and t.recalled_at is null
        and (select sum(quantity) from stock_ledger g where g.stock_lot_id = t.id) > 0))`);
  }
  for (const word of filter.words.split(/\s+/).filter(Boolean).slice(0, 8)) {
    const w = likeWord(word);
    conditions.push(sql`(s.name like ${w} escape '\\' or s.code like ${w} escape '\\' or s.note like ${w} escape '\\' or s.card_place like ${w} escape '\\'
      or s.fibre_id in (select id from fibres where name like ${w} escape '\\')
      or s.method_id in (select id from methods where name like ${w} escape '\\')
      or s.revision_id in (select v2.id from recipe_revisions v2 join recipes r2 on r2.id = v2.recipe_id where r2.name like ${w} escape '\\')
      or s.revision_id in (select k.revision_id from recipe_components k join dyes d on d.id = k.dye_id
           where d.name like ${w} escape '\\' or d.code like ${w} escape '\\' or d.ci_name like ${w} escape '\\'))`);
  }
  return sql.join(conditions, sql` and `);
}

const ORDER_BY = {
  hue: sql`c.card_place is null, c.card_place, s.id`,
  lightness: sql`c.l is null, c.l desc, s.id`,
  depth: sql`s.depth_ppm, c.card_place is null, c.card_place, s.id`,
  newest: sql`s.dyed_on desc, s.id desc`,
  rating: sql`s.rating is null, s.rating desc, c.card_place is null, c.card_place, s.id`,
} as const;

const chosenFrom = sql`swatches s left join swatch_colours c on c.swatch_id = s.id`;

/** Swatches that fit, in the wanted order, from the `from`-th on. The page is chosen first, by what sorts and filters it,
 *  and only its own rows are then told in full. `total` is how many fit. */
export function listSwatches(
  db: Db,
  filter: SwatchFilterInput,
  { from, limit, total }: { from: number; limit: number; total: number },
): SwatchTile[] {
  if (from >= total) return [];
  const chosen =
    filter.sort === 'hue' ? chosenByHue(db, filter, from, limit, total) : chosenSwatches(db, filter, from, limit);
  return db
    .all<TileRecord>(
      sql`select ${tileColumns} from ${tileTables} where s.id in (select value from json_each(${JSON.stringify(chosen)}))
        order by ${ORDER_BY[filter.sort]}`,
    )
    .map(toTile);
}

const idsOf = (rows: readonly { id: number }[]): number[] => rows.map((row) => row.id);

const chosenSwatches = (db: Db, filter: SwatchFilterInput, from: number, limit: number): number[] =>
  idsOf(
    db.all<{ id: number }>(
      sql`${borders} select s.id from ${chosenFrom} where ${wanted(filter)} order by ${ORDER_BY[filter.sort]} limit ${limit} offset ${from}`,
    ),
  );

/** By hue the wall is walked as far as its page in the index that is in that order; those without a colour stand at its end. */
function chosenByHue(db: Db, filter: SwatchFilterInput, from: number, limit: number, total: number): number[] {
  const coloured = sql`swatch_colours c cross join swatches s on s.id = c.swatch_id where ${wanted(filter)}`;
  const ids = idsOf(
    db.all<{ id: number }>(
      sql`${borders} select s.id from ${coloured} order by c.card_place, c.swatch_id limit ${limit} offset ${from}`,
    ),
  );
  return ids.length === limit || from + ids.length >= total ? ids : chosenSwatches(db, filter, from, limit);
}

export const countSwatches = (db: Db, filter: SwatchFilterInput): number =>
  // Colours are looked at where they are asked for: the rest is counted in indexes.
  db.get<{ n: number }>(
    sql`${borders} select count(*) as n from ${filter.hue === undefined ? sql`swatches s` : chosenFrom} where ${wanted(filter)}`,
  )?.n ?? 0;

/** How many there are, the archived ones too: an empty wall is another thing than a filter that finds nothing. */
export const anySwatch = (db: Db): boolean =>
  db.select({ id: swatches.id }).from(swatches).limit(1).get() !== undefined;

export const swatchById = rowById(swatches);

export interface SwatchWithGoods {
  swatch: SwatchRow;
  fibre: FibreRow;
  method: MethodRow;
  madeByName: string;
  lotNumber: string | null;
}

/** A swatch with its goods, its method, who made it and the lot that it is of. */
export const swatchWithGoods = (db: Db, swatchId: number): SwatchWithGoods | undefined =>
  db
    .select({ swatch: swatches, fibre: fibres, method: methods, madeByName: people.name, lotNumber: lots.number })
    .from(swatches)
    .innerJoin(fibres, eq(fibres.id, swatches.fibreId))
    .innerJoin(methods, eq(methods.id, swatches.methodId))
    .innerJoin(people, eq(people.id, swatches.madeBy))
    .leftJoin(lots, eq(lots.id, swatches.lotId))
    .where(eq(swatches.id, swatchId))
    .get();

export const stockLotsOfSwatch = (db: Db, swatchId: number): ContainerUsed[] =>
  db
    .select({
      stockLotId: stockLots.id,
      code: stockLots.code,
      dyeId: stockLots.dyeId,
      makerLot: stockLots.makerLot,
      supplier: stockLots.supplier,
      recalledAt: stockLots.recalledAt,
    })
    .from(swatchStockLots)
    .innerJoin(stockLots, eq(stockLots.id, swatchStockLots.stockLotId))
    .where(eq(swatchStockLots.swatchId, swatchId))
    .orderBy(stockLots.code)
    .all()
    .map(({ recalledAt, ...row }) => ({ ...row, recalled: recalledAt !== null }));

/** Lots that were planned from this swatch, newest first. */
export const lotsFromSwatch = (db: Db, swatchId: number): LotFromSwatch[] =>
  db
    .selectDistinct({
      lotId: lots.id,
      revisionId: lotColours.revisionId,
      number: lots.number,
      status: lots.status,
      goodsText: lots.goodsText,
      dryMassMg: sql<number>`coalesce(${lotClosings.dryMassMg}, ${lots.dryMassMg})`,
      depthPpm: lotColours.depthPpm,
      plannedAt: lots.plannedAt,
    })
    .from(lotColours)
    .innerJoin(lots, eq(lots.id, lotColours.lotId))
    .leftJoin(lotClosings, eq(lotClosings.lotId, lots.id))
    .where(eq(lotColours.swatchId, swatchId))
    .orderBy(desc(lots.plannedAt), desc(lots.id))
    .limit(50)
    .all();

/** Other swatches of the same recipe, whatever its revision, by depth: the ladder that this one stands on. */
export const sameRecipe = (db: Db, swatch: SwatchRow, limit: number): SwatchTile[] =>
  db
    .all<TileRecord>(sql`select ${tileColumns} from ${tileTables}
      where v.recipe_id = (select recipe_id from recipe_revisions where id = ${swatch.revisionId}) and s.id <> ${swatch.id} and s.archived_at is null
      order by s.depth_ppm, s.id limit ${limit}`)
    .map(toTile);

export const tilesByIds = (db: Db, swatchIds: readonly number[]): SwatchTile[] =>
  swatchIds.length === 0
    ? []
    : db.all<TileRecord>(sql`select ${tileColumns} from ${tileTables} where s.id in ${swatchIds}`).map(toTile);

/** The highest number among cards coded S-0001, S-0002, …; 0 when there is none. */
export const highestCardNumber = (db: Db): number =>
  // In the words of the index, which holds only those.
  db.get<{
    n: number | null;
  }>(sql`select max(cast(substr(code, 3) as integer)) as n from swatches indexed by swatches_card_number
    where code like 'S-%' and substr(code, 3) not glob '*[^0-9]*' and length(code) between 3 and 12`)?.n ?? 0;

const addRow = readyInsert(swatches);
export const insertSwatch = (db: Db, row: Omit<SwatchRow, 'id' | 'version' | 'archivedAt'>): SwatchRow =>
  addRow(db, row);

export function insertSwatchStockLots(db: Db, swatchId: number, stockLotIds: readonly number[]): void {
  if (stockLotIds.length === 0) return;
  db.insert(swatchStockLots)
    .values(stockLotIds.map((stockLotId) => ({ swatchId, stockLotId })))
    .run();
}

/** Saves what may change on a swatch against the version read; undefined when somebody has saved meanwhile. */
export const updateSwatch = (
  db: Db,
  swatchId: number,
  changes: Omit<SwatchEdit, 'archived' | 'version'> & { archivedAt: number | null },
  version: number,
): SwatchRow | undefined =>
  db
    .update(swatches)
    .set({ ...changes, version: sql`${swatches.version} + 1` })
    .where(and(eq(swatches.id, swatchId), eq(swatches.version, version)))
    .returning()
    .get();

const partsThatAre = ready((db) => {
  const id = (name: string) => sql.placeholder(name);
  return db
    .select({
      revision: sql<number>`exists (select 1 from ${recipeRevisions} where id = ${id('revisionId')})`,
      fibre: sql<number>`exists (select 1 from ${fibres} where id = ${id('fibreId')})`,
      method: sql<number>`exists (select 1 from ${methods} where id = ${id('methodId')})`,
      photo: sql<number>`${id('photoId')} is null or exists (select 1 from ${photos} where id = ${id('photoId')})`,
      lot: sql<number>`${id('lotId')} is null or exists (select 1 from ${lots} where id = ${id('lotId')})`,
    })
    .from(sql`(select 1)`)
    .prepare();
});

/** What of these ids is there: for messages beside the fields before anything is saved. */
export function knownParts(
  db: Db,
  ids: { revisionId: number; fibreId: number; methodId: number; photoId: number | null; lotId: number | null },
): { revision: boolean; fibre: boolean; method: boolean; photo: boolean; lot: boolean } {
  const { revisionId, fibreId, methodId, photoId, lotId } = ids;
  const one = partsThatAre(db).get({ revisionId, fibreId, methodId, photoId, lotId });
  const yes = (v: number | undefined): boolean => v === 1;
  return {
    revision: yes(one?.revision),
    fibre: yes(one?.fibre),
    method: yes(one?.method),
    photo: yes(one?.photo),
    lot: yes(one?.lot),
  };
}

/** Containers of these ids whose dye is one of the formula's. */
export const containersOfFormula = (db: Db, stockLotIds: readonly number[], revisionId: number): Set<number> =>
  new Set(
    stockLotIds.length === 0
      ? []
      : db
          .all<{ id: number }>(
            sql`select t.id from stock_lots t where t.id in ${stockLotIds}
              and t.dye_id in (select dye_id from recipe_components where revision_id = ${revisionId})`,
          )
          .map((r) => r.id),
  );
