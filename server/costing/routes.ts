import { historyPage as historyView } from '../../views/costing/historyPage.ts';
import type { App } from '../app.ts';
import type { Db } from '../db/open.ts';
import type { Deps } from '../deps.ts';
import { type FieldErrors, invalid } from '../errors.ts';
import { keysetPages, sendCsv } from '../http/csv.ts';
import { typedBody, zodFieldErrors } from '../http/forms.ts';
import { type Rendering, sendPage } from '../http/page.ts';
import { dayOf, instantsOfDay } from '../settings/days.ts';
import { theStudio } from '../settings/queries.ts';
import { showOf } from '../settings/show.ts';
import {
  costLineColumns,
  costLinesPage,
  type ExportColumn,
  type HistoryLot,
  historyPage,
  historyTotals,
  lotColumns,
  lotsPage,
} from './exports.ts';
import { type ClosedLotFilter, historyChoices, type LotKey, lastClosedAt, orderIdOf } from './queries.ts';
import { usualRanges } from './ranges.ts';
import { ColumnsResource, ExportFilter, HistoryFilter, type HistoryFilterInput, HistoryResource } from './schemas.ts';

const LOTS_A_SCREEN = 100;
const LOTS_A_READ = 250;
const ALL_TIME = { startAt: 0, endAt: Number.MAX_SAFE_INTEGER };

type Wanted = Omit<HistoryFilterInput, 'after'>;

/** Days as instants of the studio's zone and the order by its number; what cannot be found is an error beside its field. */
function found(db: Db, input: Wanted): { filter: ClosedLotFilter; errors: FieldErrors } {
  const { zone } = theStudio(db);
  const orderId = input.order === '' ? null : orderIdOf(db, input.order);
  return {
    filter: {
      startAt: input.from === null ? ALL_TIME.startAt : instantsOfDay(input.from, zone).startAt,
      endAt: input.to === null ? ALL_TIME.endAt : instantsOfDay(input.to, zone).endAt,
      orderId,
      customerId: input.customerId,
      methodId: input.methodId,
      fibreId: input.fibreId,
    },
    errors: input.order !== '' && orderId === null ? { order: `There is no order ${input.order}.` } : {},
  };
}

function filterOf(db: Db, input: Wanted): ClosedLotFilter {
  const { filter, errors } = found(db, input);
  if (Object.keys(errors).length > 0) throw invalid(errors);
  return filter;
}

const keyOf = (after: string | undefined): LotKey | null => {
  if (after === undefined) return null;
  const [finishedAt, lotId] = after.split('.').map(Number);
  return { finishedAt: finishedAt ?? 0, lotId: lotId ?? 0 };
};

/** One screen of lots, and where the next begins if there is one. */
function screenOf(db: Db, filter: ClosedLotFilter, before: LotKey | null): { lots: HistoryLot[]; next: string | null } {
  const read = historyPage(db, filter, before, LOTS_A_SCREEN + 1);
  const lots = read.slice(0, LOTS_A_SCREEN);
  const last = lots.at(-1);
  return { lots, next: read.length > lots.length && last ? `${last.finishedAt}.${last.lotId}` : null };
}

const address = (path: string, values: Record<string, string>): string =>
  `${path}?${new URLSearchParams(Object.entries(values).filter(([, v]) => v !== ''))}`;

const documented = (columns: readonly ExportColumn<never>[]) =>
  columns.map(({ name, unit, meaning }) => ({ name, unit, meaning }));

function* costLinePages(db: Db, filter: ClosedLotFilter) {
  let after: LotKey | null = null;
  for (;;) {
    const { lines, last }: ReturnType<typeof costLinesPage> = costLinesPage(db, filter, after, LOTS_A_READ);
    if (last === null) return;
    yield lines;
    after = last;
  }
}

/** Streams the batch history: both doors' one answer. */
async function sendHistory(
  reply: Parameters<typeof sendCsv>[0],
  db: Db,
  input: Wanted & { rows: 'lot' | 'costLine' },
): ReturnType<typeof sendCsv> {
  const filter = filterOf(db, input);
  const studio = theStudio(db);
  const span = [input.from && `from ${input.from}`, input.to && `to ${input.to}`].filter(Boolean).join(' ');
  const name = `batch history${span && ` ${span}`}`;
  if (input.rows === 'costLine') {
    return sendCsv(reply, `${name} cost lines.csv`, costLineColumns(studio), costLinePages(db, filter));
  }
  return sendCsv(
    reply,
    `${name}.csv`,
    lotColumns(studio),
    keysetPages<HistoryLot, LotKey>(
      (after) => lotsPage(db, filter, after, LOTS_A_READ),
      (lot) => lot,
    ),
  );
}

export function pages(app: App, deps: Deps): void {
  const { db } = deps;

  const render = (query: unknown): Rendering => {
    const studio = theStudio(db);
    const ranges = usualRanges(dayOf(deps.now(), studio.zone));
    const asked = typedBody(query);
    const typed =
      'from' in asked || 'to' in asked ? asked : { ...asked, from: ranges[0]?.from ?? '', to: ranges[0]?.to ?? '' };
    const parsed = HistoryFilter.safeParse(typed);
    const { filter, errors } = parsed.success
      ? found(db, parsed.data)
      : { filter: null, errors: zodFieldErrors(parsed.error) };
    const refused = Object.keys(errors).length > 0;
    const before = parsed.success ? keyOf(parsed.data.after) : null;
    const { lots, next } = filter === null || refused ? { lots: [], next: null } : screenOf(db, filter, before);
    const { after: _, ...wanted } = typed;
    const closedAt = lastClosedAt(db);
    const choices = historyChoices(db);
    const options = (list: { id: number; name: string }[]) =>
      list.map(({ id, name }) => ({ value: String(id), label: name }));
    return {
      title: 'Batch history',
      section: 'history',
      status: refused ? 422 : 200,
      body: historyView({
        form: { typed, errors },
        choices: {
          customers: options(choices.customers),
          methods: options(choices.methods),
          fibres: options(choices.fibres),
        },
        ranges: ranges.map(({ label, from, to }) => ({
          label,
          // Empty ends are said, since an address without any means this month.
          href: `/history?${new URLSearchParams({ from, to })}`,
          current: typed['from'] === from && typed['to'] === to,
        })),
        totals: filter === null || refused ? null : historyTotals(db, filter),
        lots: lots.map((lot) => ({ ...lot, finishedOn: dayOf(lot.finishedAt, studio.zone) })),
        show: showOf(db),
        lastClosedOn: closedAt === null ? null : dayOf(closedAt, studio.zone),
        exportHrefs: {
          lot: address('/history/export.csv', { ...wanted, rows: 'lot' }),
          costLine: address('/history/export.csv', { ...wanted, rows: 'costLine' }),
        },
        columns: { lot: documented(lotColumns(studio)), costLine: documented(costLineColumns(studio)) },
        nextHref: next === null ? null : `/history?${new URLSearchParams({ ...wanted, after: next })}`,
        firstHref: before === null ? null : `/history?${new URLSearchParams(wanted)}`,
      }),
    };
  };

  app.get('/history', { config: { may: 'look' } }, async (request, reply) =>
    sendPage(request, reply, render(request.query)),
  );

  app.get(
    '/history/export.csv',
    { config: { may: 'look' }, schema: { querystring: ExportFilter } },
    async (request, reply) => sendHistory(reply, db, request.query),
  );
}

export function api(app: App, deps: Deps): void {
  const { db } = deps;
  const tags = ['Batch history'];

  app.get(
    '/history',
    {
      config: { may: 'look' },
      schema: {
        tags,
        summary: 'Closed lots with their costs, newest first, and the sums over all that the filter finds',
        querystring: HistoryFilter,
        response: { 200: HistoryResource },
      },
    },
    async (request) => {
      const filter = filterOf(db, request.query);
      const { currency, zone } = theStudio(db);
      const { lots, next } = screenOf(db, filter, keyOf(request.query.after));
      return {
        currency,
        totals: historyTotals(db, filter),
        lots: lots.map((lot) => ({ ...lot, finishedOn: dayOf(lot.finishedAt, zone) })),
        nextAfter: next,
      };
    },
  );

  app.get(
    '/exports/lots.csv',
    {
      config: { may: 'look' },
      schema: {
        tags,
        summary: 'The batch history as CSV, streamed: one row a lot, or one row a cost line (rows=costLine)',
        querystring: ExportFilter,
      },
    },
    async (request, reply) => sendHistory(reply, db, request.query),
  );

  app.get(
    '/exports/columns',
    {
      config: { may: 'look' },
      schema: {
        tags,
        summary: 'What each column of the exports means',
        response: { 200: ColumnsResource },
      },
    },
    async () => {
      const studio = theStudio(db);
      return { lot: documented(lotColumns(studio)), costLine: documented(costLineColumns(studio)) };
    },
  );
}
