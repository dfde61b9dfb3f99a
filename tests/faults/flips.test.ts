import { expect, test } from 'vitest';
import { runFlips } from './flips.ts';

test('verify notices every byte that was turned over in a row and every cut of the log that lost one', {
  timeout: 600_000,
}, async () => {
  const { flips, cuts, missed } = await runFlips({ flips: 14, cuts: 6, seed: 7 });
  expect(missed).toEqual([]);
  // Enough of them have hit a row for that to mean something.
  expect(flips.changed).toBeGreaterThan(3);
  expect(flips.named).toBeGreaterThan(2);
  expect([cuts.changed, cuts.named]).toEqual([6, 6]);
});
