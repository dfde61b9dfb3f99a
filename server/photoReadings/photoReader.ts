import { Worker } from 'node:worker_threads';
import { CalcError, type CalcErrorCode } from '../calc/calcError.ts';
import type { CardDefinition } from '../calc/colour/cardDefinitions.ts';
import type { CardCorners } from '../calc/colour/cardFinding.ts';
import type { CardReading } from '../calc/colour/cardReading.ts';
import type { Region } from '../calc/colour/regions.ts';
import { Refusal } from '../errors.ts';
import { ownScript } from '../ownScript.ts';

export interface PhotoRequest {
  card: CardDefinition;
  /** 'find', or the centres of the corner patches (upper left, upper right, lower right, lower left of the card as drawn by
   *  its maker), in pixels of the upright photo. */
  corners: 'find' | CardCorners;
  /** In pixels of the upright photo. */
  regions: readonly Region[];
}

export interface PhotoReading {
  /** Size of the upright photo as it came. */
  widthPx: number;
  heightPx: number;
  reading: CardReading;
}

export interface PhotoJob {
  jobId: number;
  photo: Uint8Array | string;
  request: PhotoRequest;
}

export type PhotoAnswer = { jobId: number } & (
  | { kind: 'read'; reading: PhotoReading }
  | { kind: 'impossible'; code: CalcErrorCode; field: string; message: string }
  | { kind: 'notAnImage' }
  | { kind: 'tooLarge'; maxMegapixels: number }
  | { kind: 'failed'; message: string }
);

interface Waiting {
  job: PhotoJob;
  resolve(reading: PhotoReading): void;
  reject(error: unknown): void;
}

/** Photos waiting at once; one more is refused, since each is held in memory. */
const MAX_WAITING = 12;
/** A photo takes 1–3 s; one that takes this long is given up, and its thread is ended. */
const GIVE_UP_MS = 60_000;

/** How long the thread waits for the next photo before it ends. */
const RESTS_AFTER_MS = 300_000;

const queue: Waiting[] = [];
let working: Waiting | undefined;
let worker: Worker | undefined;
let giveUp: NodeJS.Timeout | undefined;
let resting: NodeJS.Timeout | undefined;
let lastJobId = 0;

/** Reads colours from a photo (bytes, or the path of a file of ours) in a thread of its own, one photo at a time, so that the
 *  server answers meanwhile. Throws Refusal notAnImage, tooLarge, busy; CalcError for impossible corners or regions. */
export function readPhoto(photo: Uint8Array | string, request: PhotoRequest): Promise<PhotoReading> {
  if (queue.length >= MAX_WAITING) {
    return Promise.reject(new Refusal('busy', 'Several photos are being read already. Try again in a minute.'));
  }
  return new Promise((resolve, reject) => {
    lastJobId++;
    queue.push({ job: { jobId: lastJobId, photo, request }, resolve, reject });
    next();
  });
}

let holders = 0;

/** Held by whoever answers requests; call what comes back on closing. When the last holder lets go, the thread ends. */
export function holdPhotoReader(): () => Promise<void> {
  holders++;
  let isHeld = true;
  return async () => {
    if (!isHeld) return;
    isHeld = false;
    holders--;
    if (holders === 0) await closePhotoReader();
  };
}

/** Ends the thread; photos still waiting are refused. */
export async function closePhotoReader(): Promise<void> {
  const gone = new Error('the photo reader was closed');
  for (const one of queue.splice(0)) one.reject(gone);
  const old = worker;
  settle((w) => w.reject(gone));
  worker = undefined;
  await old?.terminate();
}

function next(): void {
  if (working !== undefined) return;
  const one = queue.shift();
  if (one === undefined) {
    rest();
    return;
  }
  clearTimeout(resting);
  working = one;
  worker ??= started();
  worker.ref();
  giveUp = setTimeout(() => dropWorker(new Error('reading a photo took too long')), GIVE_UP_MS);
  worker.postMessage(one.job);
}

/** An idle thread does not keep the process alive, and gives its memory back after a while. */
function rest(): void {
  const idle = worker;
  if (idle === undefined) return;
  idle.unref();
  clearTimeout(resting);
  resting = setTimeout(() => {
    if (worker !== idle || working !== undefined) return;
    worker = undefined;
    void idle.terminate();
  }, RESTS_AFTER_MS).unref();
}

function settle(end: (waiting: Waiting) => void): void {
  clearTimeout(giveUp);
  const one = working;
  working = undefined;
  if (one !== undefined) end(one);
}

function dropWorker(error: unknown): void {
  const old = worker;
  worker = undefined;
  settle((w) => w.reject(error));
  void old?.terminate();
  next();
}

function started(): Worker {
  const one = new Worker(ownScript('photoReadings/photoWorker'));
  one.on('message', (answer: PhotoAnswer) => {
    if (worker !== one || working?.job.jobId !== answer.jobId) return;
    settle((waiting) => deliver(waiting, answer));
    next();
  });
  const ended = (error: unknown): void => {
    if (worker === one) dropWorker(error);
  };
  one.on('error', ended);
  one.on('exit', (code) => ended(new Error(`the photo thread ended with code ${code}`)));
  return one;
}

function deliver(waiting: Waiting, answer: PhotoAnswer): void {
  if (answer.kind === 'read') waiting.resolve(answer.reading);
  else waiting.reject(errorOf(answer));
}

function errorOf(answer: Exclude<PhotoAnswer, { kind: 'read' }>): unknown {
  switch (answer.kind) {
    case 'impossible':
      return new CalcError(answer.code, answer.field, answer.message);
    case 'notAnImage': {
      const words = 'That file is not a picture that can be read. Send a JPEG, PNG, WebP or AVIF.';
      return new Refusal('notAnImage', words, { photo: words });
    }
    case 'tooLarge': {
      const words = `That picture has more than ${answer.maxMegapixels} megapixels. Send a smaller one.`;
      return new Refusal('tooLarge', words, { photo: words });
    }
    case 'failed':
      return new Error(answer.message);
  }
}
