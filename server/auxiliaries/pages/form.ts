import { auxiliaryForm } from '../../../views/auxiliaries/form.ts';
import type { FormState } from '../../../views/kit/field.ts';
import { pctTyped } from '../../calc/quantity.ts';
import { submitForm } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { idParams } from '../../typedFields.ts';
import { theAuxiliary } from '../present.ts';
import { insertAuxiliary } from '../queries.ts';
import * as rule from '../saveAuxiliary.ts';
import { type Auxiliary, AuxiliaryForm, auxiliaryInputOf } from '../schemas.ts';

/** An auxiliary as the form's text. */
const typedOf = (auxiliary: Auxiliary): Record<string, string> => ({
  code: auxiliary.code,
  name: auxiliary.name,
  form: auxiliary.form,
  hydrate: auxiliary.hydrate,
  grade: auxiliary.grade,
  bulkDensity: auxiliary.bulkDensityGPerL === null ? '' : String(auxiliary.bulkDensityGPerL),
  solutionConc: pctTyped({ ppm: auxiliary.solutionConcPpm }),
  hazardCodes: auxiliary.hazardCodes,
  sdsUrl: auxiliary.sdsUrl,
  note: auxiliary.note,
  version: String(auxiliary.version),
});

export const formPage = (form: FormState, auxiliary: Auxiliary | null): Rendering => ({
  title: auxiliary ? auxiliary.name : 'New auxiliary',
  section: 'auxiliaries',
  body: auxiliaryForm({ form, auxiliaryId: auxiliary?.auxiliaryId ?? null, name: auxiliary?.name ?? null }),
});

export const newAuxiliary = page({
  show: (_, { request, reply }) => sendPage(request, reply, formPage({ typed: { form: 'solid' }, errors: {} }, null)),
});

export const addAuxiliary = page({
  show: ({ db }, { request, reply }) =>
    submitForm(request, reply, {
      schema: AuxiliaryForm,
      save: (input) => `/auxiliaries/${insertAuxiliary(db, auxiliaryInputOf(input)).id}`,
      again: (form) => formPage(form, null),
    }),
});

export const editAuxiliary = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => {
    const auxiliary = theAuxiliary(db, params.id);
    return sendPage(request, reply, formPage({ typed: typedOf(auxiliary), errors: {} }, auxiliary));
  },
});

export const saveAuxiliary = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => {
    const auxiliary = theAuxiliary(db, params.id);
    return submitForm(request, reply, {
      schema: AuxiliaryForm,
      save: (input) => {
        rule.saveAuxiliary(db, auxiliary, auxiliaryInputOf(input), Number(input.version));
        return `/auxiliaries/${auxiliary.auxiliaryId}`;
      },
      again: (form) => formPage(form, auxiliary),
    });
  },
});
