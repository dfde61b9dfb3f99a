import { z } from 'zod';
import { ordersPage } from '../../../views/orders/list.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { allows } from '../../people/guards.ts';
import { showOf } from '../../settings/show.ts';
import { today } from '../../settings/today.ts';
import { orderInList } from '../present.ts';
import { countsByStatus, ordersInHand, ordersOfStatus } from '../queries.ts';
import { orderStatus } from '../schemas.ts';

const PAGE = 60;

export const showOrders = page({
  query: z.object({
    status: orderStatus.nullable().catch(null).default(null),
    before: z.coerce.number().int().positive().nullable().catch(null).default(null),
  }),
  show: (deps, { query: { status, before }, request, reply }) => {
    const { db } = deps;
    const rows = status === null ? ordersInHand(db) : ordersOfStatus(db, status, before, PAGE + 1);
    const shown = status === null ? rows : rows.slice(0, PAGE);
    return sendPage(request, reply, {
      title: 'Orders',
      section: 'orders',
      body: ordersPage({
        view: status ?? 'hand',
        orders: shown.map(orderInList),
        counts: countsByStatus(db),
        todayOn: today(deps),
        show: showOf(db),
        nextHref: rows.length > shown.length ? `/orders?status=${status}&before=${shown.at(-1)?.id}` : null,
        firstHref: before === null ? null : `/orders?status=${status}`,
        mayWork: allows(request.actor, 'work'),
      }),
    });
  },
});
