import { recordEntry } from '../server/bench/recordEntry.ts';
import { recordPlacement } from '../server/bench/recordPlacement.ts';
import { recordStep } from '../server/bench/recordStep.ts';
import { recordWeighing } from '../server/bench/recordWeighing.ts';
import { takeWayOut } from '../server/bench/takeWayOut.ts';
import { voidEntry } from '../server/bench/voidEntry.ts';
import { confirmedNow } from '../server/bench/waysOut.ts';
import type { Actor } from '../server/deps.ts';
import { abandonLot } from '../server/lots/abandonLot.ts';
import { type BenchLine, benchOf } from '../server/lots/benchState.ts';
import { finishLot } from '../server/lots/finishLot.ts';
import { planLot } from '../server/lots/planLot.ts';
import { lotById, stepsOf } from '../server/lots/queries.ts';
import type { Drawing } from '../server/lots/schemas.ts';
import { planOf } from '../server/plans/planOf.ts';
import { previewPlan } from '../server/plans/previewPlan.ts';
import type { MassFound, PlanColour, PlanInput } from '../server/plans/schemas.ts';
import { closeContainer } from '../server/stock/containers.ts';
import { usableStockLots } from '../server/stock/queries.ts';
import type { StockItem } from '../server/stock/schemas.ts';
import type { DyePct } from './colourWorld.ts';
import { type Chance, chanceOf } from './random.ts';
import { hourOf, MINUTE_MS, type Named, named, nextMorning, type Sowing } from './sowing.ts';
import { codeOf, containersOf, goodsFor, keepInStock, solutionFor } from './supplies.ts';

/** What goes otherwise than planned at the bench. */
export type Slip = 'deeper' | 'weighAgain' | 'keepAsMade' | 'moreGoods' | 'misread' | 'startedTwice';

export interface Dyeing {
  /** Name of its stream of chance. */
  name: string;
  planAt: number;
  startAt: number;
  by: Actor;
  fibre: string;
  method: string;
  goodsText: string;
  pieces: number | null;
  mass: MassFound;
  goodsOwner: 'studio' | 'customer';
  colours: PlanColour[];
  coverage: PlanInput['coverage'];
  orderLineId: number | null;
  plannedForOn: string | null;
  repeatsLotId: number | null;
  slip: Slip | null;
  /** Notes and deviations by the place of the step during which they are written (0 = at the scale). */
  remarks: readonly { step: number; kind: 'note' | 'deviation'; text: string }[];
  /** Answers to what the method asks for. */
  answers: Readonly<Record<string, string>>;
  /** How it was meant to lie and how it was laid, where somebody drew it. */
  drawn: { meant: Drawing; laid: Drawing; words: string } | null;
}

export interface Weighed {
  lotId: number;
  /** Dye that went onto the goods, by the place of its colour and its code, % of the goods at standard strength. */
  dyePct: DyePct[];
  readyAt: number;
}

const itemOf = (line: { dyeId: number | null; auxiliaryId: number | null }): StockItem =>
  line.dyeId !== null ? { kind: 'dye', id: line.dyeId } : { kind: 'auxiliary', id: line.auxiliaryId ?? 0 };

/** Plans a lot, buying and dissolving first what it will need. */
export function plan(s: Sowing, n: Named, d: Dyeing): number {
  s.clock.at = d.planAt;
  const input: PlanInput = {
    fibreId: named(n.fibres, d.fibre),
    methodId: named(n.methods, d.method),
    goodsText: d.goodsText,
    pieces: d.pieces,
    goodsOwner: d.goodsOwner,
    goodsStockLotId: null,
    mass: d.mass,
    coverage: d.coverage,
    colours: d.colours,
    bathUl: null,
    soakUl: null,
    lossPpm: null,
    solutions: 'auto',
    stockLotChoices: {},
    orderLines: d.orderLineId === null ? [] : [{ orderLineId: d.orderLineId, pieces: d.pieces }],
    morePiecesConfirmed: true,
    plannedForOn: d.plannedForOn,
    repeatsLotId: d.repeatsLotId,
  };
  const first = previewPlan(s.deps, input);
  const powder = new Map<string, { item: StockItem; needed: number }>();
  for (const line of first.lines) {
    const item = itemOf(line);
    if (line.concPpm !== null) {
      solutionFor(s, item, codeOf(s, item), line.concPpm, Math.round((line.plannedVolumeUl ?? 0) * 1.05));
      continue;
    }
    const key = `${item.kind}${item.id}`;
    const sum = powder.get(key) ?? { item, needed: 0 };
    sum.needed += line.plannedMassMg ?? line.plannedVolumeUl ?? 0;
    powder.set(key, sum);
  }
  for (const { item, needed } of powder.values()) keepInStock(s, item, codeOf(s, item), needed);
  if (d.goodsOwner === 'studio') {
    input.goodsStockLotId = goodsFor(s, d.fibre, input.fibreId, Math.round(first.dryMassMg * 1.06));
  }
  const { id: lotId } = planLot(s.deps, input, d.by);
  if (d.drawn) draw(s, lotId, { of: 'plan', drawing: d.drawn.meant, text: '', stepId: null }, d.by);
  return lotId;
}

const draw = (
  s: Sowing,
  lotId: number,
  as: { of: 'plan' | 'cloth'; drawing: Drawing; text: string; stepId: number | null },
  by: Actor,
) => recordPlacement(s.deps, { lotId, ...as, clientId: s.deps.newId(), at: s.clock.at }, by);

/** Weighs everything, with the slips of a hand and of the day. Answers when the last cup stood ready. */
function weighUp(s: Sowing, d: Dyeing, lotId: number, chance: Chance): void {
  let { lines } = benchOf(s.deps.db, lotId, s.clock.at);
  let slip = d.slip;
  for (let i = 0; i < lines.length; i += 1) {
    const line = lines[i] as BenchLine;
    const isPowder = line.component.kind === 'dye' && line.unit === 'mg';
    s.clock.at += Math.round(chance.between(1.5, 4.5) * MINUTE_MS);
    if (slip !== null && slip !== 'startedTwice' && isPowder) {
      slipOnce(s, d, lotId, line, slip, chance);
      slip = null;
      ({ lines } = benchOf(s.deps.db, lotId, s.clock.at));
    }
    drawUpTo(s, d.by, lotId, lines[i] as BenchLine, chance);
  }
}

const lineOf = (s: Sowing, lotId: number, componentId: number): BenchLine => {
  const line = benchOf(s.deps.db, lotId, s.clock.at).lines.find((l) => l.component.id === componentId);
  if (!line) throw new Error(`lot ${lotId} has no line ${componentId}`);
  return line;
};

function slipOnce(s: Sowing, d: Dyeing, lotId: number, line: BenchLine, slip: Slip, chance: Chance): void {
  const { component } = line;
  const container = containersOf(s, itemOf(component)).find((c) => c.onHandQuantity > line.target * 1.2);
  if (!container) return;
  const ratio = container.strengthPpm / component.strengthPpm;
  const onto = (mass: number): number => Math.max(line.step, Math.round(mass / ratio / line.step) * line.step);
  const base = { lotId, componentId: component.id };
  const weigh = (amount: number) =>
    recordWeighing(
      s.deps,
      { ...base, stockLotId: container.id, amount, confirmed: true, clientId: s.deps.newId(), at: s.clock.at },
      d.by,
    );
  if (slip === 'misread') {
    const entry = weigh(onto(line.target / 10));
    s.clock.at += MINUTE_MS;
    voidEntry(
      s.deps,
      {
        entryId: entry.id,
        reason: 'typed with the point in the wrong place',
        clientId: s.deps.newId(),
        at: s.clock.at,
      },
      d.by,
    );
    return;
  }
  weigh(onto(line.target * chance.between(1.034, 1.062)));
  s.clock.at += MINUTE_MS;
  if (lineOf(s, lotId, component.id).verdict?.verdict !== 'over') return;
  if (slip === 'startedTwice') return;
  const chosen = {
    ...base,
    way: slip,
    stage: slip === 'keepAsMade' ? ('inBath' as const) : ('dry' as const),
    vessel: 'own' as const,
  };
  const confirmed = confirmedNow(benchOf(s.deps.db, lotId, s.clock.at), chosen) ?? null;
  takeWayOut(s.deps, { ...chosen, confirmed, clientId: s.deps.newId(), at: s.clock.at }, d.by);
}

/** Brings one line to its target from the containers at hand, the oldest first; an emptied one is closed. */
function drawUpTo(s: Sowing, by: Actor, lotId: number, line: BenchLine, chance: Chance): void {
  const { component } = line;
  const componentId = component.id;
  const missing = line.target - (line.actual ?? 0);
  if (missing <= line.tolerance) return;
  const item = itemOf(component);
  const isDye = component.kind === 'dye';
  const wanted = missing * (1 + chance.noise(isDye ? 0.0045 : 0.006));
  const step = !isDye && line.unit === 'mg' && missing > 40_000 ? Math.max(1000, line.step) : line.step;
  const all = usableStockLots(s.deps.db, {
    dyeId: item.kind === 'dye' ? item.id : null,
    auxiliaryId: item.kind === 'auxiliary' ? item.id : null,
  });
  const fitting = all.filter(
    (c) =>
      c.onHandQuantity > 0 &&
      (component.concPpm !== null
        ? c.concPpm === component.concPpm && c.onHandQuantity >= wanted
        : c.concPpm === null && c.unit === line.unit),
  );
  let left = wanted;
  for (const c of fitting) {
    const ratio = c.strengthPpm / component.strengthPpm;
    const need = Math.max(step, Math.round(left / ratio / step) * step);
    if (c.onHandQuantity < missing * 0.03) {
      closeContainer(s.deps, { stockLotId: c.id, how: 'empty', reason: '' }, by);
      continue;
    }
    const amount = Math.min(need, c.onHandQuantity);
    recordWeighing(
      s.deps,
      { lotId, componentId, stockLotId: c.id, amount, confirmed: true, clientId: s.deps.newId(), at: s.clock.at },
      by,
    );
    left -= amount * ratio;
    if (amount === c.onHandQuantity) closeContainer(s.deps, { stockLotId: c.id, how: 'empty', reason: '' }, by);
    if (left < line.tolerance || amount === need) return;
    s.clock.at += MINUTE_MS;
  }
  throw new Error(`lot ${lotId}: ${component.code} ran out`);
}

/** Dye on the goods by what was weighed, loss and uptake taken out again, at standard strength. */
function dyePctOf(s: Sowing, lotId: number): DyePct[] {
  const bench = benchOf(s.deps.db, lotId, s.clock.at);
  const by: Record<string, number>[] = [];
  for (const { component, actual, unit } of bench.lines) {
    if (component.kind !== 'dye') continue;
    const planned = bench.plan.lines.find((l) => l.ordinal === component.ordinal);
    const colour = (planned?.colourOrdinal ?? 1) - 1;
    const mg =
      (unit === 'mg' ? (actual ?? 0) : ((actual ?? 0) * (component.concPpm ?? 0)) / 1e6) *
      (component.strengthPpm / 1e6);
    const share = bench.plan.coverage === 'eachOverItsShare' ? (bench.plan.colours[colour]?.sharePpm ?? 1e6) / 1e6 : 1;
    const goodsMg = bench.dryMassMg * share * (1 + bench.plan.lossPpm / 1e6) * (bench.plan.uptakePpm / 1e6);
    const own = by[colour] ?? {};
    by[colour] = own;
    own[component.code] = (own[component.code] ?? 0) + (100 * mg) / goodsMg;
  }
  return by;
}

/** How far a lot goes that is still on the bench: so many steps done, and the next one under way for so long. */
export interface StillOnBench {
  stepsDone: number;
  runningForMin: number | null;
}

/** When a lot must have begun for a step to be where it is at an instant. */
export function startFor(s: Sowing, lotId: number, at: number, still: StillOnBench): number {
  const steps = stepsOf(s.deps.db, lotId);
  const doneS = steps.slice(0, still.stepsDone).reduce((sum, step) => sum + step.plannedDurationS, 0);
  return at - (still.runningForMin ?? 4) * MINUTE_MS - doneS * 1000 - 40 * MINUTE_MS - still.stepsDone * 3 * MINUTE_MS;
}

/** The work on a planned lot: weigh-up, steps, temperatures, remarks. */
export function work(s: Sowing, d: Dyeing, lotId: number, still: StillOnBench | null): Weighed {
  const chance = chanceOf(`work ${d.name}`);
  s.clock.at = d.startAt;
  const helper = d.by === s.owner ? s.dyer : s.owner;
  const say = (
    kind: 'note' | 'deviation' | 'temperature' | 'field',
    text: string,
    stepId: number | null,
    value?: Record<string, unknown>,
  ) =>
    recordEntry(
      s.deps,
      {
        lotId,
        kind,
        text,
        stepId,
        photoId: null,
        clientId: s.deps.newId(),
        at: s.clock.at,
        ...(value === undefined ? {} : { value }),
      },
      chance.happens(0.75) ? d.by : helper,
    );
  weighUp(s, d, lotId, chance);
  for (const remark of d.remarks) if (remark.step === 0) say(remark.kind, remark.text, null);
  if (still !== null) s.clock.at = d.startAt + 40 * MINUTE_MS;
  const fields = planOf(lotById(s.deps.db, lotId) ?? { planJson: '{}' }).fields;
  const steps = stepsOf(s.deps.db, lotId);
  steps.forEach((step, i) => {
    if (still !== null && (i > still.stepsDone || (i === still.stepsDone && still.runningForMin === null))) return;
    s.clock.at += still === null ? Math.round(chance.between(1, 8) * MINUTE_MS) : 3 * MINUTE_MS;
    const at = (): { clientId: string; at: number } => ({ clientId: s.deps.newId(), at: s.clock.at });
    if (i > 0 && still === null && hourOf(s, s.clock.at) > 18.5) s.clock.at = nextMorning(s, s.clock.at, 8.4);
    recordStep(s.deps, { lotId, stepId: step.id, kind: 'stepStart', ...at() }, d.by);
    const startedAt = s.clock.at;
    const isRunning = still !== null && i === still.stepsDone;
    if (d.slip === 'startedTwice' && i === 1) {
      const early = recordStep(s.deps, { lotId, stepId: step.id, kind: 'stepEnd', ...at() }, helper);
      voidEntry(s.deps, { entryId: early.id, reason: 'tapped the wrong button, it was still going', ...at() }, helper);
    }
    if (step.plannedTempC !== null && step.plannedTempC >= 35 && step.plannedDurationS >= 900) {
      s.clock.at = startedAt + Math.round(chance.between(4, 9) * MINUTE_MS);
      const tempC = Math.round((step.plannedTempC + chance.noise(1.3)) * 2) / 2;
      if (!isRunning || s.clock.at < s.nowAt) say('temperature', `${tempC} °C`, step.id, { tempC });
    }
    for (const field of fields) {
      const answer = d.answers[field.label];
      if (answer === undefined || i !== Math.min(2, steps.length - 1)) continue;
      say('field', `${answer}${field.unit && !answer.includes(field.unit) ? ` ${field.unit}` : ''}`, step.id, {
        label: field.label,
      });
    }
    // Laid on the rack: the last thing before the first long wait.
    if (
      d.drawn &&
      step.plannedDurationS >= 4 * 3600 &&
      !steps.slice(0, i).some((x) => x.plannedDurationS >= 4 * 3600)
    ) {
      draw(s, lotId, { of: 'cloth', drawing: d.drawn.laid, text: d.drawn.words, stepId: step.id }, d.by);
    }
    for (const remark of d.remarks) {
      if (remark.step === i + 1) {
        s.clock.at = Math.max(s.clock.at, startedAt + Math.round(chance.between(5, 11) * MINUTE_MS));
        if (!isRunning || s.clock.at < s.nowAt) say(remark.kind, remark.text, step.id);
      }
    }
    if (isRunning) return;
    const factor = still === null ? chance.between(0.97, 1.12) : 1;
    const endsAt = Math.max(s.clock.at + MINUTE_MS, startedAt + Math.round(step.plannedDurationS * 1000 * factor));
    // A long wait ends when somebody is there again.
    s.clock.at =
      still === null && step.plannedDurationS >= 4 * 3600 && (hourOf(s, endsAt) > 18 || hourOf(s, endsAt) < 8.2)
        ? nextMorning(s, endsAt, 8.5)
        : endsAt;
    recordStep(s.deps, { lotId, stepId: step.id, kind: 'stepEnd', ...at() }, chance.happens(0.6) ? d.by : helper);
  });
  return { lotId, dyePct: dyePctOf(s, lotId), readyAt: s.clock.at };
}

export interface Judged {
  firstQuality: number;
  seconds: number;
  rework: number;
  scrap: number;
  secondsValueMinor: number;
  note: string;
  doDifferently: string;
}

/** The outcome, the morning after. */
export function judge(s: Sowing, d: Dyeing, lotId: number, at: number, judged: Judged): void {
  const chance = chanceOf(`judge ${d.name}`);
  s.clock.at = at;
  const helper = d.by === s.owner ? s.dyer : s.owner;
  const steps = planOf(lotById(s.deps.db, lotId) ?? { planJson: '{}' }).steps;
  const ids = new Map(stepsOf(s.deps.db, lotId).map((step) => [step.ordinal, step.id]));
  const minutes = (planned: number): number => Math.max(60, Math.round((planned * chance.between(0.8, 1.3)) / 60) * 60);
  finishLot(
    s.deps,
    {
      lotId,
      ...judged,
      labour: [
        { stepId: null, personId: d.by.personId, durationS: minutes(25 * 60) },
        ...steps
          .filter((step) => step.handsOnS > 0)
          .map((step) => ({
            stepId: ids.get(step.ordinal) ?? null,
            personId: (chance.happens(0.7) ? d.by : helper).personId,
            durationS: minutes(step.handsOnS),
          })),
      ],
      unweighedConfirmed: false,
      clientId: s.deps.newId(),
      at,
    },
    d.by,
  );
}

export function giveUp(s: Sowing, lotId: number, at: number, reason: string, by: Actor): void {
  s.clock.at = at;
  abandonLot(s.deps, { lotId, reason, clientId: s.deps.newId(), at }, by);
}
