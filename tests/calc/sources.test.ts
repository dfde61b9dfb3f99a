import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';

const CALC = join(import.meta.dirname, '../../server/calc');
/** Says where a formula comes from: print, a definition, what follows from one, the trade's practice, or this house. */
const FROM = /\bSources?\b|[Dd]efinition|[Cc]ommon practice|[Ff]ollows from|rule of our own|\bISO\b|\bCIE\b|Errors as/;
const EXPORTED =
  /((?:\/\*\*(?:(?!\*\/)[\s\S])*\*\/\n)?)export (?:async )?(?:function\*? (\w+)|const (\w+) = (?:async )?[(<])/g;

const unsourced = (file: string, source: string): string[] =>
  [...source.matchAll(EXPORTED)]
    .filter(([, doc = '']) => !FROM.test(doc))
    .map(([, , named, assigned]) => `${file}: ${named ?? assigned}`);

test('every calculation says in its comment where it comes from', () => {
  const files = readdirSync(CALC, { recursive: true, encoding: 'utf8' }).filter((file) => file.endsWith('.ts'));
  expect(files.length).toBeGreaterThan(40);
  expect(files.flatMap((file) => unsourced(file, readFileSync(join(CALC, file), 'utf8')))).toEqual([]);
});

test('one without is told by its name', () => {
  expect(unsourced('bath.ts', '/** Litres. */\nexport function liquor(): void {}\n')).toEqual(['bath.ts: liquor']);
  expect(unsourced('bath.ts', 'export const ratio = (x: number) => x;\n')).toEqual(['bath.ts: ratio']);
  expect(unsourced('bath.ts', '/** Litres. Definition. */\nexport function liquor(): void {}\n')).toEqual([]);
});
