import { correctionForm } from '../../../views/costing/correction.ts';
import type { FormState } from '../../../views/kit/field.ts';
import { plainMoney } from '../../../views/kit/show.ts';
import { durationText } from '../../calc/quantity.ts';
import type { Db } from '../../db/open.ts';
import { notFound } from '../../errors.ts';
import { submitForm, typedBody } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { lotById } from '../../lots/queries.ts';
import { actorOf } from '../../people/guards.ts';
import { theStudio } from '../../settings/queries.ts';
import { showOf } from '../../settings/show.ts';
import { idParams } from '../../typedFields.ts';
import { correctCostLine } from '../corrections.ts';
import { type CostLineOfLot, costLineById, costLinesOf } from '../queries.ts';
import { CorrectionForm } from '../schemas.ts';

const lineToCorrect = (db: Db, costLineId: number): { line: CostLineOfLot; lotNumber: string } => {
  const row = costLineById(db, costLineId);
  const line = row && costLinesOf(db, [row.lotId]).find((l) => l.costLineId === costLineId);
  const lot = row && lotById(db, row.lotId);
  if (!line || !lot) throw notFound('cost line');
  return { line, lotNumber: lot.number };
};

const correctionPage = (db: Db, costLineId: number, form: FormState): Rendering => {
  const { line, lotNumber } = lineToCorrect(db, costLineId);
  return {
    title: 'Correct a cost line',
    section: 'costing',
    body: correctionForm({ line, lotId: line.lotId, lotNumber, form, show: showOf(db) }),
  };
};

export const newCorrection = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => {
    const { line } = lineToCorrect(db, params.id);
    const typed = {
      stands: 'line',
      quantity: typedQuantity(line.quantityUnit, line.quantity),
      price: plainMoney(showOf(db), line.priceMinor),
      perQuantity: typedQuantity(line.quantityUnit, line.perQuantity),
    };
    return sendPage(request, reply, correctionPage(db, params.id, { typed, errors: {} }));
  },
});

export const addCorrection = page({
  params: idParams,
  show: (deps, { params, request, reply }) => {
    const { line } = lineToCorrect(deps.db, params.id);
    const isRemoval = typedBody(request.body)['stands'] === 'nothing';
    return submitForm(request, reply, {
      schema: CorrectionForm({ currency: theStudio(deps.db).currency, unit: line.quantityUnit, isRemoval }),
      save: (input) => {
        const replacement =
          input.stands === 'nothing'
            ? null
            : { quantity: input.quantity, priceMinor: input.price, perQuantity: input.perQuantity };
        correctCostLine(deps, { costLineId: line.costLineId, reason: input.reason, replacement }, actorOf(request));
        return `/costing/lots/${line.lotId}#lines`;
      },
      again: (form) => correctionPage(deps.db, params.id, form),
    });
  },
});

/** A quantity as one would type it, exactly. */
function typedQuantity(unit: CostLineOfLot['quantityUnit'], quantity: number): string {
  if (unit === 'mg') return `${quantity / 1000} g`;
  if (unit === 'ul') return `${quantity / 1000} mL`;
  if (unit === 's') return quantity % 60 === 0 ? durationText({ durationS: quantity }) : `${quantity} s`;
  return String(quantity);
}
