import type { FastifySchemaCompiler } from 'fastify';
import { z } from 'zod';
import { Refusal } from '../errors.ts';
import { zodFieldErrors } from './forms.ts';
import { numbersTooLarge } from './numbers.ts';
import { nearestWord, unknownKeys } from './unknownKeys.ts';

/** What a schema refuses, in plain sentences and under its own field. Schemas with words of their own keep them. */
z.config({ customError: (issue) => words(issue as z.core.$ZodRawIssue) });

const KINDS: Record<string, string> = {
  string: 'text',
  number: 'a number',
  int: 'a whole number',
  boolean: 'true or false',
  array: 'a list',
  object: 'an object',
  null: 'null',
  undefined: 'nothing',
  nan: 'no number',
  record: 'an object',
};
const kind = (name: string): string => KINDS[name] ?? name;

function words(issue: z.core.$ZodRawIssue): string {
  switch (issue.code) {
    case 'invalid_type':
      if (issue.input === undefined) return `Needed: ${kind(issue.expected)}.`;
      return `Must be ${kind(issue.expected)}, not ${kind(typeOf(issue.input))}.`;
    case 'too_small':
    case 'too_big':
      return limitWords(issue);
    case 'invalid_value':
      return choiceWords(issue.values.map(String), issue.input);
    case 'not_multiple_of':
      return `Must be a multiple of ${issue.divisor}.`;
    case 'invalid_union':
      return 'Fits none of the forms that are taken here; see the API document.';
    case 'invalid_format':
      return issue.format === 'regex' ? 'Not in the form that is taken here.' : `Must be a ${issue.format}.`;
    default:
      return 'Cannot be read.';
  }
}

function typeOf(value: unknown): string {
  if (value === null) return 'null';
  if (Array.isArray(value)) return 'array';
  return Number.isNaN(value) ? 'nan' : typeof value;
}

function limitWords(
  issue: z.core.$ZodRawIssue<z.core.$ZodIssueTooSmall> | z.core.$ZodRawIssue<z.core.$ZodIssueTooBig>,
) {
  const small = issue.code === 'too_small';
  const limit = String(small ? issue.minimum : issue.maximum);
  const counted = issue.origin === 'string' ? ' characters' : issue.origin === 'array' ? ' entries' : '';
  if (issue.exact) return `Exactly ${limit}${counted}.`;
  if (small && issue.origin === 'string' && limit === '1') return 'Must not be empty.';
  if (issue.inclusive === false) return `Must be ${small ? 'more' : 'less'} than ${limit}.`;
  return `At ${small ? 'least' : 'most'} ${limit}${counted}.`;
}

function choiceWords(choices: readonly string[], sent: unknown): string {
  const near = typeof sent === 'string' ? nearestWord(sent, choices) : undefined;
  const list = choices.length > 12 ? `${choices.slice(0, 12).join(', ')}, …` : choices.join(', ');
  return near ? `Did you mean “${near}”? One of: ${list}.` : `One of: ${list}.`;
}

/** Reads what a route takes by its zod schema. In the API nothing is dropped in silence: a body or a query with a key that is not
 *  known is refused, as one with a wrong value is. Pages have forms with fields of the browser's own, so there it is let be. */
export const validatorCompiler: FastifySchemaCompiler<z.ZodType> = ({ schema, url, httpPart }) => {
  const strict = url?.startsWith('/api/') === true && (httpPart === 'body' || httpPart === 'querystring');
  return (sent) => {
    const parsed = schema.safeParse(sent);
    const strangers = strict ? unknownKeys(schema, sent) : {};
    const tooLarge = parsed.success ? numbersTooLarge(parsed.data) : {};
    const fields = { ...(parsed.success ? tooLarge : zodFieldErrors(parsed.error)), ...strangers };
    if (parsed.success && Object.keys(fields).length === 0) return { value: parsed.data };
    return { error: new Refusal('invalidInput', 'Some of the fields cannot be read.', fields) };
  };
};
