import { expect, test } from 'vitest';
import { failureWords, fuzz } from './fuzz.ts';

test('whatever the API is sent, it answers in its own words and the studio stays sound', {
  timeout: 600_000,
}, async () => {
  const result = await fuzz({ requests: 700, seed: 20_261_125, studio: 'small' });
  expect(failureWords(result.failures)).toBe('');
  expect(result.findings).toEqual([]);
  expect(result.byStatus['2xx'] ?? 0).toBeGreaterThan(result.sent / 10);
  expect(result.byStatus['4xx'] ?? 0).toBeGreaterThan(result.sent / 10);
});
