import { stockPage } from '../../../views/stock/list.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { allows } from '../../people/guards.ts';
import { showOf } from '../../settings/show.ts';
import { today } from '../../settings/today.ts';
import { closedStockLots, openStockLots, type StockLotsOf, shelfItem } from '../queries.ts';
import { StockFilter, type StockItem } from '../schemas.ts';
import { withShelfWorth } from '../worth.ts';

const CLOSED_SHOWN = 50;

const ofItem = (item: StockItem | undefined): StockLotsOf => {
  if (!item) return {};
  if (item.kind === 'dye') return { dyeId: item.id };
  return item.kind === 'auxiliary' ? { auxiliaryId: item.id } : { fibreId: item.id };
};

export const showStock = page({
  query: StockFilter,
  show: (deps, { query, request, reply }) => {
    const { db } = deps;
    const { kind, item, before } = query;
    const closed = query.closed === 'yes';
    const named = item && shelfItem(db, item.kind, item.id);
    const of = { kind, ...ofItem(item) };
    const rows = closed ? closedStockLots(db, of, before ?? null, CLOSED_SHOWN) : openStockLots(db, of);
    const next = new URLSearchParams({
      closed: 'yes',
      ...(kind ? { kind } : {}),
      ...(item ? { item: `${item.kind}-${item.id}` } : {}),
      before: String(rows.at(-1)?.id ?? ''),
    });
    return sendPage(request, reply, {
      title: 'Stock',
      section: 'stock',
      body: stockPage({
        containers: closed ? rows : withShelfWorth(db, rows, deps.now()),
        kind: kind ?? null,
        item: item && named ? { key: `${item.kind}-${item.id}`, name: named.name } : null,
        closed,
        nextHref: closed && rows.length === CLOSED_SHOWN ? `/stock?${next}` : null,
        mayWork: allows(request.actor, 'work'),
        show: showOf(db),
        todayOn: today(deps),
      }),
    });
  },
});
