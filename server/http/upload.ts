import type { FastifyInstance, FastifyRequest } from 'fastify';
import '@fastify/multipart';
import { Refusal } from '../errors.ts';
import { typedBody } from './forms.ts';

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

/** Refuses a body that says itself to be far beyond anything a form may hold, before a byte of it is taken, and closes its
 *  connection. One that does not say its length is thrown away as it comes once it passes the limit. */
export function refuseHugeBodies(app: FastifyInstance, maxBytes: number): void {
  app.addHook('onRequest', async (request, reply) => {
    if (Number(request.headers['content-length'] ?? 0) <= maxBytes) return;
    reply.header('connection', 'close');
    throw new Refusal('tooLarge', 'That is far larger than this studio accepts.');
  });
}

/** The words and the files of a form, multipart or plain. The words also become request.body, so that submitForm reads
 *  them as it reads every form's. A file input left empty is no file. */
export async function readMultipart(request: FastifyRequest): Promise<Upload> {
  if (!request.isMultipart()) return { typed: typedBody(request.body), files: [] };
  const words: Record<string, unknown> = {};
  const files: UploadedFile[] = [];
  try {
    for await (const part of request.parts({ throwFileSizeLimit: false } as Parameters<typeof request.parts>[0])) {
      if (part.type === 'field') {
        words[part.fieldname] = part.value;
        continue;
      }
      const content = await part.toBuffer();
      const { truncated } = part.file;
      if (part.filename || content.length > 0) {
        files.push(new UploadedFile(part.fieldname, part.filename, truncated ? null : content));
      }
    }
  } catch (error) {
    // The parser of forms throws plain errors for what is no form (no boundary, cut off in the middle).
    if ((error as { statusCode?: number }).statusCode !== undefined) throw error;
    throw new Refusal('unreadableRequest', 'The form did not arrive whole. Send it again.');
  }
  const typed = typedBody(words);
  request.body = typed;
  return { typed, files };
}
