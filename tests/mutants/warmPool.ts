import type { PoolOptions, PoolWorker, WorkerRequest } from 'vitest/node';
import { ForksPoolWorker } from 'vitest/node';

/* Each mutant is a run of its own, and Vitest gives each run a fresh process, which takes two seconds to load the service before
 * the first test begins. Here a process is kept from one run to the next with the service loaded, and replaced now and then, so
 * that nothing piles up in it. A process that was killed (a mutant that never ends) is replaced as well. */

const RUNS_A_PROCESS = 200;

interface Kept {
  process: ForksPoolWorker;
  runs: number;
}

let kept: Kept | undefined;

type Listener = (argument: unknown) => void;

class WarmWorker implements PoolWorker {
  readonly name = 'warm';
  readonly cacheFs = true;
  readonly #options: PoolOptions;
  #held: Kept | undefined;
  #broken = false;
  readonly #listeners: { event: string; callback: Listener }[] = [];

  constructor(options: PoolOptions) {
    this.#options = options;
  }

  async start(): Promise<void> {
    const held = kept ?? { process: new ForksPoolWorker(this.#options), runs: 0 };
    kept = undefined;
    if (held.runs === 0) await held.process.start();
    held.runs += 1;
    this.#held = held;
    this.on('exit', () => {
      this.#broken = true;
    });
  }

  on(event: string, callback: Listener): void {
    this.#listeners.push({ event, callback });
    this.#process.on(event, callback);
  }

  off(event: string, callback: Listener): void {
    this.#process.off(event, callback);
  }

  send(message: WorkerRequest): void {
    if (this.#stays && message.type === 'stop') {
      for (const { event, callback } of this.#listeners)
        if (event === 'message') callback({ type: 'stopped', __vitest_worker_response__: true });
      return;
    }
    this.#process.send(message);
  }

  async stop(): Promise<void> {
    if (!this.#stays || this.#held === undefined) return this.#process.stop();
    for (const { event, callback } of this.#listeners) this.#process.off(event, callback);
    kept = this.#held;
  }

  deserialize(data: unknown): unknown {
    return this.#process.deserialize(data);
  }

  get #stays(): boolean {
    return !this.#broken && (this.#held?.runs ?? 0) < RUNS_A_PROCESS;
  }

  get #process(): ForksPoolWorker {
    if (!this.#held) throw new Error('The worker has not been started.');
    return this.#held.process;
  }
}

export const warmPool = {
  name: 'warm',
  createPoolWorker: (options: PoolOptions): PoolWorker => new WarmWorker(options),
};
