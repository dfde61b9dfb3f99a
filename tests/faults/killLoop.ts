import { type ChildProcess, spawn, spawnSync } from 'node:child_process';
import { randomUUID } from 'node:crypto';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { setTimeout as wait } from 'node:timers/promises';
import { pathToFileURL } from 'node:url';
import { buildApp } from '../../server/app.ts';
import { verifyStudio } from '../../server/backup/verify.ts';
import { readConfig } from '../../server/config.ts';
import { applyMigrations } from '../../server/db/migrate.ts';
import { openDatabase, openForReading } from '../../server/db/open.ts';
import type { Deps } from '../../server/deps.ts';
import { setUpStudio } from '../../server/people/firstRun.ts';
import { makeToken } from '../../server/people/signIn.ts';
import { compiled } from '../support/compiled.ts';
import { makeWorld } from '../support/world.ts';

/* The power cut, hundreds of times: a client writes notes, weighings and stock as fast as the service answers and keeps its own list
   of what was acknowledged; the service is killed at a random moment and started again on the same folder; every
   acknowledged entry must be there, once, and the database sound. `npm run test:kill -- 300`. */

export interface KillLoopOptions {
  rounds: number;
  /** The longest time from the first write to the kill, ms. */
  longestMs: number;
  say?: (line: string) => void;
}

export interface KillLoopResult {
  kills: number;
  acknowledged: number;
  /** Acknowledged and not there, or there twice: must be empty. */
  lost: string[];
  /** What SQLite and our own sums find wrong afterwards: must be empty. */
  findings: string[];
  /** Written but never acknowledged: the answer was cut off. Kept is right, lost is right. */
  unacknowledgedKept: number;
  /** What `npm run verify` says of the folder, and the code that it ends with. */
  verified: { code: number | null; said: string };
  /** Where it happened; the caller removes it. */
  dataDir: string;
}

interface Acknowledged {
  clientId: string;
  lotId: number;
  kind: 'note' | 'weighing';
  amount: number;
}

const { packageRoot } = readConfig({});

/** The service as a process. */
async function start(dataDir: string): Promise<{ child: ChildProcess; url: string }> {
  const child = spawn(process.execPath, [compiled('server/main.ts')], {
    cwd: packageRoot,
    env: { ...process.env, PORT: '0', HOST: '127.0.0.1', DATA_DIR: dataDir, LOG_LEVEL: 'error' },
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  let complaint = '';
  child.stderr.on('data', (chunk: Buffer) => {
    complaint += chunk.toString();
  });
  const url = await new Promise<string>((resolve, reject) => {
    createInterface({ input: child.stdout }).on('line', (line) => {
      const address = /http:\/\/127\.0\.0\.1:\d+/.exec(line)?.[0];
      if (address) resolve(address);
    });
    child.once('exit', () => reject(new Error(`The service did not start again: ${complaint}`)));
  });
  return { child, url };
}

async function prepare(dataDir: string): Promise<{ token: string; lots: Line[] }> {
  const config = readConfig({ DATA_DIR: dataDir, LOG_LEVEL: 'silent', TZ: 'Europe/Lisbon' });
  const open = openDatabase(join(dataDir, 'studio.sqlite'));
  await applyMigrations(open, join(packageRoot, 'migrations'));
  const deps: Deps = { config, ...open, now: Date.now, newId: randomUUID, firstRunCode: '314159' };
  const personId = await setUpStudio(deps, {
    studioName: 'Test Works',
    currency: 'EUR',
    zone: 'Europe/Lisbon',
    units: 'metric',
    readabilityMg: 10,
    ownerName: 'Inês',
    passphrase: 'four unrelated words',
  });
  const owner = { personId, name: 'Inês', role: 'owner' as const };
  const world = makeWorld({ deps, owner });
  const { token } = makeToken(deps, { name: 'kill loop', scope: 'write', expiresAt: null }, personId);
  const app = await buildApp(deps);
  const lots: Line[] = [];
  for (let i = 0; i < 4; i++) {
    const answer = await app.inject({
      method: 'POST',
      url: '/api/v1/lots',
      headers: { authorization: `Bearer ${token}` },
      payload: {
        fibreId: world.linenId,
        methodId: world.methodId,
        goodsText: `Lot ${i}`,
        mass: { found: 'weighedDry', massMg: 1_200_000 },
        colours: [{ revisionId: world.revisionId, depthPpm: 20_000 }],
      },
    });
    if (answer.statusCode !== 201) throw new Error(`planning: ${answer.body}`);
    const lot = answer.json() as { lotId: number; lines: { componentId: number; code: string }[] };
    const line = lot.lines.find((l) => l.code === 'RB');
    if (!line) throw new Error('the weigh-up has no blue');
    lots.push({ lotId: lot.lotId, componentId: line.componentId, stockLotId: world.stock.blue.id });
  }
  await app.close();
  open.sqlite.close();
  return { token, lots };
}

interface Line {
  lotId: number;
  componentId: number;
  stockLotId: number;
}

/** Writes until the service is gone. */
async function writeUntilGone(
  url: string,
  token: string,
  line: Line,
  tried: Set<string>,
  acknowledged: Acknowledged[],
): Promise<void> {
  for (let n = 0; ; n++) {
    const clientId = randomUUID();
    const kind = n % 2 === 0 ? 'note' : 'weighing';
    const amount = 10 + (n % 90);
    tried.add(clientId);
    const at = Date.now();
    const [path, body] =
      kind === 'note'
        ? ['log', { clientId, at, kind: 'note', text: `note ${clientId}` }]
        : [
            'weighings',
            {
              clientId,
              at,
              componentId: line.componentId,
              stockLotId: line.stockLotId,
              massMg: amount,
              confirmed: true,
            },
          ];
    let status: number;
    try {
      const answer = await fetch(`${url}/api/v1/lots/${line.lotId}/${path}`, {
        method: 'POST',
        headers: { authorization: `Bearer ${token}`, 'content-type': 'application/json' },
        body: JSON.stringify(body),
      });
      status = answer.status;
      if (status >= 400) throw new Refused(`${path} answered ${status}: ${await answer.text()}`);
      await answer.text();
    } catch (error) {
      if (error instanceof Refused) throw error;
      return;
    }
    acknowledged.push({ clientId, lotId: line.lotId, kind, amount });
  }
}
class Refused extends Error {}

/** What is wrong with the studio at rest, by the same checks as `npm run verify`. */
async function findingsOf(dataDir: string): Promise<string[]> {
  const { sqlite, db } = openForReading(join(dataDir, 'studio.sqlite'));
  try {
    return (await verifyStudio(db, dataDir)).flatMap((check) => check.wrong.map((wrong) => `${check.name}: ${wrong}`));
  } finally {
    sqlite.close();
  }
}

/** The command itself, as somebody runs it after a power cut. */
function verifiedByCommand(dataDir: string): KillLoopResult['verified'] {
  const { status, stdout, stderr } = spawnSync('npm', ['run', '--silent', 'verify'], {
    cwd: packageRoot,
    env: { ...process.env, DATA_DIR: dataDir, LOG_LEVEL: 'error' },
    encoding: 'utf8',
    shell: process.platform === 'win32',
  });
  return { code: status, said: `${stdout}${stderr}`.trim() };
}

export async function killLoop({ rounds, longestMs, say = () => {} }: KillLoopOptions): Promise<KillLoopResult> {
  const dataDir = mkdtempSync(join(tmpdir(), 'lot-and-shade-kill-'));
  const { token, lots } = await prepare(dataDir);
  const acknowledged: Acknowledged[] = [];
  const tried = new Set<string>();
  const lost: string[] = [];
  const findings: string[] = [];
  let checked = 0;

  /** Looks into the file itself, before the service starts anew, for what was acknowledged since the last look. Only reading: who
   *  may write tidies the write-ahead log away, and the service starts on no folder whose log has gone. */
  const check = (): void => {
    const { sqlite } = openForReading(join(dataDir, 'studio.sqlite'));
    const find = sqlite.prepare(
      `select e.lot_id as lotId, e.kind, w.mass_mg as massMg, (select -sum(quantity) from stock_ledger g where g.weighing_id = w.id) as issued
       from log_entries e left join weighings w on w.log_entry_id = e.id where e.client_id = ?`,
    );
    for (const entry of acknowledged.slice(checked)) {
      const rows = find.all(entry.clientId) as {
        lotId: number;
        kind: string;
        massMg: number | null;
        issued: number | null;
      }[];
      const [row] = rows;
      const whole =
        rows.length === 1 &&
        row?.lotId === entry.lotId &&
        row.kind === entry.kind &&
        (entry.kind === 'note' || (row.massMg === entry.amount && row.issued === entry.amount));
      if (!whole) lost.push(`${entry.kind} ${entry.clientId}`);
    }
    checked = acknowledged.length;
    sqlite.close();
  };

  for (let round = 1; round <= rounds; round++) {
    const { child, url } = await start(dataDir);
    const gone = new Promise<void>((resolve) => child.once('exit', () => resolve()));
    const writers = Promise.all(lots.map((line) => writeUntilGone(url, token, line, tried, acknowledged)));
    // Handled here already, so that a refusal does not leave the service running.
    writers.catch(() => {});
    await wait(Math.random() * longestMs);
    child.kill('SIGKILL');
    await gone;
    await writers;
    check();
    findings.push(...(round % 25 === 0 || round === rounds ? await findingsOf(dataDir) : []));
    if (round % 10 === 0 || round === rounds)
      say(`${round} kills, ${acknowledged.length} entries acknowledged, ${lost.length} lost`);
    if (lost.length > 0 || findings.length > 0) break;
  }
  // What was acknowledged in the first round must still be there after the last.
  checked = 0;
  check();
  const { sqlite } = openForReading(join(dataDir, 'studio.sqlite'));
  const kept = new Set(sqlite.prepare('select client_id from log_entries').pluck().all() as string[]);
  sqlite.close();
  const sure = new Set(acknowledged.map((a) => a.clientId));
  return {
    kills: rounds,
    acknowledged: acknowledged.length,
    lost: [...new Set(lost)],
    findings,
    unacknowledgedKept: [...tried].filter((id) => !sure.has(id) && kept.has(id)).length,
    verified: verifiedByCommand(dataDir),
    dataDir,
  };
}

if (process.argv[1] !== undefined && import.meta.url === pathToFileURL(process.argv[1]).href) {
  const rounds = Number(process.argv[2] ?? 300);
  const result = await killLoop({
    rounds,
    longestMs: 700,
    say: (line) => {
      process.stdout.write(`${line}\n`);
    },
  });
  process.stdout.write(
    `${result.kills} kills, ${result.acknowledged} entries acknowledged: ${result.lost.length} lost, ${result.findings.length} findings; ${result.unacknowledgedKept} more were saved whose answer was cut off.\n`,
  );
  for (const line of [...result.lost.slice(0, 20), ...result.findings]) process.stdout.write(`  ${line}\n`);
  process.stdout.write(`npm run verify ended with ${result.verified.code}:\n${result.verified.said}\n`);
  if (result.lost.length > 0 || result.findings.length > 0 || result.verified.code !== 0) {
    process.stdout.write(`Left for looking at: ${result.dataDir}\n`);
    process.exitCode = 1;
  } else if (process.argv[3] === '--keep') process.stdout.write(`Kept: ${result.dataDir}\n`);
  else rmSync(result.dataDir, { recursive: true, force: true });
}
