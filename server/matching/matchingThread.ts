import { type Transferable, Worker } from 'node:worker_threads';
import { CalcError, type CalcErrorCode } from '../calc/calcError.ts';
import type { Conditions } from '../calc/colour/reading.ts';
import type { CorrectionAdvice, proposeCorrections } from '../calc/match/correct.ts';
import type {
  ColourModel,
  DyeKnowledge,
  KnownSwatch,
  NoIdea,
  Prediction,
  RecipeComponent,
} from '../calc/match/predict.ts';
import type { Proposal, ProposeInput } from '../calc/match/propose.ts';
import type { LessonInput, RecipeToSample } from '../calc/match/recipesToSample.ts';
import { ownScript } from '../ownScript.ts';

type WithoutModel<T> = Omit<T, 'model'>;

export type MatchingQuestion =
  | { kind: 'learn'; swatches: readonly KnownSwatch[]; conditions: Conditions }
  | { kind: 'hold'; modelId: number; model: ColourModel }
  | { kind: 'drop'; modelId: number }
  | { kind: 'takeIn'; modelId: number; asModelId: number; swatches: readonly KnownSwatch[] }
  | { kind: 'predict'; modelId: number; recipes: readonly (readonly RecipeComponent[])[]; under?: Conditions }
  | { kind: 'propose'; modelId: number; input: WithoutModel<ProposeInput> }
  | { kind: 'correct'; modelId: number; input: WithoutModel<Parameters<typeof proposeCorrections>[0]> }
  | { kind: 'lessons'; modelId: number; input: WithoutModel<LessonInput> };

/** What a model that took a few swatches in knows now. */
export interface TakenIn {
  swatchCount: number;
  mixtureCount: number;
  spectrumCount: number;
  maxTotalDepthPct: number;
  dyes: DyeKnowledge[];
}

interface Answers {
  learn: { model: ColourModel };
  hold: null;
  drop: null;
  /** Null where the whole must be learned first. */
  takeIn: TakenIn | null;
  predict: Prediction[];
  propose: Proposal[];
  correct: CorrectionAdvice | NoIdea;
  lessons: RecipeToSample[];
}
export type MatchingAnswer<K extends MatchingQuestion['kind']> = Answers[K];

export interface MatchingJob {
  jobId: number;
  question: MatchingQuestion;
}

export type MatchingReply = { jobId: number } & (
  | { kind: 'answer'; answer: Answers[keyof Answers] }
  | { kind: 'impossible'; code: CalcErrorCode; field: string; message: string }
  | { kind: 'failed'; message: string }
);

interface Waiting {
  job: MatchingJob;
  transfer: readonly Transferable[];
  resolve(answer: unknown): void;
  reject(error: unknown): void;
}

export interface ThreadOptions {
  /** How long it waits for the next question before it ends and gives its memory back. */
  restsAfterMs: number;
  giveUpMs: number;
  /** It works when nothing else wants the processor: nobody waits for it. */
  inBackground?: boolean;
  /** Called when the thread has ended, by itself or by force: what it held is gone. */
  onLost?: () => void;
}

/** A thread that learns or answers, one question after the other. It starts with the first, and ends when nobody has asked for a
 *  while. */
export class MatchingThread {
  readonly #options: ThreadOptions;
  readonly #queue: Waiting[] = [];
  #working: Waiting | undefined;
  #worker: Worker | undefined;
  #giveUp: NodeJS.Timeout | undefined;
  #resting: NodeJS.Timeout | undefined;
  #lastJobId = 0;

  constructor(options: ThreadOptions) {
    this.#options = options;
  }

  /** Throws CalcError as the calculation in the thread did. */
  ask<K extends MatchingQuestion['kind']>(
    question: Extract<MatchingQuestion, { kind: K }>,
    transfer: readonly Transferable[] = [],
  ): Promise<Answers[K]> {
    return new Promise((resolve, reject) => {
      this.#lastJobId++;
      const job = { jobId: this.#lastJobId, question };
      this.#queue.push({ job, transfer, resolve: resolve as (answer: unknown) => void, reject });
      this.#next();
    });
  }

  async close(): Promise<void> {
    clearTimeout(this.#resting);
    const gone = new Error('the matching thread was closed');
    for (const one of this.#queue.splice(0)) one.reject(gone);
    const old = this.#worker;
    this.#worker = undefined;
    this.#settle((w) => w.reject(gone));
    await old?.terminate();
  }

  #next(): void {
    if (this.#working !== undefined) return;
    const one = this.#queue.shift();
    if (one === undefined) {
      this.#rest();
      return;
    }
    clearTimeout(this.#resting);
    this.#working = one;
    this.#worker ??= this.#started();
    this.#worker.ref();
    this.#giveUp = setTimeout(
      () => this.#lose(new Error('learning or answering took too long')),
      this.#options.giveUpMs,
    );
    this.#worker.postMessage(one.job, one.transfer);
  }

  /** Starts its waiting time again, for somebody who is about to ask about what the thread holds. */
  stayAwake(): void {
    if (this.#working === undefined) this.#rest();
  }

  #rest(): void {
    clearTimeout(this.#resting);
    const idle = this.#worker;
    if (idle === undefined) return;
    // An idle thread does not keep the process alive, nor does the clock of its end.
    idle.unref();
    this.#resting = setTimeout(() => {
      if (this.#worker !== idle || this.#working !== undefined) return;
      this.#worker = undefined;
      this.#options.onLost?.();
      void idle.terminate();
    }, this.#options.restsAfterMs).unref();
  }

  #settle(end: (waiting: Waiting) => void): void {
    clearTimeout(this.#giveUp);
    const one = this.#working;
    this.#working = undefined;
    if (one !== undefined) end(one);
  }

  #lose(error: unknown): void {
    const old = this.#worker;
    this.#worker = undefined;
    this.#settle((w) => w.reject(error));
    // Questions that are waiting are about models that are gone.
    if (this.#options.onLost) for (const one of this.#queue.splice(0)) one.reject(error);
    this.#options.onLost?.();
    void old?.terminate();
    this.#next();
  }

  #started(): Worker {
    const one = new Worker(ownScript('matching/matchingWorker'), {
      workerData: { inBackground: this.#options.inBackground === true },
    });
    one.on('message', (reply: MatchingReply) => {
      if (this.#worker !== one || this.#working?.job.jobId !== reply.jobId) return;
      this.#settle((waiting) => deliver(waiting, reply));
      this.#next();
    });
    const ended = (error: unknown): void => {
      if (this.#worker === one) this.#lose(error);
    };
    one.on('error', ended);
    one.on('exit', (code) => ended(new Error(`the matching thread ended with code ${code}`)));
    return one;
  }
}

function deliver(waiting: Waiting, reply: MatchingReply): void {
  if (reply.kind === 'answer') waiting.resolve(reply.answer);
  else if (reply.kind === 'impossible') waiting.reject(new CalcError(reply.code, reply.field, reply.message));
  else waiting.reject(new Error(reply.message));
}
