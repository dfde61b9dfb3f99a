import { z } from 'zod';
import { type ErrorCode, errorCatalogue, Refusal } from '../errors.ts';
import type { App } from './app.ts';

/** Refusals as RFC 9457 has them: each kind has an address that tells what it means. */

const CODES = Object.keys(errorCatalogue) as [ErrorCode, ...ErrorCode[]];
const nameOf = (code: ErrorCode): string => code.replace(/[A-Z]/g, (letter) => `-${letter.toLowerCase()}`);

/** The `type` of a problem: an address within the service. */
export const problemType = (code: ErrorCode): string => `/api/v1/problems/${nameOf(code)}`;

/** One answer for every refusal. Some add fields of their own, such as the doubts about a reading. */
export const Problem = z
  .looseObject({
    type: z.string().meta({ description: 'address that tells what this kind of problem means' }),
    title: z.string().meta({ description: 'the kind of problem in a sentence' }),
    status: z.number().int(),
    code: z.enum(CODES),
    detail: z.string().meta({ description: 'what is wrong this time, in words for the person' }),
    fields: z
      .record(z.string(), z.string())
      .meta({ description: 'what is wrong with each field, by its path: `lines.0.massMg`' }),
    reference: z.string().optional().meta({ description: 'finds a fault of ours in the log' }),
  })
  .meta({ id: 'Problem', description: 'A refusal (RFC 9457). Nothing was saved.' });

const ProblemKind = z
  .object({ type: z.string(), code: z.enum(CODES), status: z.number().int(), means: z.string() })
  .meta({ id: 'ProblemKind' });
const kindOf = (code: ErrorCode): z.output<typeof ProblemKind> => ({
  type: problemType(code),
  code,
  ...errorCatalogue[code],
});

export function problemApi(api: App): void {
  const tags = ['Problems'];
  api.get(
    '/problems',
    {
      config: { may: 'anyone' },
      schema: {
        operationId: 'listProblemKinds',
        tags,
        summary: 'Every kind of refusal that the service makes',
        response: { 200: z.object({ problems: z.array(ProblemKind) }) },
      },
    },
    async () => ({ problems: CODES.map(kindOf) }),
  );
  api.get(
    '/problems/:name',
    {
      config: { may: 'anyone' },
      schema: {
        operationId: 'getProblemKind',
        tags,
        summary: 'What one kind of refusal means',
        params: z.object({
          name: z
            .string()
            .max(40)
            .meta({ description: 'as in its type', examples: ['stale-edit'] }),
        }),
        response: { 200: ProblemKind },
      },
    },
    async (request) => {
      const code = CODES.find((known) => nameOf(known) === request.params.name);
      if (!code) throw new Refusal('notFound', 'There is no such kind of problem.');
      return kindOf(code);
    },
  );
}
