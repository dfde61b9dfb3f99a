import { stockValueMinor } from '../calc/shelf.ts';
import type { LedgerEntryRow } from '../db/tables/stock.ts';
import type { LedgerLine, StockLotOverview } from './queries.ts';

/** A container as the API shows it. */
export const stockLotResource = ({
  id,
  itemCode: _itemCode,
  sourceCode: _sourceCode,
  shownHex: _shownHex,
  dyeClass: _dyeClass,
  valueMinor,
  ...row
}: StockLotOverview & { valueMinor?: number }) => ({
  ...row,
  stockLotId: id,
  valueMinor: Math.round(valueMinor ?? (row.closedAt === null ? stockValueMinor(row) : 0)),
});

export const ledgerEntryResource = ({ id, ...entry }: LedgerEntryRow) => ({ ...entry, entryId: id });
export const ledgerLineResource = ({ id, ...line }: LedgerLine) => ({ ...line, entryId: id });
