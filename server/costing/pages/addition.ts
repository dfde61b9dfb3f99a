import type { z } from 'zod';
import { additionForm } from '../../../views/costing/addition.ts';
import type { FormState } from '../../../views/kit/field.ts';
import { money } from '../../../views/kit/show.ts';
import { kindWords } from '../../../views/stock/list.ts';
import type { Db } from '../../db/open.ts';
import { found, Refusal } from '../../errors.ts';
import { submitForm, typedBody } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { lotById } from '../../lots/queries.ts';
import { actorOf } from '../../people/guards.ts';
import { listPeople } from '../../people/queries.ts';
import { theStudio } from '../../settings/queries.ts';
import { showOf } from '../../settings/show.ts';
import { openStockLots, stockLotById } from '../../stock/queries.ts';
import { idParams } from '../../typedFields.ts';
import { addForgottenCost, type ForgottenCost } from '../additions.ts';
import { AdditionForm, type ForgottenKind, forgottenKinds } from '../schemas.ts';

const kindOf = (typed: string | undefined): ForgottenKind => forgottenKinds.find((k) => k === typed) ?? 'material';

function costOf(form: z.output<ReturnType<typeof AdditionForm>>): ForgottenCost {
  if (form.what === 'credit') return { ...form, amountMinor: form.amount };
  if (form.what === 'material' || form.what === 'other')
    return form.what === 'other' ? { ...form, costMinor: form.cost } : form;
  return { ...form, durationS: form.duration, rateMinorPerHour: form.rate };
}

const closedLot = (db: Db, lotId: number): { number: string; goodsText: string } => {
  const lot = found(lotById(db, lotId), 'lot');
  if (lot.finishedAt === null)
    throw new Refusal('conflict', 'The lot is not closed yet: record it at the bench instead.');
  return lot;
};

const additionPage = (db: Db, lotId: number, form: FormState): Rendering => {
  const { number, goodsText } = closedLot(db, lotId);
  const studio = theStudio(db);
  const show = showOf(db);
  const what = kindOf(form.typed['what']);
  return {
    title: 'Add a forgotten cost',
    section: 'costing',
    body: additionForm({
      lotId,
      number,
      goodsText,
      what,
      form,
      containers:
        what === 'material'
          ? openStockLots(db).map((s) => ({
              value: String(s.id),
              label: `${s.code} · ${s.itemName}`,
              group: kindWords[s.kind],
            }))
          : [],
      people:
        what === 'labour'
          ? listPeople(db).map((p) => ({
              value: String(p.id),
              label: `${p.name}, ${money(show, p.labourRateMinorPerHour ?? studio.labourRateMinorPerHour)} an hour`,
            }))
          : [],
      overheadMinorPerHour: studio.overheadRateMinorPerHour,
      isAverage: studio.costing === 'movingAverage',
      show,
    }),
  };
};

export const newAddition = page({
  params: idParams,
  show: (deps, { params, request, reply }) => {
    const { what } = typedBody(request.query);
    const typed = { what: kindOf(what), withOverhead: 'yes', clientId: deps.newId() };
    return sendPage(request, reply, additionPage(deps.db, params.id, { typed, errors: {} }));
  },
});

export const addAddition = page({
  params: idParams,
  show: (deps, { params, request, reply }) => {
    const lotId = params.id;
    const { what, stockLotId = '' } = typedBody(request.body);
    const container = /^[1-9]\d{0,14}$/.test(stockLotId) ? stockLotById(deps.db, Number(stockLotId)) : undefined;
    return submitForm(request, reply, {
      schema: AdditionForm({
        what: kindOf(what),
        currency: theStudio(deps.db).currency,
        unit: container?.unit ?? 'mg',
      }),
      save: (form) => {
        const { reason, clientId = null } = form;
        addForgottenCost(deps, { lotId, cost: costOf(form), reason, clientId }, actorOf(request));
        return `/costing/lots/${lotId}#lines`;
      },
      again: (form) => additionPage(deps.db, lotId, form),
    });
  },
});
