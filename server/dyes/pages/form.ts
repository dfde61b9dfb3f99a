import { dyeForm } from '../../../views/dyes/form.ts';
import type { FormState } from '../../../views/kit/field.ts';
import { pctTyped } from '../../calc/quantity.ts';
import { stale } from '../../errors.ts';
import { submitForm } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { idParams } from '../../typedFields.ts';
import { theDye } from '../present.ts';
import { insertDye, updateDye } from '../queries.ts';
import { type Dye, DyeForm, dyeInputOf } from '../schemas.ts';

/** A dye as the form's text. */
const typedOf = (dye: Dye): Record<string, string> => ({
  code: dye.code,
  name: dye.name,
  class: dye.class,
  colourant: dye.singleColourant ? 'single' : 'mixed',
  ciName: dye.ciName,
  shownHex: dye.shownHex ?? '',
  pale: pctTyped({ ppm: dye.palePpm }),
  medium: pctTyped({ ppm: dye.mediumPpm }),
  deep: pctTyped({ ppm: dye.deepPpm }),
  solutionLifeDays: dye.solutionLifeDays === null ? '' : String(dye.solutionLifeDays),
  hazardCodes: dye.hazardCodes,
  sdsUrl: dye.sdsUrl,
  note: dye.note,
  version: String(dye.version),
});

const NEW: FormState = { typed: { class: 'reactive', colourant: 'single' }, errors: {} };

export const formPage = (form: FormState, dye: Dye | null): Rendering => ({
  title: dye ? dye.name : 'New dye',
  section: 'dyes',
  body: dyeForm({ form, dyeId: dye?.dyeId ?? null, name: dye?.name ?? null }),
});

export const newDye = page({ show: (_, { request, reply }) => sendPage(request, reply, formPage(NEW, null)) });

export const addDye = page({
  show: ({ db }, { request, reply }) =>
    submitForm(request, reply, {
      schema: DyeForm,
      save: (input) => `/dyes/${insertDye(db, dyeInputOf(input)).id}`,
      again: (form) => formPage(form, null),
    }),
});

export const editDye = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => {
    const dye = theDye(db, params.id);
    return sendPage(request, reply, formPage({ typed: typedOf(dye), errors: {} }, dye));
  },
});

export const saveDye = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => {
    const dye = theDye(db, params.id);
    return submitForm(request, reply, {
      schema: DyeForm,
      save: (input) => {
        if (!updateDye(db, dye.dyeId, dyeInputOf(input), Number(input.version))) throw stale('dye');
        return `/dyes/${dye.dyeId}`;
      },
      again: (form) => formPage(form, dye),
    });
  },
});
