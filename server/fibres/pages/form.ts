import { fibreForm } from '../../../views/fibres/form.ts';
import type { FormState } from '../../../views/kit/field.ts';
import * as show from '../../../views/kit/show.ts';
import { pctTyped } from '../../calc/quantity.ts';
import type { Db } from '../../db/open.ts';
import type { FibreRow } from '../../db/tables/materials.ts';
import { found, stale } from '../../errors.ts';
import { submitForm } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { theStudio } from '../../settings/queries.ts';
import { showOf } from '../../settings/show.ts';
import { idParams } from '../../typedFields.ts';
import { fibreById, insertFibre, updateFibre } from '../queries.ts';
import { FibreForm, fibreInputOf } from '../schemas.ts';

/** The row as the form's text. */
const typedOf = (row: FibreRow, s: show.Show): Record<string, string> => ({
  name: row.name,
  class: row.class,
  kind: row.kind,
  construction: row.construction,
  arealMass: row.arealMassMgPerM2 === null ? '' : String(row.arealMassMgPerM2 / 1000),
  width: row.widthMm === null ? '' : show.length(s, row.widthMm),
  countText: row.countText,
  putUpMass: row.putUpMassMg === null ? '' : show.mass(s, row.putUpMassMg),
  putUpLength: row.putUpLengthMm === null ? '' : show.length(s, row.putUpLengthMm),
  regain: pctTyped({ ppm: row.regainPpm }),
  shrinkLength: pctTyped({ ppm: row.shrinkLengthPpm }),
  shrinkWidth: pctTyped({ ppm: row.shrinkWidthPpm }),
  uptake: pctTyped({ ppm: row.uptakePpm }),
  costPerKg: row.costMinorPerKg === null ? '' : show.plainMoney(s, row.costMinorPerKg),
  note: row.note,
  version: String(row.version),
});

const NEW: FormState = { typed: { kind: 'cloth', class: 'cellulose', uptake: '100' }, errors: {} };

const formPage = (db: Db, form: FormState, row: FibreRow | null): Rendering => ({
  title: row ? row.name : 'New fibre',
  section: 'fibres',
  body: fibreForm({ form, fibreId: row?.id ?? null, name: row?.name ?? null, currency: theStudio(db).currency }),
});

export const newFibre = page({
  show: ({ db }, { request, reply }) => sendPage(request, reply, formPage(db, NEW, null)),
});

export const addFibre = page({
  show: ({ db }, { request, reply }) =>
    submitForm(request, reply, {
      schema: FibreForm(theStudio(db).currency),
      save: (input) => `/fibres/${insertFibre(db, fibreInputOf(input)).id}`,
      again: (form) => formPage(db, form, null),
    }),
});

export const editFibre = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => {
    const row = found(fibreById(db, params.id), 'fibre');
    return sendPage(request, reply, formPage(db, { typed: typedOf(row, showOf(db)), errors: {} }, row));
  },
});

export const saveFibre = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => {
    const row = found(fibreById(db, params.id), 'fibre');
    return submitForm(request, reply, {
      schema: FibreForm(theStudio(db).currency),
      save: (input) => {
        if (!updateFibre(db, row.id, fibreInputOf(input), Number(input.version))) throw stale('fibre');
        return '/fibres';
      },
      again: (form) => formPage(db, form, row),
    });
  },
});
