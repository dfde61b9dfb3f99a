import type { Db } from '../db/open.ts';
import type { LedgerEntryRow } from '../db/tables/stock.ts';
import type { Actor } from '../deps.ts';
import { anchorAfter, insertLedgerEntry } from './queries.ts';

/* A count says what there was when it was made. What reaches the ledger afterwards about an earlier moment had been seen by it: the
   entry is written at its own time, and at the count stands what holds the count good. So the ledger adds up, at any instant, to
   what the last count before it found plus everything that happened since, in whatever order the entries came. */

/** Where an entry stands among those of the same millisecond: an entry that takes another back, or says it anew, stands with that. */
export interface Place {
  at: number;
  seq: number;
}
export const placeOf = (entry: Pick<LedgerEntryRow, 'at' | 'id'>): Place => ({ at: entry.at, seq: entry.id });

/** Holds good the first count, or the emptying of a container thrown away, that had already seen what an entry says. Later ones
 *  need nothing then. `place`: of the entry that it takes back or says anew, where it does. */
export function absorb(
  db: Db,
  entry: LedgerEntryRow,
  by: Actor,
  recordedAt: number,
  place: Place = placeOf(entry),
): void {
  if (entry.quantity === 0) return;
  const anchor = anchorAfter(db, entry.stockLotId, place);
  if (!anchor) return;
  const base = {
    stockLotId: entry.stockLotId,
    at: anchor.at,
    recordedAt,
    byPersonId: by.personId,
    balancesId: anchor.id,
    causedById: entry.id,
  };
  if (anchor.empties === 0) {
    const reason = 'counted already, and entered after the count';
    insertLedgerEntry(db, { ...base, kind: 'stockTake', quantity: -entry.quantity, reason });
    return;
  }
  // All there was went with the container: that is now another quantity.
  const left = entry.quantity - anchor.quantity;
  insertLedgerEntry(db, {
    ...base,
    balancesId: null,
    causedById: null,
    kind: 'reversal',
    quantity: -anchor.quantity,
    reversesId: anchor.id,
    reason: 'what was thrown away is worked out anew',
  });
  insertLedgerEntry(db, {
    ...base,
    kind: left > 0 ? 'waste' : 'stockTake',
    quantity: -left,
    empties: 1,
    reason: anchor.reason,
  });
}
