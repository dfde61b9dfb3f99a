import { eq, isNull, sql } from 'drizzle-orm';
import type { Db } from '../db/open.ts';
import { type FibreRow, fibres } from '../db/tables/materials.ts';
import { type MethodRow, methods, recipeRevisions, recipes } from '../db/tables/recipes.ts';
import { swatches } from '../db/tables/swatches.ts';

// ── what a plan reads ──

export const fibreChoices = (db: Db): { id: number; name: string; class: FibreRow['class'] }[] =>
  db
    .select({ id: fibres.id, name: fibres.name, class: fibres.class })
    .from(fibres)
    .where(isNull(fibres.archivedAt))
    .orderBy(fibres.name)
    .all();

export const methodChoices = (db: Db): { id: number; name: string; dyeClass: MethodRow['dyeClass'] }[] =>
  db
    .select({ id: methods.id, name: methods.name, dyeClass: methods.dyeClass })
    .from(methods)
    .where(isNull(methods.archivedAt))
    .orderBy(methods.name)
    .all();

/** Swatches as colour choices of a plan: code, name, formula and depth. */
export const swatchForPlan = (db: Db, swatchId: number) =>
  db
    .select({ swatch: swatches, recipeName: recipes.name })
    .from(swatches)
    .innerJoin(recipeRevisions, eq(recipeRevisions.id, swatches.revisionId))
    .innerJoin(recipes, eq(recipes.id, recipeRevisions.recipeId))
    .where(eq(swatches.id, swatchId))
    .get();

/** The last revision of every recipe in use, as colour choices. */
export const colourChoices = (
  db: Db,
): { revisionId: number; recipeName: string; number: number; dyeClass: string; totalDepthPpm: number }[] =>
  db.all<{
    revisionId: number;
    recipeName: string;
    number: number;
    dyeClass: string;
    totalDepthPpm: number;
  }>(sql`select v.id as "revisionId", r.name as "recipeName", v.number as number,
      r.dye_class as "dyeClass", v.total_depth_ppm as "totalDepthPpm"
    from recipes r join recipe_revisions v on v.recipe_id = r.id and v.number = (select max(number) from recipe_revisions m where m.recipe_id = r.id)
    where r.archived_at is null order by r.name collate nocase`);

/** The shades that were planned last, each once, in the revision that a plan would choose now. */
export function recentShades(db: Db): { revisionId: number; name: string }[] {
  const newest = sql`select v.id as "revisionId", r.name from recipes r join recipe_revisions v on v.recipe_id = r.id
    and v.number = (select max(number) from recipe_revisions m where m.recipe_id = r.id)`;
  // A busy studio has ten among its last lots: the thirty years before need not be asked.
  const lately = db.all<{ revisionId: number; name: string }>(sql`${newest}
    join (select rv.recipe_id, max(c.id) as last from (select id, revision_id from lot_colours order by lot_colours.id desc limit 500) c
      join recipe_revisions rv on rv.id = c.revision_id group by rv.recipe_id) u on u.recipe_id = r.id
    where r.archived_at is null order by u.last desc limit 10`);
  if (lately.length === 10) return lately;
  return db.all(sql`${newest}
    left join (select rv.recipe_id, max(c.id) as last from lot_colours c join recipe_revisions rv on rv.id = c.revision_id group by rv.recipe_id) u
      on u.recipe_id = r.id
    where r.archived_at is null order by coalesce(u.last, 0) desc, v.id desc limit 10`);
}

/** What lots that are planned or on the bench still want and has not been weighed: by container in its unit, by item as powder. */
export function othersWant(db: Db): { containers: Map<number, number>; items: Map<string, number> } {
  const rows = db.all<{ stockLotId: number | null; item: string | null; quantity: number; powder: number }>(
    sql`select c.stock_lot_id as "stockLotId", case when c.dye_id is not null then 'dye:' || c.dye_id else 'auxiliary:' || c.auxiliary_id end as item,
        coalesce(c.planned_mass_mg, c.planned_volume_ul) as quantity,
        coalesce(c.planned_mass_mg, case when c.conc_ppm is null then c.planned_volume_ul else c.planned_volume_ul * c.conc_ppm / 1e6 end) as powder
      from lots l join lot_components c on c.lot_id = l.id
      where l.status in ('planned', 'onBench') and not exists (select 1 from weighings w where w.component_id = c.id
        and not exists (select 1 from log_entries v where v.refers_to_id = w.log_entry_id and v.kind in ('voiding', 'discard')))
    union all select l.goods_stock_lot_id, null, l.dry_mass_mg, 0 from lots l where l.status in ('planned', 'onBench') and l.goods_stock_lot_id is not null`,
  );
  const containers = new Map<number, number>();
  const items = new Map<string, number>();
  for (const { stockLotId, item, quantity, powder } of rows) {
    if (stockLotId !== null) containers.set(stockLotId, (containers.get(stockLotId) ?? 0) + quantity);
    if (item !== null) items.set(item, (items.get(item) ?? 0) + powder);
  }
  return { containers, items };
}
