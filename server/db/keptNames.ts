import { type SQL, sql } from 'drizzle-orm';
import type { LotNameRow } from './tables/lots.ts';

const KEPT = { name: sql`nk.name`, code: sql`nk.code` };

/** What a thing of a lot was called when the lot was closed; what it is called now where the lot is open, or the thing came to the
 *  lot in no way that the closing looked at. Every page, file and answer takes the names of a lot from here. */
export const keptName = (
  kind: LotNameRow['kind'],
  thing: { lotId: SQL; id: SQL; now: SQL },
  column: keyof typeof KEPT = 'name',
): SQL<string> =>
  sql<string>`coalesce((select ${KEPT[column]} from lot_names nk where nk.lot_id = ${thing.lotId} and nk.kind = ${kind}
    and nk.ref_id = ${thing.id}), ${thing.now})`;

/** The order lines that lots serve: as they stood when the lot was closed, as they stand now while it is open; `name_now` and
 *  `number_now` are the customer's and the order's of today. */
export const keptLines: SQL = sql`(select n.lot_id, n.order_line_id, n.order_id, coalesce(k.order_number, n.order_number) as order_number,
    n.order_number as number_now, coalesce(k.customer_id, n.customer_id) as customer_id, coalesce(k.customer_name, n.customer_name) as customer_name,
    case when k.customer_id is null then n.customer_name else (select name from customers where id = k.customer_id) end as name_now,
    coalesce(k.description, n.description) as description, iif(k.lot_id is null, n.pieces, k.pieces) as pieces,
    iif(k.lot_id is null, n.dry_mass_mg, k.dry_mass_mg) as dry_mass_mg, iif(k.lot_id is null, n.price_minor, k.price_minor) as price_minor,
    iif(k.lot_id is null, n.tolerance_formula, k.tolerance_formula) as tolerance_formula,
    iif(k.lot_id is null, n.tolerance_milli, k.tolerance_milli) as tolerance_milli
  from lot_lines_now n left join lot_line_closings k on k.lot_id = n.lot_id and k.order_line_id = n.order_line_id)`;
