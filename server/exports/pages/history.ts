import { historyPage as historyView } from '../../../views/exports/history.ts';
import { historyOptions, lotsAskedFor } from '../../costing/closedLotFilter.ts';

import { usualRanges } from '../../costing/ranges.ts';
import type { Deps } from '../../deps.ts';
import { typedBody, zodFieldErrors } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { dayOf } from '../../settings/days.ts';
import { theStudio } from '../../settings/queries.ts';
import { showOf } from '../../settings/show.ts';
import { costLineColumns, lotColumns } from '../columns.ts';
import { historyTotals, keyOf, screenOf } from '../history.ts';
import { documented } from '../present.ts';
import { lastClosedAt } from '../queries.ts';
import { reconciliation } from '../reconcile.ts';
import { HistoryFilter } from '../schemas.ts';

const address = (path: string, values: Record<string, string>): string =>
  `${path}?${new URLSearchParams(Object.entries(values).filter(([, v]) => v !== ''))}`;

/** Lots up to which the page proves its sums against the ledger by itself, some 20 ms: a year of a busy studio. */
const PROVED_ON_THE_PAGE = 1500;

const render = (deps: Deps, query: unknown): Rendering => {
  const studio = theStudio(deps.db);
  const ranges = usualRanges(dayOf(deps.now(), studio.zone));
  const asked = typedBody(query);
  const typed =
    'from' in asked || 'to' in asked ? asked : { ...asked, from: ranges[0]?.from ?? '', to: ranges[0]?.to ?? '' };
  const parsed = HistoryFilter.safeParse(typed);
  const { filter, errors } = parsed.success
    ? lotsAskedFor(deps.db, parsed.data)
    : { filter: null, errors: zodFieldErrors(parsed.error) };
  const refused = Object.keys(errors).length > 0;
  const before = parsed.success ? keyOf(parsed.data.after) : null;
  const { lots, next } = filter === null || refused ? { lots: [], next: null } : screenOf(deps.db, filter, before);
  const { after: _, ...wanted } = typed;
  const totals = filter === null || refused ? null : historyTotals(deps.db, filter);
  const closedAt = lastClosedAt(deps.db);
  return {
    title: 'Batch history',
    section: 'history',
    status: refused ? 422 : 200,
    body: historyView({
      form: { typed, errors },
      choices: historyOptions(deps.db),
      ranges: ranges.map(({ label, from, to }) => ({
        label,
        // Empty ends are said, since an address without any means this month.
        href: `/history?${new URLSearchParams({ from, to })}`,
        current: typed['from'] === from && typed['to'] === to,
      })),
      totals,
      lots,
      show: showOf(deps.db),
      lastClosedOn: closedAt === null ? null : dayOf(closedAt, studio.zone),
      exportHrefs: {
        lot: address('/history/export.csv', { ...wanted, rows: 'lot' }),
        costLine: address('/history/export.csv', { ...wanted, rows: 'costLine' }),
        lotXlsx: address('/history/export.xlsx', { ...wanted, rows: 'lot' }),
        costLineXlsx: address('/history/export.xlsx', { ...wanted, rows: 'costLine' }),
        save: address('/exports/new', { ...wanted, span: 'fixed' }),
      },
      proof:
        filter === null || totals === null || totals.lots > PROVED_ON_THE_PAGE ? null : reconciliation(deps.db, filter),
      columns: { lot: documented(lotColumns(studio)), costLine: documented(costLineColumns(studio)) },
      nextHref: next === null ? null : `/history?${new URLSearchParams({ ...wanted, after: next })}`,
      firstHref: before === null ? null : `/history?${new URLSearchParams(wanted)}`,
    }),
  };
};

export const showHistory = page({
  show: (deps, { request, reply }) => sendPage(request, reply, render(deps, request.query)),
});
