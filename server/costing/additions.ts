import type { Db } from '../db/open.ts';
import type { CostLineRow, LotRow } from '../db/tables/lots.ts';
import type { StockLotRow } from '../db/tables/stock.ts';
import type { Actor, Deps } from '../deps.ts';
import { found, invalid, Refusal } from '../errors.ts';
import { lotById } from '../lots/queries.ts';
import { personById } from '../people/queries.ts';
import { costMinorOf, type Rate, rateOfContainer, rateOfTime } from '../plans/rates.ts';
import { dayOf } from '../settings/days.ts';
import { theStudio } from '../settings/queries.ts';
import { issue } from '../stock/ledger.ts';
import { movingAverageRate } from '../stock/movingAverage.ts';
import { receiptOf, shelfItem, stockLotById, strengthAt } from '../stock/queries.ts';
import { contentDigest, demandSameContent } from '../stock/sentOnce.ts';
import { costLineOfClient, costLineRowsOf, insertCorrection } from './queries.ts';

/** What a closed lot's cost lacks. */
export type ForgottenCost =
  | {
      what: 'material';
      stockLotId: number;
      quantity: number;
      wasted: boolean;
      /** Said by the person of a recalled container: something of it really is in these goods. */
      recalledConfirmed?: boolean | undefined;
    }
  /** At the person's rate of today, when none is given. */
  | { what: 'labour'; personId: number; durationS: number; rateMinorPerHour: number | null; withOverhead: boolean }
  /** At the studio's rate of today, when none is given. */
  | { what: 'overhead'; durationS: number; rateMinorPerHour: number | null }
  | { what: 'other'; description: string; costMinor: number }
  /** Money back for the lot, or what a customer was let off: the one makes it cheaper, the other dearer. */
  | { what: 'credit'; to: 'studio' | 'customer'; description: string; amountMinor: number };

export interface AdditionInput {
  lotId: number;
  cost: ForgottenCost;
  reason: string;
  clientId: string | null;
}

type NewLine = Pick<CostLineRow, 'kind' | 'description' | 'quantity' | 'quantityUnit'> & {
  rate: Rate;
} & Partial<CostLineRow>;

/** Adds a cost that was forgotten when a lot was closed, as lines of today with the reason: no line of the first day changes. A
 *  material is issued from its container today as well, so that lines and ledger stay one; it is valued as of the day on which
 *  the lot was closed, as it would have been. Sent twice with one client id it is written once. */
export function addForgottenCost(deps: Deps, input: AdditionInput, by: Actor): CostLineRow[] {
  const reason = input.reason.trim();
  if (reason === '') throw invalid({ reason: 'Say why, for the books.' });
  return deps.db.transaction((tx) => {
    const lot = found(lotById(tx, input.lotId), 'lot');
    const digest = contentDigest('addition', { ...input, reason });
    const sent = writtenBefore(tx, input, digest);
    if (sent) return sent;
    if (lot.finishedAt === null)
      throw new Refusal('conflict', 'The lot is not closed yet: record it at the bench instead.');
    const now = deps.now();
    let ordinal = costLineRowsOf(tx, lot.id).at(-1)?.ordinal ?? 0;
    const written = linesOf(tx, { ...lot, finishedAt: lot.finishedAt }, input.cost).map(({ rate, ...line }, i) => {
      ordinal += 1;
      return insertCorrection(tx, {
        ...line,
        lotId: lot.id,
        ordinal,
        ...rate,
        costMinor: costMinorOf(line.quantity, rate),
        added: 1,
        reason,
        writtenAt: now,
        writtenBy: by.personId,
        clientId: input.clientId === null ? null : clientIdOf(input.clientId, i),
        contentDigest: input.clientId === null ? null : digest,
      });
    });
    if (input.cost.what === 'material') {
      const { stockLotId, quantity } = input.cost;
      const words = `forgotten in the cost of lot ${lot.number}: ${reason}`;
      issue(tx, { stockLotId, quantity, lotId: lot.id, weighingId: null, reason: words }, by, {
        // It was used before the lot was closed, and a count since then has seen that.
        at: lot.finishedAt,
        recordedAt: now,
      });
    }
    return written;
  });
}

/** One id names the first line; the overhead that comes with hands has one made from it. */
const clientIdOf = (clientId: string, line: number): string => (line === 0 ? clientId : `${clientId}.${line}`);

function writtenBefore(
  tx: Db,
  { clientId, lotId, cost, reason }: AdditionInput,
  digest: string,
): CostLineRow[] | undefined {
  const first = clientId === null ? undefined : costLineOfClient(tx, clientId);
  if (!first || clientId === null) return undefined;
  const quantity = 'quantity' in cost ? cost.quantity : 'durationS' in cost ? cost.durationS : 1;
  const kinds = cost.what === 'material' ? ['dye', 'auxiliary', 'goods'] : [cost.what];
  const looksSame =
    first.lotId === lotId &&
    kinds.includes(first.kind) &&
    first.quantity === quantity &&
    first.reason === reason.trim() &&
    (cost.what !== 'other' || first.costMinor === cost.costMinor);
  demandSameContent(first, digest, looksSame);
  const second = costLineOfClient(tx, clientIdOf(clientId, 1));
  return second ? [first, second] : [first];
}

function linesOf(tx: Db, lot: LotRow & { finishedAt: number }, cost: ForgottenCost): NewLine[] {
  const studio = theStudio(tx);
  if (cost.what === 'material') return [materialLine(tx, lot, cost, studio.costing)];
  if (cost.what === 'other') {
    if (cost.description.trim() === '') throw invalid({ description: 'Say what it was for.' });
    return [
      {
        kind: 'other',
        description: cost.description.trim(),
        quantity: 1,
        quantityUnit: 'piece',
        rate: { priceMinor: cost.costMinor, perQuantity: 1 },
      },
    ];
  }
  if (cost.what === 'credit') return [creditLine(cost)];
  const overhead = (minorPerHour: number): NewLine => ({
    kind: 'overhead',
    description: 'Overhead by labour hours',
    quantity: someTime(cost.durationS),
    quantityUnit: 's',
    rate: rateOfTime(minorPerHour),
  });
  if (cost.what === 'overhead') return [overhead(cost.rateMinorPerHour ?? studio.overheadRateMinorPerHour)];
  const person = found(personById(tx, cost.personId), 'person');
  const hands: NewLine = {
    kind: 'labour',
    description: `${person.name}, the whole lot`,
    personId: person.id,
    quantity: someTime(cost.durationS),
    quantityUnit: 's',
    rate: rateOfTime(cost.rateMinorPerHour ?? person.labourRateMinorPerHour ?? studio.labourRateMinorPerHour),
  };
  const alsoOverhead = cost.withOverhead && studio.overheadRateMinorPerHour > 0;
  return alsoOverhead ? [hands, overhead(studio.overheadRateMinorPerHour)] : [hands];
}

function creditLine({ to, description, amountMinor }: Extract<ForgottenCost, { what: 'credit' }>): NewLine {
  if (description.trim() === '') throw invalid({ description: 'Say what it was for.' });
  if (amountMinor <= 0) throw invalid({ amount: 'More than nothing; who gets it says which way it goes.' });
  const words = description.trim();
  return {
    kind: 'other',
    description: to === 'studio' ? `Credit received: ${words}` : `Credit to the customer: ${words}`,
    quantity: to === 'studio' ? -1 : 1,
    quantityUnit: 'piece',
    rate: { priceMinor: amountMinor, perQuantity: 1 },
  };
}

function someTime(durationS: number): number {
  if (durationS <= 0) throw invalid({ duration: 'More than no time.' });
  return durationS;
}

function materialLine(
  tx: Db,
  lot: LotRow & { finishedAt: number },
  { stockLotId, quantity, wasted, recalledConfirmed = false }: Extract<ForgottenCost, { what: 'material' }>,
  costing: CostLineRow['valuation'],
): NewLine {
  const container = found(stockLotById(tx, stockLotId), 'container');
  if (container.closedAt !== null)
    throw invalid({ stockLotId: `Container ${container.code} is closed: open it again on its page first.` });
  const closedOn = dayOf(lot.finishedAt, theStudio(tx).zone);
  const isLaterThatDay = container.receivedOn === closedOn && (receiptOf(tx, container.id)?.at ?? 0) > lot.finishedAt;
  if (container.receivedOn > closedOn || isLaterThatDay)
    throw invalid({
      stockLotId: `Container ${container.code} came after the lot was closed: nothing of it can be in these goods.`,
    });
  if (container.recalledAt !== null && !recalledConfirmed)
    throw invalid({
      recalledConfirmed: `Container ${container.code} is recalled (${container.recallReason}). Tick this only if something of it really is in these goods: the recall then names this lot.`,
    });
  // Customers' own goods carry no cost, on the plan as in the proof.
  if (lot.goodsOwner === 'customer' && lot.goodsStockLotId === container.id)
    throw invalid({ stockLotId: 'Those are the customer’s own goods, which cost the studio nothing.' });
  const isAverage = costing === 'movingAverage' && container.kind !== 'fibre';
  return {
    kind: container.kind === 'fibre' ? 'goods' : container.kind,
    description: `${itemWords(tx, container)}, container ${container.code}${wasted ? ', discarded' : ''}`,
    dyeId: container.dyeId,
    auxiliaryId: container.auxiliaryId,
    stockLotId: container.id,
    strengthPpm: strengthAt(tx, container, lot.finishedAt),
    quantity,
    quantityUnit: container.unit,
    rate: isAverage ? movingAverageRate(tx, container, lot.finishedAt) : rateOfContainer(tx, container, lot.finishedAt),
    valuation: isAverage ? 'movingAverage' : 'specific',
    wasted: wasted ? 1 : 0,
  };
}

function itemWords(tx: Db, { kind, dyeId, auxiliaryId, fibreId }: StockLotRow): string {
  const item = found(shelfItem(tx, kind, dyeId ?? auxiliaryId ?? fibreId ?? 0), 'item');
  return kind === 'fibre' ? item.name : `${item.code} ${item.name}`;
}
