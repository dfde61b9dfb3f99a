import { rmSync } from 'node:fs';
import { expect, test } from 'vitest';
import { killLoop } from './killLoop.ts';

test('a service killed ten times while four hands write keeps every entry that it acknowledged', {
  timeout: 600_000,
}, async () => {
  const result = await killLoop({ rounds: 10, longestMs: 500 });
  rmSync(result.dataDir, { recursive: true, force: true });
  expect(result.acknowledged).toBeGreaterThan(0);
  expect(result.lost).toEqual([]);
  expect(result.findings).toEqual([]);
  expect(result.verified.code, result.verified.said).toBe(0);
});
