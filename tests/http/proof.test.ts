import { spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { mkdirSync, mkdtempSync, readFileSync, rmSync, utimesSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Decrypter } from 'age-encryption';
import Database from 'better-sqlite3';
import { describe, expect, onTestFinished, test } from 'vitest';
import yazl from 'yazl';
import { ArchiveDamage, readArchive } from '../../server/backup/archive.ts';
import { keyShown, keyTyped, theStudioKey } from '../../server/backup/studioKey.ts';
import { takeBackup } from '../../server/backup/takeBackup.ts';
import { tryNewestArchive } from '../../server/backup/trials.ts';
import { verifyStudio } from '../../server/backup/verify.ts';
import { tryArchive } from '../../server/commands/trying.ts';
import type { Sqlite } from '../../server/db/open.ts';
import { sumOver } from '../../server/db/proof/begin.ts';
import { canonical, linkOf } from '../../server/db/proof/rowDigest.ts';
import { EMPTY, keyOfDifference, packed, plus, termOf, unpacked } from '../../server/db/proof/sums.ts';
import { freshStudio, type TestStudio } from '../support/app.ts';
import { compiled } from '../support/compiled.ts';
import { freshSampleStudio } from '../support/sampleStudio.ts';
import { unzipped } from '../support/unzip.ts';

/** Writes as a program would that knows nothing of the service, and is not held up by its triggers. */
function behindItsBack(sqlite: Sqlite, ...statements: string[]): void {
  const triggers = sqlite.prepare("select name, sql from sqlite_master where type = 'trigger'").all() as {
    name: string;
    sql: string;
  }[];
  for (const { name } of triggers) sqlite.exec(`drop trigger "${name}"`);
  sqlite.pragma('foreign_keys = OFF');
  for (const statement of statements) sqlite.exec(statement);
  for (const { sql } of triggers) sqlite.exec(sql);
}

const wrongIn = async ({ deps }: TestStudio): Promise<string[]> =>
  (await verifyStudio(deps.db, deps.config.dataDir)).filter((c) => c.name.endsWith('written')).flatMap((c) => c.wrong);

describe('a row that the service did not write', () => {
  test.each([
    ['a word of a note', "update log_entries set text = text || '.' where id = 12", /^log_entries 12 is not/],
    ['a reading of the scale', 'update weighings set mass_mg = mass_mg + 10 where id = 5', /^weighings 5 is not/],
    [
      'what was taken from a jar',
      'update stock_ledger set quantity = quantity - 1 where id = 9',
      /^stock_ledger 9 is not/,
    ],
    ['a cost', "update cost_lines set description = 'other' where id = 20", /^cost_lines 20 is not/],
    [
      'the last entry of the log',
      'delete from log_entries where id = (select max(id) from log_entries)',
      /^log_entries \d+ is missing/,
    ],
    ['an entry from the middle', 'delete from weighings where id = 7', /^weighings 7 is missing/],
    ['an address', "update customers set contact = 'elsewhere' where id = 2", /^customers 2 is not/],
    ['a role', "update people set role = 'viewer' where id = 1", /^people 1 is not/],
    ['a dye', 'delete from dyes where id = 3', /^dyes 3 is missing/],
    [
      'a recipe’s share',
      'update recipe_components set share_ppm = share_ppm - 1 where revision_id = 4 and ordinal = 1',
      /^recipe_components 4 1 is not/,
    ],
    [
      'a scale',
      "insert into scales (id, name, readability_mg, is_default) values (77, 'x', 10, 0)",
      /^scales 77 was not written/,
    ],
    [
      'the number of a customer',
      'update customers set id = 900 where id = 3',
      /^customers 3 is missing, and customers 900/,
    ],
    ['two orders', "update orders set note = 'x' where id in (1, 2)", /^several rows of orders/],
    ['the schema', 'create view quietly as select 1', /^sqlite_master view quietly was not/],
  ])('%s is noticed and named', async (_, statement, words) => {
    const studio = await freshSampleStudio();
    expect(await wrongIn(studio)).toEqual([]);
    behindItsBack(studio.deps.sqlite, statement);
    const wrong = await wrongIn(studio);
    expect(wrong).toEqual([expect.stringMatching(words)]);
  });

  test('what the service writes, changes and takes away is in order all the while', async () => {
    const studio = await freshSampleStudio();
    const { api, page, deps } = studio;
    expect((await api.post('/fibres', { name: 'Hemp', class: 'cellulose', kind: 'cloth' })).status).toBe(201);
    expect((await page.post('/customers', { name: 'Café Foz', contact: '', note: '' })).status).toBe(303);
    const { sqlite } = deps;
    const swatchId = sqlite.prepare('select min(id) from swatches').pluck().get();
    sqlite.prepare('delete from swatch_stock_lots where swatch_id = ?').run(swatchId);
    // With what a text may hold, and what is none.
    sqlite.prepare('insert into customers (name, contact, note) values (?, ?, ?)').run('\uFFFD', 'a\u0000b', '🧵');
    sqlite.prepare('insert or replace into customers (id, name) values (2, ?)').run('Replaced');
    expect(await wrongIn(studio)).toEqual([]);
  });

  test('a row that a rule takes away leaves its link, and its number may come again', async () => {
    const studio = await freshSampleStudio();
    const { sqlite } = studio.deps;
    const guard = sqlite
      .prepare("select sql from sqlite_master where name = 'stock_ledger_no_delete'")
      .pluck()
      .get() as string;
    const last = sqlite.prepare('select * from stock_ledger order by id desc limit 1').get() as Record<string, unknown>;
    sqlite.exec('drop trigger stock_ledger_no_delete');
    sqlite.prepare('delete from stock_ledger where id = ?').run(last['id']);
    sqlite.exec(guard);
    expect(await wrongIn(studio)).toEqual([]);
    const names = Object.keys(last);
    const triggers = sqlite
      .prepare("select name from sqlite_master where name like 'stock_ledger_%' and type = 'trigger'")
      .pluck();
    for (const name of triggers.all() as string[]) sqlite.exec(`drop trigger ${name}`);
    sqlite
      .prepare(`insert into stock_ledger (${names.join(', ')}) values (${names.map((n) => `@${n}`).join(', ')})`)
      .run({ ...last, reason: 'another' });
    // Only the guards are missing now.
    expect((await wrongIn(studio)).join()).toMatch(/^several rows of sqlite_master/);
  });

  test('text that is no UTF-8 is told from other such text and from replacement characters', async () => {
    const studio = await freshSampleStudio();
    const { sqlite } = studio.deps;
    sqlite.prepare("update customers set note = 'a\uFFFDb' where id = 1").run();
    behindItsBack(sqlite, "update customers set note = cast(x'61ff62' as text) where id = 1");
    expect(sqlite.prepare('select note from customers where id = 1').pluck().get()).toBe('a\uFFFDb');
    expect(await wrongIn(studio)).toEqual(['customers 1 is not what was written']);
  });

  test('a program that does not bring the service’s functions cannot write at all', async () => {
    const studio = await freshStudio();
    const file = join(studio.deps.config.dataDir, 'copy.sqlite');
    await studio.deps.sqlite.backup(file);
    const other = new Database(file);
    onTestFinished(() => {
      other.close();
    });
    expect(() => other.prepare("update people set role = 'viewer'").run()).toThrow(/no such function: sum_changed/);
    expect(() => other.prepare("insert into customers (name) values ('x')").run()).toThrow(/no such function/);
  });
});

describe('the arithmetic of it', () => {
  test('values written down read as one row only', () => {
    const rows = [
      ['ab', 'c'],
      ['a', 'bc'],
      ['a', null, 'bc'],
      [1, 2],
      [12],
      ['1', 2],
      [Buffer.from('a')],
      ['a'],
      [null],
      [''],
    ];
    expect(new Set(rows.map((row) => canonical('t', row))).size).toBe(rows.length);
  });

  test('a link is the SHA-256 of the link before it and of the row', () => {
    const first = linkOf(null, 'log_entries', [1, 'note', null]);
    const by = (text: string): string => createHash('sha256').update(text).digest('hex');
    expect(first.toString('hex')).toBe(by('the record begins\nlog_entries\ni1;t4:noten'));
    expect(linkOf(first, 'log_entries', [2, '', 3]).toString('hex')).toBe(
      by(`${first.toString('hex')}\nlog_entries\ni2;t0:i3;`),
    );
  });

  test('a sum does not mind the order, and names the one row by which two differ', () => {
    const rows = Array.from({ length: 50 }, (_, i) => [i + 1, `row ${i}`]);
    const table = { name: 't', columns: ['id', 'name'], keyLength: 0 };
    const sum = sumOver(table, rows);
    expect(sumOver(table, rows.toReversed())).toEqual(sum);
    expect(unpacked('t', packed('t', sum))).toEqual(sum);
    expect(unpacked('u', packed('t', sum))).toBeNull();
    expect(keyOfDifference(sum, sum)).toBeNull();
    expect(keyOfDifference(sum, sumOver(table, rows.with(30, [31, 'other'])))).toBe(31n);
    expect(keyOfDifference(sum, sumOver(table, rows.slice(0, -1)))).toBe(50n);
    expect(plus(plus(EMPTY, termOf('t', 0, [1, 'x']), 1), termOf('t', 0, [1, 'x']), -1)).toEqual(EMPTY);
  });

  test('a key is read from paper, and no other is', () => {
    const key = '0123456789ABCDEFGHJKMNPQRSTVWXYZ';
    expect(keyTyped(keyShown(key).toLowerCase().replace('0', 'o').replace('1', 'l'))).toBe(key);
    const dataDir = folder();
    expect(theStudioKey(dataDir)).toBe(theStudioKey(dataDir));
    writeFileSync(join(dataDir, 'studio.key'), 'spilt tea\n');
    expect(() => theStudioKey(dataDir)).toThrow('holds no key');
    expect([keyTyped(key.slice(1)), keyTyped(`${key.slice(1)}U`)]).toEqual([null, null]);
  });
});

const binary = (response: NodeJS.ReadableStream, done: (error: Error | null, body: Buffer) => void): void => {
  const chunks: Buffer[] = [];
  response.on('data', (chunk: Buffer) => chunks.push(chunk));
  response.on('end', () => done(null, Buffer.concat(chunks)));
};

function folder(): string {
  const made = mkdtempSync(join(tmpdir(), 'lot-and-shade-proof-'));
  onTestFinished(() => rmSync(made, { recursive: true, force: true }));
  return made;
}

/** The archive with somebody's role changed, every hash in it worked out anew, and the seal as it was, or gone. */
async function forged(file: string, seal: 'kept' | 'off'): Promise<string> {
  const files = await unzipped(readFileSync(file));
  const database = join(folder(), 'studio.sqlite');
  writeFileSync(database, files.get('studio.sqlite') ?? '');
  const sqlite = new Database(database);
  const triggers = sqlite.prepare("select name, sql from sqlite_master where type = 'trigger'").all() as {
    name: string;
    sql: string;
  }[];
  for (const { name } of triggers) sqlite.exec(`drop trigger "${name}"`);
  sqlite.exec("update people set role = 'owner'");
  const table = { name: 'people', columns: [] as string[], keyLength: 0 };
  table.columns = sqlite.prepare("select name from pragma_table_info('people')").pluck().all() as string[];
  const rows = sqlite.prepare('select * from people').raw().all() as string[][];
  sqlite
    .prepare("update table_sums set state = ? where table_name = 'people'")
    .run(packed('people', sumOver(table, rows)));
  for (const { sql } of triggers) sqlite.exec(sql);
  sqlite.pragma('journal_mode = DELETE');
  sqlite.close();
  const bytes = readFileSync(database);
  const manifest = JSON.parse(String(files.get('manifest.json')));
  const sha256 = createHash('sha256').update(bytes).digest('hex');
  Object.assign(manifest.files[0], { byteSize: bytes.length, sha256 });
  manifest.tables.people.sum = sumOver(table, rows).plain.toString(16).padStart(32, '0');
  const zip = new yazl.ZipFile();
  zip.addBuffer(bytes, 'studio.sqlite');
  for (const [name, content] of files)
    if (!/^(studio|manifest)/.test(name)) zip.addBuffer(content, name, { compress: false });
  zip.addBuffer(Buffer.from(JSON.stringify(manifest)), 'manifest.json');
  if (seal === 'kept') zip.addBuffer(files.get('manifest.seal') ?? Buffer.alloc(0), 'manifest.seal');
  zip.end();
  const chunks: Buffer[] = [];
  for await (const chunk of zip.outputStream) chunks.push(chunk as Buffer);
  const made = join(folder(), 'forged.zip');
  writeFileSync(made, Buffer.concat(chunks));
  return made;
}

const restoredBy = (archive: string, dataDir: string, ...more: string[]) =>
  spawnSync(process.execPath, [compiled('server/commands/restore.ts'), archive, ...more], {
    env: { ...process.env, DATA_DIR: dataDir, LOG_LEVEL: 'fatal' },
    encoding: 'utf8',
    input: '',
  });

describe('an archive', () => {
  test('names the head of the record, which stands in Settings too', async () => {
    const { deps, page } = await freshSampleStudio();
    const { file } = await takeBackup(deps, { how: 'button', by: null });
    const { manifest, seal } = await readArchive(file, null, theStudioKey(deps.config.dataDir));
    const link = (
      deps.sqlite.prepare('select link from record_links order by id desc limit 1').pluck().get() as Buffer
    ).toString('hex');
    expect([seal, manifest.record?.link]).toEqual(['sealed', link]);
    expect(manifest.tables?.['people']?.rows).toBe(deps.sqlite.prepare('select count(*) from people').pluck().get());
    const shown = (await page.get('/settings')).text;
    expect(shown.replace(/\s/g, '')).toContain(link);
  });

  test('stands in each file of a month too', async () => {
    const { api, deps } = await freshSampleStudio();
    const link = (
      deps.sqlite.prepare('select link from record_links order by id desc limit 1').pluck().get() as Buffer
    ).toString('hex');
    const query = 'rows=lot&from=2026-01-01&to=2026-01-31';
    expect((await api.get(`/exports/lots.csv?${query}`)).headers['record-seal']).toMatch(new RegExp(`^\\d+ ${link}$`));
    const answer = await api
      .get(`/exports/lots.xlsx?${query}`)
      .buffer(true)
      .parse(binary as never);
    const sheets = [...(await unzipped(answer.body)).values()].map(String).join('');
    expect(sheets).toContain(link);
  });

  test('with a role changed and every hash made anew is refused; without its seal it asks for words', async () => {
    const { deps } = await freshSampleStudio();
    const { file } = await takeBackup(deps, { how: 'button', by: null });
    const key = theStudioKey(deps.config.dataDir);
    await expect(readArchive(await forged(file, 'kept'), null, key)).rejects.toThrow(
      /changed after this studio had sealed it/,
    );
    const off = await forged(file, 'off');
    const found = await tryArchive(deps.config, { file: off, folder: join(folder(), 'tried') });
    expect(found.filter((c) => c.wrong.length > 0).map((c) => c.wrong[0])).toEqual([
      expect.stringContaining('it carries no seal'),
    ]);
    const asked = restoredBy(off, join(folder(), 'data'), '--key', key);
    expect([asked.status, asked.stderr]).toEqual([2, expect.stringContaining('--unproven')]);
  }, 240_000);

  test('restored where there is no key asks for it or for words; with the key it keeps it', async () => {
    const { deps } = await freshSampleStudio();
    const { file } = await takeBackup(deps, { how: 'button', by: null });
    const key = theStudioKey(deps.config.dataDir);
    const dataDir = join(folder(), 'data');
    const without = restoredBy(file, dataDir);
    expect([without.status, without.stdout, without.stderr]).toEqual([
      2,
      expect.stringContaining('there is no key here'),
      expect.stringContaining('--key KEY'),
    ]);
    expect(restoredBy(file, dataDir, '--key', 'nonsense').stderr).toContain('A key is 32 letters and digits');
    const other = restoredBy(file, dataDir, '--key', '0'.repeat(32));
    expect([other.status, other.stdout]).toEqual([2, expect.stringContaining('another studio’s key has sealed it')]);
    const done = restoredBy(file, dataDir, '--key', keyShown(key));
    expect([done.status, done.stderr]).toEqual([0, '']);
    expect(theStudioKey(dataDir)).toBe(key);
    expect(restoredBy(file, join(folder(), 'data'), '--unproven').status).toBe(0);
  }, 240_000);

  test('is encrypted to a passphrase where the studio wants it, opens with any age tool, and comes back', async () => {
    const { deps, page } = await freshSampleStudio();
    const short = await page.post('/settings/backup/passphrase', { passphrase: 'short' });
    expect([short.status, short.text]).toEqual([422, expect.stringContaining('At least 12 characters')]);
    expect((await page.post('/settings/backup/passphrase', { passphrase: 'washed until it runs clear' })).status).toBe(
      303,
    );
    const { file } = await takeBackup(deps, { how: 'button', by: null });
    expect(file).toMatch(/\.zip\.age$/);
    const age = new Decrypter();
    age.addPassphrase('washed until it runs clear');
    const plain = join(folder(), 'plain.zip');
    writeFileSync(plain, await age.decrypt(readFileSync(file)));
    expect((await readArchive(plain, null, theStudioKey(deps.config.dataDir))).seal).toBe('sealed');
    await expect(readArchive(file, null)).rejects.toThrow(ArchiveDamage);
    expect(await tryNewestArchive(deps)).toBe('');
    const dataDir = join(folder(), 'data');
    const key = theStudioKey(deps.config.dataDir);
    expect(restoredBy(file, dataDir, '--key', key).stderr).toContain('It is encrypted.');
    const passphrase = join(folder(), 'passphrase');
    writeFileSync(passphrase, 'some other passphrase\n');
    expect(restoredBy(file, dataDir, '--key', key, '--passphrase-file', passphrase).stderr).toContain(
      'does not open it',
    );
    writeFileSync(passphrase, 'washed until it runs clear\n');
    expect(restoredBy(file, dataDir, '--key', key, '--passphrase-file', passphrase)).toMatchObject({
      status: 0,
      stderr: '',
    });
    expect((await page.post('/settings/backup/passphrase', { passphrase: '' })).status).toBe(303);
    expect((await takeBackup(deps, { how: 'button', by: null, file: join(folder(), 'b.zip') })).file).toMatch(/\.zip$/);
  }, 240_000);
});

describe('a replica', () => {
  test('stands on Today when it is not there or the studio has gone on without it, and is quiet otherwise', async () => {
    const studio = await freshSampleStudio();
    const { deps, clock, page, api } = studio;
    const told = async () => (await api.get('/today')).body.replica;
    expect(await told()).toBeNull();
    const replicaDir = folder();
    const file = join(deps.config.dataDir, 'studio.sqlite');
    const writtenAt = (path: string, at: number): void => {
      writeFileSync(path, '');
      utimesSync(path, at / 1000, at / 1000);
    };
    deps.config.replicaDir = replicaDir;
    writtenAt(file, clock.now);
    expect(await told()).toEqual({ folder: replicaDir, at: null, isBehind: false });
    expect((await page.get('/')).text).toContain('There is no replica in');
    mkdirSync(join(replicaDir, 'generations', 'ab'), { recursive: true });
    writtenAt(join(replicaDir, 'generations', 'ab', '1.wal'), clock.now);
    clock.now += 20 * 60_000;
    // Nobody has written since.
    expect(await told()).toMatchObject({ isBehind: false });
    expect((await page.get('/')).text).not.toContain('replica');
    expect((await page.get('/settings/backup')).text).toContain('The replica was last written');
    writtenAt(file, clock.now);
    clock.now += 2 * 60_000;
    expect(await told()).toMatchObject({ isBehind: true });
    expect((await page.get('/')).text).toContain('The replica is behind.');
  });
});

test('what an upgrade finds changed is not forgotten by it', async () => {
  const studio = await freshSampleStudio();
  const { sqlite } = studio.deps;
  const { beginProof, restProof } = await import('../../server/db/proof/begin.ts');
  behindItsBack(sqlite, "update customers set contact = 'elsewhere' where id = 2");
  restProof(sqlite);
  sqlite.exec('alter table stock_ledger add column shelf text');
  sqlite.exec('create table later (id integer primary key, name text) strict');
  beginProof(sqlite);
  expect(await wrongIn(studio)).toEqual([]);
  const checks = await verifyStudio(studio.deps.db, studio.deps.config.dataDir);
  expect(checks.flatMap((c) => c.wrong)).toEqual([
    expect.stringMatching(/^found by an upgrade on \d{4}-\d\d-\d\d: customers 2 is not what was written$/),
  ]);
  // New tables and columns are watched like any other from then on.
  sqlite.prepare("insert into later (name) values ('x')").run();
  behindItsBack(sqlite, "update later set name = 'y'", "update stock_ledger set shelf = 'top' where id = 1");
  expect(await wrongIn(studio)).toEqual([
    expect.stringMatching(/^stock_ledger 1 is not/),
    'later 1 is not what was written',
  ]);
});
