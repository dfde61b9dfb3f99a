import { randomUUID } from 'node:crypto';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import sharp from 'sharp';
import { sowSampleStudio } from '../../seed/studio.ts';
import { buildApp } from '../../server/app.ts';
import { verdict, verifyStudio } from '../../server/backup/verify.ts';
import { readConfig } from '../../server/config.ts';
import { applyMigrations } from '../../server/db/migrate.ts';
import { openDatabase } from '../../server/db/open.ts';
import type { Actor, Deps } from '../../server/deps.ts';
import type { App } from '../../server/http/app.ts';
import { setUpStudio } from '../../server/people/firstRun.ts';
import { makeToken } from '../../server/people/signIn.ts';
import { silence } from '../support/silence.ts';
import { makeWorld } from '../support/world.ts';
import { livingRequests, type Samples } from './living.ts';
import { type ApiDocument, type Better, bytesOf, type FuzzRequest, fuzzRoutes } from './requests.ts';

export interface FuzzOptions {
  requests: number;
  seed: number;
  /** 'sample' takes the whole sample studio; 'small' a few rows, for a short run. */
  studio: 'sample' | 'small';
  /** Only routes whose name contains this. */
  only?: string;
  say?: (line: string) => void;
}

export interface FuzzFailure {
  why: string;
  request: FuzzRequest;
  status: number;
  answer: string;
}

export interface FuzzResult {
  sent: number;
  /** Answers by hundred: '2xx' → how many. */
  byStatus: Record<string, number>;
  routes: number;
  /** Routes that never answered 2xx. */
  neverDone: string[];
  failures: FuzzFailure[];
  /** What is wrong with the studio afterwards. */
  findings: string[];
}

/** A request that takes this long is taken as hanging. Far more than any needs, so that a busy machine does not fail it. */
const HANG_MS = 60_000;
const INSIDES = /\n\s+at |node_modules|SQLITE_|SqliteError|better-sqlite3|drizzle|\.ts:\d+|\/server\//;

/** What may not be in an answer, whatever was asked. */
function complaint(
  request: FuzzRequest,
  status: number,
  headers: Readonly<Record<string, unknown>>,
  body: string,
): string | null {
  const type = String(headers['content-type'] ?? '');
  if (status >= 500 && !(status === 503 && body.includes('"busy"'))) return `answered ${status}`;
  if (status >= 400 && !type.startsWith('application/problem+json')) return `a refusal of type ${type || '(none)'}`;
  // An echo of what was sent is not ours.
  if (INSIDES.test(body) && !(request.payload ?? '').includes('at ') && status >= 400) return 'tells of our insides';
  if (type.includes('json') && headers['content-encoding'] === undefined && status !== 204 && body !== '') {
    try {
      JSON.parse(body);
    } catch {
      return 'JSON that is none';
    }
  }
  return null;
}

async function openStudio(
  kind: FuzzOptions['studio'],
): Promise<{ deps: Deps; owner: Actor; app: App; close: () => Promise<void> }> {
  const dataDir = mkdtempSync(join(tmpdir(), 'lot-and-shade-fuzz-'));
  const config = readConfig({ DATA_DIR: dataDir, LOG_LEVEL: 'silent', TZ: 'Europe/Lisbon' });
  const open = openDatabase(join(dataDir, 'studio.sqlite'));
  // A throw-away database: nothing of it has to survive a power cut, and thousands of commits need not wait for the disk.
  open.sqlite.pragma('synchronous = OFF');
  await applyMigrations(open, join(config.packageRoot, 'migrations'));
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
  const owner: Actor = { personId, name: 'Inês', role: 'owner' };
  if (kind === 'sample') await sowSampleStudio(deps, owner);
  else makeWorld({ deps, owner });
  const app = await buildApp(deps);
  await app.ready();
  return {
    deps,
    owner,
    app,
    close: async () => {
      await app.close();
      open.sqlite.close();
      rmSync(dataDir, { recursive: true, force: true });
    },
  };
}

export async function fuzz(options: FuzzOptions): Promise<FuzzResult> {
  const { say = () => {} } = options;
  const { deps, owner, app, close } = await openStudio(options.studio);
  try {
    const token = (): string =>
      makeToken(deps, { name: 'fuzz', scope: 'write', expiresAt: null }, owner.personId).token;
    const document = (await app.inject({ url: '/api/v1/openapi.json' })).json() as ApiDocument;
    const makers = livingRequests(deps.sqlite, deps.now, await trueFiles());
    const living: Better['living'] = (route, pick) => makers[route]?.(pick) ?? null;
    const routes = fuzzRoutes(
      document,
      { highestId: options.studio === 'sample' ? 40 : 6, now: deps.now() },
      { living },
    ).filter((r) => options.only === undefined || r.name.includes(options.only));
    const perRoute = Math.ceil(options.requests / routes.length);
    const byStatus: Record<string, number> = {};
    const done = new Set<string>();
    const failures: FuzzFailure[] = [];
    let credential = token();
    let sent = 0;
    // One request to each route in turn, so that what one leaves behind is what the next meets.
    for (let round = 0; round < perRoute; round++) {
      for (const [i, route] of routes.entries()) {
        // Made only now, since it may go by what the requests before have left.
        const [, made] = fc.sample(route.request, { numRuns: 2, seed: options.seed + 7919 * round + i });
        if (!made) continue;
        const request = await edited(app, made, route.fields, credential);
        const wire = bytesOf(request);
        const send = () =>
          app.inject({
            method: request.method as 'GET',
            url: request.url,
            headers: { host: 'studio.test', authorization: `Bearer ${credential}`, ...request.headers },
            ...(wire === null ? {} : { payload: wire }),
          });
        const answered = send();
        let timer: NodeJS.Timeout | undefined;
        const hung = new Promise<null>((resolve) => {
          timer = setTimeout(() => resolve(null), HANG_MS);
        });
        const answer = await Promise.race([answered, hung]);
        clearTimeout(timer);
        sent += 1;
        const status = answer?.statusCode ?? 0;
        const body = answer?.body ?? '';
        const why =
          answer === null ? `no answer in ${HANG_MS / 1000} s` : complaint(request, status, answer.headers, body);
        if (why !== null) failures.push({ why, request, status, answer: body.slice(0, 600) });
        if (status === 401 && !request.headers['authorization']) credential = token();
        const hundred = `${Math.floor(status / 100)}xx`;
        byStatus[hundred] = (byStatus[hundred] ?? 0) + 1;
        if (status >= 200 && status < 300) done.add(request.route);
        if (sent % 2000 === 0) say(`${sent} requests, ${failures.length} failures`);
      }
    }
    const integrity = (deps.sqlite.pragma('integrity_check') as { integrity_check: string }[])
      .map((r) => r.integrity_check)
      .filter((line) => line !== 'ok');
    const { isWell, lines } = verdict(await verifyStudio(deps.db, deps.config.dataDir));
    return {
      sent,
      byStatus,
      routes: routes.length,
      neverDone: routes.map((r) => r.name).filter((name) => !done.has(name)),
      failures,
      findings: [...integrity, ...(isWell ? [] : lines)],
    };
  } finally {
    await close();
  }
}

/** A grey card on a table with goods beside it, and a tenth of a second of silence (RIFF/WAVE, PCM, mono, 8 kHz, 16 bit). */
async function trueFiles(): Promise<Samples> {
  const grey = (size: number, colour: string) =>
    sharp({ create: { width: size, height: size, channels: 3, background: colour } })
      .png()
      .toBuffer();
  const picture = await sharp({ create: { width: 240, height: 120, channels: 3, background: '#c8c0b0' } })
    .composite([
      { input: await grey(80, '#919191'), left: 15, top: 15 },
      { input: await grey(80, '#3a6b88'), left: 125, top: 15 },
    ])
    .png()
    .toBuffer();
  return { picture, sound: silence() };
}

/** For a whole PUT: what GET of the same address answers, as somebody would who edits it. */
async function edited(app: App, request: FuzzRequest, fields: readonly string[], token: string): Promise<FuzzRequest> {
  if (request.method !== 'PUT' || request.manner !== 'valid') return request;
  const read = await app.inject({ url: request.url, headers: { authorization: `Bearer ${token}` } });
  if (read.statusCode !== 200) return request;
  const resource = read.json() as Record<string, unknown>;
  const body = Object.fromEntries(fields.filter((f) => f in resource).map((f) => [f, resource[f]]));
  return { ...request, payload: JSON.stringify({ ...body, ...('note' in body ? { note: request.url } : {}) }) };
}

/** Failures, one of each kind, as somebody who is to mend them wants to read them. */
export function failureWords(failures: readonly FuzzFailure[]): string {
  const kinds = new Map<string, { first: FuzzFailure; count: number }>();
  for (const failure of failures) {
    const key = `${failure.request.route} ${failure.why}`;
    const known = kinds.get(key);
    if (known) known.count += 1;
    else kinds.set(key, { first: failure, count: 1 });
  }
  return [...kinds.values()]
    .map(
      ({ first: f, count }) =>
        `${count} × ${f.request.route} ${f.why} (${f.request.manner})\n    ${f.request.method} ${f.request.url.slice(0, 300)} ${JSON.stringify(f.request.headers).slice(0, 200)}\n    ${(f.request.payload ?? '').slice(0, 400)}\n    → ${f.status} ${f.answer.slice(0, 300)}`,
    )
    .join('\n');
}
