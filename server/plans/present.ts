import { grams, millilitres } from '../../views/kit/show.ts';
import type { StockLotOverview } from '../stock/queries.ts';

export const containerLabel = (
  s: Pick<StockLotOverview, 'code' | 'concPpm' | 'onHandQuantity' | 'unit' | 'strengthPpm'>,
): string =>
  `${s.code}${s.concPpm === null ? '' : `, ${s.concPpm / 10_000} % solution`}${s.strengthPpm === 1_000_000 ? '' : `, strength ${s.strengthPpm / 10_000} %`} (${s.unit === 'mg' ? grams(s.onHandQuantity, 10) : millilitres(s.onHandQuantity, 1000)} left)`;
