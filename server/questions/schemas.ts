import { z } from 'zod';
import { jsonId } from '../typedFields.ts';

export const QuestionFilter = z.object({
  lotId: z.coerce.number().int().positive().optional(),
  stockLotId: z.coerce.number().int().positive().optional(),
});

export const AnswerBody = z
  .object({
    answer: z.string().min(1).max(40).meta({ description: 'one of the answers of the question' }),
    words: z.string().trim().max(500).default('').meta({ description: 'what is to be kept with it' }),
  })
  .meta({ id: 'NewAnswer' });

export const AnswerForm = z.object({
  answer: z.string({ error: 'Choose one of the answers.' }).min(1).max(40),
  back: z
    .string()
    .regex(/^\/(lots\/[1-9]\d{0,14}|stock\/[1-9]\d{0,14})?$/)
    .catch('/'),
});

export const QuestionResource = z
  .object({
    questionId: jsonId,
    kind: z.string(),
    asks: z
      .enum(['owner', 'bench'])
      .meta({ description: 'who may answer: the owner, where money or a recall hangs on it' }),
    lotId: jsonId.nullable(),
    lotNumber: z.string().nullable(),
    stockLotId: jsonId.nullable(),
    stockLotCode: z.string().nullable(),
    logEntryId: jsonId.nullable(),
    ledgerEntryId: jsonId.nullable(),
    words: z.string(),
    askedAt: z.number().int(),
    answers: z.array(z.object({ answer: z.string(), label: z.string() })),
    answer: z.string().nullable(),
    answerWords: z.string(),
    answeredAt: z.number().int().nullable(),
    answeredBy: jsonId.nullable(),
  })
  .meta({ id: 'Question' });
export type Question = z.output<typeof QuestionResource>;

/** A question as a page shows it. `answers` is empty of one that is answered where it was asked, at the bench; `answered` is null while it
 *  is open. */
export type QuestionShown = Pick<
  Question,
  'questionId' | 'words' | 'askedAt' | 'asks' | 'lotId' | 'lotNumber' | 'stockLotId' | 'stockLotCode' | 'answers'
> & { answered: { words: string; at: number; by: string } | null };
