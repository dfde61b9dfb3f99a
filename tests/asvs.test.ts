import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { readConfig } from '../server/config.ts';

const root = readConfig({}).packageRoot;

/** The rows of the table with the tests that they name: a file, and words of a test's name in it where some stand after the colon. */
const named = readFileSync(join(root, 'tests', 'ASVS.md'), 'utf8')
  .split('\n')
  .filter((line) => line.startsWith('| ') && !line.startsWith('| point') && !line.startsWith('| ---'))
  .flatMap((line) => {
    const [, point = '', , tests = ''] = line.split(' | ').join('|').split('|');
    let file = '';
    return tests
      .split(';')
      .map((entry) => entry.trim().replace(/^tests\/ASVS/, ''))
      .filter(Boolean)
      .map((entry) => {
        const path = /^tests\/[\w./-]+/.exec(entry)?.[0];
        file = path ?? file;
        const words = entry
          .slice(path?.length ?? 0)
          .replace(/^:/, '')
          .trim();
        return { point: point.trim(), file, words };
      });
  });

const plain = (text: string): string => text.toLowerCase().replace(/\s+/g, ' ');

test('every test that the table of ASVS names is there', () => {
  expect(named.length).toBeGreaterThan(60);
  const missing = named.filter(({ file, words }) => {
    const path = join(root, file);
    // What follows a comma in a name that is cut short names another test of the same file.
    return (
      !existsSync(path) || !words.split(', ').every((part) => plain(readFileSync(path, 'utf8')).includes(plain(part)))
    );
  });
  expect(missing).toEqual([]);
});
