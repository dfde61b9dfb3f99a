import { z } from 'zod';
import { fibreForm, fibresPage } from '../../views/fibres/fibres.ts';
import type { FormState } from '../../views/kit/field.ts';
import * as show from '../../views/kit/show.ts';
import { pctText } from '../calc/quantity.ts';
import type { FibreRow } from '../db/tables/materials.ts';
import type { Deps } from '../deps.ts';
import { notFound, Refusal } from '../errors.ts';
import type { App } from '../http/app.ts';
import { submitForm } from '../http/forms.ts';
import { type Rendering, sendPage } from '../http/page.ts';
import { theStudio } from '../settings/queries.ts';
import { showOf } from '../settings/show.ts';
import { idParams } from '../typedFields.ts';
import { fibreById, insertFibre, listFibres, updateFibre } from './queries.ts';
import { FibreBody, FibreForm, FibreResource, fibreInputOf } from './schemas.ts';

const found = (row: FibreRow | undefined): FibreRow => {
  if (!row) throw notFound('fibre');
  return row;
};

const stale = (): Refusal =>
  new Refusal(
    'staleEdit',
    'Somebody saved this fibre meanwhile. What you typed is below; open its page again to see theirs.',
  );

const resource = ({ id, archivedAt, texMilli: _tex, ...row }: FibreRow) => ({
  ...row,
  fibreId: id,
  archived: archivedAt !== null,
});

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
  regain: row.regainPpm === null ? '' : pctText({ ppm: row.regainPpm }).replace(' %', ''),
  shrinkLength: pctText({ ppm: row.shrinkLengthPpm }).replace(' %', ''),
  shrinkWidth: pctText({ ppm: row.shrinkWidthPpm }).replace(' %', ''),
  uptake: pctText({ ppm: row.uptakePpm }).replace(' %', ''),
  costPerKg: row.costMinorPerKg === null ? '' : show.plainMoney(s, row.costMinorPerKg),
  note: row.note,
  version: String(row.version),
});

export function pages(app: App, deps: Deps): void {
  const { db } = deps;
  const formPage = (form: FormState, row: FibreRow | null): Rendering => ({
    title: row ? row.name : 'New fibre',
    section: 'fibres',
    body: fibreForm({ form, fibreId: row?.id ?? null, name: row?.name ?? null, currency: theStudio(db).currency }),
  });

  app.get('/fibres', { config: { may: 'look' } }, async (request, reply) =>
    sendPage(request, reply, {
      title: 'Fibres',
      section: 'fibres',
      body: fibresPage({ fibres: listFibres(db), show: showOf(db) }),
    }),
  );

  app.get('/fibres/new', { config: { may: 'work' } }, async (request, reply) =>
    sendPage(
      request,
      reply,
      formPage({ typed: { kind: 'cloth', class: 'cellulose', uptake: '100' }, errors: {} }, null),
    ),
  );

  app.post('/fibres', { config: { may: 'work' } }, async (request, reply) =>
    submitForm(request, reply, {
      schema: FibreForm(theStudio(db).currency),
      save: (input) => `/fibres/${insertFibre(db, fibreInputOf(input)).id}`,
      again: (form) => formPage(form, null),
    }),
  );

  app.get('/fibres/:id', { config: { may: 'look' }, schema: { params: idParams } }, async (request, reply) => {
    const row = found(fibreById(db, request.params.id));
    return sendPage(request, reply, formPage({ typed: typedOf(row, showOf(db)), errors: {} }, row));
  });

  app.post('/fibres/:id', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) => {
    const row = found(fibreById(db, request.params.id));
    return submitForm(request, reply, {
      schema: FibreForm(theStudio(db).currency),
      save: (input) => {
        if (!updateFibre(db, row.id, fibreInputOf(input), Number(input.version))) throw stale();
        return '/fibres';
      },
      again: (form) => formPage(form, row),
    });
  });
}

export function api(app: App, deps: Deps): void {
  const { db } = deps;
  const tags = ['Fibres'];

  app.get(
    '/fibres',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'listFibres',
        tags,
        summary: 'Every fibre in use',
        response: { 200: z.object({ fibres: z.array(FibreResource) }) },
      },
    },
    async () => ({
      fibres: listFibres(db).map(resource),
    }),
  );

  app.get(
    '/fibres/:id',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'getFibre',
        tags,
        summary: 'One fibre',
        params: idParams,
        response: { 200: FibreResource },
      },
    },
    async (request) => resource(found(fibreById(db, request.params.id))),
  );

  app.post(
    '/fibres',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'addFibre',
        tags,
        summary: 'Add a fibre',
        body: FibreBody,
        response: { 201: FibreResource },
      },
    },
    async (request, reply) => {
      reply.code(201);
      return resource(insertFibre(db, request.body));
    },
  );

  app.put(
    '/fibres/:id',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'saveFibre',
        tags,
        summary: 'Save a fibre against the version that was read',
        params: idParams,
        body: FibreBody.extend({ version: z.number().int() }),
        response: { 200: FibreResource },
      },
    },
    async (request) => {
      const { version, ...input } = request.body;
      found(fibreById(db, request.params.id));
      const saved = updateFibre(db, request.params.id, input, version);
      if (!saved) throw stale();
      return resource(saved);
    },
  );
}
