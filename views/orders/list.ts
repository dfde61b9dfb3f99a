import type { OrderInList, OrderStatus } from '../../server/orders/schemas.ts';
import { type Html, html } from '../html.ts';
import { badge, emptyState, pageHead, pager } from '../kit/pageHead.ts';
import { day, money, type Show } from '../kit/show.ts';

const statusWords: Record<OrderStatus, string> = {
  open: 'open',
  inWork: 'in work',
  ready: 'ready',
  delivered: 'delivered',
  cancelled: 'cancelled',
};

export const orderBadge = (status: OrderStatus): Html =>
  badge({
    label: statusWords[status],
    tone: ({ open: 'plain', inWork: 'busy', ready: 'good', delivered: 'good', cancelled: 'bad' } as const)[status],
  });

const STATUSES: readonly OrderStatus[] = ['open', 'inWork', 'ready', 'delivered', 'cancelled'];

const DAY_MS = 86_400_000;
/** Nothing of it is to be done any more, and nothing on it can be changed. */
export const isClosed = (status: OrderStatus): boolean => status === 'delivered' || status === 'cancelled';

/** How long until it is due, in words; null when that no longer matters or no day was agreed. */
function dueWords(order: { dueOn: string | null; status: OrderStatus }, todayOn: string): string | null {
  if (order.dueOn === null || isClosed(order.status)) return null;
  const days = Math.round((Date.parse(`${order.dueOn}T00:00:00Z`) - Date.parse(`${todayOn}T00:00:00Z`)) / DAY_MS);
  if (days < -1) return `${-days} days overdue`;
  if (days === -1) return 'one day overdue';
  if (days === 0) return 'due today';
  return days === 1 ? 'due tomorrow' : `due in ${days} days`;
}

/** The due day with its urgency: overdue and soon are told by words and mark. */
export const dueMark = (order: { dueOn: string | null; status: OrderStatus }, todayOn: string): Html | '' => {
  const words = dueWords(order, todayOn);
  if (words === null || order.dueOn === null) return '';
  if (order.dueOn < todayOn) return badge({ label: words, tone: 'bad' });
  const soon = Date.parse(`${order.dueOn}T00:00:00Z`) - Date.parse(`${todayOn}T00:00:00Z`) <= 3 * DAY_MS;
  return soon ? badge({ label: words, tone: 'warn' }) : html`<span class="fine">${words}</span>`;
};

export const orderTable = (props: {
  orders: readonly OrderInList[];
  todayOn: string;
  show: Show;
  withCustomer: boolean;
}): Html =>
  html`<ul class="order-rows">${props.orders.map(
    (o) => html`<li class="order-row"><div class="order-who"><a href="/orders/${o.orderId}"><b>${o.number}</b></a>${
      props.withCustomer && html` <a href="/customers/${o.customerId}">${o.customerName}</a>`
    }<p class="fine">${o.lineCount === 1 ? 'one line' : `${o.lineCount} lines`}, ordered ${day(o.orderedOn)}</p></div>
    <div class="order-due">${
      o.dueOn === null ? html`<span class="fine">no day agreed</span>` : html`<span>${day(o.dueOn)}</span>`
    } ${dueMark(o, props.todayOn)}</div>
    <div class="order-state">${orderBadge(o.status)}</div><div
      class="order-price">${money(props.show, o.priceMinor)}</div></li>`,
  )}</ul>`;

interface OrdersProps {
  /** 'hand' is everything still to be done. */
  view: 'hand' | OrderStatus;
  orders: readonly OrderInList[];
  counts: Record<OrderStatus, number>;
  todayOn: string;
  show: Show;
  nextHref: string | null;
  firstHref: string | null;
  mayWork: boolean;
}

export const ordersPage = (props: OrdersProps): Html => {
  const { counts, orders } = props;
  const tabs: { view: OrdersProps['view']; label: string; count: number }[] = [
    { view: 'hand', label: 'In hand', count: counts.open + counts.inWork + counts.ready },
    ...STATUSES.map((s) => ({
      view: s,
      label: statusWords[s],
      count: counts[s],
    })),
  ];
  const overdue = orders.filter((o) => o.dueOn !== null && o.dueOn < props.todayOn && !isClosed(o.status)).length;
  return html`${pageHead({
    title: 'Orders',
    lead:
      props.view === 'hand' && overdue > 0
        ? `${overdue === 1 ? 'One is' : `${overdue} are`} overdue.`
        : 'Who wants what, in which shade, by when.',
    actions: html`<a class="button" href="/customers">Customers</a>${
      props.mayWork && html`<a class="button primary" href="/orders/new">Take an order</a>`
    }`,
  })}
<nav class="tabs" aria-label="Orders by state"><ul>${tabs.map(
    (t) =>
      html`<li><a href="/orders${t.view === 'hand' ? '' : `?status=${t.view}`}"
        ${t.view === props.view ? html`aria-current="page"` : ''}>${t.label} <span
        class="count">${t.count}</span></a></li>`,
  )}</ul></nav>
${
  orders.length > 0
    ? html`${orderTable({
        orders,
        todayOn: props.todayOn,
        show: props.show,
        withCustomer: true,
      })}${pager({ nextHref: props.nextHref, firstHref: props.firstHref })}`
    : tabs.every((t) => t.count === 0)
      ? emptyState({
          title: 'No orders yet',
          words:
            'An order keeps what was agreed: goods, shade, how near it must come, price and day. ' +
            'Lots are planned from its lines.',
          ...(props.mayWork ? { action: { href: '/orders/new', label: 'Take an order' } } : {}),
        })
      : emptyState({ title: 'None of these', words: 'No order is in that state now.' })
}`;
};
