import type { Db } from '../db/open.ts';
import { found } from '../errors.ts';
import { choicesOf, listMethods, type MethodWithParts, methodWithParts } from './queries.ts';
import type { Method, MethodInList, MethodInput } from './schemas.ts';

export const theMethod = (db: Db, methodId: number): MethodWithParts => found(methodWithParts(db, methodId), 'method');

/** A method in the shape in which it is taken, so that one may send back what one got. */
export const methodInput = ({ method, steps, auxiliaries, fields }: MethodWithParts): MethodInput => ({
  name: method.name,
  dyeClass: method.dyeClass,
  summary: method.summary,
  bathMlPerKg: method.bathMlPerKg,
  soakMlPerKg: method.soakMlPerKg,
  lossPpm: method.lossPpm,
  cautions: method.cautions,
  steps: steps.map(({ name, durationS, tempC, handsOnS, note }) => ({ name, durationS, tempC, handsOnS, note })),
  auxiliaries: auxiliaries.map(({ line: { auxiliaryId, vessel, basis, amountMilli, asTyped } }) => ({
    auxiliaryId,
    vessel,
    basis,
    amountMilli,
    asTyped,
  })),
  fields: fields.map((f) => ({ label: f.label, kind: f.kind, unit: f.unit, choices: choicesOf(f) })),
});

export const methodResource = (row: MethodWithParts): Method => ({
  ...methodInput(row),
  methodId: row.method.id,
  archived: row.method.archivedAt !== null,
  version: row.method.version,
});

/** Every method in use, by name. */
export const methodsInUse = (db: Db): MethodInList[] =>
  listMethods(db).map(({ id, archivedAt: _archived, cautions: _cautions, ...row }) => ({ ...row, methodId: id }));
