import { massText, moneyText, volumeText } from '../calc/quantity.ts';
import type { Db } from '../db/open.ts';
import type { LogEntryRow, WeighingRow } from '../db/tables/lots.ts';
import type { QuestionRow } from '../db/tables/questions.ts';
import type { StockLotRow } from '../db/tables/stock.ts';
import type { Actor } from '../deps.ts';
import { notFound } from '../errors.ts';
import type { AnswerDeeds } from '../questions/answering.ts';
import { ask } from '../questions/asking.ts';
import { instantText } from '../settings/days.ts';
import { theStudio } from '../settings/queries.ts';
import { reverseWeighing } from '../stock/ledger.ts';
import { stockLotById } from '../stock/queries.ts';
import { entryValueOf } from './entryValue.ts';
import { bookLate, settleStock } from './lateCosts.ts';
import {
  entryById,
  insertEntry,
  insertWeighing,
  type LotHead,
  lotById,
  voidingOf,
  weighingOfEntry,
  weighingsOf,
} from './queries.ts';

/* What reached a lot after it had been closed, or a container after it had been recalled. It happened, so it is recorded: stock,
   cost and trace say at once what they would have said in time. Money or a recall is touched, so the owner is asked. */

type Drawing = Pick<WeighingRow, 'id' | 'stockLotId' | 'massMg' | 'volumeUl'>;
const amountOf = (w: Pick<WeighingRow, 'massMg' | 'volumeUl'>): number => w.massMg ?? w.volumeUl ?? 0;

/** Books a weighing of a closed lot: its share of the cost, and its issue from the container. Answers what it cost. */
export function bookLateWeighing(
  tx: Db,
  { lot, entry, weighing }: { lot: LotHead; entry: LogEntryRow; weighing: Drawing },
  by: Actor,
): number {
  const reason = `weighed before lot ${lot.number} was closed, reached the record after it`;
  const late = {
    weighing: { ...weighing, discarded: false },
    quantity: amountOf(weighing),
    lateEntryId: entry.id,
    reason,
  };
  const costMinor = bookLate(tx, lot, late, by, entry.recordedAt);
  settleStock(tx, lot, weighing.stockLotId, reason, by, entry.recordedAt);
  return costMinor;
}

/** Takes a weighing out of the books of a closed lot, after its voiding was logged. Answers by how much the cost moved. */
export function bookLateVoiding(
  tx: Db,
  { lot, voiding, weighing }: { lot: LotHead; voiding: LogEntryRow; weighing: Drawing },
  by: Actor,
): number {
  const known = weighingsOf(tx, lot.id).find((w) => w.id === weighing.id);
  if (!known) throw notFound('weighing');
  const reason = `voided after lot ${lot.number} was closed: ${voiding.text}`;
  const late = { weighing: known, quantity: -amountOf(weighing), lateEntryId: voiding.id, reason };
  const costMinor = bookLate(tx, lot, late, by, voiding.recordedAt);
  settleStock(tx, lot, weighing.stockLotId, reason, by, voiding.recordedAt);
  return costMinor;
}

/** How the studio says amounts, money and times in a question. */
function saying(tx: Db) {
  const { units, currency, zone } = theStudio(tx);
  const system = units === 'us' ? 'US' : 'metric';
  return {
    amount: (unit: StockLotRow['unit'], amount: number): string =>
      unit === 'mg' ? massText({ massMg: amount, system }) : volumeText({ volumeUl: amount, system }),
    money: (costMinor: number): string => moneyText({ costMinor, currency, locale: 'en' }),
    when: (at: number): string => instantText(at, zone),
  };
}

/** Asks the owner about a weighing that is recorded: of a lot that had been closed, or from a container that had been recalled. */
export function askAboutWeighing(
  tx: Db,
  input: { lot: LotHead; stockLot: StockLotRow; entry: LogEntryRow; amount: number },
  by: Actor,
): void {
  const { lot, stockLot, entry, amount } = input;
  const say = saying(tx);
  const { name } = entryValueOf(entry);
  const what = `${by.name} weighed ${say.amount(stockLot.unit, amount)} of ${name ?? 'a line'} from ${stockLot.code} on ${say.when(entry.at)}`;
  const closed =
    lot.finishedAt === null
      ? ''
      : entry.at > lot.finishedAt
        ? `, after lot ${lot.number} had been closed on ${say.when(lot.finishedAt)}`
        : `. It reached the record on ${say.when(entry.recordedAt)}; lot ${lot.number} had been closed on ${say.when(lot.finishedAt)}`;
  const recalled =
    stockLot.recalledAt === null
      ? ''
      : ` ${stockLot.code} was recalled on ${say.when(stockLot.recalledAt)}: ${stockLot.recallReason}. The lot is on its recall list now.`;
  const booked =
    lot.finishedAt === null ? 'Stock counts it already.' : 'Stock and the cost of the lot count it already.';
  ask(tx, {
    kind: 'lateWeighing',
    asks: 'owner',
    lotId: lot.id,
    stockLotId: stockLot.id,
    logEntryId: entry.id,
    words: `${what}${closed}.${recalled} ${booked} Was it weighed into this lot?`,
    details: { amount, unit: stockLot.unit },
    askedAt: entry.recordedAt,
  });
}

/** Asks the owner about a voiding of a weighing that came after the lot had been closed. */
export function askAboutVoiding(
  tx: Db,
  input: { lot: LotHead; voiding: LogEntryRow; weighing: Drawing; costMinor: number },
  by: Actor,
): void {
  const { lot, voiding, weighing, costMinor } = input;
  const stockLot = stockLotById(tx, weighing.stockLotId);
  if (!stockLot) throw notFound('container');
  const say = saying(tx);
  const amount = amountOf(weighing);
  ask(tx, {
    kind: 'lateVoiding',
    asks: 'owner',
    lotId: lot.id,
    stockLotId: stockLot.id,
    logEntryId: voiding.id,
    words: `${by.name} voided ${say.amount(stockLot.unit, amount)} from ${stockLot.code} (“${voiding.text}”) on ${say.when(voiding.at)}; lot ${lot.number} was closed before that reached the record. It has been put back into stock, and the cost of the lot has moved by ${say.money(costMinor)}. Was it right to void it?`,
    details: { amount, unit: stockLot.unit, costMinor },
    askedAt: voiding.recordedAt,
  });
}

const entryOfQuestion = (tx: Db, question: QuestionRow): { lot: LotHead; entry: LogEntryRow } => {
  const entry = question.logEntryId === null ? undefined : entryById(tx, question.logEntryId);
  const lot = entry && lotById(tx, entry.lotId);
  if (!lot || !entry) throw notFound('log entry');
  return { lot, entry };
};

const base = (question: QuestionRow, lot: LotHead, by: Actor, now: number) => ({
  lotId: lot.id,
  clientId: `answer:${question.id}`,
  recordedAt: now,
  byPersonId: by.personId,
  late: lot.finishedAt === null ? 0 : 1,
});

/** “It was not weighed into this lot”: the weighing is voided, in the log, the ledger and the cost. */
function takeWeighingBack(tx: Db, question: QuestionRow, by: Actor, now: number): void {
  const { lot, entry } = entryOfQuestion(tx, question);
  const weighing = weighingOfEntry(tx, entry.id);
  if (!weighing || voidingOf(tx, entry.id) !== undefined) return;
  const voiding = insertEntry(tx, {
    ...base(question, lot, by, now),
    kind: 'voiding',
    refersToId: entry.id,
    text: 'not weighed into this lot, said when asked',
    at: now,
  });
  if (lot.finishedAt === null) reverseWeighing(tx, weighing.id, by, now, voiding.text);
  else bookLateVoiding(tx, { lot, voiding, weighing }, by);
}

/** “It was weighed after all”: a voided entry stays voided, and what it said is recorded again at its own time. */
function weighAgainAsVoided(tx: Db, question: QuestionRow, by: Actor, now: number): void {
  const { lot, entry: voiding } = entryOfQuestion(tx, question);
  const voided = voiding.refersToId === null ? undefined : entryById(tx, voiding.refersToId);
  const first = voided && weighingOfEntry(tx, voided.id);
  if (!voided || !first) throw notFound('weighing');
  const { at, valueJson } = voided;
  const entry = insertEntry(tx, { ...base(question, lot, by, now), kind: 'weighing', text: '', at, valueJson });
  const { id: _, ...same } = first;
  const weighing = insertWeighing(tx, { ...same, logEntryId: entry.id });
  bookLateWeighing(tx, { lot, entry, weighing }, by);
}

/** What the answers to the questions of lots do. */
export const lateDeeds: AnswerDeeds = {
  lateWeighing: { takeBack: takeWeighingBack },
  lateVoiding: { putBack: weighAgainAsVoided },
};
