import { BEFORE_RECEIPT_DAYS, CLOCKS_DIFFER_MS, possibleTime } from '../calc/possibleTime.ts';
import { dayLater } from '../calc/shelf.ts';
import type { Db } from '../db/open.ts';
import type { StockLotEventRow, StockLotRow } from '../db/tables/stock.ts';
import type { Actor, Deps } from '../deps.ts';
import { found, invalid, Refusal, stale } from '../errors.ts';
import { dayOf, instantsOfDay } from '../settings/days.ts';
import { theStudio } from '../settings/queries.ts';
import { makeSolution, type Occurrence, receive, stockTake, takeBack, waste } from './ledger.ts';
import {
  closingEntryOf,
  codesBeginning,
  insertStockLotEvent,
  insertStrengthChange,
  ledgerEntryOfClient,
  markRecalled,
  onHand,
  type ShelfItem,
  shelfItem,
  solutionLifeDaysOf,
  stockLotById,
  unmarkRecalled,
  updateStockLot,
} from './queries.ts';
import type { ContainerChanges, ReceiptInput, StockItem } from './schemas.ts';
import { contentDigest, demandSameContent } from './sentOnce.ts';
import { preparedSolution } from './solutions.ts';

/** When something sent by a client happened to a container. Throws when it lies in the future, or before the container came. */
export function occurrence(
  deps: Deps,
  sent: { at?: number | undefined; clientId?: string | null | undefined },
  stockLotId: number,
): Occurrence {
  const now = deps.now();
  const clientId = sent.clientId ?? null;
  if (sent.at === undefined) return { at: now, recordedAt: now, clientId, saidAt: undefined };
  const { code, receivedOn } = found(stockLotById(deps.db, stockLotId), 'container');
  const { at } = possibleTime({
    atMs: sent.at,
    nowMs: now,
    beganAtMs: instantsOfDay(receivedOn, theStudio(deps.db).zone).startAt,
    beforeMs: 0,
    aheadMs: CLOCKS_DIFFER_MS,
    field: 'at',
    tooEarly: `${code} came on ${receivedOn} by its receipt: look at the day, or at the container.`,
  });
  return { at, recordedAt: now, clientId, saidAt: sent.at };
}

/** The item that a container is of; refuses one that is not there or was put away. */
export function itemToReceive(db: Db, item: StockItem): ShelfItem {
  const shelved = shelfItem(db, item.kind, item.id);
  if (!shelved) throw invalid({ item: 'Choose what the container holds.' });
  if (shelved.archived) throw invalid({ item: `${shelved.name} is put away; put it back first.` });
  return shelved;
}

/** The next free label: 'T1-4' for an item's container, 'T1-4-S2' for a solution made from that. */
export function proposedCode(db: Db, itemCode: string): string {
  return nextFree(db, `${itemCode}-`);
}
export const proposedSolutionCode = (db: Db, sourceCode: string): string => nextFree(db, `${sourceCode}-S`);

function nextFree(db: Db, beginning: string): string {
  const taken = new Set(codesBeginning(db, beginning).map((code) => code.toUpperCase()));
  for (let n = 1; ; n++) {
    const code = `${beginning}${n}`;
    if (!taken.has(code.toUpperCase())) return code;
  }
}

/** Receives a container. A receipt typed in later stands in the ledger at the beginning of the day on which it came. */
export function receiveContainer(deps: Deps, input: ReceiptInput, by: Actor): StockLotRow {
  const { db } = deps;
  const now = deps.now();
  const { zone } = theStudio(db);
  const item = itemToReceive(db, input.item);
  const todayOn = dayOf(now, zone);
  if (input.receivedOn > todayOn) throw invalid({ receivedOn: 'That day is still to come.' });
  refuseImpossibleDays(input, todayOn);
  const at = input.receivedOn === todayOn ? now : instantsOfDay(input.receivedOn, zone).startAt;
  return db.transaction((tx) =>
    receive(
      tx,
      {
        code: input.code || proposedCode(tx, item.code),
        kind: item.kind,
        dyeId: item.kind === 'dye' ? item.id : null,
        auxiliaryId: item.kind === 'auxiliary' ? item.id : null,
        fibreId: item.kind === 'fibre' ? item.id : null,
        unit: item.unit,
        supplier: input.supplier,
        makerLot: input.makerLot,
        strengthPpm: input.strengthPpm,
        receivedOn: input.receivedOn,
        openedOn: input.openedOn,
        bestBeforeOn: input.bestBeforeOn,
        priceMinor: input.priceMinor,
        freightMinor: input.freightMinor,
        receivedQuantity: input.quantity,
        sourceStockLotId: null,
        concPpm: null,
        note: input.note,
      },
      by,
      { at, recordedAt: now, clientId: input.clientId, digest: contentDigest('receipt', input) },
    ),
  );
}

function refuseImpossibleDays(
  { receivedOn, openedOn }: Pick<StockLotRow, 'receivedOn' | 'openedOn'>,
  todayOn: string,
): void {
  if (openedOn === null) return;
  if (openedOn < receivedOn) throw invalid({ openedOn: 'It cannot be opened before it was received.' });
  if (openedOn > todayOn) throw invalid({ openedOn: 'That day is still to come.' });
}

/** Saves what may change on a container against the version that was read. Another strength is noted with its time: what was
 *  weighed before keeps the strength of then, also when it reaches us only afterwards. */
export function changeContainer(
  deps: Deps,
  { id }: Pick<StockLotRow, 'id'>,
  changes: ContainerChanges,
  version: number,
  by: Actor,
): void {
  deps.db.transaction((tx) => {
    const row = found(stockLotById(tx, id), 'container');
    // A day that stands is not held against a clock that was set back since.
    if (changes.openedOn !== row.openedOn)
      refuseImpossibleDays(
        { receivedOn: row.receivedOn, openedOn: changes.openedOn },
        dayOf(deps.now(), theStudio(tx).zone),
      );
    if (row.version === version && changes.strengthPpm !== row.strengthPpm) {
      insertStrengthChange(tx, {
        stockLotId: id,
        wasPpm: row.strengthPpm,
        isPpm: changes.strengthPpm,
        at: deps.now(),
        byPersonId: by.personId,
      });
    }
    if (!updateStockLot(tx, id, changes, version)) {
      throw stale('container');
    }
  });
}

/** Closes a container: what the ledger still holds is a stock-take's difference when it is empty, waste when it
 *  is thrown away. Closing it again changes nothing. */
export function closeContainer(
  deps: Deps,
  input: { stockLotId: number; how: 'empty' | 'discarded'; reason: string; clientId?: string | null },
  by: Actor,
): void {
  deps.db.transaction((tx) => {
    const row = found(stockLotById(tx, input.stockLotId), 'container');
    const when = {
      ...occurrence(deps, { clientId: input.clientId }, row.id),
      digest: contentDigest('closing', input),
    };
    // Sent again after the container was opened again, it is still the first closing.
    if (sameDeed(tx, row.id, when) || row.closedAt !== null) return;
    const left = onHand(tx, row.id);
    const empties = input.how === 'discarded';
    if (empties && left > 0) {
      waste(tx, { stockLotId: row.id, quantity: left, reason: input.reason, empties }, by, when);
    } else {
      const reason = input.reason === '' ? 'closed: empty' : `closed: ${input.reason}`;
      stockTake(tx, { stockLotId: row.id, countedQuantity: 0, reason, empties }, by, when);
    }
    if (!updateStockLot(tx, row.id, { closedAt: when.recordedAt }, row.version))
      throw new Refusal('conflict', 'Try again.');
    note(tx, row.id, 'closed', { reason: input.reason, at: when.recordedAt, throughId: null }, by);
  });
}

/** Whether this was done before under this id. Throws Refusal idReused when the id names something else. */
function sameDeed(db: Db, stockLotId: number, when: Occurrence & { digest: string }): boolean {
  const known = when.clientId ? ledgerEntryOfClient(db, when.clientId) : undefined;
  if (known) demandSameContent(known, when.digest, known.stockLotId === stockLotId);
  return known !== undefined;
}

/** Opens a closed container again, with the count of what is in it. What closing wrote off as thrown away is taken back first;
 *  the count then says the rest, as an entry of today. The same request sent twice opens it once. */
export function reopenContainer(
  deps: Deps,
  input: { stockLotId: number; countedQuantity: number; reason: string; clientId?: string | null },
  by: Actor,
): void {
  const reason = input.reason.trim();
  if (reason === '') throw invalid({ reason: 'Say why, for the ledger.' });
  deps.db.transaction((tx) => {
    const row = found(stockLotById(tx, input.stockLotId), 'container');
    const when = {
      ...occurrence(deps, { clientId: input.clientId }, row.id),
      digest: contentDigest('reopening', input),
    };
    if (row.closedAt === null) {
      if (sameDeed(tx, row.id, when)) return;
      throw new Refusal('conflict', `Container ${row.code} is open.`);
    }
    const closing = closingEntryOf(tx, row.id, row.closedAt);
    if (!updateStockLot(tx, row.id, { closedAt: null }, row.version)) throw new Refusal('conflict', 'Try again.');
    const words = `opened again: ${reason}`;
    if (closing && closing.empties === 1) takeBack(tx, closing, by, when.recordedAt, words);
    stockTake(tx, { stockLotId: row.id, countedQuantity: input.countedQuantity, reason: words }, by, when);
    note(tx, row.id, 'reopened', { reason, at: when.recordedAt, throughId: null }, by);
  });
}

/** Recalls a container and every solution made from it: none of them is offered to a plan any more. */
export function recallContainer(deps: Deps, input: { stockLotId: number; reason: string }, by: Actor): void {
  deps.db.transaction((tx) => {
    const row = found(stockLotById(tx, input.stockLotId), 'container');
    const at = deps.now();
    const reasonOfSolutions = `made from ${row.code}: ${input.reason}`;
    for (const id of markRecalled(tx, row.id, { at, reason: input.reason, reasonOfSolutions })) {
      const isSelf = id === row.id;
      const reason = isSelf ? input.reason : reasonOfSolutions;
      note(tx, id, 'recalled', { reason, at, throughId: isSelf ? null : row.id }, by);
    }
  });
}

/** Lifts a recall: the container and the solutions that were recalled with it are offered again. One that was recalled by
 *  itself stays so, and a solution waits for the powder it was made from. Lifting it again changes nothing. */
export function liftRecall(deps: Deps, input: { stockLotId: number; reason: string }, by: Actor): void {
  const reason = input.reason.trim();
  if (reason === '') throw invalid({ reason: 'Say why, for whoever asks later.' });
  deps.db.transaction((tx) => {
    const row = found(stockLotById(tx, input.stockLotId), 'container');
    if (row.recalledAt === null) return;
    const source = row.sourceStockLotId === null ? undefined : stockLotById(tx, row.sourceStockLotId);
    if (source && source.recalledAt !== null)
      throw new Refusal('conflict', `It was made from ${source.code}, which is recalled: lift that first.`);
    const at = deps.now();
    for (const id of unmarkRecalled(tx, row.id, row.recalledAt))
      note(tx, id, 'recallLifted', { reason, at, throughId: id === row.id ? null : row.id }, by);
  });
}

const note = (
  tx: Db,
  stockLotId: number,
  kind: StockLotEventRow['kind'],
  event: Pick<StockLotEventRow, 'reason' | 'at' | 'throughId'>,
  by: Actor,
): void => insertStockLotEvent(tx, { stockLotId, kind, ...event, byPersonId: by.personId });

export interface SolutionInput {
  concPpm: number;
  massMg: number;
  /** Made up to; null: to what gives the strength exactly. */
  madeUpUl: number | null;
  /** What was asked for, to notice a slip of the keys; null when nobody said. */
  wantedUl: number | null;
  code: string;
  /** Today when null. */
  madeOn: string | null;
  /** From the dye's solution life when undefined; null for none. */
  bestBeforeOn: string | null | undefined;
  note: string;
  clientId: string | null;
}

/** Makes a stock solution from a container of powder. */
export function makeStockSolution(deps: Deps, sourceStockLotId: number, input: SolutionInput, by: Actor): StockLotRow {
  const { db } = deps;
  const { zone } = theStudio(db);
  const now = deps.now();
  const source = found(stockLotById(db, sourceStockLotId), 'container');
  const todayOn = dayOf(now, zone);
  const madeOn = input.madeOn ?? todayOn;
  if (madeOn > todayOn) throw invalid({ madeOn: 'That day is still to come.' });
  // A receipt is often typed in after the first use of the jar.
  if (madeOn < dayLater({ on: source.receivedOn, days: -BEFORE_RECEIPT_DAYS }))
    throw invalid({ madeOn: `${source.code} came on ${source.receivedOn} by its receipt: look at the day.` });
  const { volumeUl, concPpm } = preparedSolution(input);
  return db.transaction((tx) => {
    const solution = makeSolution(
      tx,
      {
        sourceStockLotId,
        code: input.code || proposedSolutionCode(tx, source.code),
        massMg: input.massMg,
        volumeUl,
        concPpm,
        madeOn,
        bestBeforeOn:
          input.bestBeforeOn === undefined ? bestBeforeOfSolution(tx, source.dyeId, madeOn) : input.bestBeforeOn,
        note: input.note,
      },
      by,
      {
        at: madeOn === todayOn ? now : instantsOfDay(madeOn, zone).endAt - 1,
        recordedAt: now,
        clientId: input.clientId,
        digest: contentDigest('solution', { ...input, sourceStockLotId }),
      },
    );
    // Typed in after the powder was recalled: it is recalled with it, as if it had been here already.
    if (source.recalledAt !== null) {
      const reason = `made from ${source.code}: ${source.recallReason}`;
      for (const id of markRecalled(tx, solution.id, { at: source.recalledAt, reason, reasonOfSolutions: reason }))
        note(tx, id, 'recalled', { reason, at: now, throughId: source.id }, by);
    }
    return stockLotById(tx, solution.id) ?? solution;
  });
}

/** When a solution made on a day is past its life, by what the studio noted for its dye. */
export function bestBeforeOfSolution(db: Db, dyeId: number | null, madeOn: string): string | null {
  const days = solutionLifeDaysOf(db, dyeId);
  return days === null ? null : dayLater({ on: madeOn, days });
}
