import type { Deps } from '../deps.ts';
import { beginAnswer, dropAnswer, dropAnswersBefore, keepAnswer, keptAnswer } from './doorQueries.ts';

const DAY_MS = 24 * 3_600_000;

/** Where answers to requests with an Idempotency-Key are kept: each person’s own, for a day. */
export const answersOf = ({ db, now }: Deps) => ({
  find: (personId: number, key: string) => keptAnswer(db, personId, key, now() - DAY_MS),
  begin: (personId: number, key: string, digest: string) => {
    dropAnswersBefore(db, now() - DAY_MS);
    beginAnswer(db, { personId, key, digest, begunAt: now() });
  },
  keep: (personId: number, key: string, answer: { status: number; body: string }) =>
    keepAnswer(db, personId, key, answer),
  drop: (personId: number, key: string) => dropAnswer(db, personId, key),
});
