import { countsFor } from '../calc/countsFor.ts';
import { doubtWords, type ReadingInQuestion, readingDoubts } from '../calc/plausibleReading.ts';
import { BEFORE_RECEIPT_DAYS, unaware } from '../calc/possibleTime.ts';
import type { Db } from '../db/open.ts';
import type { LogEntryRow } from '../db/tables/lots.ts';
import type { StockLotRow } from '../db/tables/stock.ts';
import type { Actor, Deps } from '../deps.ts';
import { invalid, notFound, Refusal } from '../errors.ts';
import { askAboutWeighing, bookLateWeighing } from '../lots/late.ts';
import { demandOpen, recordOnce, type SentOccurrence, type When } from '../lots/occurrence.ts';
import { type ComponentOfLot, componentOf, countingOf, insertEntry, insertWeighing } from '../lots/queries.ts';
import { instantsOfDay } from '../settings/days.ts';
import { theStudio } from '../settings/queries.ts';
import { issue } from '../stock/ledger.ts';
import { expectedAt, onHand, stockLotById, strengthAt } from '../stock/queries.ts';
import { countsForOne, OTHER_STEP } from './countsForOne.ts';

/** Records a reading of the scale or measure: log entry, weighing and stock issue in one. `amount` is in the container's
 *  unit (mg of powder, µL of solution or liquid), and is what was added, not the total. */
export function recordWeighing(
  deps: Deps,
  input: {
    lotId: number;
    componentId: number;
    stockLotId: number;
    amount: number;
    /** Said by the person about a reading that is hard to believe. */
    confirmed?: boolean | undefined;
    /** Unit of the amount, where the sender says it. */
    unit?: 'mg' | 'ul' | undefined;
  } & SentOccurrence,
  by: Actor,
): LogEntryRow {
  if (!Number.isSafeInteger(input.amount) || input.amount <= 0)
    throw invalid({ amount: 'The reading must be more than nothing.' });
  // A reading that was asked about is the same reading once it is confirmed.
  const sent = { ...input, derived: [...(input.derived ?? []), 'confirmed', 'unit'] };
  return recordOnce(deps, input.lotId, sent, by, 'weighing', (tx, base, when, lot) => {
    demandOpen(lot, when);
    const component = componentOf(tx, lot.id, input.componentId);
    if (!component) throw notFound('line of this weigh-up');
    const stockLot = stockLotById(tx, input.stockLotId);
    if (!stockLot || stockLot.dyeId !== component.dyeId || stockLot.auxiliaryId !== component.auxiliaryId)
      throw invalid({ stockLotId: `Choose a container of ${component.name}.` });
    const recalled = stockLot.recalledAt;
    if (recalled !== null && !unaware({ atMs: when.at, nowMs: when.recordedAt, changedAtMs: recalled }))
      throw invalid({ stockLotId: `Container ${stockLot.code} is recalled: ${stockLot.recallReason}` });
    const unit = stockLot.unit;
    if (input.unit !== undefined && input.unit !== unit)
      throw invalid({
        amount: `Container ${stockLot.code} is ${unit === 'mg' ? 'weighed, in mg' : 'measured by volume, in µL'}: the amount is in the other unit.`,
      });
    if (unit === 'mg' && component.plannedMassMg === null && component.concPpm === null)
      throw invalid({ stockLotId: `${component.name} is measured by volume here.` });
    if (unit === 'ul' && component.plannedMassMg !== null && stockLot.concPpm === null)
      throw invalid({ stockLotId: `${component.name} is weighed here.` });
    if (input.confirmed !== true) demandBelievable(tx, component, stockLot, input.amount, when);
    const entry = insertEntry(tx, {
      ...base(deps, lot.id, input, by),
      kind: 'weighing',
      valueJson: JSON.stringify({
        componentId: component.id,
        name: component.name,
        stockLotCode: stockLot.code,
        ...(unit === 'mg' ? { massMg: input.amount } : { volumeUl: input.amount }),
        target:
          component.adjustedMassMg ??
          component.adjustedVolumeUl ??
          component.plannedMassMg ??
          component.plannedVolumeUl,
        ...beforeReceipt(tx, stockLot, when.at),
      }),
    });
    const weighing = insertWeighing(tx, {
      lotId: lot.id,
      componentId: component.id,
      stockLotId: stockLot.id,
      logEntryId: entry.id,
      massMg: unit === 'mg' ? input.amount : null,
      volumeUl: unit === 'ul' ? input.amount : null,
      strengthPpm: strengthAt(tx, stockLot, when.at),
      concPpm: stockLot.concPpm,
    });
    if (when.late) bookLateWeighing(tx, { lot, entry, weighing }, by);
    else
      issue(
        tx,
        { stockLotId: stockLot.id, stockLot, quantity: input.amount, lotId: lot.id, weighingId: weighing.id },
        by,
        when,
      );
    if (when.late || recalled !== null) askAboutWeighing(tx, { lot, stockLot, entry, amount: input.amount }, by);
    return entry;
  });
}

/** Asks once about a reading that the line or the container can hardly mean. Throws Refusal needsConfirming. */
function demandBelievable(
  tx: Db,
  component: ComponentOfLot,
  stockLot: StockLotRow,
  amount: number,
  { at, recordedAt }: When,
): void {
  const counting = countingOf(tx, component.id);
  const inMass = component.plannedMassMg !== null;
  const target = inMass
    ? (component.adjustedMassMg ?? component.plannedMassMg)
    : (component.adjustedVolumeUl ?? component.plannedVolumeUl);
  const one = countsForOne(component, stockLot);
  const reading: ReadingInQuestion = {
    amount,
    target: (target ?? 0) / one,
    actual: counting.reduce((sum, w) => sum + countsFor(component, w), 0) / one,
    // Of a reading that reaches us later, what the container held when it was taken: it may be closed by now.
    onHand: at < recordedAt ? expectedAt(tx, stockLot.id, at) : onHand(tx, stockLot.id),
    step: stockLot.unit === (inMass ? 'mg' : 'ul') ? component.step : OTHER_STEP[stockLot.unit],
  };
  const doubts = readingDoubts(reading);
  if (doubts.length === 0) return;
  const words = doubtWords({ doubts, reading, unit: stockLot.unit, name: component.name, container: stockLot.code });
  throw new Refusal('needsConfirming', words, { amount: words }, { doubts });
}

/** A jar is sometimes used first and typed in afterwards: told in the entry, and taken within reason. */
function beforeReceipt(tx: Db, stockLot: StockLotRow, at: number): { beforeReceiptOn?: string } {
  const { receivedOn, code } = stockLot;
  // The day begins somewhere on earth within fourteen hours of UTC's: later than that the zone need not be asked.
  if (at >= Date.parse(`${receivedOn}T14:00:00Z`)) return {};
  const cameAt = instantsOfDay(receivedOn, theStudio(tx).zone).startAt;
  if (at >= cameAt) return {};
  if (at < cameAt - BEFORE_RECEIPT_DAYS * 86_400_000)
    throw invalid({
      stockLotId: `${code} came on ${receivedOn} by its receipt: look at the day, or at the container.`,
    });
  return { beforeReceiptOn: receivedOn };
}
