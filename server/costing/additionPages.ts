import type { z } from 'zod';
import { additionForm } from '../../views/costing/additionForm.ts';
import type { FormState } from '../../views/kit/field.ts';
import { money } from '../../views/kit/show.ts';
import type { Db } from '../db/open.ts';
import type { CostLineRow } from '../db/tables/lots.ts';
import type { Deps } from '../deps.ts';
import { notFound, Refusal } from '../errors.ts';
import type { App } from '../http/app.ts';
import { submitForm, typedBody } from '../http/forms.ts';
import { type Rendering, sendPage } from '../http/page.ts';
import { lotById } from '../lots/queries.ts';
import { actorOf } from '../people/guards.ts';
import { listPeople } from '../people/queries.ts';
import { theStudio } from '../settings/queries.ts';
import { showOf } from '../settings/show.ts';
import { openStockLots, stockLotById } from '../stock/queries.ts';
import { idParams } from '../typedFields.ts';
import { addForgottenCost, type ForgottenCost } from './additions.ts';
import { costLinesOf } from './queries.ts';
import { AdditionBody, AdditionForm, type ForgottenKind, forgottenKinds, WrittenLinesResource } from './schemas.ts';

const GROUPS = { dye: 'Dyes', auxiliary: 'Auxiliaries', fibre: 'Goods' } as const;

const kindOf = (typed: string | undefined): ForgottenKind => forgottenKinds.find((k) => k === typed) ?? 'material';

function costOf(form: z.output<ReturnType<typeof AdditionForm>>): ForgottenCost {
  if (form.what === 'credit') return { ...form, amountMinor: form.amount };
  if (form.what === 'material' || form.what === 'other')
    return form.what === 'other' ? { ...form, costMinor: form.cost } : form;
  return { ...form, durationS: form.duration, rateMinorPerHour: form.rate };
}

export function pages(app: App, deps: Deps): void {
  const { db } = deps;

  const closedLot = (lotId: number): { number: string; goodsText: string } => {
    const lot = lotById(db, lotId);
    if (!lot) throw notFound('lot');
    if (lot.finishedAt === null)
      throw new Refusal('conflict', 'The lot is not closed yet: record it at the bench instead.');
    return lot;
  };

  const additionPage = (lotId: number, form: FormState): Rendering => {
    const { number, goodsText } = closedLot(lotId);
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
                group: GROUPS[s.kind],
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

  app.get(
    '/costing/lots/:id/additions/new',
    { config: { may: 'own' }, schema: { params: idParams } },
    async (request, reply) => {
      const { what } = typedBody(request.query);
      const typed = { what: kindOf(what), withOverhead: 'yes', clientId: deps.newId() };
      return sendPage(request, reply, additionPage(request.params.id, { typed, errors: {} }));
    },
  );

  app.post(
    '/costing/lots/:id/additions',
    { config: { may: 'own' }, schema: { params: idParams } },
    async (request, reply) => {
      const lotId = request.params.id;
      const { what, stockLotId = '' } = typedBody(request.body);
      const container = /^[1-9]\d{0,14}$/.test(stockLotId) ? stockLotById(db, Number(stockLotId)) : undefined;
      return submitForm(request, reply, {
        schema: AdditionForm({
          what: kindOf(what),
          currency: theStudio(db).currency,
          unit: container?.unit ?? 'mg',
        }),
        save: (form) => {
          const { reason, clientId = null } = form;
          addForgottenCost(deps, { lotId, cost: costOf(form), reason, clientId }, actorOf(request));
          return `/costing/lots/${lotId}#lines`;
        },
        again: (form) => additionPage(lotId, form),
      });
    },
  );
}

/** Lines of one lot that were just written, as the API answers them. */
export const writtenLines = (
  db: Db,
  written: readonly Pick<CostLineRow, 'id' | 'lotId'>[],
): z.output<typeof WrittenLinesResource> => {
  const ids = new Set(written.map((w) => w.id));
  return {
    lines: costLinesOf(db, [...new Set(written.map((w) => w.lotId))]).flatMap((l) =>
      ids.has(l.costLineId) ? [l] : [],
    ),
  };
};

export function api(app: App, deps: Deps): void {
  app.post(
    '/lots/:id/cost-lines',
    {
      config: { may: 'own' },
      schema: {
        operationId: 'addForgottenCost',
        tags: ['Costing'],
        summary: 'Add a cost that was forgotten when the lot was closed; a material is issued from its container too',
        params: idParams,
        body: AdditionBody,
        response: { 201: WrittenLinesResource },
      },
    },
    async (request, reply) => {
      const { reason, clientId = null, ...cost } = request.body;
      const input = { lotId: request.params.id, cost, reason, clientId };
      reply.code(201);
      return writtenLines(deps.db, addForgottenCost(deps, input, actorOf(request)));
    },
  );
}
