import { spawn } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parse } from 'csv-parse/sync';
import { expect, test } from 'vitest';
import { sowSampleStudio } from '../seed/studio.ts';
import { configTable, readConfig } from '../server/config.ts';
import { makeToken } from '../server/people/signIn.ts';
import { startApp } from './support/browser.ts';

const root = readConfig({}).packageRoot;
const readme = readFileSync(join(root, 'README.md'), 'utf8');
const developers = readFileSync(join(root, 'DEVELOPERS.md'), 'utf8');
const scripts = (JSON.parse(readFileSync(join(root, 'package.json'), 'utf8')) as { scripts: Record<string, string> })
  .scripts;

test('every npm script that the documents name is there', () => {
  const named = [...`${readme}\n${developers}`.matchAll(/npm (?:run ([\w:-]+)|(start|test)\b)/g)].map(
    (m) => m[1] ?? m[2] ?? '',
  );
  expect(named.length).toBeGreaterThan(4);
  expect(named.filter((name) => !(name in scripts))).toEqual([]);
});

test('the README is a page to read: short, its two commands stand as commands, and its pictures are small', () => {
  expect(readme.length).toBeLessThan(8_500);
  const commands = [...readme.matchAll(/```sh\n([\s\S]*?)```/g)].map((m) => (m[1] ?? '').trim());
  expect(commands).toEqual(['npm ci && npm start', 'npm ci && npm test']);
  const pictures = [...readme.matchAll(/!\[[^\]]+\]\(([^)]+)\)/g)].map((m) => m[1] ?? '');
  expect(pictures.length).toBeGreaterThan(3);
  expect(pictures.filter((picture) => statSync(join(root, picture)).size > 80_000)).toEqual([]);
});

test('the README lists every setting of the process with its default, and no other', () => {
  const rows = [...readme.matchAll(/^\| `([A-Z_]+)` \| ([^|]*) \|/gm)].map((m) => [
    m[1],
    (m[2] ?? '').trim().replaceAll('`', ''),
  ]);
  const table = Object.entries(configTable).map(([name, row]) => [name, row.default]);
  expect(rows.map(([name]) => name).sort()).toEqual(table.map(([name]) => name).sort());
  for (const [name, fallback] of table) {
    if (fallback) expect(rows.find(([n]) => n === name)?.[1], name).toBe(fallback);
  }
});

test('every path that the documents name is there', () => {
  const paths = [
    ...`${readme}\n${developers}`.matchAll(/[`(]((?:server|views|static|migrations|seed|tests)\/[\w./-]+?)[`)]/g),
  ]
    .map((m) => m[1] ?? '')
    .filter((p) => !p.includes('NN') && !p.includes('fastness') && !p.includes('…'));
  expect(paths.length).toBeGreaterThan(5);
  expect(paths.filter((path) => !existsSync(join(root, path)))).toEqual([]);
});

const RUNNABLE =
  ['/usr/bin/curl', '/bin/curl'].some((p) => existsSync(p)) && ['/usr/bin/jq', '/bin/jq'].some((p) => existsSync(p));

test.skipIf(!RUNNABLE && process.env['REQUIRE_BROWSER'] !== '1')(
  'the guide’s script goes by curl alone from the swatch to the exported month',
  { timeout: 600_000 },
  async () => {
    const app = await startApp();
    const folder = mkdtempSync(join(tmpdir(), 'lot-and-shade-script-'));
    try {
      if (!app.owner) throw new Error('The studio has an owner.');
      await sowSampleStudio(app.deps, app.owner);
      const { token } = makeToken(app.deps, { name: 'script', scope: 'write', expiresAt: null }, app.owner.personId);
      const script = await fetch(`${app.url}/static/guide/wholeWay.sh`);
      expect(script.status).toBe(200);
      writeFileSync(join(folder, 'wholeWay.sh'), await script.text());
      const ran = spawn('bash', ['wholeWay.sh'], {
        cwd: folder,
        env: { ...process.env, BASE: app.url, TOKEN: token },
      });
      let said = '';
      for (const stream of [ran.stdout, ran.stderr]) {
        stream.on('data', (chunk: Buffer) => {
          said += chunk.toString();
        });
      }
      const code = await new Promise<number | null>((resolve) => ran.once('close', resolve));
      expect(code, said).toBe(0);
      const number = /"number": "([^"]+)"/.exec(said)?.[1];
      const total = Number(/"costMinor": (\d+)/.exec(said)?.[1]);
      expect(total).toBeGreaterThan(0);
      const rows = parse(readFileSync(join(folder, 'batch-history.csv'), 'utf8'), { columns: true }) as Record<
        string,
        string
      >[];
      const own = rows.filter((row) => row['lot'] === number);
      expect(Math.round(own.reduce((sum, row) => sum + Number(row['cost']), 0) * 100)).toBe(total);
      expect(said).toContain('{"known":true,"lab":{');
      expect(said).toMatch(/\{"deltaE2000":[\d.]+,"deltaE90":[\d.]+,"components":\[\{"code":"F/);
    } finally {
      await app.close();
      rmSync(folder, { recursive: true, force: true });
    }
  },
);
