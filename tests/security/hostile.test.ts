import { existsSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import {
  ARCHIVES,
  against,
  type HostileCase,
  hostileService,
  LOADS,
  MOST_MEMORY_MB,
  PICTURES,
  REQUESTS,
  TABLES,
  WORKBOOKS,
} from './hostile.ts';

let service: Awaited<ReturnType<typeof hostileService>>;
beforeAll(async () => {
  service = await hostileService();
});
afterAll(async () => {
  expect(await service.stop(), 'it ends when it is told to').toBe(0);
});

/* Some of each kind, the quick ones; all of them: npm run test:hostile. */
const chosen = (cases: readonly HostileCase[], ...parts: string[]): HostileCase[] =>
  parts.map((part) => {
    const found = cases.find(({ name }) => name.includes(part));
    if (!found) throw new Error(`There is no case “${part}”.`);
    return found;
  });

describe('one small file does not hold up the bench, nor end the service', () => {
  test.each([
    ...chosen(
      WORKBOOKS,
      'a stray cell',
      'a blank',
      'a cell of 5 MB',
      'a shared text',
      'entities',
      'in one another',
      'lie',
    ),
    ...chosen(TABLES, '24 million columns', '24 MB of rows'),
    ...chosen(PICTURES, '60 000', 'a TIFF that says 8 000', 'entities'),
    ...chosen(REQUESTS, '4 GB', 'nothings', 'nobody knows', 'brackets'),
    ...chosen(ARCHIVES, 'lie'),
    ...chosen(LOADS, 'exports of everything at once'),
  ])('$name', async (one) => {
    const { said, wrong, memoryMb } = await against(service, one);
    expect(wrong, said).toBe('');
    if (existsSync('/proc/self/smaps_rollup')) expect(memoryMb).toBeLessThan(MOST_MEMORY_MB);
  });
});
