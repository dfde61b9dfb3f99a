import { z } from 'zod';
import type { FormState, Typed } from '../../views/kit/field.ts';
import { methodForm } from '../../views/methods/form.ts';
import { methodsPage } from '../../views/methods/list.ts';
import { methodPage } from '../../views/methods/show.ts';
import { durationText, pctText } from '../calc/quantity.ts';
import type { Deps } from '../deps.ts';
import { notFound } from '../errors.ts';
import type { App } from '../http/app.ts';
import { besideRows, submitForm, typedRows } from '../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../http/page.ts';
import { allows } from '../people/guards.ts';
import { showOf } from '../settings/show.ts';
import { idParams } from '../typedFields.ts';
import {
  archiveMethod,
  auxiliaryChoices,
  choicesOf,
  listMethods,
  lotCountOfMethod,
  type MethodWithParts,
  methodWithParts,
  swatchCountOfMethod,
} from './queries.ts';
import { createMethod, methodInputOf, saveMethod } from './saveMethod.ts';
import { MethodBody, MethodForm, type MethodInput, MethodListed, MethodResource } from './schemas.ts';

const found = (row: MethodWithParts | undefined): MethodWithParts => {
  if (!row) throw notFound('method');
  return row;
};

const STEP = ['stepName', 'duration', 'temp', 'handsOn', 'stepNote'] as const;
const LINE = ['auxiliaryId', 'amount', 'basis', 'vessel'] as const;
const ENTRY = ['label', 'kind', 'unit', 'choices'] as const;

/** The three groups of rows; a row whose selects alone stand is an empty one. */
const groupsOf = (typed: Typed) => ({
  steps: typedRows(typed, STEP),
  auxiliaries: typedRows(typed, LINE).filter((r) => r.auxiliaryId !== '' || r.amount !== ''),
  fields: typedRows(typed, ENTRY).filter((r) => r.label !== '' || r.unit !== '' || r.choices !== ''),
});

const shapeOf = (typed: Typed): unknown => ({ ...typed, version: typed['version'] || undefined, ...groupsOf(typed) });

const bare = (ppm: number): string => pctText({ ppm }).replace(' %', '');

/** A method as the form's text. */
function typedOf({ method: m, steps, auxiliaries, fields }: MethodWithParts): Record<string, string> {
  const typed: Record<string, string> = {
    name: m.name,
    dyeClass: m.dyeClass ?? '',
    summary: m.summary,
    bathRatio: m.bathMlPerKg === null ? '' : `${m.bathMlPerKg / 1000}:1`,
    soakRatio: m.soakMlPerKg === null ? '' : `${m.soakMlPerKg / 1000}:1`,
    loss: bare(m.lossPpm),
    cautions: m.cautions,
    version: String(m.version),
  };
  steps.forEach((s, i) => {
    typed[`stepName.${i}`] = s.name;
    typed[`duration.${i}`] = durationText({ durationS: s.durationS });
    typed[`temp.${i}`] = s.tempC === null ? '' : `${s.tempC} °C`;
    typed[`handsOn.${i}`] = s.handsOnS === 0 ? '' : durationText({ durationS: s.handsOnS });
    typed[`stepNote.${i}`] = s.note;
  });
  auxiliaries.forEach(({ line }, i) => {
    typed[`auxiliaryId.${i}`] = String(line.auxiliaryId);
    typed[`amount.${i}`] = line.asTyped || String(line.amountMilli / 1000);
    typed[`basis.${i}`] = line.basis;
    typed[`vessel.${i}`] = line.vessel;
  });
  fields.forEach((f, i) => {
    typed[`label.${i}`] = f.label;
    typed[`kind.${i}`] = f.kind;
    typed[`unit.${i}`] = f.unit;
    typed[`choices.${i}`] = choicesOf(f).join(', ');
  });
  return typed;
}

export function pages(app: App, deps: Deps): void {
  const { db } = deps;

  const formPage = (form: FormState, row: MethodWithParts | null): Rendering => {
    const ids = Object.entries(form.typed).flatMap(([k, v]) => (k.startsWith('auxiliaryId.') ? [Number(v)] : []));
    return {
      title: row ? row.method.name : 'Write a method',
      section: 'methods',
      scripts: ['rows.js'],
      body: methodForm({
        form: { typed: form.typed, errors: besideRows(form.errors, groupsOf(form.typed)) },
        methodId: row?.method.id ?? null,
        name: row?.method.name ?? null,
        auxiliaries: auxiliaryChoices(db, ids),
        current: row ? typedOf(row) : null,
      }),
    };
  };

  app.get('/methods', { config: { may: 'look' } }, async (request, reply) =>
    sendPage(request, reply, {
      title: 'Methods',
      section: 'methods',
      body: methodsPage({ methods: listMethods(db), mayWork: allows(request.actor, 'work') }),
    }),
  );

  app.get(
    '/methods/new',
    {
      config: { may: 'work' },
      schema: { querystring: z.object({ from: z.coerce.number().int().positive().optional().catch(undefined) }) },
    },
    async (request, reply) => {
      const { from } = request.query;
      const { version: _version, ...copied } = from === undefined ? {} : typedOf(found(methodWithParts(db, from)));
      const typed = from === undefined ? { loss: '0' } : { ...copied, name: `${(copied as Typed)['name']}, changed` };
      return sendPage(request, reply, formPage({ typed, errors: {} }, null));
    },
  );

  app.post('/methods', { config: { may: 'work' } }, async (request, reply) =>
    submitForm(request, reply, {
      schema: MethodForm,
      shape: shapeOf,
      save: (form) => `/methods/${createMethod(db, methodInputOf(db, form)).id}`,
      again: (form) => formPage(form, null),
    }),
  );

  app.get('/methods/:id', { config: { may: 'look' }, schema: { params: idParams } }, async (request, reply) => {
    const row = found(methodWithParts(db, request.params.id));
    return sendPage(request, reply, {
      title: row.method.name,
      section: 'methods',
      body: methodPage({
        method: row.method,
        steps: row.steps,
        auxiliaries: row.auxiliaries.map(({ line, auxiliary }) => ({ ...line, name: auxiliary.name })),
        fields: row.fields.map((f) => ({ ...f, choices: choicesOf(f) })),
        lotCount: lotCountOfMethod(db, row.method.id),
        swatchCount: swatchCountOfMethod(db, row.method.id),
        show: showOf(db),
        mayWork: allows(request.actor, 'work'),
      }),
    });
  });

  app.get('/methods/:id/edit', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) => {
    const row = found(methodWithParts(db, request.params.id));
    return sendPage(request, reply, formPage({ typed: typedOf(row), errors: {} }, row));
  });

  app.post('/methods/:id', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) => {
    const { id } = request.params;
    found(methodWithParts(db, id));
    return submitForm(request, reply, {
      schema: MethodForm,
      shape: shapeOf,
      save: (form) => {
        saveMethod(db, id, methodInputOf(db, form), form.version ?? 0);
        return `/methods/${id}`;
      },
      again: (form) => formPage(form, found(methodWithParts(db, id))),
    });
  });

  for (const [noun, archived] of [
    ['archiving', true],
    ['restoring', false],
  ] as const) {
    app.post(
      `/methods/:id/${noun}`,
      { config: { may: 'work' }, schema: { params: idParams } },
      async (request, reply) => {
        found(methodWithParts(db, request.params.id));
        archiveMethod(db, request.params.id, archived ? deps.now() : null);
        return seeOther(reply, `/methods/${request.params.id}`);
      },
    );
  }
}

/** A method as the API gives it; the same shape as it takes, so that one may send back what one got. */
const inputOf = ({ method, steps, auxiliaries, fields }: MethodWithParts): MethodInput => ({
  name: method.name,
  dyeClass: method.dyeClass,
  summary: method.summary,
  bathMlPerKg: method.bathMlPerKg,
  soakMlPerKg: method.soakMlPerKg,
  lossPpm: method.lossPpm,
  cautions: method.cautions,
  steps: steps.map(({ name, durationS, tempC, handsOnS, note }) => ({ name, durationS, tempC, handsOnS, note })),
  auxiliaries: auxiliaries.map(({ line }) => ({
    auxiliaryId: line.auxiliaryId,
    vessel: line.vessel,
    basis: line.basis,
    amountMilli: line.amountMilli,
    asTyped: line.asTyped,
  })),
  fields: fields.map((f) => ({ label: f.label, kind: f.kind, unit: f.unit, choices: choicesOf(f) })),
});

export function api(app: App, deps: Deps): void {
  const { db } = deps;
  const tags = ['Methods'];
  const resource = (methodId: number) => {
    const row = found(methodWithParts(db, methodId));
    return {
      ...inputOf(row),
      methodId: row.method.id,
      archived: row.method.archivedAt !== null,
      version: row.method.version,
    };
  };

  app.get(
    '/methods',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'listMethods',
        tags,
        summary: 'Every method in use',
        response: { 200: z.object({ methods: z.array(MethodListed) }) },
      },
    },
    async () => ({ methods: listMethods(db).map(({ id, ...row }) => ({ ...row, methodId: id })) }),
  );

  app.get(
    '/methods/:id',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'getMethod',
        tags,
        summary: 'One method, whole',
        params: idParams,
        response: { 200: MethodResource },
      },
    },
    async (request) => resource(request.params.id),
  );

  app.post(
    '/methods',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'addMethod',
        tags,
        summary: 'Write a method',
        body: MethodBody,
        response: { 201: MethodResource },
      },
    },
    async (request, reply) => {
      reply.code(201);
      return resource(createMethod(db, request.body).id);
    },
  );

  app.put(
    '/methods/:id',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'saveMethod',
        tags,
        summary: 'Save a method as a whole against the version that was read',
        params: idParams,
        body: MethodBody.extend({ version: z.number().int() }).meta({ id: 'ChangedMethod' }),
        response: { 200: MethodResource },
      },
    },
    async (request) => {
      const { version, ...input } = request.body;
      return resource(saveMethod(db, request.params.id, input, version).id);
    },
  );

  app.post(
    '/methods/:id/copies',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'copyMethod',
        tags,
        summary: 'Start a method from a copy of another',
        params: idParams,
        body: z.object({ name: z.string().trim().min(1).max(80) }).meta({ id: 'NewMethodCopy' }),
        response: { 201: MethodResource },
      },
    },
    async (request, reply) => {
      const from = found(methodWithParts(db, request.params.id));
      reply.code(201);
      return resource(createMethod(db, { ...inputOf(from), name: request.body.name }).id);
    },
  );

  for (const [noun, archived] of [
    ['archiving', true],
    ['restoring', false],
  ] as const) {
    app.post(
      `/methods/:id/${noun}`,
      {
        config: { may: 'work' },
        schema: {
          operationId: archived ? 'archiveMethod' : 'restoreMethod',
          tags,
          summary: archived ? 'Put a method in the archive' : 'Take a method out of the archive',
          params: idParams,
          response: { 200: MethodResource },
        },
      },
      async (request) => {
        found(methodWithParts(db, request.params.id));
        archiveMethod(db, request.params.id, archived ? deps.now() : null);
        return resource(request.params.id);
      },
    );
  }
}
