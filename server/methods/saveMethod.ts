import type { z } from 'zod';
import { CalcError } from '../calc/calcError.ts';
import type { Db } from '../db/open.ts';
import type { MethodRow } from '../db/tables/recipes.ts';
import { demandNone, type FieldErrors, found, stale } from '../errors.ts';
import { amountMilliOf } from './amounts.ts';
import { archiveMethod, auxiliaryChoices, insertMethod, methodById, replaceParts, updateMethod } from './queries.ts';
import type { MethodForm, MethodInput } from './schemas.ts';

/** Adds a method with its steps, auxiliary lines and entries. */
export function createMethod(db: Db, input: MethodInput): MethodRow {
  return db.transaction((tx) => {
    refuseImpossible(tx, input);
    const method = insertMethod(tx, input);
    replaceParts(tx, method.id, input);
    return method;
  });
}

/** Saves a method as a whole against the version that was read. Lots that stand on it keep their own snapshot. */
export function saveMethod(db: Db, methodId: number, input: MethodInput, version: number): MethodRow {
  return db.transaction((tx) => {
    found(methodById(tx, methodId), 'method');
    refuseImpossible(tx, input);
    const saved = updateMethod(tx, methodId, input, version);
    if (!saved) throw stale('method', 'beside');
    replaceParts(tx, methodId, input);
    return saved;
  });
}

/** Puts a method in the archive, or takes it out; what was planned by it keeps it. */
export function setMethodArchived(db: Db, methodId: number, archivedAt: number | null): void {
  found(methodById(db, methodId), 'method');
  archiveMethod(db, methodId, archivedAt);
}

/** Per-litre lines need the volume that they go by; hands are not on longer than the step; a choice needs choices. */
function refuseImpossible(db: Db, input: MethodInput): void {
  const errors: FieldErrors = {};
  const known = new Set(
    auxiliaryChoices(
      db,
      input.auxiliaries.map((a) => a.auxiliaryId),
    ).map((a) => a.id),
  );
  input.auxiliaries.forEach((line, i) => {
    if (!known.has(line.auxiliaryId)) errors[`auxiliaries.${i}.auxiliaryId`] = 'There is no such auxiliary.';
    if (line.vessel === 'soak' && input.soakMlPerKg === null) {
      errors['soakRatio'] = 'A line goes into a soak: how much soak for the goods?';
    }
    const perLitre = line.basis === 'gPerL' || line.basis === 'mlPerL';
    if (line.vessel === 'bath' && perLitre && input.bathMlPerKg === null) {
      errors['bathRatio'] = 'A line goes by the litre of bath: how much bath for the goods?';
    }
  });
  input.steps.forEach((step, i) => {
    if (step.handsOnS > step.durationS) {
      errors[`steps.${i}.handsOn`] = 'Hands are on longer than the step lasts.';
    }
  });
  input.fields.forEach((field, i) => {
    if (field.kind === 'choice' && field.choices.length < 2) {
      errors[`fields.${i}.choices`] = 'A choice needs at least two: “over the ice, under the ice”.';
    }
  });
  demandNone(errors);
}

/** The form's words as the API's input: one type behind both doors. Reads the amounts by the auxiliary that each is of. */
export function methodInputOf(db: Db, form: z.output<typeof MethodForm>): MethodInput {
  const errors: FieldErrors = {};
  const byId = new Map(
    auxiliaryChoices(
      db,
      form.auxiliaries.map((a) => a.auxiliaryId),
    ).map((a) => [a.id, a]),
  );
  const lines = form.auxiliaries.map((line, i) => {
    const auxiliary = byId.get(line.auxiliaryId);
    let amountMilli = 0;
    if (!auxiliary) errors[`auxiliaries.${i}.auxiliaryId`] = 'There is no such auxiliary.';
    else {
      try {
        amountMilli = amountMilliOf({ text: line.amount, basis: line.basis, auxiliary });
      } catch (error) {
        if (!(error instanceof CalcError)) throw error;
        errors[`auxiliaries.${i}.amount`] = error.sentence;
      }
    }
    const { auxiliaryId, vessel, basis } = line;
    return { auxiliaryId, vessel, basis, amountMilli, asTyped: line.amount };
  });
  demandNone(errors);
  return {
    name: form.name,
    dyeClass: form.dyeClass,
    summary: form.summary,
    bathMlPerKg: form.bathRatio,
    soakMlPerKg: form.soakRatio,
    lossPpm: form.loss ?? 0,
    cautions: form.cautions,
    steps: form.steps.map((s) => ({
      name: s.stepName,
      durationS: s.duration,
      tempC: s.temp,
      handsOnS: s.handsOn ?? 0,
      note: s.stepNote,
    })),
    auxiliaries: lines,
    fields: form.fields.map((f) => ({
      label: f.label,
      kind: f.kind,
      unit: f.unit,
      choices:
        f.kind === 'choice'
          ? f.choices
              .split(/[\n,;]/)
              .map((c) => c.trim())
              .filter((c) => c !== '')
          : [],
    })),
  };
}
