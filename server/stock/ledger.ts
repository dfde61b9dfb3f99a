import type { Db } from '../db/open.ts';
import type { LedgerEntryRow, StockLotRow } from '../db/tables/stock.ts';
import type { Actor } from '../deps.ts';
import { invalid, Refusal } from '../errors.ts';
import {
  insertLedgerEntry,
  insertStockLot,
  ledgerEntriesOfWeighing,
  ledgerEntryOfClient,
  onHand,
  onHandAt,
  standingIssuesOf,
  stockLotById,
} from './queries.ts';
import { priceOfSolution } from './solutions.ts';

/** When it happened and when it reached us, with a client-made id where the sender may retry. */
export interface Happening {
  at: number;
  recordedAt: number;
  clientId?: string | null;
}

export type NewStockLot = Omit<StockLotRow, 'id' | 'version' | 'closedAt' | 'recalledAt' | 'recallReason'>;

/** Receives a container: the stock lot and the first entry of its ledger, together. Quantity in the lot's unit (mg or µL). */
export function receive(db: Db, lot: NewStockLot, by: Actor, when: Happening): StockLotRow {
  return db.transaction((tx) => {
    const known = receivedBefore(tx, when);
    if (known) return known;
    const row = insertStockLot(tx, { ...lot, recalledAt: null, recallReason: '', closedAt: null });
    insertLedgerEntry(tx, entry(row.id, 'receipt', row.receivedQuantity, by, when));
    return row;
  });
}

/** Issues a quantity (> 0, in the stock lot's unit) to a production lot. What was weighed was weighed: the ledger may go
 *  below nothing, which a stock-take then explains; the caller warns. */
export function issue(
  db: Db,
  input: {
    stockLotId: number;
    quantity: number;
    lotId: number | null;
    weighingId: number | null;
    reason?: string;
    solutionId?: number;
  },
  by: Actor,
  when: Happening,
): LedgerEntryRow {
  const stockLot = usable(db, input.stockLotId);
  return insertLedgerEntry(db, {
    ...entry(stockLot.id, 'issue', -positive(input.quantity), by, when),
    lotId: input.lotId,
    weighingId: input.weighingId,
    solutionId: input.solutionId ?? null,
    reason: input.reason ?? '',
  });
}

/** Writes off a quantity (> 0) with a reason. */
export function waste(
  db: Db,
  input: { stockLotId: number; quantity: number; reason: string },
  by: Actor,
  when: Happening,
): LedgerEntryRow {
  return once(db, when, { stockLotId: input.stockLotId, kind: 'waste' }, () => {
    const stockLot = usable(db, input.stockLotId);
    return insertLedgerEntry(db, {
      ...entry(stockLot.id, 'waste', -positive(input.quantity), by, when),
      reason: because(input.reason),
    });
  });
}

/** A stock-take: the count replaces nothing; its difference to the ledger becomes an entry, of 0 when they agree, since
 *  that they agreed is worth knowing too. A count that reaches us late is held against what was on hand when it was made. */
export function stockTake(
  db: Db,
  input: { stockLotId: number; countedQuantity: number; reason: string },
  by: Actor,
  when: Happening,
): LedgerEntryRow {
  if (!Number.isSafeInteger(input.countedQuantity) || input.countedQuantity < 0)
    throw invalid({ counted: 'A count cannot be less than nothing.' });
  return db.transaction((tx) =>
    once(tx, when, { stockLotId: input.stockLotId, kind: 'stockTake' }, () => {
      const stockLot = usable(tx, input.stockLotId);
      const expected = when.at < when.recordedAt ? onHandAt(tx, stockLot.id, when.at) : onHand(tx, stockLot.id);
      return insertLedgerEntry(tx, {
        ...entry(stockLot.id, 'stockTake', input.countedQuantity - expected, by, when),
        reason: because(input.reason),
      });
    }),
  );
}

/** Takes back what was written off when a container was closed: it was not thrown away after all. */
export function reverseWaste(db: Db, wasted: LedgerEntryRow, by: Actor, when: Happening, reason: string): void {
  insertLedgerEntry(db, {
    ...entry(wasted.stockLotId, 'reversal', -wasted.quantity, by, { ...when, clientId: null }),
    reversesId: wasted.id,
    reason: because(reason),
  });
}

/** Takes back every entry that a weighing made: it never happened. */
export function reverseWeighing(db: Db, weighingId: number, by: Actor, when: Happening, reason: string): void {
  for (const e of ledgerEntriesOfWeighing(db, weighingId)) {
    if (e.kind === 'reversal' || e.reversed) continue;
    insertLedgerEntry(db, {
      ...entry(e.stockLotId, 'reversal', -e.quantity, by, when),
      reversesId: e.id,
      lotId: e.lotId,
      weighingId,
      reason,
    });
  }
}

/** Sets right what a production lot had from a container after it was closed: every issue that stands is taken back whole, and
 *  the quantity that is now known (0 for none) is issued instead, at the time of the correction, so that the past stays as it
 *  was counted on. */
export function reissue(
  db: Db,
  input: { stockLotId: number; lotId: number; quantity: number; reason: string },
  by: Actor,
  when: Happening,
): void {
  const stockLot = usable(db, input.stockLotId);
  const reason = because(input.reason);
  db.transaction((tx) => {
    for (const e of standingIssuesOf(tx, input.lotId, stockLot.id)) {
      insertLedgerEntry(tx, {
        ...entry(stockLot.id, 'reversal', -e.quantity, by, when),
        reversesId: e.id,
        lotId: e.lotId,
        weighingId: e.weighingId,
        reason,
      });
    }
    if (input.quantity > 0) {
      issue(
        tx,
        { stockLotId: stockLot.id, quantity: input.quantity, lotId: input.lotId, weighingId: null, reason },
        by,
        when,
      );
    }
  });
}

/** Makes a stock solution from a powder container: the powder is issued, the solution is a container of its own, whose
 *  price is the powder's share. concPpm is % w/v × 10 000, so mg of powder = µL · ppm / 1 000 000 · strength-neutral. */
export function makeSolution(
  db: Db,
  input: {
    sourceStockLotId: number;
    code: string;
    massMg: number;
    volumeUl: number;
    concPpm: number;
    madeOn: string;
    bestBeforeOn: string | null;
    note: string;
  },
  by: Actor,
  when: Happening,
): StockLotRow {
  return db.transaction((tx) => {
    const known = receivedBefore(tx, when);
    if (known) return known;
    const source = usable(tx, input.sourceStockLotId);
    if (source.recalledAt !== null) {
      throw new Refusal('conflict', `Container ${source.code} is recalled: make no solution from it.`);
    }
    if (source.unit !== 'mg' || source.sourceStockLotId !== null) {
      throw invalid({ sourceStockLotId: 'A stock solution is made from a container of powder.' });
    }
    const massMg = positive(input.massMg);
    const priceMinor = priceOfSolution(tx, source, massMg, when.at);
    const solution = receive(
      tx,
      {
        code: input.code,
        kind: source.kind,
        dyeId: source.dyeId,
        auxiliaryId: source.auxiliaryId,
        fibreId: null,
        unit: 'ul',
        supplier: '',
        makerLot: source.makerLot,
        strengthPpm: source.strengthPpm,
        receivedOn: input.madeOn,
        openedOn: input.madeOn,
        bestBeforeOn: input.bestBeforeOn,
        priceMinor,
        freightMinor: 0,
        receivedQuantity: positive(input.volumeUl),
        sourceStockLotId: source.id,
        concPpm: input.concPpm,
        note: input.note,
      },
      by,
      when,
    );
    issue(
      tx,
      {
        stockLotId: source.id,
        quantity: massMg,
        lotId: null,
        weighingId: null,
        solutionId: solution.id,
        reason: `stock solution ${solution.code}`,
      },
      by,
      // The client's id belongs to the receipt of the solution; one id names one entry.
      { ...when, clientId: null },
    );
    return solution;
  });
}

const entry = (stockLotId: number, kind: LedgerEntryRow['kind'], quantity: number, by: Actor, when: Happening) => ({
  stockLotId,
  kind,
  quantity,
  at: when.at,
  recordedAt: when.recordedAt,
  clientId: when.clientId ?? null,
  byPersonId: by.personId,
});

/** What the same request received the first time it was sent. */
function receivedBefore(db: Db, when: Happening): StockLotRow | undefined {
  const known = when.clientId ? ledgerEntryOfClient(db, when.clientId) : undefined;
  if (!known) return undefined;
  if (known.kind !== 'receipt') throw idTaken();
  return stockLotById(db, known.stockLotId);
}

/** Writes, unless the same request was written before: then that entry again. */
function once(
  db: Db,
  when: Happening,
  meant: Pick<LedgerEntryRow, 'stockLotId' | 'kind'>,
  write: () => LedgerEntryRow,
): LedgerEntryRow {
  const known = when.clientId ? ledgerEntryOfClient(db, when.clientId) : undefined;
  if (known && (known.stockLotId !== meant.stockLotId || known.kind !== meant.kind)) throw idTaken();
  return known ?? write();
}

const idTaken = (): Refusal => new Refusal('conflict', 'That client id names another entry of the ledger already.');

function usable(db: Db, stockLotId: number): StockLotRow {
  const row = stockLotById(db, stockLotId);
  if (!row) throw new Refusal('notFound', 'There is no such container.');
  if (row.closedAt !== null) throw new Refusal('conflict', `Container ${row.code} is closed.`);
  return row;
}

function positive(quantity: number): number {
  if (!Number.isSafeInteger(quantity) || quantity <= 0)
    throw invalid({ quantity: 'The quantity must be more than nothing.' });
  return quantity;
}

function because(reason: string): string {
  if (reason.trim() === '') throw invalid({ reason: 'Say why, for the ledger.' });
  return reason.trim();
}
