import { type ChildProcess, spawn } from 'node:child_process';
import { chmodSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { onTestFinished } from 'vitest';
import { readConfig } from '../../server/config.ts';
import { applyMigrations } from '../../server/db/migrate.ts';
import { openDatabase } from '../../server/db/open.ts';
import { compiled } from './compiled.ts';

const { packageRoot } = readConfig({});
/** The user that owns nothing, where the tests run as root, to whom no permission bit applies. */
export const NOBODY = 65_534;
const AS_NOBODY = ['--import', join(packageRoot, 'tests', 'support', 'asNobody.mjs')];

export function freshFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), 'lot-and-shade-faults-'));
  onTestFinished(() => {
    chmodSync(folder, 0o700);
    rmSync(folder, { recursive: true, force: true });
  });
  return folder;
}

export interface Started {
  child: ChildProcess;
  said: () => string;
  /** Resolves to the address when it opens, to undefined when it ends before. */
  opened: Promise<string | undefined>;
  ended: Promise<number | null>;
}

/** The service as a process on a data folder; it ends with the test. */
export function start(dataDir: string, as: { uid?: number } = {}, settings: Record<string, string> = {}): Started {
  const child = spawn(process.execPath, [...(as.uid === NOBODY ? AS_NOBODY : []), compiled('server/main.ts')], {
    cwd: packageRoot,
    env: { ...process.env, PORT: '0', HOST: '127.0.0.1', DATA_DIR: dataDir, LOG_LEVEL: 'error', ...settings },
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  let text = '';
  for (const stream of [child.stdout, child.stderr]) {
    stream.on('data', (chunk: Buffer) => {
      text += chunk.toString();
    });
  }
  const ended = new Promise<number | null>((resolve) => child.once('close', (code) => resolve(code)));
  const opened = new Promise<string | undefined>((resolve) => {
    createInterface({ input: child.stdout }).on('line', (line) => {
      const address = /http:\/\/127\.0\.0\.1:\d+/.exec(line)?.[0];
      if (address) resolve(address);
    });
    void ended.then(() => resolve(undefined));
  });
  onTestFinished(async () => {
    if (child.exitCode === null && child.signalCode === null) child.kill('SIGKILL');
    await ended;
  });
  return { child, said: () => text, opened, ended };
}

/** A data folder with an empty, well-formed database. */
export async function usedFolder(): Promise<string> {
  const folder = freshFolder();
  const open = openDatabase(join(folder, 'studio.sqlite'));
  await applyMigrations(open, join(packageRoot, 'migrations'));
  open.sqlite.close();
  return folder;
}
