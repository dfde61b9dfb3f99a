import { operation } from '../../http/routes.ts';
import { type AnyCalculation, fieldsOf } from '../calculation.ts';
import { CalculationList } from '../schemas.ts';
import { FAMILIES } from '../table.ts';

export const listCalculations = operation({
  id: 'listCalculations',
  summary: 'Every calculation with its inputs and outputs',
  answer: CalculationList,
  run: () => ({
    calculations: FAMILIES.flatMap(({ title, calculations }) =>
      Object.entries(calculations).map(([name, { summary, input, output }]) => ({
        name,
        family: title,
        summary,
        inputs: fieldsOf(input, 'input'),
        outputs: fieldsOf(output, 'output'),
      })),
    ),
  }),
});

export const calculate = (name: string, { summary, formula, source, input, output, answer }: AnyCalculation) =>
  operation({
    id: `calculate${`-${name}`.replace(/-(.)/g, (_, first: string) => first.toUpperCase())}`,
    summary,
    description: [formula, source && `Source: ${source}.`].filter(Boolean).join('\n\n') || summary,
    body: input,
    answer: output,
    run: (_deps, { body }) => answer(body),
  });
