import { z } from 'zod';
import { ReplicaResource } from '../backup/schemas.ts';

const lot = z.object({
  lotId: z.number().int(),
  number: z.string(),
  status: z.enum(['planned', 'onBench']),
  goodsText: z.string(),
  fibreName: z.string(),
  dryMassMg: z.number().int(),
  shades: z.string(),
  customers: z.string(),
  cancelledOrders: z
    .string()
    .meta({ description: 'numbers of its orders that were cancelled; empty when there are none' }),
  plannedForOn: z.string().nullable(),
  startedAt: z.number().int().nullable(),
  lineCount: z.number().int(),
  weighedCount: z.number().int(),
});

export const TodayResource = z
  .object({
    todayOn: z.string(),
    nowAt: z.number().int(),
    backup: z.object({
      lastGoodAt: z.number().int().nullable(),
      isOld: z.boolean().meta({ description: 'longer ago than the studio wants' }),
      triedAt: z
        .number()
        .int()
        .nullable()
        .meta({ description: 'when an archive was last restored for trial and all was well' }),
      trialFailure: z.string().meta({ description: 'what the last trial found wrong; empty when it passed' }),
      isTrialOverdue: z.boolean(),
      checkFailure: z
        .string()
        .meta({ description: 'why the running database could not be checked; empty when it was' }),
    }),
    replica: ReplicaResource.nullable().meta({ description: 'null when none is set up' }),
    onBench: z.array(
      lot.extend({
        running: z.array(
          z.object({
            stepId: z.number().int(),
            name: z.string(),
            state: z.enum(['running', 'overdue']),
            expectedEndAt: z.number(),
            remainingS: z.number(),
          }),
        ),
        nextStep: z.string().nullable(),
        doneSteps: z.number().int(),
        stepCount: z.number().int(),
        readyAt: z.number().nullable(),
      }),
    ),
    planned: z.array(lot),
    orders: z.array(
      z.object({
        orderId: z.number().int(),
        number: z.string(),
        customerName: z.string(),
        dueOn: z.string().nullable(),
        status: z.enum(['open', 'inWork', 'ready', 'delivered', 'cancelled']),
        overdue: z.boolean(),
      }),
    ),
    containers: z.array(
      z.object({
        stockLotId: z.number().int(),
        code: z.string(),
        itemName: z.string(),
        unit: z.enum(['mg', 'ul']),
        onHandQuantity: z.number().int(),
        bestBeforeOn: z.string().nullable(),
        supplyState: z.enum(['enough', 'nearlyOut', 'out']),
        keepingState: z.enum(['good', 'useSoon', 'past', 'undated']),
        recalled: z.boolean(),
      }),
    ),
    unread: z.array(
      z.object({
        lotId: z.number().int(),
        number: z.string(),
        goodsText: z.string(),
        shades: z.string(),
        finishedAt: z.number().int(),
      }),
    ),
  })
  .meta({ id: 'Today' });
export type TodayShape = z.output<typeof TodayResource>;
