import { eq, sql } from 'drizzle-orm';
import type { Db } from '../db/open.ts';
import { ready } from '../db/ready.ts';
import { type LotClosingRow, type LotNameRow, lotClosings } from '../db/tables/lots.ts';

/** What was kept when a lot was closed; undefined of a lot that is open. */
export const closingOf = (db: Db, lotId: number): LotClosingRow | undefined => closingOfLot(db).get({ lotId });
const closingOfLot = ready((db) =>
  db
    .select()
    .from(lotClosings)
    .where(eq(lotClosings.lotId, sql.placeholder('lotId')))
    .prepare(),
);

/** What a thing of a lot was called when the lot was closed (of an open lot: is called now), and what it is called now. */
export interface NameOfLot {
  kind: LotNameRow['kind'];
  refId: number;
  code: string;
  name: string;
  codeNow: string;
  nameNow: string;
}

export const namesOf = (db: Db, lotId: number): NameOfLot[] =>
  db.all<NameOfLot>(sql`select distinct n.kind, n.ref_id as "refId", coalesce(k.code, n.code) as code, coalesce(k.name, n.name) as name,
      n.code as "codeNow", n.name as "nameNow"
    from lot_names_now n left join lot_names k on k.lot_id = n.lot_id and k.kind = n.kind and k.ref_id = n.ref_id
    where n.lot_id = ${lotId}`);

const among = (lotIds: readonly number[]) => sql`(select value from json_each(${JSON.stringify(lotIds)}))`;

/** Whether a lot was weighed for under a version that did not keep the strength of a container. */
export const strengthIsOfUpgrade = (db: Db, lotId: number): boolean =>
  db.get<{ found: number }>(
    sql`select exists (select 1 from weighings where lot_id = ${lotId} and strength_kept = 'atUpgrade') as found`,
  ).found === 1;

export interface ComponentDyed {
  lotId: number;
  componentId: number;
  lotColourId: number | null;
  dyeId: number | null;
  auxiliaryId: number | null;
  plannedMassMg: number | null;
  plannedVolumeUl: number | null;
  concPpm: number | null;
  strengthPpm: number;
}

export const componentsOfLots = (db: Db, lotIds: readonly number[]): ComponentDyed[] =>
  db.all<ComponentDyed>(sql`select c.lot_id as "lotId", c.id as "componentId", c.lot_colour_id as "lotColourId", c.dye_id as "dyeId",
      c.auxiliary_id as "auxiliaryId", c.planned_mass_mg as "plannedMassMg", c.planned_volume_ul as "plannedVolumeUl",
      c.conc_ppm as "concPpm", c.strength_ppm as "strengthPpm"
    from lot_components c where c.lot_id in ${among(lotIds)} order by c.lot_id, c.ordinal`);

export interface ReadingDyed {
  componentId: number;
  stockLotId: number;
  massMg: number | null;
  volumeUl: number | null;
  stockLotStrengthPpm: number;
  stockLotConcPpm: number | null;
}

/** Weighings that count: neither voided nor discarded. */
export const readingsOfLots = (db: Db, lotIds: readonly number[]): ReadingDyed[] =>
  db.all<ReadingDyed>(sql`select w.component_id as "componentId", w.stock_lot_id as "stockLotId", w.mass_mg as "massMg", w.volume_ul as "volumeUl",
      w.strength_ppm as "stockLotStrengthPpm", w.conc_ppm as "stockLotConcPpm"
    from weighings w where w.lot_id in ${among(lotIds)}
      and not exists (select 1 from log_entries v where v.refers_to_id = w.log_entry_id and v.kind in ('voiding', 'discard')) order by w.id`);

/** What the cost lines of closed lots say now of a material and a container whose quantity was corrected or added to, waste apart. */
export interface CostedMaterial {
  lotId: number;
  dyeId: number | null;
  auxiliaryId: number | null;
  stockLotId: number;
  unit: 'mg' | 'ul';
  quantity: number;
  strengthPpm: number;
  concPpm: number | null;
}

export const correctedMaterials = (db: Db, lotIds: readonly number[]): CostedMaterial[] =>
  db.all<CostedMaterial>(sql`select c.lot_id as "lotId", c.dye_id as "dyeId", c.auxiliary_id as "auxiliaryId", c.stock_lot_id as "stockLotId",
      c.quantity_unit as unit, sum(c.quantity) as quantity,
      coalesce((select w.strength_ppm from weighings w where w.lot_id = c.lot_id and w.stock_lot_id = c.stock_lot_id order by w.id limit 1),
        max(c.strength_ppm), s.strength_ppm) as "strengthPpm", s.conc_ppm as "concPpm"
    from cost_lines c join stock_lots s on s.id = c.stock_lot_id
    where c.lot_id in ${among(lotIds)} and c.kind in ('dye', 'auxiliary') and c.wasted = 0
    group by c.lot_id, c.dye_id, c.auxiliary_id, c.stock_lot_id, c.quantity_unit
    having sum(c.corrects_id is not null or c.added = 1) > 0`);

export interface ColourDyed {
  lotId: number;
  lotColourId: number;
  revisionId: number;
  depthPpm: number;
  plannedDryMassMg: number;
  dryMassMg: number;
}

export const coloursDyed = (db: Db, lotIds: readonly number[]): ColourDyed[] =>
  db.all<ColourDyed>(sql`select c.lot_id as "lotId", c.id as "lotColourId", c.revision_id as "revisionId", c.depth_ppm as "depthPpm",
      l.dry_mass_mg as "plannedDryMassMg", coalesce(k.dry_mass_mg, d.dry_mass_mg) as "dryMassMg"
    from lot_colours c join lots l on l.id = c.lot_id join lots_dyed_mass d on d.lot_id = l.id left join lot_closings k on k.lot_id = l.id
    where c.lot_id in ${among(lotIds)} order by c.lot_id, c.ordinal`);
