import { reopeningForm } from '../../../views/stock/reopening.ts';
import { closedContainer } from '../containerState.ts';
import { reopenContainer } from '../containers.ts';
import { deedPages } from '../deedPages.ts';
import { closingEntryOf } from '../queries.ts';
import { ReopeningForm } from '../schemas.ts';

export const reopeningPages = deedPages({
  title: 'Open again',
  form: reopeningForm,
  begin: closedContainer,
  typed: ({ db }, { id, unit, closedAt }) => {
    const gone = -(closingEntryOf(db, id, closedAt)?.quantity ?? 0);
    return { counted: gone > 0 ? `${gone / 1000} ${unit === 'mg' ? 'g' : 'mL'}` : '' };
  },
  schema: (_, { unit }) => ReopeningForm(unit),
  record: (deps, { id: stockLotId }, { counted, reason, clientId = null }, by) =>
    reopenContainer(deps, { stockLotId, countedQuantity: counted, reason, clientId }, by),
});
