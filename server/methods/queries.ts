import { and, eq, isNull, sql } from 'drizzle-orm';
import type { Db } from '../db/open.ts';
import { ready, rowById } from '../db/ready.ts';
import { type AuxiliaryRow, auxiliaries } from '../db/tables/materials.ts';
import {
  type MethodAuxiliaryRow,
  type MethodFieldRow,
  type MethodRow,
  type MethodStepRow,
  methodAuxiliaries,
  methodFields,
  methodSteps,
  methods,
} from '../db/tables/recipes.ts';
import type { MethodInput } from './schemas.ts';

export interface MethodWithParts {
  method: MethodRow;
  steps: MethodStepRow[];
  auxiliaries: { line: MethodAuxiliaryRow; auxiliary: AuxiliaryRow }[];
  fields: MethodFieldRow[];
}

interface MethodOverview extends MethodRow {
  durationS: number;
  handsOnS: number;
  stepCount: number;
  auxiliaryCount: number;
}

/** Every method in use by name, with what its steps add to. The outer table is named in the subqueries by hand: a column of a
 *  select from one table alone is rendered without it, and would be the inner table's. */
export const listMethods = (db: Db): MethodOverview[] =>
  methodsInUse(db)
    .all()
    .map(({ method, ...sums }) => ({ ...method, ...sums }));
const methodsInUse = ready((db) =>
  db
    .select({
      method: methods,
      durationS: sql<number>`(select coalesce(sum(s.duration_s), 0) from method_steps s where s.method_id = methods.id)`,
      handsOnS: sql<number>`(select coalesce(sum(s.hands_on_s), 0) from method_steps s where s.method_id = methods.id)`,
      stepCount: sql<number>`(select count(*) from method_steps s where s.method_id = methods.id)`,
      auxiliaryCount: sql<number>`(select count(*) from method_auxiliaries a where a.method_id = methods.id)`,
    })
    .from(methods)
    .where(isNull(methods.archivedAt))
    .orderBy(methods.name)
    .prepare(),
);

export const methodById = rowById(methods);

/** A method with its steps, auxiliary lines (each with its auxiliary) and the entries that it asks for, in their order. */
export function methodWithParts(db: Db, methodId: number): MethodWithParts | undefined {
  const method = methodById(db, methodId);
  if (!method) return undefined;
  return {
    method,
    steps: stepsOf(db).all({ methodId }),
    auxiliaries: auxiliariesOf(db).all({ methodId }),
    fields: fieldsOf(db).all({ methodId }),
  };
}
const ITS = sql.placeholder('methodId');
const stepsOf = ready((db) =>
  db.select().from(methodSteps).where(eq(methodSteps.methodId, ITS)).orderBy(methodSteps.ordinal).prepare(),
);
const auxiliariesOf = ready((db) =>
  db
    .select({ line: methodAuxiliaries, auxiliary: auxiliaries })
    .from(methodAuxiliaries)
    .innerJoin(auxiliaries, eq(auxiliaries.id, methodAuxiliaries.auxiliaryId))
    .where(eq(methodAuxiliaries.methodId, ITS))
    .orderBy(methodAuxiliaries.ordinal)
    .prepare(),
);
const fieldsOf = ready((db) =>
  db.select().from(methodFields).where(eq(methodFields.methodId, ITS)).orderBy(methodFields.ordinal).prepare(),
);

/** Choices of an entry of kind 'choice', as stored one a line. */
export const choicesOf = (field: Pick<MethodFieldRow, 'choices'>): string[] =>
  field.choices.split('\n').filter((c) => c !== '');

/** Auxiliaries that a method may name; those of its own that have been archived stay choosable. */
export const auxiliaryChoices = (db: Db, alsoIds: readonly number[] = []): AuxiliaryRow[] =>
  db
    .select()
    .from(auxiliaries)
    .orderBy(auxiliaries.name)
    .all()
    .filter((a) => a.archivedAt === null || alsoIds.includes(a.id));

export const auxiliaryById = rowById(auxiliaries);

/** How many lots stand on a method: they keep their own snapshot of it. */
export const lotCountOfMethod = (db: Db, methodId: number): number =>
  db.get<{ count: number }>(sql`select count(*) as count from lots where method_id = ${methodId}`)?.count ?? 0;

export const swatchCountOfMethod = (db: Db, methodId: number): number =>
  db.get<{ count: number }>(sql`select count(*) as count from swatches where method_id = ${methodId}`)?.count ?? 0;

const headOf = ({ steps: _steps, auxiliaries: _lines, fields: _fields, ...head }: MethodInput) => head;

export const insertMethod = (db: Db, input: MethodInput): MethodRow =>
  db.insert(methods).values(headOf(input)).returning().get();

/** Saves the head against the version that was read; undefined when somebody has saved meanwhile. */
export const updateMethod = (db: Db, methodId: number, input: MethodInput, version: number): MethodRow | undefined =>
  db
    .update(methods)
    .set({ ...headOf(input), version: sql`${methods.version} + 1` })
    .where(and(eq(methods.id, methodId), eq(methods.version, version)))
    .returning()
    .get();

export const archiveMethod = (db: Db, methodId: number, archivedAt: number | null): void => {
  db.update(methods)
    .set({ archivedAt, version: sql`${methods.version} + 1` })
    .where(eq(methods.id, methodId))
    .run();
};

/** Replaces steps, lines and entries of a method as a whole. Lots stand on their own snapshot, so none is lost. */
export function replaceParts(db: Db, methodId: number, input: MethodInput): void {
  db.delete(methodSteps).where(eq(methodSteps.methodId, methodId)).run();
  db.delete(methodAuxiliaries).where(eq(methodAuxiliaries.methodId, methodId)).run();
  db.delete(methodFields).where(eq(methodFields.methodId, methodId)).run();
  const numbered = <T>(rows: readonly T[]) => rows.map((row, i) => ({ ...row, methodId, ordinal: i + 1 }));
  if (input.steps.length > 0) db.insert(methodSteps).values(numbered(input.steps)).run();
  if (input.auxiliaries.length > 0) db.insert(methodAuxiliaries).values(numbered(input.auxiliaries)).run();
  if (input.fields.length > 0) {
    db.insert(methodFields)
      .values(numbered(input.fields).map((f) => ({ ...f, choices: f.choices.join('\n') })))
      .run();
  }
}
