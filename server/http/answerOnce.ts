import { createHash } from 'node:crypto';
import type { FastifyRequest } from 'fastify';
import { z } from 'zod';
import { Refusal } from '../errors.ts';
import type { App } from './app.ts';

/* A script that lost the answer does not know whether something was created. With an Idempotency-Key (draft-ietf-httpapi-idempotency-key-header)
 * it sends the same again and gets the first answer again. Holds for every operation that creates, told by its status 201. */

/** Where answers are kept. */
export interface KeptAnswers {
  find: (personId: number, key: string) => { digest: string; status: number | null; body: string | null } | undefined;
  begin: (personId: number, key: string, digest: string) => void;
  keep: (personId: number, key: string, answer: { status: number; body: string }) => void;
  /** Forgets what came to nothing, so that the key can be used again. */
  drop: (personId: number, key: string) => void;
}

declare module 'fastify' {
  interface FastifyRequest {
    /** Of a request with a key: says what its content is, once that is known. Throws AnsweredBefore. */
    sentOnce: ((content: string) => void) | null;
    /** The key under which this request is the first. */
    begunKey: { personId: number; key: string } | null;
  }
}

/** The answer that the same request got before; sent in the place of working it out again. */
export class AnsweredBefore extends Error {
  readonly status: number;
  readonly body: string;
  constructor(status: number, body: string) {
    super('answered before');
    this.status = status;
    this.body = body;
  }
}

const HEADER = 'idempotency-key';
export const KEY_WORDS =
  'A name of the sender’s own making for this one request (a UUID, say). The same request sent again with it within a day is answered as the first time and creates nothing; other content under it is refused.';

/** Other headers are let be: this is the only one that an operation reads. */
const KeyHeader = z.looseObject({
  [HEADER]: z
    .string()
    .regex(/^[\x21-\x7e]{1,255}$/, 'One to 255 visible ASCII characters.')
    .optional()
    .meta({ description: KEY_WORDS }),
});

const digestOf = (request: FastifyRequest, content: string): string =>
  createHash('sha256').update(`${request.method} ${request.url}\n`).update(content).digest('hex');

/** Lets every operation of a scope that creates take an Idempotency-Key. Call before its routes are there. */
export function answerOnce(api: App, answers: KeptAnswers): void {
  /** Keys of this process’s own requests that are being worked on. */
  const underWay = new Set<string>();
  const nameOf = (of: { personId: number; key: string }): string => `${of.personId} ${of.key}`;

  const begin = (request: FastifyRequest, personId: number, key: string, content: string): void => {
    const digest = digestOf(request, content);
    const before = answers.find(personId, key);
    if (before && before.digest !== digest)
      throw new Refusal('idReused', 'Something else was sent with this Idempotency-Key. Use one key for one request.');
    if (before && before.status !== null && before.body !== null) throw new AnsweredBefore(before.status, before.body);
    if (before)
      throw new Refusal(
        'conflict',
        underWay.has(nameOf({ personId, key }))
          ? 'The first request with this Idempotency-Key is still being worked on. Ask again in a moment.'
          : 'The service ended while it worked on the first request with this Idempotency-Key. Look whether that was recorded before you send it again with another key.',
      );
    answers.begin(personId, key, digest);
    request.begunKey = { personId, key };
    underWay.add(nameOf(request.begunKey));
  };

  api.decorateRequest('sentOnce', null);
  api.decorateRequest('begunKey', null);
  api.addHook('onRoute', (route) => {
    const { schema, config } = route;
    const creates = route.method === 'POST' && Object.hasOwn((schema?.response ?? {}) as object, 201);
    if (!creates || !schema || config?.may === 'anyone') return;
    schema.headers = KeyHeader;
    const isUpload = config?.upload !== undefined;
    const told: NonNullable<typeof route.preHandler> = async (request) => {
      const key = request.headers[HEADER];
      const { actor } = request as { actor?: { personId: number } | null };
      if (typeof key !== 'string' || !actor) return;
      const say = (content: string): void => begin(request, actor.personId, key, content);
      // What a form with a file holds is known when it has come whole (readUpload).
      if (isUpload) request.sentOnce = say;
      else say(JSON.stringify(request.body ?? null));
    };
    route.preHandler = [told, ...[route.preHandler ?? []].flat()];
  });
  api.addHook('onSend', async (request, reply, payload) => {
    const begun = request.begunKey;
    if (!begun) return;
    if (reply.statusCode < 300 && typeof payload === 'string')
      answers.keep(begun.personId, begun.key, { status: reply.statusCode, body: payload });
    else answers.drop(begun.personId, begun.key);
  });
  api.addHook('onResponse', async (request) => {
    if (request.begunKey) underWay.delete(nameOf(request.begunKey));
  });
}
