import { z } from 'zod';

/** The inputs of one calculation: field names end in their unit (goodsG, goodsLb, liquorL). Which fields a topic knows is told by
 *  GET /api/v1/calc; the calculation itself says what is missing, unknown or out of range. */
export const CalcBody = z
  .record(
    z.string().max(60),
    z.union([
      z.number(),
      z.string().max(200),
      z.array(z.union([z.number(), z.null(), z.array(z.number()).max(10)])).max(1000),
    ]),
  )
  .describe('Named inputs, for instance {"goodsG": 454, "depthPct": 1, "stockPct": 1}');

export const CalcParams = z.object({
  topic: z.string().max(60).describe('One of the topics that GET /api/v1/calc lists'),
});

export const CalcAnswer = z.object({
  topic: z.string(),
  value: z.union([z.number(), z.array(z.number())]),
  unit: z.string(),
});

export const CalcTopicList = z.object({
  topics: z.array(z.object({ topic: z.string(), summary: z.string(), unit: z.string(), inputs: z.string() })),
});
