import type { FastifyReply, FastifyRequest } from 'fastify';
import type { z } from 'zod';
import type { FieldErrors, FormState, Typed } from '../../views/kit/field.ts';
import { asRefusal, invalid } from '../errors.ts';
import { numbersTooLarge } from './numbers.ts';
import { type Rendering, seeOther, sendPage } from './page.ts';

/** The body of a form post as text: field name → what was typed. Repeated names keep the last. Control characters go. */
export function typedBody(body: unknown): Record<string, string> {
  const typed: Record<string, string> = {};
  if (body !== null && typeof body === 'object') {
    for (const [name, value] of Object.entries(body)) {
      const text = Array.isArray(value) ? value.at(-1) : value;
      // biome-ignore lint/suspicious/noControlCharactersInRegex: they are what is removed
      if (typeof text === 'string') typed[name] = text.replace(/[\u0000-\u0008\u000b\u000c\u000e-\u001f]/g, '');
    }
  }
  return typed;
}

/** Rows of a repeated group, typed as `name.0`, `name.1`, …: one record a row, in order; rows with nothing typed are left out. */
export function typedRows<K extends string>(
  typed: Typed,
  names: readonly K[],
): (Record<K, string> & { row: number })[] {
  const rows = new Set<number>();
  for (const key of Object.keys(typed)) {
    const m = /^(.+)\.(\d{1,3})$/.exec(key);
    if (m && (names as readonly string[]).includes(m[1] ?? '')) rows.add(Number(m[2]));
  }
  return [...rows]
    .sort((x, y) => x - y)
    .map((row) => ({
      ...(Object.fromEntries(names.map((n) => [n, (typed[`${n}.${row}`] ?? '').trim()])) as Record<K, string>),
      row,
    }))
    .filter((r) => names.some((n) => r[n] !== ''));
}

/** The typed text of a form that may be new: an empty version is none. */
export const versionTyped = (typed: Typed) => ({ ...typed, version: typed['version'] || undefined });

/** Messages of repeated rows put beside the rows as typed: 'steps.1.duration', the second row with something in it, becomes
 *  'duration.4' when that is where it stands on the form. */
export function besideRows(errors: FieldErrors, groups: Record<string, readonly { row: number }[]>): FieldErrors {
  return Object.fromEntries(
    Object.entries(errors).map(([name, words]) => {
      const [, group = '', index = '', field = ''] = /^(\w+)\.(\d+)\.(\w+)$/.exec(name) ?? [];
      const row = groups[group]?.[Number(index)]?.row;
      return [row === undefined ? name : `${field}.${row}`, words];
    }),
  );
}

/** Messages of a refused zod parse, by field name ('component.0.share' for nested paths); the first of each field. */
export function zodFieldErrors(error: z.ZodError): FieldErrors {
  const fields: Record<string, string> = {};
  for (const issue of error.issues) {
    const name = issue.path.map(String).join('.');
    // A strict schema names its strangers in one issue; each is told under its own name.
    if (issue.code === 'unrecognized_keys')
      for (const key of issue.keys) fields[name === '' ? key : `${name}.${key}`] ??= `“${key}” is not known here.`;
    else fields[name] ??= issue.message;
  }
  return fields;
}

/** Parses typed text with a schema; throws invalidInput with messages by field. */
export function readInput<S extends z.ZodType>(schema: S, input: unknown): z.output<S> {
  const parsed = schema.safeParse(input);
  if (!parsed.success) throw invalid(zodFieldErrors(parsed.error));
  const tooLarge = numbersTooLarge(parsed.data);
  if (Object.keys(tooLarge).length > 0) throw invalid(tooLarge);
  return parsed.data;
}

/** The one way a page's form is handled: read, save, go on; a refusal shows the same form again with what was typed,
 *  the messages beside the fields, and the refusal's status. */
export async function submitForm<S extends z.ZodType>(
  request: FastifyRequest,
  reply: FastifyReply,
  form: {
    schema: S;
    /** Saves and answers where to go. */
    save: (input: z.output<S>, typed: Typed) => string | Promise<string>;
    again: (state: FormState) => Rendering | Promise<Rendering>;
    /** Turns the flat typed text into the schema's shape, when rows repeat. */
    shape?: (typed: Typed) => unknown;
    /** Answers in place instead of going on to the location. */
    done?: (location: string) => FastifyReply | Promise<FastifyReply>;
  },
): Promise<FastifyReply> {
  const typed = typedBody(request.body);
  try {
    const location = await form.save(readInput(form.schema, form.shape ? form.shape(typed) : typed), typed);
    return form.done ? form.done(location) : seeOther(reply, location);
  } catch (error) {
    const refusal = asRefusal(error);
    if (!refusal || refusal.status === 404 || refusal.status === 403) throw error;
    const errors = Object.keys(refusal.fields).length > 0 ? refusal.fields : { '': refusal.message };
    return sendPage(request, reply, { ...(await form.again({ typed, errors })), status: refusal.status });
  }
}
