import { dayLater } from '../calc/shelf.ts';
import type { Db } from '../db/open.ts';
import type { StockLotEventRow, StockLotRow } from '../db/tables/stock.ts';
import type { Actor, Deps } from '../deps.ts';
import { invalid, notFound, Refusal } from '../errors.ts';
import { dayOf, instantsOfDay } from '../settings/days.ts';
import { theStudio } from '../settings/queries.ts';
import { type Happening, makeSolution, receive, reverseWaste, stockTake, waste } from './ledger.ts';
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

/** Clocks of tablets differ; more than this ahead of ours is a mistake. */
const CLOCK_SLACK_MS = 10 * 60_000;

/** When something sent by a client happened. Throws when it lies in the future. */
export function happening(
  deps: Deps,
  sent: { at?: number | undefined; clientId?: string | null | undefined },
): Happening {
  const now = deps.now();
  if (sent.at !== undefined && sent.at > now + CLOCK_SLACK_MS) throw invalid({ at: 'That lies in the future.' });
  return { at: sent.at ?? now, recordedAt: now, clientId: sent.clientId ?? null, saidAt: sent.at };
}

/** The item that a container is of; refuses one that is not there or was put away. */
export function itemToReceive(db: Db, item: StockItem): ShelfItem {
  const found = shelfItem(db, item.kind, item.id);
  if (!found) throw invalid({ item: 'Choose what the container holds.' });
  if (found.archived) throw invalid({ item: `${found.name} is put away; put it back first.` });
  return found;
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
  refuseOpenedBefore(input.receivedOn, input.openedOn);
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

function refuseOpenedBefore(receivedOn: string, openedOn: string | null): void {
  if (openedOn !== null && openedOn < receivedOn)
    throw invalid({ openedOn: 'It cannot be opened before it was received.' });
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
    const row = found(tx, id);
    refuseOpenedBefore(row.receivedOn, changes.openedOn);
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
      throw new Refusal(
        'staleEdit',
        'Somebody saved this container meanwhile. What you typed is below; open its page again to see theirs.',
      );
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
    const row = found(tx, input.stockLotId);
    const when = { ...happening(deps, { clientId: input.clientId }), digest: contentDigest('closing', input) };
    if (row.closedAt !== null) {
      sameDeed(tx, row.id, when);
      return;
    }
    const left = onHand(tx, row.id);
    if (input.how === 'discarded' && left > 0) {
      waste(tx, { stockLotId: row.id, quantity: left, reason: input.reason }, by, when);
    } else {
      const reason = input.reason === '' ? 'closed: empty' : `closed: ${input.reason}`;
      stockTake(tx, { stockLotId: row.id, countedQuantity: 0, reason }, by, when);
    }
    if (!updateStockLot(tx, row.id, { closedAt: when.recordedAt }, row.version))
      throw new Refusal('conflict', 'Try again.');
    note(tx, row.id, 'closed', { reason: input.reason, at: when.recordedAt, throughId: null }, by);
  });
}

/** Whether this was done before under this id. Throws Refusal idReused when the id names something else. */
function sameDeed(db: Db, stockLotId: number, when: Happening & { digest: string }): boolean {
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
    const row = found(tx, input.stockLotId);
    const when = { ...happening(deps, { clientId: input.clientId }), digest: contentDigest('reopening', input) };
    if (row.closedAt === null) {
      if (sameDeed(tx, row.id, when)) return;
      throw new Refusal('conflict', `Container ${row.code} is open.`);
    }
    const closing = closingEntryOf(tx, row.id, row.closedAt);
    if (!updateStockLot(tx, row.id, { closedAt: null }, row.version)) throw new Refusal('conflict', 'Try again.');
    const words = `opened again: ${reason}`;
    if (closing?.kind === 'waste') reverseWaste(tx, closing, by, when, words);
    stockTake(tx, { stockLotId: row.id, countedQuantity: input.countedQuantity, reason: words }, by, when);
    note(tx, row.id, 'reopened', { reason, at: when.recordedAt, throughId: null }, by);
  });
}

/** Recalls a container and every solution made from it: none of them is offered to a plan any more. */
export function recallContainer(deps: Deps, input: { stockLotId: number; reason: string }, by: Actor): void {
  deps.db.transaction((tx) => {
    const row = found(tx, input.stockLotId);
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
    const row = found(tx, input.stockLotId);
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
  const source = found(db, sourceStockLotId);
  const todayOn = dayOf(now, zone);
  const madeOn = input.madeOn ?? todayOn;
  if (madeOn > todayOn) throw invalid({ madeOn: 'That day is still to come.' });
  if (madeOn < source.receivedOn) throw invalid({ madeOn: 'The powder had not come yet.' });
  const { volumeUl, concPpm } = preparedSolution(input);
  return db.transaction((tx) =>
    makeSolution(
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
    ),
  );
}

/** When a solution made on a day is past its life, by what the studio noted for its dye. */
export function bestBeforeOfSolution(db: Db, dyeId: number | null, madeOn: string): string | null {
  const days = solutionLifeDaysOf(db, dyeId);
  return days === null ? null : dayLater({ on: madeOn, days });
}

function found(db: Db, stockLotId: number): StockLotRow {
  const row = stockLotById(db, stockLotId);
  if (!row) throw notFound('container');
  return row;
}
