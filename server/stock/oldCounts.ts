import type { AnswerDeeds } from '../questions/answering.ts';

/** Counts of an earlier version that something late had spoiled: asked by the migration, settled by a count and by nothing else. */
export const countDeeds: AnswerDeeds = {
  oldCount: [
    { answer: 'counted', label: 'It has been counted again', done: 'It has been counted again.', act: () => {} },
    { answer: 'leave', label: 'Leave it as it is', done: 'It was left as it is.', act: () => {} },
  ],
};
