import { z } from 'zod';
import { CalcError } from '../calc/calcError.ts';
import type { Field } from './schemas.ts';

/** One calculation: what it takes and gives (label and unit are stated with each field) and the function that works it
 *  out. Formula and source are word for word those of that function's own comment, which a test checks. Several formulas
 *  stand on a line each. */
export interface Calculation<Input extends z.ZodType, Output extends z.ZodType> {
  readonly summary: string;
  readonly formula?: string;
  readonly source?: string;
  readonly input: Input;
  readonly output: Output;
  /** Stands in the API document; a test posts it. */
  readonly example: z.input<Input>;
  readonly calculate: (input: z.output<Input>) => z.output<Output>;
}

export function calculation<Input extends z.ZodType, Output extends z.ZodType>(of: Calculation<Input, Output>) {
  return {
    ...of,
    input: of.input.meta({ examples: [of.example] }),
    /** Throws ZodError for what is no input, CalcError for what is impossible. Routes hand in what the same schema has
     *  read already, so nothing in a schema may transform: it must read its own result as it is. */
    answer: (given: unknown): z.output<Output> => finite(() => of.calculate(of.input.parse(given))),
  };
}

/** What anyone needs who goes through the whole table without knowing one of its calculations. */
export interface AnyCalculation {
  readonly summary: string;
  readonly formula?: string;
  readonly source?: string;
  readonly input: z.ZodType;
  readonly output: z.ZodType;
  readonly example: unknown;
  readonly answer: (given: unknown) => unknown;
}

/** Numbers that are each possible can still be so large or so small that their result is no number, for which JSON would
 *  write null. The schema lets only finite numbers in, so whatever is not finite has become so on the way. */
function finite<Answer>(work: () => Answer): Answer {
  const refuse = (): never => {
    throw new CalcError('outOfRange', '', 'these numbers are too large or too small to be calculated with');
  };
  const walk = (value: unknown): void => {
    if (typeof value === 'number' && !Number.isFinite(value)) refuse();
    if (typeof value === 'object' && value !== null) Object.values(value).forEach(walk);
  };
  try {
    const answer = work();
    walk(answer);
    return answer;
  } catch (error) {
    if (error instanceof CalcError && error.code === 'notFinite') return refuse();
    throw error;
  }
}

type JsonSchema = z.core.JSONSchema.BaseSchema;
const isSchema = (value: unknown): value is JsonSchema => typeof value === 'object' && value !== null;

/** The fields of an input or output with their labels and units, read from its schema. Where there are several inputs
 *  to choose from: every field that one of them has, required when all of them need it. */
export function fieldsOf(schema: z.ZodType, side: 'input' | 'output'): Field[] {
  return fieldsWithin(z.toJSONSchema(schema, { io: side }));
}

function fieldsWithin(schema: JsonSchema): Field[] {
  const cases = (schema.oneOf ?? schema.anyOf ?? [schema]).filter(isSchema);
  const merged = new Map<string, Field>();
  for (const one of cases) {
    for (const [name, property] of Object.entries(one.properties ?? {})) {
      if (!isSchema(property)) continue;
      const field = fieldOf(name, property, one.required?.includes(name) ?? false);
      const known = merged.get(name);
      const choices = [...(known?.choices ?? []), ...(field.choices ?? [])];
      merged.set(name, { ...field, choices: choices.length === 0 ? null : choices });
    }
  }
  const neededByAll = (name: string) => cases.every(({ required }) => required?.includes(name) ?? false);
  return [...merged.values()].map((field) => ({ ...field, isRequired: neededByAll(field.name) }));
}

function fieldOf(name: string, schema: JsonSchema, isRequired: boolean): Field {
  const unit = schema['x-unit'];
  const within = isSchema(schema.items) ? schema.items : schema;
  const choices = schema.const === undefined ? schema.enum : [schema.const];
  return {
    name,
    label: schema.title ?? name,
    unit: typeof unit === 'string' ? unit : null,
    isRequired,
    isList: schema.type === 'array',
    whenLeftOut: typeof schema.default === 'number' ? schema.default : null,
    choices: choices?.map(String) ?? null,
    fields: fieldsWithin(within),
  };
}
