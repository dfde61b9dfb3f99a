import { emptyForm, type FormState, type Typed } from '../../../views/kit/field.ts';
import { customerForm } from '../../../views/orders/customerForm.ts';
import type { CustomerRow } from '../../db/tables/orders.ts';
import { submitForm, versionTyped } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { idParams } from '../../typedFields.ts';
import * as rule from '../customers.ts';
import { insertCustomer } from '../queries.ts';
import { CustomerForm } from '../schemas.ts';

const typedOf = ({ name, contact, note, version }: CustomerRow): Typed => ({
  name,
  contact,
  note,
  version: String(version),
});

const formPage = (form: FormState, row: CustomerRow | null): Rendering => ({
  title: row?.name ?? 'New customer',
  section: 'orders',
  body: customerForm({ form, customerId: row?.id ?? null, name: row?.name ?? null, current: row && typedOf(row) }),
});

export const newCustomer = page({
  show: (_, { request, reply }) => sendPage(request, reply, formPage(emptyForm, null)),
});

export const addCustomer = page({
  show: ({ db }, { request, reply }) =>
    submitForm(request, reply, {
      schema: CustomerForm,
      shape: versionTyped,
      save: ({ version: _version, ...input }) => `/customers/${insertCustomer(db, input).id}`,
      again: (form) => formPage(form, null),
    }),
});

export const editCustomer = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => {
    const row = rule.theCustomer(db, params.id);
    return sendPage(request, reply, formPage({ typed: typedOf(row), errors: {} }, row));
  },
});

export const saveCustomer = page({
  params: idParams,
  show: ({ db }, { params: { id }, request, reply }) => {
    rule.theCustomer(db, id);
    return submitForm(request, reply, {
      schema: CustomerForm,
      shape: versionTyped,
      save: ({ version, ...input }) => `/customers/${rule.saveCustomer(db, id, input, version ?? 0).id}`,
      again: (form) => formPage(form, rule.theCustomer(db, id)),
    });
  },
});
