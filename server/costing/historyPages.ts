import { historyPage as historyView } from '../../views/costing/historyPage.ts';
import type { Db } from '../db/open.ts';
import type { Deps } from '../deps.ts';
import { demandNone, type FieldErrors } from '../errors.ts';
import type { App } from '../http/app.ts';
import { typedBody, zodFieldErrors } from '../http/forms.ts';
import { type Rendering, sendPage } from '../http/page.ts';
import { dayOf, instantsOfDay } from '../settings/days.ts';
import { theStudio } from '../settings/queries.ts';
import { showOf } from '../settings/show.ts';
import {
  costLineColumns,
  type ExportColumn,
  type HistoryLot,
  historyPage,
  historyTotals,
  lotColumns,
} from './exports.ts';
import { type ClosedLotFilter, EVERYTHING, historyChoices, type LotKey, lastClosedAt, orderIdOf } from './queries.ts';
import { usualRanges } from './ranges.ts';
import { reconciliation } from './reconcile.ts';
import { HistoryFilter, type HistoryFilterInput, HistoryResource } from './schemas.ts';

const LOTS_A_SCREEN = 100;

export type Wanted = Omit<HistoryFilterInput, 'after'>;

const DAY_MS = 24 * 3_600_000;

/** Days of the closings and the order by its number; what cannot be found is an error beside its field. */
export function found(db: Db, input: Wanted): { filter: ClosedLotFilter; errors: FieldErrors } {
  const orderId = input.order === '' ? null : orderIdOf(db, input.order);
  return {
    filter: {
      // The day of a closing is that of the zone of then, whatever the zone is now: a day more on either side holds them all.
      startAt: input.from === null ? EVERYTHING.startAt : instantsOfDay(input.from, 'utc').startAt - DAY_MS,
      endAt: input.to === null ? EVERYTHING.endAt : instantsOfDay(input.to, 'utc').endAt + DAY_MS,
      fromOn: input.from,
      toOn: input.to,
      orderId,
      customerId: input.customerId,
      methodId: input.methodId,
      fibreId: input.fibreId,
    },
    errors: input.order !== '' && orderId === null ? { order: `There is no order ${input.order}.` } : {},
  };
}

export function filterOf(db: Db, input: Wanted): ClosedLotFilter {
  const { filter, errors } = found(db, input);
  demandNone(errors);
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

export const documented = (columns: readonly ExportColumn<never>[]) =>
  columns.map(({ name, unit, meaning }) => ({ name, unit, meaning }));

/** Lots up to which the page proves its sums against the ledger by itself, some 20 ms: a year of a busy studio. */
const PROVED_ON_THE_PAGE = 1500;

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
    const totals = filter === null || refused ? null : historyTotals(db, filter);
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
        totals,
        lots: lots.map((lot) => ({ ...lot, finishedOn: lot.closedOn })),
        show: showOf(db),
        lastClosedOn: closedAt === null ? null : dayOf(closedAt, studio.zone),
        exportHrefs: {
          lot: address('/history/export.csv', { ...wanted, rows: 'lot' }),
          costLine: address('/history/export.csv', { ...wanted, rows: 'costLine' }),
          lotXlsx: address('/history/export.xlsx', { ...wanted, rows: 'lot' }),
          costLineXlsx: address('/history/export.xlsx', { ...wanted, rows: 'costLine' }),
          save: address('/exports/new', { ...wanted, span: 'fixed' }),
        },
        proof:
          filter === null || totals === null || totals.lots > PROVED_ON_THE_PAGE ? null : reconciliation(db, filter),
        columns: { lot: documented(lotColumns(studio)), costLine: documented(costLineColumns(studio)) },
        nextHref: next === null ? null : `/history?${new URLSearchParams({ ...wanted, after: next })}`,
        firstHref: before === null ? null : `/history?${new URLSearchParams(wanted)}`,
      }),
    };
  };

  app.get('/history', { config: { may: 'look' } }, async (request, reply) =>
    sendPage(request, reply, render(request.query)),
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
        operationId: 'listBatchHistory',
        tags,
        summary: 'Closed lots with their costs, newest first, and the sums over all that the filter finds',
        querystring: HistoryFilter,
        response: { 200: HistoryResource },
      },
    },
    async (request) => {
      const filter = filterOf(db, request.query);
      const { currency } = theStudio(db);
      const { lots, next } = screenOf(db, filter, keyOf(request.query.after));
      return {
        currency,
        totals: historyTotals(db, filter),
        lots: lots.map((lot) => ({ ...lot, finishedOn: lot.closedOn })),
        next,
      };
    },
  );
}
