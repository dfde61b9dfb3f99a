import { readdir, stat } from 'node:fs/promises';
import { join } from 'node:path';
import type { Deps } from '../deps.ts';
import { DATABASE } from './archive.ts';
import type { ReplicaShape } from './schemas.ts';

/* A program of its own may replicate the database to another site as it is written (views/guide/studio.ts). It writes there whenever the studio has
   written, and is silent as long as the studio is: what tells is whether the studio has gone on without it. */

/** Looking through the folder anew for every page would cost more than the page. */
const LOOK_EVERY_MS = 60_000;
/** What it may lag behind before anybody is told. */
const BEHIND_AFTER_MS = 10 * 60_000;
/** The stamp that the service gives its file each minute (db/fileWatch.ts) is no entry. */
const EVENED_OUT_MS = 2 * 60_000;

async function newestIn(folder: string): Promise<number | null> {
  let newest: number | null = null;
  const entries = await readdir(folder, { recursive: true, withFileTypes: true }).catch(() => []);
  for (const entry of entries) {
    if (!entry.isFile()) continue;
    const found = await stat(join(entry.parentPath, entry.name)).catch(() => null);
    if (found && (newest === null || found.mtimeMs > newest)) newest = Math.floor(found.mtimeMs);
  }
  return newest;
}

async function writtenAt(dataDir: string): Promise<number> {
  const times = [DATABASE, `${DATABASE}-wal`].map((name) =>
    stat(join(dataDir, name)).then(
      (s) => s.mtimeMs,
      () => 0,
    ),
  );
  return Math.max(...(await Promise.all(times)));
}

const known = new WeakMap<object, { lookedAt: number; state: Promise<ReplicaShape> }>();

async function look({ config, now }: Deps, folder: string): Promise<ReplicaShape> {
  const at = await newestIn(folder);
  const written = await writtenAt(config.dataDir);
  const isBehind = at !== null && written - at > EVENED_OUT_MS && now() - at > BEHIND_AFTER_MS;
  return { folder, at, isBehind };
}

/** How far the replica has come, as of the last minute; null when none is set up. */
export async function replicaState(deps: Deps): Promise<ReplicaShape | null> {
  const { config, sqlite, now } = deps;
  if (config.replicaDir === null) return null;
  const last = known.get(sqlite);
  if (last && Math.abs(now() - last.lookedAt) < LOOK_EVERY_MS) return last.state;
  const state = look(deps, config.replicaDir);
  known.set(sqlite, { lookedAt: now(), state });
  return state;
}
