import { expect, test } from 'vitest';
import { lampInWords, learningInWords, trialInWords, whyWideInWords } from '../../../server/calc/match/sureness.ts';

test('a dye beyond its swatches is named, and less powder is not called surer', () => {
  expect(whyWideInWords({ paler: [], deeper: [] })).toBe('');
  expect(whyWideInWords({ paler: ['RB'], deeper: [] })).toBe(
    'The ± is wider because RB is paler than any swatch with it. Less powder does not make a colour surer: nobody has seen it that pale.',
  );
  expect(whyWideInWords({ paler: [], deeper: ['RB', 'YG', 'KN'] })).toBe(
    'The ± is wider because RB, YG and KN are deeper than any swatch with them.',
  );
});

test.each([
  [3, 2.8, 'would hardly narrow'],
  [3, 2.1, 'the ± narrows to about ±\u00a02.1'],
  [3, 1.5, 'the ± about halves, to ±\u00a01.5'],
  [6, 1.2, 'falls to less than half, about ±\u00a01.2'],
])('± %d with %d after a trial: %s', (deltaE90, deltaE90AfterTrial, words) => {
  expect(trialInWords({ deltaE90, deltaE90AfterTrial })).toContain(words);
});

test('how many swatches it is still learning from', () => {
  expect(learningInWords(0)).toBe('');
  expect(learningInWords(1)).toContain('Learning from 1 new swatch.');
  expect(learningInWords(3)).toContain('Learning from 3 new swatches.');
});

test('a colour holds under lamp light only where that is known', () => {
  expect(lampInWords({ fromTarget: 1, deltaE90: 2 })).toEqual({ label: 'holds under lamp light', isGood: true });
  expect(lampInWords({ fromTarget: 1, deltaE90: 6 })).toEqual({ label: 'not sure under lamp light', isGood: false });
  expect(lampInWords({ fromTarget: 3, deltaE90: 2 }).label).toBe('shifts under lamp light');
  expect(lampInWords({ fromTarget: 5, deltaE90: 2 }).label).toBe('parts under lamp light');
});
