import type { FastifyReply, FastifyRequest } from 'fastify';
import { Refusal } from '../errors.ts';

/** Requests of one person, or of one address where nobody is known, that may be under way at once. Ten browsers of one studio have some
 *  thirty; a script that has lost its head has thousands, and would hold everybody up. */
const MOST_UNDER_WAY = 200;

/** Counts what is under way for each person and each stranger’s address, and refuses what is too much. */
export class UnderWay {
  readonly #counts = new Map<string, number>();

  enter(request: FastifyRequest, reply: FastifyReply): void {
    const { actor } = request as { actor?: { personId: number } | null };
    const key = actor ? `person ${actor.personId}` : `address ${request.ip}`;
    const count = this.#counts.get(key) ?? 0;
    if (count >= MOST_UNDER_WAY)
      throw new Refusal(
        'busy',
        'Too much is asked for at once under this name. Nothing of this was saved; try again in a moment.',
      );
    this.#counts.set(key, count + 1);
    reply.raw.once('close', () => {
      const left = (this.#counts.get(key) ?? 1) - 1;
      if (left > 0) this.#counts.set(key, left);
      else this.#counts.delete(key);
    });
  }
}
