import { exportForm } from '../../../views/exports/form.ts';
import type { FormState } from '../../../views/kit/field.ts';
import { historyOptions } from '../../costing/closedLotFilter.ts';

import type { Db } from '../../db/open.ts';
import type { SavedExportRow } from '../../db/tables/costing.ts';
import { found } from '../../errors.ts';
import { submitForm, typedBody } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { theStudio } from '../../settings/queries.ts';
import { idParams } from '../../typedFields.ts';
import { costLineColumns, lotColumns } from '../columns.ts';
import { documented } from '../present.ts';
import { orderNumberOf, savedExportById } from '../queries.ts';
import { changeExport, columnsOf, saveExport } from '../savedExports.ts';
import { SavedExportForm } from '../schemas.ts';

/** Ticked columns of the kind of rows that was chosen, in their written order. */
const shapeOfForm = (typed: FormState['typed']): unknown => ({
  ...typed,
  columns: Object.keys(typed).flatMap((key) => {
    const [, rows, name] = /^(lot|costLine)\.column\.(\w+)$/.exec(key) ?? [];
    return rows === typed['rows'] && name !== undefined && typed[key] === 'yes' ? [name] : [];
  }),
});

const formPage = (db: Db, form: FormState, saved: SavedExportRow | null): Rendering => {
  const studio = theStudio(db);
  return {
    title: saved ? `Change ${saved.name}` : 'Save an export',
    section: 'history',
    body: exportForm({
      form,
      savedId: saved?.id ?? null,
      choices: historyOptions(db),
      columns: { lot: documented(lotColumns(studio)), costLine: documented(costLineColumns(studio)) },
    }),
  };
};

export const newExport = page({
  show: ({ db }, { request, reply }) =>
    sendPage(
      request,
      reply,
      formPage(
        db,
        { typed: { rows: 'lot', format: 'xlsx', span: 'lastMonth', ...typedBody(request.query) }, errors: {} },
        null,
      ),
    ),
});

export const addExport = page({
  show: (deps, { request, reply }) =>
    submitForm(request, reply, {
      schema: SavedExportForm,
      shape: shapeOfForm,
      save: ({ version: _, ...input }) => {
        saveExport(deps, input, actorOf(request));
        return '/exports';
      },
      again: (form) => formPage(deps.db, form, null),
    }),
});

export const editExport = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => {
    const row = found(savedExportById(db, params.id), 'saved export');
    const typed: Record<string, string> = {
      name: row.name,
      rows: row.rowKind,
      format: row.format,
      span: row.span,
      from: row.fromOn ?? '',
      to: row.toOn ?? '',
      order: row.orderId === null ? '' : (orderNumberOf(db, row.orderId) ?? ''),
      customerId: String(row.customerId ?? ''),
      methodId: String(row.methodId ?? ''),
      fibreId: String(row.fibreId ?? ''),
      version: String(row.version),
    };
    for (const name of columnsOf(row)) typed[`${row.rowKind}.column.${name}`] = 'yes';
    return sendPage(request, reply, formPage(db, { typed, errors: {} }, row));
  },
});

export const saveEdited = page({
  params: idParams,
  show: (deps, { params, request, reply }) => {
    const row = found(savedExportById(deps.db, params.id), 'saved export');
    return submitForm(request, reply, {
      schema: SavedExportForm,
      shape: shapeOfForm,
      save: ({ version, ...input }) => {
        changeExport(deps, row.id, input, version ?? 0);
        return '/exports';
      },
      again: (form) => formPage(deps.db, form, row),
    });
  },
});
