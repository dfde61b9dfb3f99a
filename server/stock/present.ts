import { stockValueMinor } from '../calc/shelf.ts';
import type { LedgerEntryRow, StockMoneyRow } from '../db/tables/stock.ts';
import type { Deps } from '../deps.ts';
import { theContainer } from './containerState.ts';
import type { LedgerLine, StockLotOverview } from './queries.ts';
import type { LedgerEntry, LedgerEntryLine, StockLot, StockMoney } from './schemas.ts';
import { withShelfWorth } from './worth.ts';

/** A container as the API shows it. */
export const stockLotResource = ({
  id,
  itemCode: _itemCode,
  sourceCode: _sourceCode,
  shownHex: _shownHex,
  dyeClass: _dyeClass,
  valueMinor,
  ...row
}: StockLotOverview & { valueMinor?: number }): StockLot => ({
  ...row,
  stockLotId: id,
  valueMinor: Math.round(valueMinor ?? (row.closedAt === null ? stockValueMinor(row) : 0)),
});

/** Containers with what they are worth now, as the studio values its stock. */
export const shownStockLots = ({ db, now }: Deps, rows: readonly StockLotOverview[]): StockLot[] =>
  withShelfWorth(db, rows, now()).map(stockLotResource);

export function shownStockLot(deps: Deps, id: number): StockLot {
  const container = theContainer(deps.db, id);
  return stockLotResource(withShelfWorth(deps.db, [container], deps.now())[0] ?? container);
}

export const ledgerEntryResource = ({ id, ...entry }: LedgerEntryRow): LedgerEntry => ({ ...entry, entryId: id });
export const ledgerLineResource = ({ id, ...line }: LedgerLine): LedgerEntryLine => ({ ...line, entryId: id });

export const stockMoneyResource = ({ id, clientId: _, contentDigest: __, ...row }: StockMoneyRow): StockMoney => ({
  ...row,
  moneyId: id,
});
