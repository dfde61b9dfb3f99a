import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { sowSampleStudio } from '../../seed/studio.ts';
import { readConfig } from '../../server/config.ts';
import { applyMigrations } from '../../server/db/migrate.ts';
import { openDatabase } from '../../server/db/open.ts';
import type { Actor, Deps } from '../../server/deps.ts';
import { found, freshDeps, type KeptStudio, MONDAY, studioOver, type TestStudio } from './app.ts';

interface Sown extends KeptStudio {
  owner: Actor;
}

let kept: Promise<Sown> | undefined;

/** The sample studio at MONDAY, sown once a process: whoever wants one gets a copy. */
export function keptSample(): Promise<Sown> {
  kept ??= sow();
  return kept;
}

async function sow(): Promise<Sown> {
  const dataDir = mkdtempSync(join(tmpdir(), 'lot-and-shade-sample-'));
  process.once('exit', () => rmSync(dataDir, { recursive: true, force: true }));
  const config = readConfig({ DATA_DIR: dataDir, LOG_LEVEL: 'silent', TZ: 'Europe/Lisbon' });
  const open = openDatabase(':memory:');
  await applyMigrations(open, join(config.packageRoot, 'migrations'));
  let ids = 0;
  const newId = (): string => `00000000-0000-4000-9000-${String(++ids).padStart(12, '0')}`;
  const deps: Deps = { config, ...open, now: () => MONDAY, newId, firstRunCode: '314159' };
  const owner = found(deps);
  await sowSampleStudio(deps, owner);
  const bytes = open.sqlite.serialize();
  open.sqlite.close();
  return { bytes, dataDir, owner };
}

/** freshStudio with the sample in it. */
export async function freshSampleStudio(): Promise<TestStudio> {
  const sample = await keptSample();
  const { deps, clock } = await freshDeps(sample);
  return studioOver(deps, clock, sample.owner);
}
