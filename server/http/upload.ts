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
    if (Number(request.headers['content-length'] ?? 0) <= maxBytes) return;
    reply.header('connection', 'close');
    throw new Refusal('tooLarge', 'That is far larger than this studio accepts.');
  });
}

/** How long a sender that was cut off may take to notice the answer. */
const LAST_WORD_MS = 5_000;

/** Rejects once more than so many bytes of a request have come. What comes then is thrown away unread: a connection closed at
 *  once would take the answer with it, so its sender is given a moment to read it. */
function cutOff(raw: IncomingMessage, maxBytes: number): { reached: Promise<never>; stop: () => void } {
  let taken = 0;
  let count: (chunk: Buffer) => void = () => undefined;
  const reached = new Promise<never>((_, reject) => {
    count = (chunk) => {
      taken += chunk.length;
      if (taken <= maxBytes) return;
      raw.off('data', count);
      raw.unpipe();
      raw.resume();
      const end = setTimeout(() => raw.socket.destroy(), LAST_WORD_MS).unref();
      raw.once('close', () => clearTimeout(end));
      reject(new Refusal('tooLarge', 'That is far larger than this studio accepts.'));
    };
    raw.on('data', count);
  });
  reached.catch(() => undefined);
  return { reached, stop: () => raw.off('data', count) };
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
  try {
    for (let step = await inTime(first); !step.done; step = await inTime(parts.next())) {
      const part = step.value;
      if (part.type === 'field') {
        words[part.fieldname] = part.value;
        continue;
      }
      const content = await inTime(part.toBuffer());
      const { truncated } = part.file;
      if (part.filename || content.length > 0) {
        files.push(new UploadedFile(part.fieldname, part.filename, truncated ? null : content));
      }
    }
  } catch (error) {
    if (error instanceof Refusal) throw error;
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
  return { content: file.buffer, fields: readInput(fields, typed) };
}
