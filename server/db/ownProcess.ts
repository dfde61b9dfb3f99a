import { type ChildProcess, fork } from 'node:child_process';
import { setPriority } from 'node:os';
import { fileURLToPath } from 'node:url';
import { ownScript } from '../ownScript.ts';

/** Starts a script (its path below server/, without the ending) as a process of its own at low priority, so that neither the
 *  service nor its memory notices. `said` is the one message that it answers with; rejects when it ends without. */
export function inOwnProcess<T>(
  script: string,
  args: readonly string[],
  niceness: number,
): { child: ChildProcess; said: Promise<T> } {
  const child = fork(fileURLToPath(ownScript(script)), [...args], {
    stdio: ['ignore', 'ignore', 'inherit', 'ipc'],
    execArgv: [],
  });
  if (child.pid !== undefined) setPriority(child.pid, niceness);
  const said = new Promise<T>((resolve, reject) => {
    child.once('message', (message) => resolve(message as T));
    child.once('error', reject);
    child.once('exit', (code, signal) => {
      // Told to stop, it has nothing to say.
      if (!child.killed) reject(new Error(`${script} ended with ${code ?? signal} and said nothing.`));
    });
  });
  return { child, said };
}
