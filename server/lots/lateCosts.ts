import type { Db } from '../db/open.ts';
import type { CostLineRow } from '../db/tables/lots.ts';
import type { Actor } from '../deps.ts';
import { notFound } from '../errors.ts';
import { costMinorOf, rateOfContainer } from '../plans/rates.ts';
import { theStudio } from '../settings/queries.ts';
import { type Drawn, redraw } from '../stock/ledger.ts';
import { movingAverageRate } from '../stock/movingAverage.ts';
import { ledgerEntriesOfWeighing, shelfItem, stockLotById } from '../stock/queries.ts';
import { costLinesOf, insertCostLine, type LotHead, type WeighingOfLot, weighingsOf } from './queries.ts';

/* The books of a closed lot when something reaches them late: its cost lines stay the sum of what was weighed, what was corrected
   and what was forgotten, and its containers' ledgers say the same. */

/** Lines that count: neither taken back nor taking something back. */
export function standingLines(lines: readonly CostLineRow[]): CostLineRow[] {
  const back = new Set(lines.flatMap((l) => (l.correction === 'reversal' ? [l.correctsId] : [])));
  return lines.filter((l) => l.correction !== 'reversal' && !back.has(l.id));
}

/** A quantity that a late entry of the log moves in the cost of a closed lot: what a late weighing adds, what a late voiding takes
 *  away (negative). */
export interface LateQuantity {
  weighing: Pick<WeighingOfLot, 'stockLotId' | 'massMg' | 'volumeUl' | 'discarded'>;
  quantity: number;
  lateEntryId: number;
  reason: string;
}

/** Books a late quantity: the line that stands is taken back and written anew with the new quantity, so that the lot costs to the
 *  minor unit what it would have cost in time; where none stands, a line is added. Answers by how much the cost moved. */
export function bookLate(db: Db, lot: LotHead, late: LateQuantity, by: Actor, writtenAt: number): number {
  const { weighing, lateEntryId, reason } = late;
  const lines = costLinesOf(db, lot.id);
  const wasted = weighing.discarded ? 1 : 0;
  // What was forgotten stands for itself: it was added by hand, and is corrected by hand.
  const line = standingLines(lines).findLast(
    (l) => l.stockLotId === weighing.stockLotId && l.wasted === wasted && l.kind !== 'goods' && !wasForgotten(lines, l),
  );
  const quantity = (line?.quantity ?? 0) + late.quantity;
  const written = { lateEntryId, reason, writtenAt, writtenBy: by.personId };
  let ordinal = lines.at(-1)?.ordinal ?? 0;
  if (!line) {
    if (quantity <= 0) return 0;
    const base = newLine(db, lot, late.weighing, wasted);
    const costMinor = costMinorOf(quantity, base);
    insertCostLine(db, { ...base, ...written, lotId: lot.id, ordinal: ordinal + 1, quantity, costMinor, added: 1 });
    return costMinor;
  }
  const { id, ...same } = line;
  const rest = { ...same, ...written, added: 0, clientId: null, contentDigest: null, correctsId: id };
  insertCostLine(db, {
    ...rest,
    ordinal: ++ordinal,
    correction: 'reversal',
    quantity: -line.quantity,
    costMinor: line.costMinor === 0 ? 0 : -line.costMinor,
  });
  const costMinor = quantity > 0 ? costMinorOf(quantity, line) : 0;
  if (quantity > 0) insertCostLine(db, { ...rest, ordinal: ++ordinal, correction: 'replacement', quantity, costMinor });
  return costMinor - line.costMinor;
}

/** The first line of a chain of corrections. */
function rootOf(lines: readonly CostLineRow[], line: CostLineRow): CostLineRow {
  let root = line;
  for (let next: CostLineRow | undefined = line; next; next = lines.find((l) => l.id === root.correctsId)) root = next;
  return root;
}

/** Added by hand because it had been forgotten when the lot was closed, or a correction of such a line. */
export function wasForgotten(lines: readonly CostLineRow[], line: CostLineRow): boolean {
  const root = rootOf(lines, line);
  return root.added === 1 && root.lateEntryId === null;
}

function newLine(
  db: Db,
  lot: LotHead,
  { stockLotId, massMg }: LateQuantity['weighing'],
  wasted: 0 | 1,
): Pick<
  CostLineRow,
  'kind' | 'description' | 'dyeId' | 'auxiliaryId' | 'stockLotId' | 'quantityUnit' | 'valuation' | 'wasted'
> & { priceMinor: number; perQuantity: number } {
  const container = stockLotById(db, stockLotId);
  if (!container || container.kind === 'fibre') throw notFound('container');
  const { kind, dyeId, auxiliaryId } = container;
  const item = shelfItem(db, kind, dyeId ?? auxiliaryId ?? 0);
  const { costing } = theStudio(db);
  const isAverage = costing === 'movingAverage' && lot.finishedAt !== null;
  return {
    kind,
    description: `${item?.code} ${item?.name}, container ${container.code}${wasted ? ', discarded' : ''}`,
    dyeId,
    auxiliaryId,
    stockLotId,
    quantityUnit: massMg === null ? 'ul' : 'mg',
    valuation: costing,
    wasted,
    ...(isAverage
      ? movingAverageRate(db, container, lot.finishedAt ?? 0)
      : rateOfContainer(db, container, lot.finishedAt ?? 0)),
  };
}

/** Makes the ledger of a container say what the cost lines of a closed lot say of it. What was weighed stands at the time of its
 *  weighing; a correction changes the last of them, and where it takes away more, those before; what was forgotten, and goods,
 *  stand at the closing. */
export function settleStock(
  db: Db,
  lot: LotHead,
  stockLotId: number,
  reason: string,
  by: Actor,
  recordedAt: number,
): void {
  const closedAt = lot.finishedAt ?? recordedAt;
  const lines = costLinesOf(db, lot.id);
  const standing = standingLines(lines).filter((l) => l.stockLotId === stockLotId);
  const forgotten = standing.filter((l) => wasForgotten(lines, l));
  const worked = standing.filter((l) => !forgotten.includes(l)).reduce((sum, l) => sum + l.quantity, 0);
  const weighed = weighingsOf(db, lot.id)
    .filter((w) => w.stockLotId === stockLotId && !w.voided)
    .map((w): Drawn => {
      const first = ledgerEntriesOfWeighing(db, w.id)[0];
      const quantity = w.massMg ?? w.volumeUl ?? 0;
      return { weighingId: w.id, at: w.at, quantity, ...(first ? { place: { at: w.at, seq: first.id } } : {}) };
    })
    .sort((a, b) => a.at - b.at || (a.weighingId ?? 0) - (b.weighingId ?? 0));
  const drawn = withDifference(weighed, worked, closedAt);
  for (const l of forgotten) drawn.push({ weighingId: null, at: closedAt, quantity: l.quantity });
  redraw(db, { stockLotId, lotId: lot.id, drawn, reason }, by, recordedAt);
}

/** What was weighed, with what a correction found out put on the last of it or taken from the last backwards. */
function withDifference(weighed: readonly Drawn[], total: number, closedAt: number): Drawn[] {
  let difference = total - weighed.reduce((sum, d) => sum + d.quantity, 0);
  if (weighed.length === 0) return difference > 0 ? [{ weighingId: null, at: closedAt, quantity: difference }] : [];
  return weighed
    .toReversed()
    .map((d) => {
      const quantity = Math.max(0, d.quantity + difference);
      difference -= quantity - d.quantity;
      return { ...d, quantity };
    })
    .filter((d) => d.quantity > 0)
    .toReversed();
}
