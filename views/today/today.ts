import type { TodayShape } from '../../server/today/schemas.ts';
import { replicaWords } from '../backup/backup.ts';
import { countdown } from '../bench/steps.ts';
import { type Html, html, type Value } from '../html.ts';
import { type ContainerItem, containerBadges, quantity } from '../kit/containers.ts';
import { badge, emptyState, pageHead } from '../kit/pageHead.ts';
import { clockBeside, day, goodsMass, type Show, when } from '../kit/show.ts';
import { dueMark, orderBadge } from '../orders/list.ts';

export type TodayLot = TodayShape['planned'][number];
export type TodayBenchLot = TodayShape['onBench'][number];

export interface TodayProps {
  todayOn: string;
  nowAt: number;
  onBench: readonly TodayBenchLot[];
  planned: readonly TodayLot[];
  orders: readonly (Omit<TodayShape['orders'][number], 'orderId'> & { id: number; lineCount: number })[];
  containers: readonly (ContainerItem & { itemName: string; itemCode: string })[];
  unread: TodayShape['unread'];
  firstSteps: Record<'fibre' | 'dye' | 'container' | 'method' | 'recipe' | 'lot', boolean>;
  show: Show;
  mayWork: boolean;
  /** What the record asks, made up already. */
  questions: Html | '';
  backup: TodayShape['backup'] & { mayMake: boolean };
  replica: TodayShape['replica'];
  /** How many people's standing an owner has still to look at after a restore; null when there is nothing to settle. */
  unsettled: number | null;
}

/** Rows shown of a list that has a page of its own. */
const A_FEW = 8;

const what = (l: { shades: string; goodsText: string }): Html =>
  html`${l.shades && html`<b>${l.shades}</b> on `}${l.goodsText}`;

const more = (shown: number, all: number, href: string, words: string): Html | '' =>
  all > shown ? html`<p class="today-more"><a href="${href}">${all - shown} more ${words}</a></p>` : '';

const section = (id: string, title: string, count: number, body: Value): Html =>
  html`<section class="panel today-list" aria-labelledby="${id}"><h2 id="${id}">${title}${
    count > 0 && html` <span class="fine">${count}</span>`
  }</h2>${body}</section>`;

const cancelledMark = (l: Pick<TodayLot, 'cancelledOrders'>): Html | '' =>
  l.cancelledOrders === '' ? '' : html`<br>${badge({ label: `order ${l.cancelledOrders} cancelled`, tone: 'bad' })}`;

const benchCard = (l: TodayBenchLot, p: TodayProps): Html => {
  const stepsDone = l.running.length === 0 && l.nextStep === null;
  const toFinish = stepsDone && l.weighedCount >= l.lineCount;
  const progress = [
    `${l.weighedCount} of ${l.lineCount} weighed`,
    l.stepCount > 0 ? `${l.doneSteps} of ${l.stepCount} steps done` : '',
    l.readyAt !== null && l.doneSteps < l.stepCount ? `ready about ${clockBeside(p.show, l.readyAt, p.nowAt)}` : '',
  ].filter(Boolean);
  return html`<li class="panel bench-card">
  <h3><a href="/lots/${l.lotId}/bench"><span class="lot-tag">${l.number}</span></a></h3>
  <p>${what(l)}<br><span class="fine">${goodsMass(p.show, l.dryMassMg)} ${l.fibreName}${
    l.customers && html` · for ${l.customers}`
  }</span>${cancelledMark(l)}</p>
  ${l.running.map(
    (s) =>
      html`<p class="running"><span>${s.name}</span><span
        class="timer ${s.state}" data-ends-at="${s.expectedEndAt}" data-now="${p.nowAt}"><b>${
          s.remainingS >= 0 ? countdown(s.remainingS) : html`over by ${countdown(-s.remainingS)}`
        }</b></span></p>`,
  )}
  ${
    l.running.length === 0 &&
    html`<p class="running"><span>${
      toFinish ? 'Done: ready to finish' : stepsDone ? 'Still to be weighed' : html`Next: ${l.nextStep}`
    }</span></p>`
  }
  <p class="fine">${progress.join(' · ')}</p>
  <p><a class="button primary" href="/lots/${l.lotId}/${toFinish ? 'finish' : 'bench'}">${
    toFinish ? 'Finish' : 'To the bench'
  }<span class="visually-hidden">${toFinish ? '' : ' of'} lot ${l.number}</span></a></p></li>`;
};

const plannedRow = (l: TodayLot, p: TodayProps): Html => {
  const late = l.plannedForOn !== null && l.plannedForOn < p.todayOn;
  const on =
    l.plannedForOn === null
      ? 'no day set'
      : l.plannedForOn === p.todayOn
        ? 'today'
        : `${late ? 'was for ' : ''}${day(l.plannedForOn)}`;
  return html`<li class="list-row"><a href="/lots/${l.lotId}"><span class="lot-tag">${l.number}</span></a><span
    class="grow">${what(l)}<br><span
    class="fine">${goodsMass(p.show, l.dryMassMg)} ${l.fibreName}${
      l.customers &&
      html` ·
    for ${l.customers}`
    }</span>${cancelledMark(l)}</span><span
    class="num ${l.plannedForOn === p.todayOn || late ? 'due-now' : ''}">${on}</span></li>`;
};

const STEPS: { key: keyof TodayProps['firstSteps']; href: string; label: string; why: string }[] = [
  {
    key: 'fibre',
    href: '/fibres/new',
    label: 'Add a fibre',
    why: 'The cloth or yarn you dye most: every percentage goes by its dry mass.',
  },
  {
    key: 'dye',
    href: '/dyes/new',
    label: 'Add a dye',
    why: 'Its short code and its class; the class decides what it suits.',
  },
  {
    key: 'container',
    href: '/stock/new',
    label: 'Receive a container',
    why: 'What stands on the shelf, what it cost and which maker’s lot it is. Weighings draw on it.',
  },
  {
    key: 'method',
    href: '/methods/new',
    label: 'Write down a method',
    why: 'Steps with times and temperatures, and the auxiliaries, each by its own basis.',
  },
  {
    key: 'recipe',
    href: '/recipes/new',
    label: 'Note a recipe',
    why: 'The formula of one shade, as a split of a depth or as depths of its own.',
  },
  {
    key: 'lot',
    href: '/lots/new',
    label: 'Plan the first lot',
    why: 'A lot is one production batch: everything dyed in one go. The masses to weigh appear as you type.',
  },
];

/** The way from an empty studio to its first lot, with what is done ticked off. */
const guide = (p: TodayProps): Html => {
  const next = STEPS.find((s) => !p.firstSteps[s.key]);
  return html`<section class="panel first-steps" aria-labelledby="first-steps">
  <h2 id="first-steps">From an empty shelf to the first lot</h2>
<p>Six things, in this order. Each takes a minute; you can come back here after each one.</p>
<ol>${STEPS.map((s) => {
    const done = p.firstSteps[s.key];
    const state = done ? 'done' : s === next ? 'next' : 'later';
    return html`<li class="is-${state}"><div class="grow"><b>${s.label}</b>${
      done && html` <span class="fine">done</span>`
    }<br><span class="fine">${s.why}</span></div>${
      p.mayWork && !done && html`<a class="button ${s === next ? 'primary' : ''}" href="${s.href}">${s.label}</a>`
    }</li>`;
  })}</ol>
<p class="fine">Have dyed samples with formulas already? Put them into the <a href="/swatches">swatch library</a> and
  plan lots from there.</p></section>`;
};

const orderRow = (o: TodayProps['orders'][number], todayOn: string): Html =>
  html`<li class="list-row"><span class="grow"><a
    href="/orders/${o.id}"><b>${o.number}</b></a> ${o.customerName}<br><span
    class="fine">${o.lineCount === 1 ? 'one line' : `${o.lineCount} lines`}${
      o.dueOn !== null &&
      html`,
    due ${day(o.dueOn)}`
    }</span></span><span
    class="today-marks">${orderBadge(o.status)}${dueMark(o, todayOn)}</span></li>`;

const containerRow = (c: TodayProps['containers'][number], p: TodayProps): Html =>
  html`<li class="list-row"><span class="grow"><a href="/stock/${c.id}"><b>${c.code}</b></a> ${c.itemName}<br><span
    class="fine">${quantity(p.show, c.unit, c.onHandQuantity)} of ${quantity(p.show, c.unit, c.receivedQuantity)} left${
      c.bestBeforeOn !== null && html`, best before ${day(c.bestBeforeOn)}`
    }</span></span>${containerBadges(c, p.todayOn)}</li>`;

const weekday = (on: string): string =>
  new Intl.DateTimeFormat('en-GB', { timeZone: 'UTC', weekday: 'long' }).format(Date.parse(`${on}T00:00:00Z`));

const lookAtBackup = (mayMake: boolean, words: string): Html | string =>
  mayMake ? html`<a href="/settings/backup">${words}</a>` : 'Tell the owner.';

const backupNotice = ({ backup: b, show }: TodayProps): Html =>
  html`<p class="notice warn">${
    b.lastGoodAt === null
      ? html`<b>There is no backup of this studio yet.</b>`
      : html`<b>The last good backup is of ${when(show, b.lastGoodAt)}.</b>`
  } ${lookAtBackup(b.mayMake, 'Make one')}</p>`;

const trialNotice = ({ backup: b, show }: TodayProps): Html =>
  html`<p class="notice warn">${
    b.trialFailure !== ''
      ? html`<b>The newest backup did not come back when it was restored for trial.</b> ${b.trialFailure}`
      : b.triedAt === null
        ? html`<b>No backup has ever been restored for trial.</b>`
        : html`<b>No backup has been restored for trial since ${when(show, b.triedAt)}.</b>`
  } ${lookAtBackup(b.mayMake, 'See the backups')}</p>`;

const checkNotice = ({ backup: b }: TodayProps): Html =>
  html`<p class="notice warn"><b>The database could not be checked.</b> ${b.checkFailure}</p>`;

const settleNotice = (count: number): Html =>
  html`<p class="notice warn"><b>This studio came out of a backup.</b> ${
    count === 0
      ? 'See who may come in.'
      : count === 1
        ? 'The standing of one person is not what it was in the studio that it replaced.'
        : `The standing of ${count} people is not what it was in the studio that it replaced.`
  } <a href="/people/after-restore">Look through it</a></p>`;

/** What wants a look today: the bench first, then what comes next and what runs short.
 *  Long because it is one page, from top to bottom. */
export const todayPage = (p: TodayProps): Html => {
  const isNew = !p.firstSteps.lot;
  const orders = p.orders.slice(0, A_FEW);
  const planned = p.planned.slice(0, A_FEW);
  const containers = p.containers.slice(0, A_FEW);
  const unread = p.unread.slice(0, A_FEW);
  const nothing =
    [p.onBench, p.planned, p.orders, p.containers, p.unread].every((list) => list.length === 0) && p.questions === '';
  return html`${pageHead({
    title: 'Today',
    lead: `${weekday(p.todayOn)}, ${day(p.todayOn)}`,
    actions: p.mayWork && !isNew && html`<a class="button primary" href="/lots/new">Plan a lot</a>`,
  })}
${p.unsettled !== null && settleNotice(p.unsettled)}
${p.backup.isOld && backupNotice(p)}
${(p.backup.trialFailure !== '' || p.backup.isTrialOverdue) && trialNotice(p)}
${p.backup.checkFailure !== '' && checkNotice(p)}
${
  p.replica !== null &&
  (p.replica.at === null || p.replica.isBehind) &&
  html`<p class="notice warn">${replicaWords(p.replica, p.show)}</p>`
}
${isNew && guide(p)}
${p.questions}
${
  p.onBench.length > 0 &&
  html`<section aria-labelledby="on-bench"><h2 id="on-bench">On the bench <span class="fine">${
    p.onBench.length
  }</span></h2><ul class="bench-cards">${p.onBench.map((l) => benchCard(l, p))}</ul></section>`
}
${
  !isNew && nothing
    ? emptyState({
        title: 'A quiet day',
        words: 'Nothing on the bench, nothing planned, nothing due, nothing running short.',
        action: { href: '/swatches', label: 'Look through the swatches' },
      })
    : html`<div class="today-lists">
${
  p.planned.length > 0
    ? section(
        'planned',
        'Planned',
        p.planned.length,
        html`<ul>${planned.map((l) => plannedRow(l, p))}</ul>${more(
          planned.length,
          p.planned.length,
          '/lots?status=planned',
          'planned',
        )}`,
      )
    : !isNew &&
      section(
        'planned',
        'Planned',
        0,
        html`<p class="fine">No lot is planned. Plan one from a swatch, a recipe or an order line.</p>`,
      )
}
${
  p.orders.length > 0 &&
  section(
    'orders',
    'Orders in hand',
    p.orders.length,
    html`<ul>${orders.map((o) => orderRow(o, p.todayOn))}</ul>${more(
      orders.length,
      p.orders.length,
      '/orders',
      'in hand',
    )}`,
  )
}
${
  p.containers.length > 0 &&
  section(
    'shelf',
    'Shelf to watch',
    p.containers.length,
    html`<ul>${containers.map((c) => containerRow(c, p))}</ul>${more(
      containers.length,
      p.containers.length,
      '/stock',
      'to watch',
    )}`,
  )
}
${
  p.unread.length > 0 &&
  section(
    'unread',
    'Waiting for a colour reading',
    p.unread.length,
    html`<ul>${unread.map(
      (l) =>
        html`<li class="list-row"><a href="/lots/${l.lotId}"><span class="lot-tag">${l.number}</span></a><span
          class="grow">${what(l)}</span></li>`,
    )}</ul>${more(unread.length, p.unread.length, '/lots?status=finished', 'without a reading')}`,
  )
}
</div>`
}`;
};
