import { measureOf } from '../../../views/bench/containerFigures.ts';
import { hasUnit, readingAmount } from '../../calc/plausibleReading.ts';
import type { StockLotRow } from '../../db/tables/stock.ts';
import { invalid } from '../../errors.ts';
import { typedBody } from '../../http/forms.ts';
import { page } from '../../http/routes.ts';
import { componentOf } from '../../lots/queries.ts';
import { actorOf } from '../../people/guards.ts';
import { stockLotById } from '../../stock/queries.ts';
import { idParams } from '../../typedFields.ts';
import { atBench, idOf, saidOf } from '../benchDoor.ts';
import { countsForOne } from '../countsForOne.ts';
import { recordWeighing } from '../recordWeighing.ts';

/** Takes down what the scale says. */
export const weighAtBench = page({
  params: idParams,
  show(deps, { params: { id: lotId }, request, reply }) {
    const { db } = deps;
    const typed = typedBody(request.body);
    return atBench(deps, request, reply, { lotId, form: 'weighing', typed }, () => {
      const stockLot = stockLotById(db, idOf(typed, 'stockLotId'));
      const text = typed['amount'] ?? '';
      if (text.trim() === '') throw invalid({ amount: 'Type what the scale says.' });
      if (!stockLot) throw invalid({ stockLotId: 'Choose a container.' });
      const componentId = idOf(typed, 'componentId');
      const line = componentOf(db, lotId, componentId);
      const amount = readingAmount({ text, unit: stockLot.unit, container: stockLot.code });
      const isWhatWasAsked =
        !typed['measure'] ||
        !line ||
        typed['measure'] === measureOf({ unit: stockLot.unit, counts: countsForOne(line, stockLot) });
      if (!isWhatWasAsked && !hasUnit(text)) throw invalid({ amount: otherContainerWords(stockLot, text) });
      const confirmed =
        typed['confirmed'] === `${stockLot.id}:${amount}` ||
        // Kept on a device by a page that did not ask yet: it has happened, and is recorded as before.
        (typed['at'] !== undefined &&
          typed['confirmed'] === undefined &&
          stockLot.unit === (line?.plannedMassMg == null ? 'ul' : 'mg'));
      return recordWeighing(
        deps,
        { lotId, componentId, stockLotId: stockLot.id, amount, confirmed, ...saidOf(deps, typed) },
        actorOf(request),
      );
    });
  },
});

/** A bare number was typed while the screen asked for what another container holds. */
function otherContainerWords(stockLot: StockLotRow, text: string): string {
  const solution = stockLot.concPpm === null ? '' : `a ${stockLot.concPpm / 10_000} % solution, `;
  const wants = stockLot.unit === 'mg' ? 'weighed: type grams' : `${solution}measured: type millilitres`;
  return `${stockLot.code} is ${wants}. The screen asked for what another container holds when “${text.trim()}” was typed; it asks for this one’s now.`;
}
