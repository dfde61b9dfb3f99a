import { writeFileSync } from 'node:fs';
import { isMainThread, Worker, workerData } from 'node:worker_threads';
import { CalcError } from './calc/calcError.ts';
import { Refusal } from './errors.ts';
import type { Answer, Job, Work } from './readApart.ts';

/* A process of its own (see readApart.ts): reads what came from outside, one file at a time, and may be killed at any moment. A
   thread beside the work keeps watch over the memory of all of it, since neither pixels nor buffers count towards the heap, and
   an endless loop answers nobody. */

/** What each kind of work is done by, loaded with the first file of its kind. */
const WORK: Record<Work, () => Promise<{ work: (file: string, input: never) => Promise<unknown> }>> = {
  picture: () => import('./photos/pictureWork.ts'),
  photo: () => import('./photoReadings/photoWorker.ts'),
  table: () => import('./imports/tableWork.ts'),
};

const WATCHED_EVERY_MS = 20;

/** Ends the process when it has grown beyond its limit, or when the service that asks is gone. */
function watch({ memoryBytes, service }: { memoryBytes: number; service: number }): void {
  setInterval(() => {
    if (process.memoryUsage.rss() > memoryBytes || process.ppid !== service) process.kill(process.pid, 'SIGKILL');
  }, WATCHED_EVERY_MS);
}

async function answerTo({ jobId, work, file, input }: Job): Promise<Answer> {
  try {
    const value = await (await WORK[work]()).work(file, input as never);
    return { jobId, kind: 'read', value, rssBytes: process.memoryUsage.rss() };
  } catch (error) {
    if (error instanceof Refusal) {
      const { code, message, fields, details } = error;
      return { jobId, kind: 'refused', code, message, fields, details };
    }
    if (error instanceof CalcError)
      return { jobId, kind: 'impossible', code: error.code, field: error.field, message: error.message };
    return { jobId, kind: 'failed', message: error instanceof Error ? (error.stack ?? error.message) : String(error) };
  }
}

function serve(memoryBytes: number): void {
  // Where the machine as a whole runs out of memory, the system should end this one and not the service.
  try {
    writeFileSync('/proc/self/oom_score_adj', '900');
  } catch {
    // Another system than Linux.
  }
  const watcher = new Worker(new URL(import.meta.url), {
    workerData: { memoryBytes, service: process.ppid },
    resourceLimits: { maxOldGenerationSizeMb: 16, maxYoungGenerationSizeMb: 2 },
  });
  process.on('disconnect', () => process.exit(0));
  // Nothing is read before somebody watches; until then the first job waits in its pipe.
  watcher.once('online', () => {
    watcher.unref();
    process.on('message', (job: Job) => {
      void answerTo(job).then((answer) => process.send?.(answer));
    });
  });
}

if (isMainThread) serve(Number(process.argv[2]));
else watch(workerData as Parameters<typeof watch>[0]);
