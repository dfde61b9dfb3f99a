import { describe, expect, test } from 'vitest';
import { auxiliaryTablesFor } from '../../server/calc/auxiliaryByDepth.ts';
import { depthDoubt, depthDoubtWords } from '../../server/calc/usualDepth.ts';

/* Common practice; deepest in print: anionic dyes on nylon, wool and silk 5.0, reactive by acid on wool black 5, direct 5. */
describe('a depth', () => {
  test.each([
    ['reactive', null, 8, null],
    ['reactive', null, 20, { usualPct: 8, perhapsPct: 2 }],
    ['acid', null, 5, null],
    ['acid', null, 5.5, null],
    ['acid', null, 5.6, { usualPct: 5, perhapsPct: 0.56 }],
    // 600 % would be 60 %, which is as usual for fresh plants
    ['natural', null, 600, { usualPct: 500, perhapsPct: 60 }],
    // A black's own band says more than its class.
    ['reactive', 10, 10, null],
    ['reactive', 4, 5, { usualPct: 4, perhapsPct: 0.5 }],
    // One place to the left would still be beyond it.
    ['direct', 4, 45, { usualPct: 4, perhapsPct: null }],
  ] as const)('of %s with a deepest band of %s, %s %%', (dyeClass, deepPct, depthPct, doubt) => {
    const told = depthDoubt({ depthPct, dyeClass, deepPct });
    expect(told).toEqual(
      doubt && { ...doubt, perhapsPct: doubt.perhapsPct === null ? null : expect.closeTo(doubt.perhapsPct, 12) },
    );
  });

  test('is asked about in words', () => {
    const doubt = depthDoubt({ depthPct: 20, dyeClass: 'reactive', deepPct: null });
    expect(doubt && depthDoubtWords({ depthPct: 20, doubt })).toBe(
      '20 % is deeper than is usual (up to 8 %). Is it 2 %?',
    );
  });

  test('of nothing is no depth', () => {
    expect(() => depthDoubt({ depthPct: 0, dyeClass: 'acid', deepPct: null })).toThrow('depthPct must be more than 0');
  });
});

test('several sheets for one class stand side by side', () => {
  expect(auxiliaryTablesFor('reactive')).toEqual(['reactive60C', 'reactive80C', 'reactive70C', 'reactiveColdChart']);
  expect(auxiliaryTablesFor('basic')).toEqual([]);
});
