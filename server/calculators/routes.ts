import type { App } from '../http/app.ts';
import { fieldsOf } from './calculation.ts';
import { CalculationList } from './schemas.ts';
import { FAMILIES } from './table.ts';

/** Stateless calculators for scripts. They read nothing of the studio's and change nothing, so that anyone may use them
 *  and a token that may only read is enough to POST with. */
export function api(app: App): void {
  const tags = ['Calculators'];
  const calculations = FAMILIES.flatMap(({ title, calculations }) =>
    Object.entries(calculations).map(([name, calculation]) => ({ name, family: title, ...calculation })),
  );

  app.get(
    '/calc',
    {
      config: { may: 'anyone' },
      schema: {
        operationId: 'listCalculations',
        tags,
        summary: 'Every calculation with its inputs and outputs',
        response: { 200: CalculationList },
      },
    },
    async () => ({
      calculations: calculations.map(({ name, family, summary, input, output }) => ({
        name,
        family,
        summary,
        inputs: fieldsOf(input, 'input'),
        outputs: fieldsOf(output, 'output'),
      })),
    }),
  );

  for (const { name, summary, formula, source, input, output, answer } of calculations) {
    app.post(
      `/calc/${name}`,
      {
        config: { may: 'anyone' },
        schema: {
          operationId: `calculate${`-${name}`.replace(/-(.)/g, (_, first: string) => first.toUpperCase())}`,
          tags,
          summary,
          description: [formula, source && `Source: ${source}.`].filter(Boolean).join('\n\n') || summary,
          body: input,
          response: { 200: output },
        },
      },
      async (request) => answer(request.body),
    );
  }
}
