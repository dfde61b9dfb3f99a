import type { z } from 'zod';
import { invalid } from '../errors.ts';

/** Words read by the schema of a form; throws with the first message of each field. `names` says under which name the row
 *  knows a field of the form. */
export function parsed<S extends z.ZodType>(
  schema: S,
  words: Readonly<Record<string, unknown>>,
  names: Readonly<Record<string, string>> = {},
): z.output<S> {
  const result = schema.safeParse(words);
  if (result.success) return result.data;
  const fields: Record<string, string> = {};
  for (const issue of result.error.issues) {
    const name = issue.path.map(String).join('.');
    fields[names[name] ?? name] ??= issue.message;
  }
  throw invalid(fields);
}
