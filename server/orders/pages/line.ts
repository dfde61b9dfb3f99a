import { emptyForm, type FormState, type Typed } from '../../../views/kit/field.ts';
import { mass, plainMoney } from '../../../views/kit/show.ts';
import { type LineChoices, orderLineForm } from '../../../views/orders/line.ts';
import type { Db } from '../../db/open.ts';
import type { OrderRow } from '../../db/tables/orders.ts';
import { submitForm } from '../../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { theStudio } from '../../settings/queries.ts';
import { showOf } from '../../settings/show.ts';
import { idParams } from '../../typedFields.ts';
import * as rule from '../orderLines.ts';
import {
  fibreChoices,
  lineIsServed,
  type OrderLineWithOrder,
  recipeSuggestions,
  swatchSuggestions,
  wordsOfWants,
} from '../queries.ts';
import { OrderLineForm } from '../schemas.ts';
import { theOrder } from '../takeOrder.ts';

export const lineChoices = (db: Db): LineChoices => ({
  fibres: fibreChoices(db),
  swatches: swatchSuggestions(db),
  recipes: recipeSuggestions(db),
  currency: theStudio(db).currency,
});

function typedOf(db: Db, { line, order }: OrderLineWithOrder): Typed {
  const show = showOf(db);
  const wants = wordsOfWants(db, line);
  return {
    description: line.description,
    fibreId: line.fibreId === null ? '' : String(line.fibreId),
    pieces: line.pieces === null ? '' : String(line.pieces),
    dryMass: line.dryMassMg === null ? '' : mass(show, line.dryMassMg),
    wantedSwatch: wants.swatch,
    wantedRecipe: wants.recipe,
    wantedNote: line.wantedNote,
    toleranceFormula: line.toleranceFormula ?? '',
    toleranceLimit: line.toleranceMilli === null ? '' : String(line.toleranceMilli / 1000),
    price: line.priceMinor === null ? '' : plainMoney(show, line.priceMinor),
    version: String(order.version),
  };
}

const formPage = (db: Db, form: FormState, order: OrderRow, row: OrderLineWithOrder | null): Rendering => ({
  title: `Order ${order.number}: a line`,
  section: 'orders',
  body: orderLineForm({
    form,
    order,
    orderLineId: row?.line.id ?? null,
    choices: lineChoices(db),
    current: row && typedOf(db, row),
    mayRemove: row !== null && !lineIsServed(db, row.line.id),
  }),
});

export const newLine = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) =>
    sendPage(request, reply, formPage(db, emptyForm, theOrder(db, params.id), null)),
});

export const addLine = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => {
    const order = theOrder(db, params.id);
    return submitForm(request, reply, {
      schema: OrderLineForm(theStudio(db).currency),
      save: (form) => {
        rule.addLine(db, order.id, rule.lineInputOf(db, form));
        return `/orders/${order.id}`;
      },
      again: (form) => formPage(db, form, order, null),
    });
  },
});

export const editLine = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => {
    const row = rule.theOrderLine(db, params.id);
    return sendPage(request, reply, formPage(db, { typed: typedOf(db, row), errors: {} }, row.order, row));
  },
});

export const saveLine = page({
  params: idParams,
  show: ({ db }, { params: { id }, request, reply }) => {
    const { order } = rule.theOrderLine(db, id);
    return submitForm(request, reply, {
      schema: OrderLineForm(theStudio(db).currency),
      save: (form, typed) => {
        rule.saveLine(db, id, rule.lineInputOf(db, form), Number(typed['version']));
        return `/orders/${order.id}`;
      },
      again: (form) => {
        const now = rule.theOrderLine(db, id);
        return formPage(db, form, now.order, now);
      },
    });
  },
});

export const removeLine = page({
  params: idParams,
  show: ({ db }, { params, reply }) => seeOther(reply, `/orders/${rule.removeLine(db, params.id).id}`),
});
