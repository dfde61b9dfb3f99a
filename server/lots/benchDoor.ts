import type { FastifyReply, FastifyRequest } from 'fastify';
import type { Typed } from '../../views/kit/field.ts';
import type { SentOccurrence } from './bench.ts';

/** What the pages beside the bench take from it: one action done and the bench shown anew, and what a device says of it. */
export interface BenchDoor {
  atBench: (
    request: FastifyRequest,
    reply: FastifyReply,
    lotId: number,
    form: string,
    typed: Typed,
    act: () => unknown,
  ) => Promise<FastifyReply>;
  saidDuring: (lotId: number, typed: Typed) => SentOccurrence & { stepId: number | null };
}
