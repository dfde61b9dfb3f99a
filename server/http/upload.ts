import { createHash } from 'node:crypto';
import type { IncomingMessage } from 'node:http';
import type { FastifyInstance, FastifyRequest } from 'fastify';
import type { z } from 'zod';
import '@fastify/multipart';
import { invalid, Refusal } from '../errors.ts';
import { readInput, typedBody } from './forms.ts';
import { unknownKeys } from './unknownKeys.ts';

/** One file of a form. Reading its buffer refuses when it was larger than the studio accepts: so late, because by then
 *  the words of the form are read and can be shown again beside the message. */
export class UploadedFile {
  readonly field: string;
  readonly filename: string;
  readonly #content: Buffer | null;
  constructor(field: string, filename: string, content: Buffer | null) {
    this.field = field;
    this.filename = filename;
    this.#content = content;
  }
  get buffer(): Buffer {
    if (this.#content) return this.#content;
    const words = 'That file is larger than this studio accepts. Send a smaller picture.';
    throw new Refusal('tooLarge', words, { [this.field]: words });
  }
}

export interface Upload {
  typed: Record<string, string>;
  files: UploadedFile[];
}

/** What an upload to the API is made of: one file and words beside it. Stands in the API document. */
export interface UploadShape<Fields extends z.ZodObject = z.ZodObject> {
  file: string;
  /** What the file is, in a few words. */
  of: string;
  fields: Fields;
}

declare module 'fastify' {
  interface FastifyContextConfig {
    upload?: UploadShape;
  }
  interface FastifyRequest {
    /** More than any form may hold, in bytes. */
    mostBytes: number;
  }
}

/** Refuses a body that says itself to be far beyond anything a form may hold, before a byte of it is taken, and closes its
 *  connection. One that does not say its length is cut off when it gets there (readMultipart). */
export function refuseHugeBodies(app: FastifyInstance, maxBytes: number): void {
  app.decorateRequest('mostBytes', maxBytes);
  app.addHook('onRequest', async (request, reply) => {
    if (request.headers['content-type']?.startsWith('multipart/')) {
      room.enter(request.raw);
      // Its bytes are held until it is answered, or its sender is gone.
      reply.raw.once('close', () => room.leave(request.raw));
    }
    if (Number(request.headers['content-length'] ?? 0) <= maxBytes) return;
    reply.header('connection', 'close');
    throw new Refusal('tooLarge', 'That is far larger than this studio accepts.');
  });
}

/** Bytes of uploads held at once, of all requests together: a picture of 25 MB waits in memory until it is read. */
const MOST_HELD_BYTES = 52_000_000;
/** How long an upload waits for room before its sender is told to come again. */
const WAITS_FOR_ROOM_MS = 20_000;
/** Words of a form, all fields together. */
const MOST_WORDS = 2_000_000;

/** Uploads under way, the oldest first. Those that others leave no room for are not read on, so that the network holds them
 *  back; the oldest always is, so that one of them comes to its end. */
export class UploadRoom {
  readonly #mostBytes: number;
  readonly #waitMs: number;
  readonly #held = new Map<object, number>();
  #freed: (() => void)[] = [];

  constructor(mostBytes = MOST_HELD_BYTES, waitMs = WAITS_FOR_ROOM_MS) {
    this.#mostBytes = mostBytes;
    this.#waitMs = waitMs;
  }

  get heldBytes(): number {
    return [...this.#held.values()].reduce((sum, bytes) => sum + bytes, 0);
  }

  enter(upload: object): void {
    this.#held.set(upload, 0);
  }

  leave(upload: object): void {
    this.#held.delete(upload);
    this.#tell();
  }

  /** Resolves when so many more bytes may be held for an upload. Throws Refusal busy when there is no room for too long. */
  async take(upload: object, bytes: number): Promise<void> {
    if (!this.#mayTake(upload, bytes)) {
      let isLate = false;
      const late = setTimeout(() => {
        isLate = true;
        this.#tell();
      }, this.#waitMs);
      while (!isLate && !this.#mayTake(upload, bytes)) await new Promise<void>((go) => this.#freed.push(go));
      clearTimeout(late);
      if (isLate)
        throw new Refusal(
          'busy',
          'Several large files are arriving at once. Nothing of this was saved; send it again in a minute.',
        );
    }
    const held = this.#held.get(upload);
    if (held !== undefined) this.#held.set(upload, held + bytes);
  }

  #mayTake(upload: object, bytes: number): boolean {
    // One that was left meanwhile takes nothing more.
    if (!this.#held.has(upload)) return true;
    return this.heldBytes + bytes <= this.#mostBytes || this.#held.keys().next().value === upload;
  }

  #tell(): void {
    for (const go of this.#freed.splice(0)) go();
  }
}

const room = new UploadRoom();

/** How long a sender that was cut off may take to notice the answer. */
const LAST_WORD_MS = 5_000;

/** Rejects once more than so many bytes of a request have come. What comes after it was cut off is thrown away unread: a
 *  connection closed at once would take the answer with it, so its sender is given a moment to read it. */
function cutOff(
  raw: IncomingMessage,
  maxBytes: number,
): { reached: Promise<never>; cut: () => void; stop: () => void } {
  let taken = 0;
  let count: (chunk: Buffer) => void = () => undefined;
  const cut = (): void => {
    raw.off('data', count);
    if (raw.complete) return;
    raw.unpipe();
    raw.resume();
    const end = setTimeout(() => raw.socket.destroy(), LAST_WORD_MS).unref();
    raw.once('close', () => clearTimeout(end));
  };
  const reached = new Promise<never>((_, reject) => {
    count = (chunk) => {
      taken += chunk.length;
      if (taken <= maxBytes) return;
      cut();
      reject(new Refusal('tooLarge', 'That is far larger than this studio accepts.'));
    };
    raw.on('data', count);
  });
  reached.catch(() => undefined);
  return { reached, cut, stop: () => raw.off('data', count) };
}

/** The bytes of a file, taken as there is room for them. Where the request says its length they go into their place at once:
 *  gathered first and joined afterwards, they would be held twice. */
async function contentOf(file: AsyncIterable<Buffer>, upload: IncomingMessage): Promise<Buffer> {
  const announced = Number(upload.headers['content-length'] ?? 0);
  const whole = Buffer.allocUnsafeSlow(Math.max(announced, 0));
  const chunks: Buffer[] = [];
  let length = 0;
  for await (const chunk of file) {
    await room.take(upload, chunk.length);
    if (announced > 0) whole.set(chunk, length);
    else chunks.push(chunk);
    length += chunk.length;
  }
  return announced > 0 ? whole.subarray(0, length) : Buffer.concat(chunks);
}

/** The words and the files of a form, multipart or plain. The words also become request.body, so that submitForm reads
 *  them as it reads every form's. A file input left empty is no file. */
export async function readMultipart(request: FastifyRequest): Promise<Upload> {
  if (!request.isMultipart()) return { typed: typedBody(request.body), files: [] };
  const words: Record<string, unknown> = {};
  const files: UploadedFile[] = [];
  const parts = request.parts({ throwFileSizeLimit: false } as Parameters<typeof request.parts>[0]);
  const first = parts.next();
  // The parser has its end of the pipe by now; counted any earlier, the first bytes would be lost to it.
  const limit = cutOff(request.raw, request.mostBytes);
  const inTime = <T>(pending: Promise<T>): Promise<T> => {
    pending.catch(() => undefined);
    return Promise.race([pending, limit.reached]);
  };
  let wordsLength = 0;
  try {
    for (let step = await inTime(first); !step.done; step = await inTime(parts.next())) {
      const part = step.value;
      if (part.type === 'field') {
        words[part.fieldname] = part.value;
        wordsLength += String(part.value).length;
        if (wordsLength > MOST_WORDS) throw new Refusal('tooLarge', 'Those are more words than a form may hold.');
        continue;
      }
      const content = await inTime(contentOf(part.file, request.raw));
      const { truncated } = part.file;
      if (part.filename || content.length > 0) {
        files.push(new UploadedFile(part.fieldname, part.filename, truncated ? null : content));
      }
    }
  } catch (error) {
    if (error instanceof Refusal) {
      limit.cut();
      throw error;
    }
    // The parser of forms throws plain errors for what is no form (no boundary, cut off in the middle).
    if ((error as { statusCode?: number }).statusCode !== undefined) throw error;
    throw new Refusal('unreadableRequest', 'The form did not arrive whole. Send it again.');
  } finally {
    limit.stop();
  }
  const typed = typedBody(words);
  request.body = typed;
  return { typed, files };
}

/** Reads an upload to the API: its one file, and its words by their schema. Refuses words that are not known and a file that is
 *  missing or goes by another name. */
export async function readUpload<Fields extends z.ZodObject>(
  request: FastifyRequest,
  { file: name, fields }: UploadShape<Fields>,
): Promise<{ content: Buffer; fields: z.output<Fields> }> {
  const { typed, files } = await readMultipart(request);
  const strangers = unknownKeys(fields, typed);
  if (Object.keys(strangers).length > 0) throw invalid(strangers);
  const file = files.find((f) => f.field === name);
  if (!file || files.length > 1) throw invalid({ [name]: `Send one file, named ${name}.` });
  const read = { content: file.buffer, fields: readInput(fields, typed) };
  request.sentOnce?.(`${createHash('sha256').update(read.content).digest('hex')} ${JSON.stringify(typed)}`);
  return read;
}
