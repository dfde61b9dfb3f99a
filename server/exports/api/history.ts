import { filterOf } from '../../costing/closedLotFilter.ts';
import { operation } from '../../http/routes.ts';
import { theStudio } from '../../settings/queries.ts';
import { costLineColumns, lotColumns } from '../columns.ts';
import { historyTotals, keyOf, screenOf } from '../history.ts';
import { documented } from '../present.ts';
import { reconciliation } from '../reconcile.ts';
import { ColumnsResource, HistoryFilter, HistoryResource, ReconciliationResource } from '../schemas.ts';

export const listBatchHistory = operation({
  id: 'listBatchHistory',
  summary: 'Closed lots with their costs, newest first, and the sums over all that the filter finds',
  query: HistoryFilter,
  answer: HistoryResource,
  run: ({ db }, { query }) => {
    const filter = filterOf(db, query);
    const { currency } = theStudio(db);
    const { lots, next } = screenOf(db, filter, keyOf(query.after));
    return {
      currency,
      totals: historyTotals(db, filter),
      lots,
      next,
    };
  },
});

export const listExportColumns = operation({
  id: 'listExportColumns',
  summary: 'What each column of the exports means',
  answer: ColumnsResource,
  run: ({ db }) => {
    const studio = theStudio(db);
    return { lot: documented(lotColumns(studio)), costLine: documented(costLineColumns(studio)) };
  },
});

export const getReconciliation = operation({
  id: 'getReconciliation',
  summary: 'That the cost lines are the ledger’s issues (mg, µL) and the sums of the batch history (minor units)',
  query: HistoryFilter,
  answer: ReconciliationResource,
  run: ({ db }, { query }) => reconciliation(db, filterOf(db, query)),
});
