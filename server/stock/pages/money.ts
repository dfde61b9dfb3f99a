import { moneyForm } from '../../../views/stock/money.ts';
import { theStudio } from '../../settings/queries.ts';
import { today } from '../../settings/today.ts';
import { theContainer } from '../containerState.ts';
import { deedPages } from '../deedPages.ts';
import { addStockMoney } from '../money.ts';
import { StockMoneyForm } from '../schemas.ts';

export const moneyPages = deedPages({
  title: 'Late money on',
  form: moneyForm,
  begin: theContainer,
  typed: (deps) => ({ kind: 'freight', on: today(deps) }),
  schema: ({ db }) => StockMoneyForm(theStudio(db).currency),
  record: (deps, { id: stockLotId }, { amount, clientId = null, ...input }, by) =>
    addStockMoney(deps, { ...input, stockLotId, amountMinor: amount, clientId }, by),
  onwards: '#money',
});
