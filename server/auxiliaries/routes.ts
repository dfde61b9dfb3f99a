import { z } from 'zod';
import {
  auxiliariesPage,
  auxiliaryForm,
  auxiliaryPage,
  type ScoopAnswer,
  scoopAnswer,
} from '../../views/auxiliaries/auxiliaries.ts';
import { emptyForm, type FormState } from '../../views/kit/field.ts';
import { pctText } from '../calc/quantity.ts';
import type { AuxiliaryRow } from '../db/tables/materials.ts';
import type { Deps } from '../deps.ts';
import { invalid, notFound, Refusal } from '../errors.ts';
import type { App } from '../http/app.ts';
import { submitForm, typedBody, zodFieldErrors } from '../http/forms.ts';
import { type Rendering, sendPage } from '../http/page.ts';
import { allows } from '../people/guards.ts';
import { dayOf } from '../settings/days.ts';
import { theStudio } from '../settings/queries.ts';
import { showOf } from '../settings/show.ts';
import { idParams } from '../typedFields.ts';
import { cupMassMg, scoopMassMg } from './cups.ts';
import {
  type AuxiliaryOnShelf,
  archivedAuxiliaries,
  auxiliaryOnShelf,
  closedContainerCountOfAuxiliary,
  hasContainers,
  insertAuxiliary,
  listAuxiliaries,
  methodsWithAuxiliary,
  openContainersOfAuxiliary,
  setAuxiliaryArchived,
  updateAuxiliary,
} from './queries.ts';
import {
  AuxiliaryBody,
  AuxiliaryChange,
  AuxiliaryForm,
  type AuxiliaryInput,
  AuxiliaryResource,
  auxiliaryInputOf,
  ScoopForm,
} from './schemas.ts';

const found = (row: AuxiliaryOnShelf | undefined): AuxiliaryOnShelf => {
  if (!row) throw notFound('auxiliary');
  return row;
};

const stale = (): Refusal =>
  new Refusal(
    'staleEdit',
    'Somebody saved this auxiliary meanwhile. What you typed is below; open its page again to see theirs.',
  );

const resource = ({
  id,
  archivedAt,
  receivedQuantity: _received,
  recalledContainers: _recalled,
  bestBeforeOn: _bestBefore,
  ...row
}: AuxiliaryOnShelf) => ({
  ...row,
  auxiliaryId: id,
  unit: row.form === 'liquid' ? ('ul' as const) : ('mg' as const),
  cupMassMg: cupMassMg(row),
  archived: archivedAt !== null,
});

const pct = (ppm: number | null): string => (ppm === null ? '' : pctText({ ppm }).replace(' %', ''));

/** The row as the form's text. */
const typedOf = (row: AuxiliaryRow): Record<string, string> => ({
  code: row.code,
  name: row.name,
  form: row.form,
  hydrate: row.hydrate,
  grade: row.grade,
  bulkDensity: row.bulkDensityGPerL === null ? '' : String(row.bulkDensityGPerL),
  solutionConc: pct(row.solutionConcPpm),
  hazardCodes: row.hazardCodes,
  sdsUrl: row.sdsUrl,
  note: row.note,
  version: String(row.version),
});

/** Saves both doors' change. The ledger of a container counts in mg or µL, so the form stands once there is one. */
function save(deps: Deps, row: AuxiliaryOnShelf, input: AuxiliaryInput, version: number): void {
  if (input.form !== row.form && hasContainers(deps.db, row.id)) {
    throw invalid({ form: `Its containers are counted as ${row.form}; add another auxiliary for the ${input.form}.` });
  }
  if (!updateAuxiliary(deps.db, row.id, input, version)) throw stale();
}

export function pages(app: App, deps: Deps): void {
  const { db } = deps;
  const today = (): string => dayOf(deps.now(), theStudio(db).zone);
  const formPage = (form: FormState, row: AuxiliaryRow | null): Rendering => ({
    title: row ? row.name : 'New auxiliary',
    section: 'auxiliaries',
    body: auxiliaryForm({ form, auxiliaryId: row?.id ?? null, name: row?.name ?? null }),
  });

  app.get('/auxiliaries', { config: { may: 'look' } }, async (request, reply) =>
    sendPage(request, reply, {
      title: 'Auxiliaries',
      section: 'auxiliaries',
      body: auxiliariesPage({
        auxiliaries: listAuxiliaries(db),
        archived: archivedAuxiliaries(db),
        mayWork: allows(request.actor, 'work'),
        show: showOf(db),
        todayOn: today(),
      }),
    }),
  );

  app.get('/auxiliaries/new', { config: { may: 'work' } }, async (request, reply) =>
    sendPage(request, reply, formPage({ typed: { form: 'solid' }, errors: {} }, null)),
  );

  app.post('/auxiliaries', { config: { may: 'work' } }, async (request, reply) =>
    submitForm(request, reply, {
      schema: AuxiliaryForm,
      save: (input) => `/auxiliaries/${insertAuxiliary(db, auxiliaryInputOf(input)).id}`,
      again: (form) => formPage(form, null),
    }),
  );

  app.get('/auxiliaries/:id', { config: { may: 'look' }, schema: { params: idParams } }, async (request, reply) => {
    const auxiliary = found(auxiliaryOnShelf(db, request.params.id));
    const { answer, form } = scooped(auxiliary, typedBody(request.query));
    const show = showOf(db);
    return sendPage(request, reply, {
      title: auxiliary.name,
      section: 'auxiliaries',
      part: scoopAnswer({ answer, form, show }),
      body: auxiliaryPage({
        auxiliary,
        cupMassMg: cupMassMg(auxiliary),
        form,
        answer,
        containers: openContainersOfAuxiliary(db, auxiliary.id),
        closedCount: closedContainerCountOfAuxiliary(db, auxiliary.id),
        methods: methodsWithAuxiliary(db, auxiliary.id),
        mayWork: allows(request.actor, 'work'),
        show,
        todayOn: today(),
      }),
    });
  });

  app.get(
    '/auxiliaries/:id/edit',
    { config: { may: 'work' }, schema: { params: idParams } },
    async (request, reply) => {
      const row = found(auxiliaryOnShelf(db, request.params.id));
      return sendPage(request, reply, formPage({ typed: typedOf(row), errors: {} }, row));
    },
  );

  app.post('/auxiliaries/:id', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) => {
    const row = found(auxiliaryOnShelf(db, request.params.id));
    return submitForm(request, reply, {
      schema: AuxiliaryForm,
      save: (input) => {
        save(deps, row, auxiliaryInputOf(input), Number(input.version));
        return `/auxiliaries/${row.id}`;
      },
      again: (form) => formPage(form, row),
    });
  });

  app.post(
    '/auxiliaries/:id/archiving',
    { config: { may: 'work' }, schema: { params: idParams } },
    async (request, reply) => {
      const row = found(auxiliaryOnShelf(db, request.params.id));
      return submitForm(request, reply, {
        schema: z.object({ archived: z.enum(['yes', 'no']) }),
        save: ({ archived }) => {
          setAuxiliaryArchived(db, row.id, archived === 'yes' ? deps.now() : null);
          return archived === 'yes' ? '/auxiliaries' : `/auxiliaries/${row.id}`;
        },
        again: (form) => formPage(form, row),
      });
    },
  );
}

/** The cup-to-gram calculator's answer to what was typed into the address. */
function scooped(
  auxiliary: AuxiliaryOnShelf,
  typed: Record<string, string>,
): { answer: ScoopAnswer | null; form: FormState } {
  if (!typed['scoop']?.trim() || cupMassMg(auxiliary) === null) return { answer: null, form: { ...emptyForm, typed } };
  const read = ScoopForm.safeParse(typed);
  if (!read.success) return { answer: null, form: { typed, errors: zodFieldErrors(read.error) } };
  const volumeUl = read.data.scoop;
  return { answer: { volumeUl, massMg: scoopMassMg(auxiliary, volumeUl) }, form: { typed, errors: {} } };
}

export function api(app: App, deps: Deps): void {
  const { db } = deps;
  const tags = ['Auxiliaries'];

  app.get(
    '/auxiliaries',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'listAuxiliaries',
        tags,
        summary: 'Every auxiliary in use, with what is on hand',
        response: { 200: z.object({ auxiliaries: z.array(AuxiliaryResource) }) },
      },
    },
    async () => ({ auxiliaries: listAuxiliaries(db).map(resource) }),
  );

  app.get(
    '/auxiliaries/:id',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'getAuxiliary',
        tags,
        summary: 'One auxiliary',
        params: idParams,
        response: { 200: AuxiliaryResource },
      },
    },
    async (request) => resource(found(auxiliaryOnShelf(db, request.params.id))),
  );

  app.post(
    '/auxiliaries',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'addAuxiliary',
        tags,
        summary: 'Add an auxiliary',
        body: AuxiliaryBody,
        response: { 201: AuxiliaryResource },
      },
    },
    async (request, reply) => {
      reply.code(201);
      return resource(found(auxiliaryOnShelf(db, insertAuxiliary(db, request.body).id)));
    },
  );

  app.put(
    '/auxiliaries/:id',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'saveAuxiliary',
        tags,
        summary: 'Save an auxiliary against the version that was read',
        params: idParams,
        body: AuxiliaryChange,
        response: { 200: AuxiliaryResource },
      },
    },
    async (request) => {
      const { version, ...input } = request.body;
      const row = found(auxiliaryOnShelf(db, request.params.id));
      save(deps, row, input, version);
      return resource(found(auxiliaryOnShelf(db, row.id)));
    },
  );
}
