import { wasteForm } from '../../../views/stock/waste.ts';
import { openContainer } from '../containerState.ts';
import { occurrence } from '../containers.ts';
import { deedPages } from '../deedPages.ts';
import { waste } from '../ledger.ts';
import { WasteForm } from '../schemas.ts';

export const wastePages = deedPages({
  title: 'Write off from',
  form: wasteForm,
  begin: openContainer,
  schema: (_, { unit }) => WasteForm(unit),
  record: (deps, { id: stockLotId }, { quantity, reason, clientId }, by) =>
    waste(deps.db, { stockLotId, quantity, reason }, by, occurrence(deps, { clientId }, stockLotId)),
});
