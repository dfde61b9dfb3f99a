import { unaware } from '../calc/possibleTime.ts';
import type { Db } from '../db/open.ts';
import type { LedgerEntryRow, StockLotRow } from '../db/tables/stock.ts';
import type { Actor } from '../deps.ts';
import { found, invalid, notFound, Refusal } from '../errors.ts';
import { absorb, type Place, placeOf } from './arrival.ts';
import {
  expectedAt,
  insertLedgerEntry,
  insertStockLot,
  ledgerEntriesOfWeighing,
  ledgerEntryOfClient,
  onHand,
  standingIssuesOf,
  stockLotById,
  strengthAt,
} from './queries.ts';
import { contentDigest, demandSameContent } from './sentOnce.ts';
import { priceOfSolution } from './solutions.ts';

/** When it happened and when it reached us, with a client-made id where the sender may retry. */
export interface Occurrence {
  at: number;
  recordedAt: number;
  clientId?: string | null;
  /** What the sender said of the time, where it said anything. */
  saidAt?: number | undefined;
  /** Digest of what was sent, where more was sent than the entry itself holds. */
  digest?: string;
}

export type NewStockLot = Omit<StockLotRow, 'id' | 'version' | 'closedAt' | 'recalledAt' | 'recallReason'>;

/** Receives a container: the stock lot and the first entry of its ledger, together. Quantity in the lot's unit (mg or µL). */
export function receive(db: Db, lot: NewStockLot, by: Actor, when: Occurrence): StockLotRow {
  return db.transaction((tx) => {
    const sent = withDigest('receipt', lot, when);
    const known = receivedBefore(tx, sent, lot);
    if (known) return known;
    const row = insertStockLot(tx, { ...lot, recalledAt: null, recallReason: '', closedAt: null });
    insertLedgerEntry(tx, entry(row.id, 'receipt', row.receivedQuantity, by, sent));
    return row;
  });
}

/** Issues a quantity (> 0, in the stock lot's unit) to a production lot. What was weighed was weighed: the ledger may go
 *  below nothing, which a stock-take then explains; the caller warns. */
export function issue(
  db: Db,
  input: {
    stockLotId: number;
    /** Its row, where the same transaction has read it already. */
    stockLot?: StockLotRow;
    quantity: number;
    lotId: number | null;
    weighingId: number | null;
    reason?: string;
    solutionId?: number;
    /** Of the entry that it says anew. */
    place?: Place;
  },
  by: Actor,
  when: Occurrence,
): LedgerEntryRow {
  const stockLot = demandUsable(input.stockLot ?? stockLotById(db, input.stockLotId), when);
  return write(
    db,
    {
      ...entry(stockLot.id, 'issue', -positive(input.quantity), by, when),
      lotId: input.lotId,
      weighingId: input.weighingId,
      solutionId: input.solutionId ?? null,
      reason: input.reason ?? '',
    },
    by,
    input.place,
  );
}

/** Writes off a quantity (> 0) with a reason. `empties`: all there was, however much that turns out to have been. */
export function waste(
  db: Db,
  input: { stockLotId: number; quantity: number; reason: string; empties?: boolean },
  by: Actor,
  when: Occurrence,
): LedgerEntryRow {
  return db.transaction((tx) =>
    once(tx, when, 'waste', input, -input.quantity, (sent) => {
      const stockLot = usable(tx, input.stockLotId, sent);
      return write(
        tx,
        {
          ...entry(stockLot.id, 'waste', -positive(input.quantity), by, sent),
          reason: requireReason(input.reason),
          empties: input.empties ? 1 : 0,
        },
        by,
      );
    }),
  );
}

/** A stock-take: the count replaces nothing; its difference to the ledger becomes an entry, of 0 when they agree, since
 *  that they agreed is worth knowing too. A count that reaches us late is held against what was on hand when it was made, and
 *  what reaches us later about a time before it is absorbed by it (arrival.ts). */
export function stockTake(
  db: Db,
  input: { stockLotId: number; countedQuantity: number; reason: string; empties?: boolean },
  by: Actor,
  when: Occurrence,
): LedgerEntryRow {
  if (!Number.isSafeInteger(input.countedQuantity) || input.countedQuantity < 0)
    throw invalid({ counted: 'A count cannot be less than nothing.' });
  return db.transaction((tx) =>
    once(tx, when, 'stockTake', input, null, (sent) => {
      const stockLot = usable(tx, input.stockLotId, sent);
      const expected = when.at < when.recordedAt ? expectedAt(tx, stockLot.id, when.at) : onHand(tx, stockLot.id);
      return write(
        tx,
        {
          ...entry(stockLot.id, 'stockTake', input.countedQuantity - expected, by, sent),
          reason: requireReason(input.reason),
          empties: input.empties ? 1 : 0,
        },
        by,
      );
    }),
  );
}

/** Takes an entry back, at the time of that entry: what it undoes had not happened then either. */
export function takeBack(db: Db, undone: LedgerEntryRow, by: Actor, recordedAt: number, reason: string): void {
  write(
    db,
    {
      ...entry(undone.stockLotId, 'reversal', -undone.quantity, by, { at: undone.at, recordedAt }),
      reversesId: undone.id,
      lotId: undone.lotId,
      weighingId: undone.weighingId,
      reason: requireReason(reason),
    },
    by,
    placeOf(undone),
  );
}

/** Takes back every entry that a weighing made: it never happened. */
export function reverseWeighing(db: Db, weighingId: number, by: Actor, recordedAt: number, reason: string): void {
  for (const e of ledgerEntriesOfWeighing(db, weighingId))
    if (e.kind !== 'reversal' && !e.reversed) takeBack(db, e, by, recordedAt, reason);
}

/** What a production lot had from a container, as entries that ought to stand; `place` of the entry that one says anew. */
export interface Drawn {
  weighingId: number | null;
  at: number;
  quantity: number;
  place?: Place;
}

/** Sets right what a production lot had from a container after it was closed: issues that are not among those that ought to stand
 *  are taken back, those that are missing are written, each at its own time. A correction found out later speaks of the time of the
 *  weighing, so that a count between the two keeps what it found. */
export function redraw(
  db: Db,
  input: { stockLotId: number; lotId: number; drawn: readonly Drawn[]; reason: string },
  by: Actor,
  recordedAt: number,
): void {
  const missing = [...input.drawn];
  for (const e of standingIssuesOf(db, input.lotId, input.stockLotId)) {
    const meant = missing.findIndex(
      (d) => d.weighingId === e.weighingId && d.at === e.at && d.quantity === -e.quantity,
    );
    if (meant >= 0) missing.splice(meant, 1);
    else takeBack(db, e, by, recordedAt, input.reason);
  }
  for (const d of missing) {
    const { stockLotId, lotId, reason } = input;
    const { weighingId, quantity, place } = d;
    const said = { stockLotId, lotId, weighingId, quantity, reason, ...(place ? { place } : {}) };
    issue(db, said, by, { at: d.at, recordedAt });
  }
}

/** Writes an entry, and what it means to the counts that had seen it already. */
function write(
  db: Db,
  row: Parameters<typeof insertLedgerEntry>[1] & { recordedAt: number },
  by: Actor,
  place?: Place,
): LedgerEntryRow {
  const written = insertLedgerEntry(db, row);
  absorb(db, written, by, row.recordedAt, place);
  return written;
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
  when: Occurrence,
): StockLotRow {
  return db.transaction((tx) => {
    const sent = withDigest('solution', input, when);
    const known = receivedBefore(tx, sent, { code: input.code, unit: 'ul', receivedQuantity: input.volumeUl });
    if (known) return known;
    const source = usable(tx, input.sourceStockLotId, when);
    if (source.recalledAt !== null && when.at >= source.recalledAt) {
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
        strengthPpm: strengthAt(tx, source, when.at),
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
      sent,
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

const entry = (stockLotId: number, kind: LedgerEntryRow['kind'], quantity: number, by: Actor, when: Occurrence) => ({
  stockLotId,
  kind,
  quantity,
  at: when.at,
  recordedAt: when.recordedAt,
  clientId: when.clientId ?? null,
  contentDigest: when.clientId ? (when.digest ?? null) : null,
  byPersonId: by.personId,
});

/** What the same request received the first time it was sent. Throws Refusal idReused. */
function receivedBefore(
  db: Db,
  when: Occurrence,
  meant: Pick<StockLotRow, 'code' | 'unit' | 'receivedQuantity'>,
): StockLotRow | undefined {
  const known = when.clientId ? ledgerEntryOfClient(db, when.clientId) : undefined;
  if (!known) return undefined;
  const lot = stockLotById(db, known.stockLotId);
  const looksSame =
    known.kind === 'receipt' && lot?.unit === meant.unit && lot.receivedQuantity === meant.receivedQuantity;
  demandSameContent(known, when.digest ?? '', looksSame);
  return lot;
}

/** Writes, unless the same request was written before: then that entry again. Throws Refusal idReused. */
function once(
  db: Db,
  when: Occurrence,
  kind: LedgerEntryRow['kind'],
  input: { stockLotId: number; reason: string },
  /** What the entry takes or gives; null where that hangs on what was on hand. */
  quantity: number | null,
  write: (sent: Occurrence) => LedgerEntryRow,
): LedgerEntryRow {
  const sent = withDigest(kind, input, when);
  const known = when.clientId ? ledgerEntryOfClient(db, when.clientId) : undefined;
  if (!known) return write(sent);
  const looksSame =
    known.stockLotId === input.stockLotId &&
    known.kind === kind &&
    known.reason === input.reason.trim() &&
    (quantity === null || known.quantity === quantity);
  demandSameContent(known, sent.digest ?? '', looksSame);
  return known;
}

/** The happening with the digest of what was sent. What the service writes by itself has no id and no digest. */
const withDigest = (deed: string, content: object, when: Occurrence): Occurrence =>
  when.clientId ? { ...when, digest: when.digest ?? contentDigest(deed, { ...content, at: when.saidAt }) } : when;

/** The container, unless it is closed and its sender could know. */
const usable = (db: Db, stockLotId: number, when: Occurrence): StockLotRow =>
  demandUsable(found(stockLotById(db, stockLotId), 'container'), when);

function demandUsable(row: StockLotRow | undefined, { at, recordedAt }: Occurrence): StockLotRow {
  if (!row) throw notFound('container');
  if (row.closedAt !== null && !unaware({ atMs: at, nowMs: recordedAt, changedAtMs: row.closedAt }))
    throw new Refusal('conflict', `Container ${row.code} is closed.`);
  return row;
}

function positive(quantity: number): number {
  if (!Number.isSafeInteger(quantity) || quantity <= 0)
    throw invalid({ quantity: 'The quantity must be more than nothing.' });
  return quantity;
}

function requireReason(reason: string): string {
  if (reason.trim() === '') throw invalid({ reason: 'Say why, for the ledger.' });
  return reason.trim();
}
