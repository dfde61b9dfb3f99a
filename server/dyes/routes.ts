import { z } from 'zod';
import { dyeForm, dyePage, dyesPage } from '../../views/dyes/dyes.ts';
import type { FormState } from '../../views/kit/field.ts';
import { pctText } from '../calc/quantity.ts';
import type { DyeRow } from '../db/tables/materials.ts';
import type { Deps } from '../deps.ts';
import { notFound, Refusal } from '../errors.ts';
import type { App } from '../http/app.ts';
import { submitForm } from '../http/forms.ts';
import { type Rendering, sendPage } from '../http/page.ts';
import { allows } from '../people/guards.ts';
import { dayOf } from '../settings/days.ts';
import { theStudio } from '../settings/queries.ts';
import { showOf } from '../settings/show.ts';
import { idParams } from '../typedFields.ts';
import {
  archivedDyes,
  closedContainerCountOfDye,
  type DyeOnShelf,
  dyeOnShelf,
  insertDye,
  listDyes,
  newestSwatchesWithDye,
  openContainersOfDye,
  recipesWithDye,
  setDyeArchived,
  swatchCountWithDye,
  updateDye,
} from './queries.ts';
import { DyeBody, DyeChange, DyeForm, DyeResource, DyeUses, dyeInputOf } from './schemas.ts';

const SWATCHES_SHOWN = 24;

const found = (row: DyeOnShelf | undefined): DyeOnShelf => {
  if (!row) throw notFound('dye');
  return row;
};

const stale = (): Refusal =>
  new Refusal(
    'staleEdit',
    'Somebody saved this dye meanwhile. What you typed is below; open its page again to see theirs.',
  );

const resource = ({
  id,
  archivedAt,
  singleColourant,
  receivedMg: _received,
  recalledContainers: _recalled,
  bestBeforeOn: _bestBefore,
  ...row
}: DyeOnShelf) => ({ ...row, dyeId: id, singleColourant: singleColourant === 1, archived: archivedAt !== null });

const pct = (ppm: number | null): string => (ppm === null ? '' : pctText({ ppm }).replace(' %', ''));

/** The row as the form's text. */
const typedOf = (row: DyeRow): Record<string, string> => ({
  code: row.code,
  name: row.name,
  class: row.class,
  colourant: row.singleColourant === 1 ? 'single' : 'mixed',
  ciName: row.ciName,
  shownHex: row.shownHex ?? '',
  pale: pct(row.palePpm),
  medium: pct(row.mediumPpm),
  deep: pct(row.deepPpm),
  solutionLifeDays: row.solutionLifeDays === null ? '' : String(row.solutionLifeDays),
  hazardCodes: row.hazardCodes,
  sdsUrl: row.sdsUrl,
  note: row.note,
  version: String(row.version),
});

export function pages(app: App, deps: Deps): void {
  const { db } = deps;
  const today = (): string => dayOf(deps.now(), theStudio(db).zone);
  const formPage = (form: FormState, row: DyeRow | null): Rendering => ({
    title: row ? row.name : 'New dye',
    section: 'dyes',
    body: dyeForm({ form, dyeId: row?.id ?? null, name: row?.name ?? null }),
  });

  app.get('/dyes', { config: { may: 'look' } }, async (request, reply) =>
    sendPage(request, reply, {
      title: 'Dyes',
      section: 'dyes',
      body: dyesPage({
        dyes: listDyes(db),
        archived: archivedDyes(db),
        mayWork: allows(request.actor, 'work'),
        show: showOf(db),
        todayOn: today(),
      }),
    }),
  );

  app.get('/dyes/new', { config: { may: 'work' } }, async (request, reply) =>
    sendPage(request, reply, formPage({ typed: { class: 'reactive', colourant: 'single' }, errors: {} }, null)),
  );

  app.post('/dyes', { config: { may: 'work' } }, async (request, reply) =>
    submitForm(request, reply, {
      schema: DyeForm,
      save: (input) => `/dyes/${insertDye(db, dyeInputOf(input)).id}`,
      again: (form) => formPage(form, null),
    }),
  );

  app.get('/dyes/:id', { config: { may: 'look' }, schema: { params: idParams } }, async (request, reply) => {
    const dye = found(dyeOnShelf(db, request.params.id));
    return sendPage(request, reply, {
      title: dye.name,
      section: 'dyes',
      body: dyePage({
        dye,
        containers: openContainersOfDye(db, dye.id),
        closedCount: closedContainerCountOfDye(db, dye.id),
        recipes: recipesWithDye(db, dye.id),
        swatches: newestSwatchesWithDye(db, dye.id, SWATCHES_SHOWN),
        swatchCount: swatchCountWithDye(db, dye.id),
        mayWork: allows(request.actor, 'work'),
        show: showOf(db),
        todayOn: today(),
      }),
    });
  });

  app.get('/dyes/:id/edit', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) => {
    const row = found(dyeOnShelf(db, request.params.id));
    return sendPage(request, reply, formPage({ typed: typedOf(row), errors: {} }, row));
  });

  app.post('/dyes/:id', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) => {
    const row = found(dyeOnShelf(db, request.params.id));
    return submitForm(request, reply, {
      schema: DyeForm,
      save: (input) => {
        if (!updateDye(db, row.id, dyeInputOf(input), Number(input.version))) throw stale();
        return `/dyes/${row.id}`;
      },
      again: (form) => formPage(form, row),
    });
  });

  app.post('/dyes/:id/archiving', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) => {
    const row = found(dyeOnShelf(db, request.params.id));
    return submitForm(request, reply, {
      schema: z.object({ archived: z.enum(['yes', 'no']) }),
      save: ({ archived }) => {
        setDyeArchived(db, row.id, archived === 'yes' ? deps.now() : null);
        return archived === 'yes' ? '/dyes' : `/dyes/${row.id}`;
      },
      again: (form) => formPage(form, row),
    });
  });
}

export function api(app: App, deps: Deps): void {
  const { db } = deps;
  const tags = ['Dyes'];

  app.get(
    '/dyes',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'listDyes',
        tags,
        summary: 'Every dye in use, with what is on hand',
        response: { 200: z.object({ dyes: z.array(DyeResource) }) },
      },
    },
    async () => ({ dyes: listDyes(db).map(resource) }),
  );

  app.get(
    '/dyes/:id',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'getDye',
        tags,
        summary: 'One dye',
        params: idParams,
        response: { 200: DyeResource },
      },
    },
    async (request) => resource(found(dyeOnShelf(db, request.params.id))),
  );

  app.get(
    '/dyes/:id/uses',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'getDyeUses',
        tags,
        summary: 'Recipes and newest swatches that use a dye',
        params: idParams,
        response: { 200: DyeUses },
      },
    },
    async (request) => {
      const { id } = found(dyeOnShelf(db, request.params.id));
      return {
        recipes: recipesWithDye(db, id),
        swatches: newestSwatchesWithDye(db, id, SWATCHES_SHOWN),
        swatchCount: swatchCountWithDye(db, id),
      };
    },
  );

  app.post(
    '/dyes',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'addDye',
        tags,
        summary: 'Add a dye',
        body: DyeBody,
        response: { 201: DyeResource },
      },
    },
    async (request, reply) => {
      reply.code(201);
      return resource(found(dyeOnShelf(db, insertDye(db, request.body).id)));
    },
  );

  app.put(
    '/dyes/:id',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'saveDye',
        tags,
        summary: 'Save a dye against the version that was read',
        params: idParams,
        body: DyeChange,
        response: { 200: DyeResource },
      },
    },
    async (request) => {
      const { version, ...input } = request.body;
      const { id } = found(dyeOnShelf(db, request.params.id));
      if (!updateDye(db, id, input, version)) throw stale();
      return resource(found(dyeOnShelf(db, id)));
    },
  );
}
