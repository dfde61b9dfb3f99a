import { type ChildProcess, fork } from 'node:child_process';
import { randomUUID } from 'node:crypto';
import { rm, writeFile } from 'node:fs/promises';
import { setPriority, tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { CalcError, type CalcErrorCode } from './calc/calcError.ts';
import { type ErrorCode, type FieldErrors, Refusal } from './errors.ts';
import { ownScript } from './ownScript.ts';

/** What the process can read; server/readerProcess.ts says by which module. */
export type Work = 'picture' | 'photo' | 'table';

export interface Job {
  jobId: number;
  work: Work;
  /** The file to read. */
  file: string;
  /** What is asked besides. */
  input: unknown;
}

/** What the process says of a job. A refusal or an impossible input crosses over in its parts and is thrown here again. */
export type Answer = { jobId: number } & (
  | { kind: 'read'; value: unknown; rssBytes: number }
  | { kind: 'refused'; code: ErrorCode; message: string; fields: FieldErrors; details: Record<string, unknown> }
  | { kind: 'impossible'; code: CalcErrorCode; field: string; message: string }
  | { kind: 'failed'; message: string }
);

export interface ReadingLimits {
  /** All memory of the process, pixels too. With the service itself it stays within 400 MB. */
  memoryBytes: number;
  /** A large photo takes 1–3 s on an idle machine. */
  giveUpMs: number;
  /** Files waiting at once; one more is refused, since each is held in memory. */
  mostWaiting: number;
  /** The longest that a file waits for those before it. */
  mostWaitMs: number;
  /** How long the process waits for the next file before it ends. */
  restsAfterMs: number;
}

export const READING_LIMITS: ReadingLimits = {
  memoryBytes: 250_000_000,
  giveUpMs: 60_000,
  mostWaiting: 12,
  mostWaitMs: 120_000,
  restsAfterMs: 60_000,
};

/** Libraries of pictures keep some of what they took: beyond this an idle process is ended at once. */
const KEPT_IDLE_BYTES = 150_000_000;

interface Waiting {
  jobId: number;
  work: Work;
  source: Uint8Array | string;
  input: unknown;
  /** The field of a form beside which the words go when the file cannot be read within the limits. */
  field: string;
  tooLong: NodeJS.Timeout;
  /** Takes away the file that it was handed over by. */
  forget?: () => void;
  resolve(value: unknown): void;
  reject(error: unknown): void;
}

const CLOSED = 'the reading of files was closed';

/** Reads what comes from outside in a process of its own, one file at a time, with a limit of time and of memory: whatever a
 *  file does to its reader, the service goes on answering. A process that goes beyond is killed, the sender is told so, and
 *  the next file gets a fresh one. */
export class ReadingProcess {
  readonly #limits: ReadingLimits;
  readonly #queue: Waiting[] = [];
  #child: ChildProcess | undefined;
  #working: Waiting | undefined;
  #giveUp: NodeJS.Timeout | undefined;
  #resting: NodeJS.Timeout | undefined;
  #lastJobId = 0;
  #holders = 0;

  constructor(limits: ReadingLimits = READING_LIMITS) {
    this.#limits = limits;
  }

  /** `source` is the content, or the path of a file of ours. Throws what the module refuses; Refusal busy when too many wait; Refusal tooLarge, beside `field`, beyond the limits. */
  read<T>(work: Work, source: Uint8Array | string, input: unknown, field: string): Promise<T> {
    if (this.#queue.length >= this.#limits.mostWaiting) return Promise.reject(busy());
    return new Promise<T>((resolve, reject) => {
      this.#lastJobId++;
      const one: Waiting = {
        jobId: this.#lastJobId,
        work,
        source,
        input,
        field,
        tooLong: setTimeout(() => {
          this.#queue.splice(this.#queue.indexOf(one), 1);
          reject(busy());
        }, this.#limits.mostWaitMs),
        resolve: (value) => resolve(value as T),
        reject,
      };
      this.#queue.push(one);
      this.#next();
    });
  }

  /** Held by whoever answers requests; call what comes back when it is closed. With the last holder the process ends. */
  hold(): () => void {
    this.#holders++;
    let isHeld = true;
    return () => {
      if (!isHeld) return;
      isHeld = false;
      this.#holders--;
      if (this.#holders === 0) this.close();
    };
  }

  /** Ends the process; what still waits is refused. */
  close(): void {
    const gone = new Error(CLOSED);
    for (const one of this.#queue.splice(0)) {
      clearTimeout(one.tooLong);
      one.reject(gone);
    }
    this.#settle()?.reject(gone);
    this.#end();
  }

  #next(): void {
    if (this.#working !== undefined) return;
    const one = this.#queue.shift();
    if (one === undefined) {
      this.#rest();
      return;
    }
    clearTimeout(one.tooLong);
    clearTimeout(this.#resting);
    this.#working = one;
    this.#child ??= this.#started();
    this.#child.ref();
    this.#child.channel?.ref();
    this.#giveUp = setTimeout(
      () => this.#drop(beyond(one, 'takes longer to read than this studio spends on one')),
      this.#limits.giveUpMs,
    );
    void this.#handOver(one, this.#child);
  }

  /** Content goes by a file of its own, readable for nobody else: sent along, it would be copied four times on its way. */
  async #handOver(one: Waiting, child: ChildProcess): Promise<void> {
    const { jobId, work, source, input } = one;
    const isOurs = typeof source === 'string';
    const file = isOurs ? source : join(tmpdir(), `lot-and-shade-${randomUUID()}`);
    one.forget = () => {
      if (!isOurs) void rm(file, { force: true }).catch(() => undefined);
    };
    try {
      if (!isOurs) await writeFile(file, source, { flag: 'wx', mode: 0o600 });
    } catch (error) {
      if (this.#working === one) this.#settle()?.reject(error);
      this.#next();
      return;
    }
    if (this.#working !== one) return one.forget();
    child.send({ jobId, work, file, input } satisfies Job, (error) => {
      if (error && this.#working === one) this.#drop(error);
    });
  }

  #started(): ChildProcess {
    const { memoryBytes } = this.#limits;
    const child = fork(fileURLToPath(ownScript('readerProcess')), [String(memoryBytes)], {
      stdio: ['ignore', 'ignore', 'inherit', 'ipc'],
      // Pictures come back as they are.
      serialization: 'advanced',
      execArgv: [`--max-old-space-size=${Math.round(memoryBytes / 2_500_000)}`, '--max-semi-space-size=2'],
      // Nothing of the environment is its business. Two arenas: the C library's pools of memory grow with the threads.
      env: { MALLOC_ARENA_MAX: '2' },
    });
    // The bench goes before a large photo.
    if (child.pid !== undefined) setPriority(child.pid, 10);
    child.on('message', (answer: Answer) => {
      if (this.#child === child && this.#working?.jobId === answer.jobId) this.#deliver(answer);
    });
    const ended = (error: unknown): void => {
      if (this.#child === child) this.#drop(error);
    };
    child.once('error', ended);
    child.once('exit', (code, signal) => {
      const one = this.#working;
      // Killed by its own watch or the system, aborted at the ceiling of its heap, or brought down by what it read.
      const byTheFile = one !== undefined && (signal !== null || (code ?? 0) >= 128);
      ended(
        byTheFile
          ? beyond(one, 'takes more memory to read than this studio spends on one')
          : new Error(`the process that reads files ended with ${code ?? signal}`),
      );
    });
    return child;
  }

  #deliver(answer: Answer): void {
    const one = this.#settle();
    if (answer.kind === 'read') {
      one?.resolve(answer.value);
      if (answer.rssBytes > KEPT_IDLE_BYTES) this.#end();
    } else one?.reject(errorOf(answer));
    this.#next();
  }

  /** An idle process does not keep this one alive, and gives its memory back after a while. */
  #rest(): void {
    const idle = this.#child;
    if (idle === undefined) return;
    idle.unref();
    idle.channel?.unref();
    clearTimeout(this.#resting);
    this.#resting = setTimeout(() => {
      if (this.#child === idle && this.#working === undefined) this.#end();
    }, this.#limits.restsAfterMs).unref();
  }

  /** The file that was being read, which is now somebody's to answer. */
  #settle(): Waiting | undefined {
    clearTimeout(this.#giveUp);
    const one = this.#working;
    this.#working = undefined;
    one?.forget?.();
    return one;
  }

  #drop(error: unknown): void {
    this.#end();
    this.#settle()?.reject(error);
    this.#next();
  }

  #end(): void {
    const old = this.#child;
    this.#child = undefined;
    // In the middle of an endless loop it hears nothing but this.
    old?.kill('SIGKILL');
  }
}

const busy = (): Refusal =>
  new Refusal('busy', 'Several files are being read already, and nothing of this one was kept. Try again in a minute.');

const beyond = ({ field, work }: Waiting, does: string): Refusal => {
  const words =
    work === 'table'
      ? `That file ${does}. Send the table alone, as CSV or in parts.`
      : `That picture ${does}. Send a smaller one, or send it as a JPEG.`;
  return new Refusal('tooLarge', words, { [field]: words });
};

function errorOf(answer: Exclude<Answer, { kind: 'read' }>): unknown {
  switch (answer.kind) {
    case 'refused':
      return new Refusal(answer.code, answer.message, answer.fields, answer.details);
    case 'impossible':
      return new CalcError(answer.code, answer.field, answer.message);
    case 'failed':
      return new Error(answer.message);
  }
}

/** The one of this service: whatever the kind of file, one is read at a time. */
export const readingProcess = new ReadingProcess();
