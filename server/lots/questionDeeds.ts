import type { AnswerDeeds } from '../questions/answering.ts';
import { countDeeds } from '../stock/oldCounts.ts';
import { lateDeeds } from './late.ts';

/** Every question that the house asks of its owner, with what may be answered and what an answer does. */
export const questionDeeds: AnswerDeeds = { ...countDeeds, ...lateDeeds };
