import { fork } from 'node:child_process';
import { setPriority } from 'node:os';
import { fileURLToPath } from 'node:url';

/** Copies a database that is in use to a new file, as it is at one moment, in a process of its own at low priority: a large
 *  one, and above all waiting for the disk at its end, would hold everybody up. Rejects with SQLite's or the system's code. */
export function copyDatabase(from: string, to: string): Promise<void> {
  const own = fileURLToPath(import.meta.url);
  const child = fork(own.replace(/databaseCopy(\.\w+)$/, 'copyDatabase$1'), [from, to], {
    stdio: ['ignore', 'ignore', 'inherit', 'ipc'],
    execArgv: own.endsWith('.ts') ? ['--import', 'tsx'] : [],
  });
  if (child.pid !== undefined) setPriority(child.pid, 10);
  return new Promise((resolve, reject) => {
    child.once('message', (wrong) => {
      if (wrong === null) resolve();
      else reject(Object.assign(new Error((wrong as Error).message), { code: (wrong as { code: string }).code }));
    });
    child.once('error', reject);
    child.once('exit', (code) => reject(new Error(`Copying the database ended with ${code} and said nothing.`)));
  });
}
