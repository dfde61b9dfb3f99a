import { execFile } from 'node:child_process';
import { cpSync, mkdtempSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { parse } from 'csv-parse/sync';
import openapiTypescript, { astToString } from 'openapi-typescript';
import { expect, test } from 'vitest';
import { makeToken } from '../../server/people/signIn.ts';
import { freshSampleStudio } from '../support/sampleStudio.ts';
import type { Walked } from './walked.ts';

const ROOT = fileURLToPath(new URL('../..', import.meta.url));

/** What the compiler says of a script beside its generated types; '' when it is content. */
function compiled(folder: string): Promise<string> {
  const compiler = join(ROOT, 'node_modules/typescript7/bin/tsc');
  const options = [
    '--ignoreConfig',
    '--strict',
    '--noEmit',
    '--target',
    'es2024',
    '--module',
    'nodenext',
    '--allowImportingTsExtensions',
  ];
  return new Promise((resolve) => {
    execFile(process.execPath, [compiler, ...options, join(folder, 'wholePath.ts')], (_error, said) => resolve(said));
  });
}

test('a client generated from the API document goes the whole way, strictly typed and without a cast', {
  timeout: 600_000,
}, async () => {
  const studio = await freshSampleStudio();
  const document = (await studio.app.inject({ url: '/api/v1/openapi.json' })).body;
  const types = astToString(await openapiTypescript(document));
  const folder = mkdtempSync(join(tmpdir(), 'lot-and-shade-client-'));
  try {
    writeFileSync(join(folder, 'api.d.ts'), types);
    writeFileSync(join(folder, 'package.json'), '{"type":"module"}');
    symlinkSync(join(ROOT, 'node_modules'), join(folder, 'node_modules'));
    for (const file of ['wholePath.ts', 'walked.ts']) cpSync(join(ROOT, 'tests/client', file), join(folder, file));
    expect(await compiled(folder)).toBe('');
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
  const source = readFileSync(join(ROOT, 'tests/client/wholePath.ts'), 'utf8').replace(/\/\*[\s\S]*?\*\//g, '');
  expect(source.replace(/ as const\b/g, '')).not.toMatch(/\bas [A-Za-z{]|!\.|@ts-|\bany\b/);

  const baseUrl = await studio.app.listen({ host: '127.0.0.1', port: 0 });
  const { token } = makeToken(studio.deps, { name: 'client', scope: 'write', expiresAt: null }, studio.owner.personId);
  const todayOn = new Date(studio.deps.now()).toISOString().slice(0, 10);
  // Its types are those made above, which are not there for the compiler of the tests.
  const { walkWholePath } = (await import(new URL('./wholePath.ts', import.meta.url).href)) as {
    walkWholePath: (baseUrl: string, token: string, todayOn: string) => Promise<Walked>;
  };
  const walked = await walkWholePath(baseUrl, token, todayOn);
  expect(walked.status).toBe('finished');
  const rows = parse(walked.exported, { columns: true }) as Record<string, string>[];
  const own = rows.filter((row) => row['lot'] === walked.lotNumber);
  expect(own.length).toBeGreaterThan(4);
  expect(Math.round(own.reduce((sum, row) => sum + Number(row['cost']), 0) * 100)).toBe(walked.costMinor);
  expect([walked.nearest, walked.swatchCode].every((code) => code.length > 0)).toBe(true);
  expect(walked.predictedL).toBeGreaterThan(20);
  expect(walked.proposals).toBeGreaterThan(0);
  expect(walked.refusal).toEqual({
    code: 'invalidInput',
    type: '/api/v1/problems/invalid-input',
    field: 'componentId',
  });
});
