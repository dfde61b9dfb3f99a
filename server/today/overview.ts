import { schedule } from '../calc/schedule.ts';
import {
  type KeepingState,
  keeping,
  nearlyOutPpm,
  type SupplyState,
  supply,
  useSoonWithinDays,
} from '../calc/shelf.ts';
import type { Db } from '../db/open.ts';
import { type OrderOverview, ordersInHand } from '../orders/queries.ts';
import { dayOf } from '../settings/days.ts';
import { openStockLots, type StockLotOverview } from '../stock/queries.ts';
import {
  type FirstSteps,
  firstSteps,
  type LotInHand,
  type LotUnread,
  lotsInHand,
  lotsUnread,
  type StepInHand,
  stepsInHand,
} from './queries.ts';

export interface RunningStep {
  stepId: number;
  name: string;
  state: 'running' | 'overdue';
  expectedEndAt: number;
  remainingS: number;
}

export interface LotOnBench extends LotInHand {
  running: RunningStep[];
  /** The step to start next, when none is running. */
  nextStep: string | null;
  doneSteps: number;
  stepCount: number;
  readyAt: number | null;
}

export interface ContainerToWatch extends StockLotOverview {
  supplyState: SupplyState;
  keepingState: KeepingState;
}

export interface Today {
  todayOn: string;
  onBench: LotOnBench[];
  planned: LotInHand[];
  /** Orders in hand, the most urgent first. */
  orders: (OrderOverview & { overdue: boolean })[];
  containers: ContainerToWatch[];
  unread: LotUnread[];
  firstSteps: FirstSteps;
}

/** Readings are made within a season or not at all; older lots are no longer asked after. */
const ASK_FOR_READING_MS = 90 * 86_400_000;

function onBench(lot: LotInHand, steps: readonly StepInHand[], now: number): LotOnBench {
  const times = schedule({
    startAtMs: lot.startedAt ?? now,
    nowMs: now,
    steps: steps.map((s) => ({
      stepId: String(s.stepId),
      plannedDurationS: s.plannedDurationS,
      actualStartAtMs: s.startedAt ?? undefined,
      // After the clock went back an end may carry an earlier time than its start; it is an end all the same.
      actualEndAtMs: s.endedAt === null ? undefined : Math.max(s.endedAt, s.startedAt ?? s.endedAt),
    })),
  });
  const running = steps.flatMap((step, i): RunningStep[] => {
    const t = times.steps[i];
    if (t?.remainingS == null || (t.state !== 'running' && t.state !== 'overdue')) return [];
    const { stepId, name } = step;
    return [{ stepId, name, state: t.state, remainingS: t.remainingS, expectedEndAt: now + 1000 * t.remainingS }];
  });
  const waiting = steps.find((_, i) => times.steps[i]?.state === 'waiting');
  return {
    ...lot,
    running,
    nextStep: running.length > 0 ? null : (waiting?.name ?? null),
    doneSteps: times.steps.filter((s) => s.state === 'done').length,
    stepCount: steps.length,
    readyAt: times.expectedReadyAtMs,
  };
}

function containersToWatch(db: Db, todayOn: string): ContainerToWatch[] {
  return openStockLots(db)
    .map((c) => ({
      ...c,
      supplyState: supply({ ...c, nearlyOutPpm }).state,
      keepingState: keeping({
        bestBeforeOn: c.bestBeforeOn,
        todayOn,
        useSoonWithinDays: c.concPpm === null ? useSoonWithinDays.asBought : useSoonWithinDays.solution,
      }).state,
    }))
    .filter(
      (c) =>
        c.recalledAt !== null ||
        c.supplyState !== 'enough' ||
        c.keepingState === 'past' ||
        c.keepingState === 'useSoon',
    );
}

/** Everything that wants a look today, in a fixed number of statements however much there is. */
export function todayOf(db: Db, now: number, zone: string): Today {
  const todayOn = dayOf(now, zone);
  const lots = lotsInHand(db);
  const steps = new Map<number, StepInHand[]>();
  for (const step of stepsInHand(db)) {
    const list = steps.get(step.lotId);
    if (list) list.push(step);
    else steps.set(step.lotId, [step]);
  }
  return {
    todayOn,
    onBench: lots.filter((l) => l.status === 'onBench').map((l) => onBench(l, steps.get(l.lotId) ?? [], now)),
    planned: lots.filter((l) => l.status === 'planned'),
    orders: ordersInHand(db).map((o) => ({ ...o, overdue: o.dueOn !== null && o.dueOn < todayOn })),
    containers: containersToWatch(db, todayOn),
    unread: lotsUnread(db, now - ASK_FOR_READING_MS),
    firstSteps: firstSteps(db),
  };
}
