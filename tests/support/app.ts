import { randomBytes, scryptSync } from 'node:crypto';
import { cpSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import supertest from 'supertest';
import { onTestFinished } from 'vitest';
import { buildApp } from '../../server/app.ts';
import { readConfig } from '../../server/config.ts';
import { applyMigrations } from '../../server/db/migrate.ts';
import { openDatabase } from '../../server/db/open.ts';
import type { Actor, Deps } from '../../server/deps.ts';
import { foundStudio } from '../../server/people/firstRun.ts';
import { personOfSignIn } from '../../server/people/queries.ts';
import { makeToken, openSignIn, tokenHash } from '../../server/people/signIn.ts';
import { readingProcess } from '../../server/readApart.ts';

// A process of tests closes its studio after each; what reads files for them starts once.
readingProcess.hold();

/** 2026-03-16 09:00 UTC, a Monday; a test moves it with clock.now += … */
export const MONDAY = Date.UTC(2026, 2, 16, 9);

export interface TestStudio {
  deps: Deps;
  clock: { now: number };
  owner: Actor;
  app: Awaited<ReturnType<typeof buildApp>>;
  /** A browser signed in as the owner: cookie and Origin set, redirects not followed. */
  page: {
    get: (url: string) => supertest.Test;
    post: (url: string, form?: Record<string, string>) => supertest.Test;
    /** The same as a partial htmx request. */
    part: (method: 'get' | 'post', url: string, form?: Record<string, string>) => supertest.Test;
    send: (method: 'post', url: string) => supertest.Test;
  };
  /** The JSON API with a token that may write. */
  api: {
    get: (url: string) => supertest.Test;
    post: (url: string, body?: unknown) => supertest.Test;
    put: (url: string, body?: unknown) => supertest.Test;
    token: string;
  };
}

let migrated: Promise<Buffer> | undefined;
/** The bytes of an empty database with all migrations, which are applied once a process. */
const migratedBytes = (): Promise<Buffer> => {
  migrated ??= (async () => {
    const open = openDatabase(':memory:');
    await applyMigrations(open, join(readConfig({}).packageRoot, 'migrations'));
    const bytes = open.sqlite.serialize();
    open.sqlite.close();
    return bytes;
  })();
  return migrated;
};

/** A studio put away: the bytes of its database and the folder of its pictures. */
export interface KeptStudio {
  bytes: Buffer;
  dataDir: string;
}

/** A fresh deps on its own in-memory database and data folder, both empty or copied, with a clock of its own. */
export async function freshDeps(kept?: KeptStudio): Promise<{ deps: Deps; clock: { now: number } }> {
  const dataDir = mkdtempSync(join(tmpdir(), 'lot-and-shade-'));
  if (kept) cpSync(kept.dataDir, dataDir, { recursive: true });
  const config = readConfig({ DATA_DIR: dataDir, LOG_LEVEL: 'silent', TZ: 'Europe/Lisbon' });
  const open = openDatabase(kept?.bytes ?? (await migratedBytes()));
  const clock = { now: MONDAY };
  let ids = 0;
  const deps: Deps = {
    config,
    ...open,
    now: () => clock.now,
    newId: () => `00000000-0000-4000-8000-${String(++ids).padStart(12, '0')}`,
    firstRunCode: '314159',
  };
  onTestFinished(() => {
    open.sqlite.close();
    rmSync(dataDir, { recursive: true, force: true });
  });
  return { deps, clock };
}

/** The owner's passphrase under a hash of little cost: the cost is kept beside the hash, and every new one gets the service's
 *  own (tests/http/people.test.ts holds it). */
function cheapHash(): string {
  const cost = { N: 1024, r: 8, p: 1 };
  const salt = randomBytes(16);
  const key = scryptSync('four unrelated words', salt, 32, cost);
  return ['scrypt', cost.N, cost.r, cost.p, salt.toString('base64url'), key.toString('base64url')].join('$');
}

/** A studio set up by its owner (EUR, Lisbon, 0.01 g) without a door: for rules that are held without a request. */
export async function bareStudio(): Promise<Pick<TestStudio, 'deps' | 'clock' | 'owner'>> {
  const { deps, clock } = await freshDeps();
  return { deps, clock, owner: found(deps) };
}

/** The same with the app over it, and both doors into it. */
export async function freshStudio(): Promise<TestStudio> {
  const { deps, clock } = await freshDeps();
  return studioOver(deps, clock, found(deps));
}

/** Sets a studio up and answers its owner. */
export function found(deps: Deps): Actor {
  const personId = foundStudio(
    deps,
    {
      studioName: 'Test Works',
      currency: 'EUR',
      zone: 'Europe/Lisbon',
      units: 'metric',
      readabilityMg: 10,
      ownerName: 'Inês',
    },
    cheapHash(),
  );
  return { personId, name: 'Inês', role: 'owner' };
}

/** The app over a studio that was set up, and both doors into it as its owner. */
export async function studioOver(deps: Deps, clock: { now: number }, owner: Actor): Promise<TestStudio> {
  const { personId } = owner;
  const app = await buildApp(deps);
  await app.ready();
  onTestFinished(async () => {
    await app.close();
  });
  const cookie = `studio=${openSignIn(deps, personId, 'test')}`;
  // Prepared with the first page of a connection, which tests that count statements would count with it.
  personOfSignIn(deps.db, tokenHash('nobody'), deps.now());
  const { token } = makeToken(deps, { name: 'test', scope: 'write', expiresAt: null }, personId);
  const request = supertest(app.server);
  const browser = (test: supertest.Test): supertest.Test =>
    test.set('cookie', cookie).set('host', 'studio.test').set('origin', 'http://studio.test');
  const bearer = (test: supertest.Test): supertest.Test => test.set('authorization', `Bearer ${token}`);
  return {
    deps,
    clock,
    owner,
    app,
    page: {
      get: (url) => browser(request.get(url)),
      post: (url, form = {}) => browser(request.post(url)).type('form').send(form),
      part: (method, url, form) => {
        const test = browser(request[method](url)).set('hx-request', 'true').set('hx-request-type', 'partial');
        return form ? test.type('form').send(form) : test;
      },
      send: (method, url) => browser(request[method](url)),
    },
    api: {
      get: (url) => bearer(request.get(`/api/v1${url}`)),
      post: (url, body = {}) => bearer(request.post(`/api/v1${url}`)).send(body as object),
      put: (url, body = {}) => bearer(request.put(`/api/v1${url}`)).send(body as object),
      token,
    },
  };
}
