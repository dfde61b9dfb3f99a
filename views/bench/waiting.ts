import {
  type ConfirmedWay,
  confirmedWayHolds,
  judgedLine,
  type WeighUpAtScale,
  waysOutAtScale,
  weighUpAfter,
} from '../../server/calc/overWeighing.ts';
import { doubtWords, readingAmount, readingDoubts } from '../../server/calc/plausibleReading.ts';
import { nearestInteger } from '../../server/calc/rounding.ts';
import type { ContainerShown } from '../../server/lots/schemas.ts';
import type { BenchCarried, KeptOnLine, LineAtBench, StepAtBench, WeighingAtBench } from './props.ts';

/* What the bench comes to with the entries that wait on this device, worked out as the server will work it out.
   The page runs this (server/http/browserModules.ts serves it); when an entry is sent, the server's own page is
   the one that is shown. */

/** An entry of the device's outbox. */
export interface Waiting {
  clientId: string;
  at: number;
  /** The rest of its address behind /lots/ID, as 'weighings' or 'log/17/voiding'. */
  path: readonly string[];
  words: string;
  /** Where it is kept, in words. */
  mark: string;
  fields: Readonly<Record<string, string>>;
}

/** Beyond a thousand tonnes it is no reading. */
const MOST = 1e12;

/** A reading as typed, in mg or µL of its container; undefined when it is none that can be read here. */
function readingOf(text: string, container: Pick<ContainerShown, 'unit'> | undefined): number | undefined {
  if (!container) return undefined;
  try {
    const reading = readingAmount({ text, unit: container.unit, container: '' });
    return reading > 0 ? reading : undefined;
  } catch {
    return undefined;
  }
}

/** What a typed reading is, and whether it is to be asked about before it is kept: by the server's own rule, on the
 *  figures of this page. Undefined where only the server can read it. */
export function readingAsked(
  line: LineAtBench,
  container: ContainerShown | undefined,
  text: string,
): { confirming: string; amountWords: string; words: string } | undefined {
  const amount = readingOf(text, container);
  if (!container || amount === undefined) return undefined;
  const { unit, code, counts, step, onHand } = container;
  const reading = { amount, target: line.target / counts, actual: (line.actual ?? 0) / counts, onHand, step };
  const doubts = readingDoubts(reading);
  return {
    confirming: `${container.id}:${amount}`,
    amountWords: `${amount / 1000} ${unit === 'mg' ? 'g' : 'mL'}`,
    words: doubts.length > 0 ? doubtWords({ doubts, reading, unit, name: line.name, container: code }) : '',
  };
}

const NOTHING_KEPT: KeptOnLine = { unread: false, weighings: [], choices: [] };
const keptOf = (l: LineAtBench): KeptOnLine => l.kept ?? NOTHING_KEPT;

/** A line with what is in its cup by now, judged as the server judges it. */
function judged(l: LineAtBench, tolerancePct: number): LineAtBench {
  const counting = [
    ...l.weighings.filter((w) => w.state === 'counts'),
    ...keptOf(l).weighings.filter((w) => w.counts > 0),
  ];
  const sum = counting.reduce((total, w) => total + w.counts, 0);
  const actual = counting.length === 0 ? undefined : nearestInteger({ value: sum, field: 'actual' });
  const { tolerance, verdict } = judgedLine({ line: { ...l, actual }, tolerancePct });
  return {
    ...l,
    kept: keptOf(l),
    actual,
    tolerance,
    difference: verdict?.difference ?? null,
    differencePct: verdict?.differencePct ?? null,
    state: verdict?.verdict ?? 'waiting',
  };
}

const withLine = (bench: BenchCarried, id: string, change: (l: LineAtBench) => LineAtBench): BenchCarried => ({
  ...bench,
  lines: bench.lines.map((l) => (String(l.componentId) === id ? judged(change(l), bench.weighUp.tolerancePct) : l)),
});

/** The weigh-up with what is in the cups by now. */
const weighUpNow = ({ weighUp, lines }: BenchCarried): WeighUpAtScale => ({
  ...weighUp,
  lines: weighUp.lines.map((l) => ({ ...l, actual: lines.find((x) => String(x.componentId) === l.lineId)?.actual })),
});

/** What goes out of a container, or comes back into it, is so for every line that offers it. */
const drawnFrom = (bench: BenchCarried, containerId: number, quantity: number): BenchCarried => ({
  ...bench,
  lines: bench.lines.map((l) => ({
    ...l,
    containers: l.containers.map((c) => (c.id === containerId ? { ...c, onHand: c.onHand - quantity } : c)),
  })),
});

function weighed(bench: BenchCarried, e: Waiting): BenchCarried {
  const { componentId = '', stockLotId = '', amount = '' } = e.fields;
  const line = bench.lines.find((l) => String(l.componentId) === componentId);
  const container = line?.containers.find((c) => String(c.id) === stockLotId);
  const reading = readingOf(amount, container);
  const counted = reading === undefined || !container ? Number.NaN : reading * container.counts;
  const isRead = counted < MOST;
  return withLine(drawnFrom(bench, Number(stockLotId), reading ?? 0), componentId, (l) => {
    const { clientId, at, words, mark } = e;
    const kept = { clientId, at, words, mark, containerId: Number(stockLotId), counts: isRead ? counted : 0 };
    const { unread, weighings, ...rest } = keptOf(l);
    return { ...l, kept: { ...rest, unread: unread || !isRead, weighings: [...weighings, kept] } };
  });
}

/** The figures that a choice carries; one of an earlier version carries none, and holds on none. */
function confirmedIn(e: Waiting): ConfirmedWay | undefined {
  try {
    return JSON.parse(e.fields['confirmed'] ?? '');
  } catch {
    return undefined;
  }
}

/** Works a way out that waits into every line that it changes. One whose figures do not hold any more is not worked
 *  in: the studio's computer asks. */
function choseWayOut(bench: BenchCarried, e: Waiting): BenchCarried {
  const { componentId: overLineId = '', stage, way: kind, vessel } = e.fields;
  if (!bench.lines.some((l) => String(l.componentId) === overLineId)) return bench;
  const before = weighUpNow(bench);
  const way = waysOutAtScale({ weighUp: before, overLineId, stage: stage === 'inBath' ? 'inBath' : 'dry' }).find(
    (w) => w.kind === kind && w.vessel === vessel,
  );
  const confirmed = confirmedIn(e);
  const holds = way && confirmed && confirmedWayHolds({ weighUp: before, overLineId, way, confirmed });
  const chosen = { words: e.words, mark: e.mark, holds: holds === true };
  const told = {
    ...bench,
    lines: bench.lines.map((l) =>
      String(l.componentId) === overLineId
        ? { ...l, kept: { ...keptOf(l), choices: [...keptOf(l).choices, chosen] } }
        : l,
    ),
  };
  if (!holds) return told;
  const weighUp = weighUpAfter({ weighUp: before, overLineId, way });
  const start: BenchCarried = { ...told, weighUp, dryMassMg: weighUp.goodsDryMassMg };
  return weighUp.lines.reduce((now, after, i) => {
    const was = before.lines[i];
    const emptied = after.actual === undefined && was?.actual !== undefined;
    if (!emptied && after.target === was?.target) return now;
    return withLine(now, after.lineId, (l) => ({
      ...l,
      target: after.target,
      ...(emptied && {
        weighings: l.weighings.map((w) => (w.state === 'counts' ? { ...w, state: 'discarded' as const } : w)),
        kept: { ...keptOf(l), weighings: keptOf(l).weighings.map((w) => ({ ...w, counts: 0 })) },
      }),
    }));
  }, start);
}

function stepped(bench: BenchCarried, e: Waiting): BenchCarried {
  const { stepId, kind, next } = e.fields;
  const isOpen = (s: StepAtBench): boolean => ['waiting', 'running', 'overdue'].includes(s.state);
  const begun = (s: StepAtBench): StepAtBench => ({
    ...s,
    state: 'running',
    startedAt: e.at,
    remainingS: s.plannedDurationS - (bench.nowAt - e.at) / 1000,
    kept: true,
  });
  return {
    ...bench,
    steps: bench.steps.map((s) => {
      if (!isOpen(s)) return s;
      if (String(s.stepId) === stepId)
        return kind === 'stepEnd' ? { ...s, state: 'done', endedAt: e.at, kept: true } : begun(s);
      return kind === 'stepEnd' && String(s.stepId) === next ? begun(s) : s;
    }),
  };
}

function undone(bench: BenchCarried, e: Waiting): BenchCarried {
  const isIt = (w: WeighingAtBench): boolean => String(w.entryId) === e.path[1] && w.state !== 'voided';
  const line = bench.lines.find((l) => l.weighings.some(isIt));
  const was = line?.weighings.find(isIt);
  if (!line || !was) return bench;
  const one = line.containers.find((c) => c.id === was.containerId)?.counts ?? 1;
  const given = drawnFrom(bench, was.containerId, -Math.round(was.counts / one));
  return withLine(given, String(line.componentId), (l) => ({
    ...l,
    weighings: l.weighings.map((w) => (isIt(w) ? { ...w, state: 'voided', undone: e.fields['reason'] ?? '' } : w)),
  }));
}

/** A question whose answer waits is not asked again meanwhile. */
const answered = (bench: BenchCarried, e: Waiting): BenchCarried => ({
  ...bench,
  questions: bench.questions.map((q) => (String(q.questionId) === e.path[1] ? { ...q, answered: true } : q)),
});

/** The bench with what waits worked in, one entry after the other. */
export function withWaiting(bench: BenchCarried, queue: readonly Waiting[]): BenchCarried {
  const now = queue.reduce((so, e) => {
    const [kind, , act] = e.path;
    if (kind === 'weighings') return weighed(so, e);
    if (kind === 'adjustments') return choseWayOut(so, e);
    if (kind === 'steps') return stepped(so, e);
    if (act === 'voiding') return undone(so, e);
    return kind === 'questions' ? answered(so, e) : so;
  }, bench);
  return { ...now, weighUp: weighUpNow(now) };
}

/** The line that fills the screen: the one that was asked for; else the one that stands there, as long as it wants
 *  something; else the next. */
export function currentLine(
  lines: readonly LineAtBench[],
  { chosen, stay }: { chosen: number | null; stay: number | null },
): number | null {
  const read = lines.filter((l) => !l.kept?.unread);
  const isAllRead = read.length === lines.length;
  if (lines.some((l) => l.componentId === chosen)) return chosen;
  if (read.some((l) => l.componentId === stay && (l.state === 'waiting' || l.state === 'under'))) return stay;
  const next =
    (isAllRead ? read.find((l) => l.state === 'over') : undefined) ??
    read.find((l) => l.state === 'under') ??
    read.find((l) => l.state === 'waiting');
  return next?.componentId ?? null;
}

/** The container that somebody has tapped decides what the screen asks for. */
export const withTapped = (
  lines: readonly LineAtBench[],
  componentId: number | null,
  containerId: number,
): readonly LineAtBench[] =>
  lines.map((l) =>
    l.componentId === componentId && l.containers.some((c) => c.id === containerId)
      ? { ...l, containers: l.containers.map((c) => ({ ...c, chosen: c.id === containerId })) }
      : l,
  );
