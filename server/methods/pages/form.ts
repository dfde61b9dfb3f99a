import { z } from 'zod';
import type { FormState, Typed } from '../../../views/kit/field.ts';
import { methodForm } from '../../../views/methods/form.ts';
import { durationText, pctTyped } from '../../calc/quantity.ts';
import type { Db } from '../../db/open.ts';
import { besideRows, submitForm, typedRows, versionTyped } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { idParams } from '../../typedFields.ts';
import { methodResource, theMethod } from '../present.ts';
import { auxiliaryChoices } from '../queries.ts';
import { createMethod, methodInputOf, saveMethod as save } from '../saveMethod.ts';
import { type Method, MethodForm } from '../schemas.ts';

const STEP = ['stepName', 'duration', 'temp', 'handsOn', 'stepNote'] as const;
const LINE = ['auxiliaryId', 'amount', 'basis', 'vessel'] as const;
const ENTRY = ['label', 'kind', 'unit', 'choices'] as const;

/** The three groups of rows; a row of which only the selects say something is an empty one. */
const groupsOf = (typed: Typed) => ({
  steps: typedRows(typed, STEP),
  auxiliaries: typedRows(typed, LINE).filter((r) => r.auxiliaryId !== '' || r.amount !== ''),
  fields: typedRows(typed, ENTRY).filter((r) => r.label !== '' || r.unit !== '' || r.choices !== ''),
});

const shape = (typed: Typed): unknown => ({ ...versionTyped(typed), ...groupsOf(typed) });

const ratioTyped = (mlPerKg: number | null): string => (mlPerKg === null ? '' : `${mlPerKg / 1000}:1`);

/** A method as the form's text. */
function typedOf(m: Method): Record<string, string> {
  const typed: Record<string, string> = {
    name: m.name,
    dyeClass: m.dyeClass ?? '',
    summary: m.summary,
    bathRatio: ratioTyped(m.bathMlPerKg),
    soakRatio: ratioTyped(m.soakMlPerKg),
    loss: pctTyped({ ppm: m.lossPpm }),
    cautions: m.cautions,
    version: String(m.version),
  };
  const put = (row: number, fields: Record<string, string>): void => {
    for (const [name, value] of Object.entries(fields)) typed[`${name}.${row}`] = value;
  };
  m.steps.forEach((s, i) => {
    put(i, {
      stepName: s.name,
      duration: durationText({ durationS: s.durationS }),
      temp: s.tempC === null ? '' : `${s.tempC} °C`,
      handsOn: s.handsOnS === 0 ? '' : durationText({ durationS: s.handsOnS }),
      stepNote: s.note,
    });
  });
  m.auxiliaries.forEach(({ auxiliaryId, asTyped, amountMilli, basis, vessel }, i) => {
    put(i, { auxiliaryId: String(auxiliaryId), amount: asTyped || String(amountMilli / 1000), basis, vessel });
  });
  m.fields.forEach(({ label, kind, unit, choices }, i) => {
    put(i, { label, kind, unit, choices: choices.join(', ') });
  });
  return typed;
}

function formPage(db: Db, form: FormState, method: Method | null): Rendering {
  const ids = Object.entries(form.typed).flatMap(([k, v]) => (k.startsWith('auxiliaryId.') ? [Number(v)] : []));
  return {
    title: method ? method.name : 'Write a method',
    section: 'methods',
    scripts: ['rows.js'],
    body: methodForm({
      form: { typed: form.typed, errors: besideRows(form.errors, groupsOf(form.typed)) },
      methodId: method?.methodId ?? null,
      name: method?.name ?? null,
      auxiliaries: auxiliaryChoices(db, ids),
      current: method && typedOf(method),
    }),
  };
}

function copyOf(method: Method): Typed {
  const { version: _version, ...typed } = typedOf(method);
  return { ...typed, name: `${method.name}, changed` };
}

export const newMethod = page({
  query: z.object({ from: z.coerce.number().int().positive().optional().catch(undefined) }),
  show: ({ db }, { query: { from }, request, reply }) => {
    const typed = from === undefined ? { loss: '0' } : copyOf(methodResource(theMethod(db, from)));
    return sendPage(request, reply, formPage(db, { typed, errors: {} }, null));
  },
});

export const addMethod = page({
  show: ({ db }, { request, reply }) =>
    submitForm(request, reply, {
      schema: MethodForm,
      shape,
      save: (form) => `/methods/${createMethod(db, methodInputOf(db, form)).id}`,
      again: (form) => formPage(db, form, null),
    }),
});

export const editMethod = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => {
    const method = methodResource(theMethod(db, params.id));
    return sendPage(request, reply, formPage(db, { typed: typedOf(method), errors: {} }, method));
  },
});

export const saveMethod = page({
  params: idParams,
  show: ({ db }, { params: { id }, request, reply }) => {
    theMethod(db, id);
    return submitForm(request, reply, {
      schema: MethodForm,
      shape,
      save: (form) => {
        save(db, id, methodInputOf(db, form), form.version ?? 0);
        return `/methods/${id}`;
      },
      again: (form) => formPage(db, form, methodResource(theMethod(db, id))),
    });
  },
});
