import { spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { chmodSync, existsSync, mkdirSync, mkdtempSync, readdirSync, renameSync, rmSync, statSync } from 'node:fs';
import { basename, join } from 'node:path';
import { readConfig } from '../../server/config.ts';

const { packageRoot } = readConfig({});
const CACHE = join(packageRoot, 'node_modules', '.cache', 'lot-and-shade');
const HOUR_MS = 3_600_000;

let folder: string | undefined;

/** A part of the service (server/main.ts, a command) as `npm start` runs it: built, which halves the time that a process takes
 *  to start. Built once for each state of the sources, whoever asks first. */
export function compiled(source: string): string {
  folder ??= compiledFolder();
  return join(folder, basename(source).replace(/\.ts$/, '.js'));
}

function compiledFolder(): string {
  const target = join(CACHE, stateOfSources());
  if (existsSync(target)) return target;
  const fresh = mkdtempSync(join(packageRoot, 'node_modules', '.lot-and-shade-'));
  // Some tests run it as another user.
  chmodSync(fresh, 0o755);
  const { stdout, stderr } = spawnSync(process.execPath, [join(packageRoot, 'server', 'launch.js'), 'build', fresh], {
    encoding: 'utf8',
  });
  if (!existsSync(join(fresh, 'main.js'))) throw new Error(`The service was not compiled: ${stdout}${stderr}`);
  forgetOld();
  return put(fresh, target);
}

/** Two processes may compile at once; what the first put there serves both. */
function put(fresh: string, target: string): string {
  mkdirSync(CACHE, { recursive: true });
  try {
    renameSync(fresh, target);
  } catch (error) {
    if (!existsSync(target)) throw error;
    rmSync(fresh, { recursive: true, force: true });
  }
  return target;
}

function stateOfSources(): string {
  const hash = createHash('sha256');
  for (const name of ['server', 'views', 'seed']) {
    for (const entry of readdirSync(join(packageRoot, name), { recursive: true, withFileTypes: true })) {
      if (!entry.isFile()) continue;
      const path = join(entry.parentPath, entry.name);
      const { size, mtimeMs } = statSync(path);
      hash.update(`${path} ${size} ${mtimeMs}\n`);
    }
  }
  return hash.digest('hex').slice(0, 16);
}

function forgetOld(): void {
  if (!existsSync(CACHE)) return;
  for (const name of readdirSync(CACHE)) {
    const path = join(CACHE, name);
    if (Date.now() - statSync(path).mtimeMs > HOUR_MS) rmSync(path, { recursive: true, force: true });
  }
}
