import type { StockMoneyRow } from '../db/tables/stock.ts';
import type { Actor, Deps } from '../deps.ts';
import { invalid, notFound } from '../errors.ts';
import { dayOf, instantsOfDay } from '../settings/days.ts';
import { theStudio } from '../settings/queries.ts';
import { insertStockMoney, moneySince, receiptOf, stockLotById, stockMoneyOfClient } from './queries.ts';
import { contentDigest, demandSameContent } from './sentOnce.ts';

export interface StockMoneyInput {
  stockLotId: number;
  kind: StockMoneyRow['kind'];
  /** More than nothing, whichever way it goes. */
  amountMinor: number;
  /** Day of the bill or the credit note; today when null. */
  on: string | null;
  reason: string;
  clientId: string | null;
}

/** Writes what a container cost, or did not cost, beyond its receipt: freight or a bill that came later, a credit note, a price
 *  reduced afterwards. It counts for what leaves stock from its day on; lots that were closed before keep their cost, and their
 *  part of it shows as a price difference of that day. Sent twice with one client id it is written once. */
export function addStockMoney(deps: Deps, input: StockMoneyInput, by: Actor): StockMoneyRow {
  const reason = input.reason.trim();
  if (reason === '') throw invalid({ reason: 'Say what it was for, with the number of the bill or the note.' });
  if (!Number.isSafeInteger(input.amountMinor) || input.amountMinor <= 0)
    throw invalid({ amount: 'More than nothing; choose “credit” for money that comes back.' });
  return deps.db.transaction((tx) => {
    const known = input.clientId === null ? undefined : stockMoneyOfClient(tx, input.clientId);
    const amountMinor = input.kind === 'credit' ? -input.amountMinor : input.amountMinor;
    const digest = contentDigest('stockMoney', input);
    if (known) {
      demandSameContent(known, digest, true);
      return known;
    }
    const container = stockLotById(tx, input.stockLotId);
    const receipt = container && receiptOf(tx, container.id);
    if (!container || !receipt) throw notFound('container');
    if (container.sourceStockLotId !== null)
      throw invalid({ amount: 'A solution was made, not bought: write it on the container of the powder.' });
    const paidMinor =
      container.priceMinor + container.freightMinor + moneySince(tx, container.id, Number.MAX_SAFE_INTEGER);
    if (paidMinor + amountMinor < 0)
      throw invalid({ amount: 'That is more than was paid for it, earlier credits counted.' });
    const { zone } = theStudio(tx);
    const now = deps.now();
    const todayOn = dayOf(now, zone);
    const on = input.on ?? todayOn;
    if (on > todayOn) throw invalid({ on: 'That day is still to come.' });
    if (on < container.receivedOn) throw invalid({ on: 'The container had not come yet.' });
    return insertStockMoney(tx, {
      stockLotId: container.id,
      kind: input.kind,
      amountMinor,
      reason,
      at: on === todayOn ? now : Math.max(receipt.at, instantsOfDay(on, zone).startAt),
      recordedAt: now,
      byPersonId: by.personId,
      clientId: input.clientId,
      contentDigest: input.clientId === null ? null : digest,
    });
  });
}
