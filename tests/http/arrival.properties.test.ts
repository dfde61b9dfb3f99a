import fc from 'fast-check';
import { expect, test } from 'vitest';
import { deliver, scenarios, theStart } from '../support/arrivals.ts';

test('the same happenings give the same stock, cost, bench and trace in whatever order they arrive', async () => {
  const start = await theStart();
  await fc.assert(
    fc.asyncProperty(scenarios, async (scenario) => {
      expect(await deliver(scenario, start)).toEqual([]);
    }),
    { numRuns: 40 },
  );
});
