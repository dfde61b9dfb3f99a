import { stockTakeForm } from '../../../views/stock/stockTake.ts';
import { openContainer } from '../containerState.ts';
import { occurrence } from '../containers.ts';
import { deedPages } from '../deedPages.ts';
import { stockTake } from '../ledger.ts';
import { StockTakeForm } from '../schemas.ts';

export const stockTakePages = deedPages({
  title: 'Count',
  form: stockTakeForm,
  begin: openContainer,
  typed: () => ({ reason: 'counted' }),
  schema: (_, { unit }) => StockTakeForm(unit),
  record: (deps, { id: stockLotId }, { counted, reason, clientId }, by) =>
    stockTake(
      deps.db,
      { stockLotId, countedQuantity: counted, reason },
      by,
      occurrence(deps, { clientId }, stockLotId),
    ),
});
