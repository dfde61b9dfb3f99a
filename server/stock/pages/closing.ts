import { closingForm } from '../../../views/stock/closing.ts';
import { openContainer } from '../containerState.ts';
import { closeContainer } from '../containers.ts';
import { deedPages } from '../deedPages.ts';
import { ClosingForm } from '../schemas.ts';

export const closingPages = deedPages({
  title: 'Close',
  form: closingForm,
  begin: openContainer,
  typed: () => ({ how: 'empty' }),
  schema: () => ClosingForm,
  record: (deps, { id: stockLotId }, { clientId = null, ...input }, by) =>
    closeContainer(deps, { ...input, stockLotId, clientId }, by),
});
