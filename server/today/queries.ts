import { sql } from 'drizzle-orm';
import { keptName } from '../db/keptNames.ts';
import type { Db } from '../db/open.ts';
import type { LotRow } from '../db/tables/lots.ts';

export interface LotInHand {
  lotId: number;
  number: string;
  status: Extract<LotRow['status'], 'planned' | 'onBench'>;
  goodsText: string;
  fibreName: string;
  dryMassMg: number;
  shades: string;
  customers: string;
  /** Numbers of its orders that were cancelled, separated by ", "; empty when there are none. */
  cancelledOrders: string;
  plannedForOn: string | null;
  startedAt: number | null;
  /** Lines of the weigh-up, and those with a reading that stands. */
  lineCount: number;
  weighedCount: number;
}

/** Lots on the bench, then those planned by the day they are planned for. */
export const lotsInHand = (db: Db): LotInHand[] =>
  db.all<LotInHand>(sql`select l.id as "lotId", l.number, l.status, l.goods_text as "goodsText", f.name as "fibreName", l.dry_mass_mg as "dryMassMg",
      coalesce((select group_concat(name, ', ') from (select r.name from lot_colours c join recipe_revisions v on v.id = c.revision_id
        join recipes r on r.id = v.recipe_id where c.lot_id = l.id order by c.ordinal)), '') as shades,
      coalesce((select group_concat(name, ', ') from (select distinct c.name from lot_lines x join order_lines y on y.id = x.order_line_id
        join orders z on z.id = y.order_id join customers c on c.id = z.customer_id where x.lot_id = l.id order by c.name)), '') as customers,
      coalesce((select group_concat(number, ', ') from (select distinct z.number from lot_lines x join order_lines y on y.id = x.order_line_id
        join orders z on z.id = y.order_id where x.lot_id = l.id and z.status = 'cancelled' order by z.id)), '') as "cancelledOrders",
      l.planned_for_on as "plannedForOn", l.started_at as "startedAt",
      (select count(*) from lot_components c where c.lot_id = l.id) as "lineCount",
      (select count(distinct w.component_id) from weighings w where w.lot_id = l.id and not exists (select 1 from log_entries v
        where v.refers_to_id = w.log_entry_id and (v.kind = 'voiding' or (v.kind = 'discard' and not exists
          (select 1 from log_entries u where u.refers_to_id = v.id and u.kind = 'voiding'))))) as "weighedCount"
    from lots l join fibres f on f.id = l.fibre_id where l.status in ('onBench', 'planned')
    order by l.status = 'planned', l.started_at, l.planned_for_on is null, l.planned_for_on, l.id`);

export interface StepInHand {
  lotId: number;
  stepId: number;
  name: string;
  plannedDurationS: number;
  startedAt: number | null;
  endedAt: number | null;
}

/** Steps of every lot on the bench in their order, with when they began and ended by entries that stand. */
export const stepsInHand = (db: Db): StepInHand[] => {
  const happened = (kind: 'stepStart' | 'stepEnd') =>
    sql`(select min(e.at) from log_entries e where e.step_id = s.id and e.kind = ${kind}
      and not exists (select 1 from log_entries v where v.refers_to_id = e.id and v.kind = 'voiding'))`;
  return db.all<StepInHand>(sql`select s.lot_id as "lotId", s.id as "stepId", s.name, s.planned_duration_s as "plannedDurationS",
      ${happened('stepStart')} as "startedAt", ${happened('stepEnd')} as "endedAt"
    from lots l join lot_steps s on s.lot_id = l.id where l.status = 'onBench' order by s.lot_id, s.ordinal`);
};

export interface LotUnread {
  lotId: number;
  number: string;
  goodsText: string;
  shades: string;
  finishedAt: number;
}

/** Lots finished since an instant of which no colour was read, the latest first. */
export const lotsUnread = (db: Db, since: number): LotUnread[] =>
  db.all<LotUnread>(sql`select l.id as "lotId", l.number, l.goods_text as "goodsText", l.finished_at as "finishedAt",
      coalesce((select group_concat(name, ', ') from (select ${keptName('recipe', { lotId: sql`l.id`, id: sql`r.id`, now: sql`r.name` })} as name from lot_colours c
        join recipe_revisions v on v.id = c.revision_id join recipes r on r.id = v.recipe_id where c.lot_id = l.id order by c.ordinal)), '') as shades
    from lots l where l.status = 'finished' and l.finished_at >= ${since}
      and not exists (select 1 from colour_readings r where r.lot_id = l.id and r.withdrawn_at is null)
    order by l.finished_at desc, l.id desc`);

/** What a new studio has already, on its way to the first lot. */
export interface FirstSteps {
  fibre: boolean;
  dye: boolean;
  container: boolean;
  method: boolean;
  recipe: boolean;
  lot: boolean;
}

export const firstSteps = (db: Db): FirstSteps => {
  const row = db.get<
    Record<keyof FirstSteps, number>
  >(sql`select exists (select 1 from fibres) as fibre, exists (select 1 from dyes) as dye,
    exists (select 1 from stock_lots where kind = 'dye') as container, exists (select 1 from methods) as method,
    exists (select 1 from recipes) as recipe, exists (select 1 from lots) as lot`);
  return {
    fibre: row.fibre === 1,
    dye: row.dye === 1,
    container: row.container === 1,
    method: row.method === 1,
    recipe: row.recipe === 1,
    lot: row.lot === 1,
  };
};
