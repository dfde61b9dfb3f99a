import { z } from 'zod';
import type { FormState, Typed } from '../../../views/kit/field.ts';
import { newOrderForm } from '../../../views/orders/form.ts';
import type { Db } from '../../db/open.ts';
import { besideRows, submitForm, typedRows } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { theStudio } from '../../settings/queries.ts';
import { today } from '../../settings/today.ts';
import { customerChoices } from '../queries.ts';
import { NewOrderForm } from '../schemas.ts';
import { proposedNumber, takeTypedOrder } from '../takeOrder.ts';
import { lineChoices } from './line.ts';

const LINE = [
  'description',
  'fibreId',
  'pieces',
  'dryMass',
  'wantedSwatch',
  'wantedRecipe',
  'wantedNote',
  'toleranceFormula',
  'toleranceLimit',
  'price',
] as const;
const linesOf = (typed: Typed) => ({ lines: typedRows(typed, LINE) });

const formPage = (db: Db, form: FormState): Rendering => ({
  title: 'Take an order',
  section: 'orders',
  scripts: ['rows.js'],
  body: newOrderForm({
    form: { typed: form.typed, errors: besideRows(form.errors, linesOf(form.typed)) },
    customers: customerChoices(db),
    choices: lineChoices(db),
  }),
});

export const newOrder = page({
  query: z.object({
    customerId: z.string().max(15).catch('').default(''),
    swatch: z.string().max(60).catch('').default(''),
    recipe: z.string().max(120).catch('').default(''),
  }),
  show: (deps, { query: { customerId, swatch, recipe }, request, reply }) => {
    const { db } = deps;
    const orderedOn = today(deps);
    const typed = {
      customerId,
      number: proposedNumber(db, orderedOn),
      orderedOn,
      'wantedSwatch.0': swatch,
      'wantedRecipe.0': recipe,
    };
    return sendPage(request, reply, formPage(db, { typed, errors: {} }));
  },
});

export const takeOrder = page({
  show: ({ db }, { request, reply }) =>
    submitForm(request, reply, {
      schema: NewOrderForm(theStudio(db).currency),
      shape: (typed) => ({ ...typed, version: undefined, ...linesOf(typed) }),
      save: (form) => `/orders/${takeTypedOrder(db, form).id}`,
      again: (form) => formPage(db, form),
    }),
});
