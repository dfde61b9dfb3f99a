import type { z } from 'zod';
import type { BenchProps, WeighOrder } from '../../views/bench/props.ts';
import { currentLine, withTapped } from '../../views/bench/waiting.ts';
import type { FormState } from '../../views/kit/field.ts';
import { day } from '../../views/kit/show.ts';
import type { Db } from '../db/open.ts';
import type { LogEntryRow } from '../db/tables/lots.ts';
import type { Actor, Deps } from '../deps.ts';
import { benchQuestions, detailsOf } from '../lots/benchQuestions.ts';
import type { Bench, BenchLine } from '../lots/benchState.ts';
import { entryValueOf } from '../lots/entryValue.ts';
import { cancelledWords } from '../lots/ordersServed.ts';
import { formWords, lineShown } from '../lots/present/line.ts';
import { logShown } from '../lots/present/log.ts';
import { lotSeen } from '../lots/present/lot.ts';
import { placementColours, placementViews } from '../lots/present/placements.ts';
import { coloursOf, type LogLine } from '../lots/queries.ts';
import type { LineShown } from '../lots/schemas.ts';
import { containerLabel } from '../plans/present.ts';
import { dayOf } from '../settings/days.ts';
import { showOf } from '../settings/show.ts';
import { type StockLotOverview, usableStockLots } from '../stock/queries.ts';
import { countsForOne, OTHER_STEP } from './countsForOne.ts';
import { DID, insteadChoices } from './deviations.ts';
import { newestOfBench } from './queries.ts';
import { DIDS, type Recorded } from './schemas.ts';
import { weighUpOf } from './waysOut.ts';

/** Why a container is not the one that a line proposes; '' of one that may be. */
function notProposed(s: StockLotOverview, line: BenchLine, todayOn: string): string {
  const { component } = line;
  const why: string[] = [];
  if (s.bestBeforeOn !== null && s.bestBeforeOn < todayOn) why.push(`past its best-before, ${day(s.bestBeforeOn)}`);
  if (s.onHandQuantity <= 0) why.push('empty by its card');
  if (s.concPpm !== component.concPpm)
    why.push(
      component.concPpm === null
        ? 'a solution, planned as powder'
        : `planned as ${component.concPpm / 10_000} % solution`,
    );
  else if (s.unit !== line.unit) why.push(`planned by ${line.unit === 'mg' ? 'mass' : 'volume'}`);
  if (s.strengthPpm !== component.strengthPpm) why.push(`planned at strength ${component.strengthPpm / 10_000} %`);
  return why.join('; ');
}

/** Containers that a line can be weighed from: those of the planned form first. The one proposed is open, holds some, is within its
 *  best-before and is what was planned; where there is none such, none is proposed. */
function containersFor(db: Db, line: BenchLine, todayOn: string): LineShown['containers'] {
  const { component } = line;
  const all = usableStockLots(db, { dyeId: component.dyeId, auxiliaryId: component.auxiliaryId }).filter((s) =>
    component.concPpm !== null
      ? true
      : component.plannedMassMg !== null
        ? s.unit === 'mg' || s.concPpm !== null
        : s.unit === 'ul' && s.concPpm === null,
  );
  const views = all.map((s) => ({
    id: s.id,
    code: s.code,
    label: containerLabel(s),
    unit: s.unit,
    counts: countsForOne(component, s),
    step: s.unit === line.unit ? line.step : OTHER_STEP[s.unit],
    form: `${formWords(s.concPpm, s.unit, component)}${s.strengthPpm === component.strengthPpm ? '' : `, strength ${s.strengthPpm / 10_000} %`}`,
    onHand: s.onHandQuantity,
    notProposed: notProposed(s, line, todayOn),
  }));
  const sorted = views.sort((x, y) => Number(x.notProposed !== '') - Number(y.notProposed !== ''));
  const good = sorted.filter((v) => v.notProposed === '');
  const lastUsed = line.weighings.findLast((w) => !w.voided)?.stockLotId;
  const proposed = good.find((v) => v.id === lastUsed) ?? good.find((v) => v.id === component.stockLotId) ?? good[0];
  return sorted.map((v) => ({ ...v, chosen: v === proposed }));
}

/** What the bench is asked, with the line that it is about. */
function questionViews(db: Db, bench: Bench): BenchProps['questions'] {
  return benchQuestions(db, bench.lot.id).map((q) => {
    const { componentId } = detailsOf(q);
    const line = bench.lines.find((l) => l.component.id === componentId);
    return {
      questionId: q.id,
      words: q.words,
      asks: q.kind === 'wayOutCause' ? ('undo' as const) : ('choice' as const),
      line: line ? { componentId: line.component.id, name: line.component.name, isOver: line.state === 'over' } : null,
    };
  });
}

/** What was last kept of a field that the method asks for. */
const recordedField = (log: readonly LogLine[], label: string): string | null =>
  log.findLast((e) => e.kind === 'field' && e.voidedAt === null && entryValueOf(e).label === label)?.text ?? null;

/** The lines in the order that the person at the scale chose: as planned, smallest first, or one dye across all colours. */
export function inOrder(lines: readonly BenchLine[], order: WeighOrder): BenchLine[] {
  const size = (l: BenchLine): number => l.target / (l.unit === 'mg' ? 1 : 100);
  const dyesFirst = (x: BenchLine, y: BenchLine): number =>
    Number(x.component.kind !== 'dye') - Number(y.component.kind !== 'dye');
  if (order === 'smallest') return [...lines].sort((x, y) => dyesFirst(x, y) || size(x) - size(y));
  if (order === 'dye') {
    const first = new Map<string, number>();
    for (const [i, l] of lines.entries()) if (!first.has(l.component.code)) first.set(l.component.code, i);
    return [...lines].sort(
      (x, y) => dyesFirst(x, y) || (first.get(x.component.code) ?? 0) - (first.get(y.component.code) ?? 0),
    );
  }
  return [...lines];
}

export function benchProps(
  deps: Deps,
  bench: Bench,
  chosenLine: number | null,
  order: WeighOrder,
  refused: { form: string; state: FormState } | null,
  by: Actor,
): BenchProps {
  const show = showOf(deps.db);
  const colours = coloursOf(deps.db, bench.lot.id);
  const inTurn = inOrder(bench.lines, order);
  const placementColoursOfLot = placementColours(deps.db, bench.lot.id);
  const { plan, cloth } = placementViews(bench.log, placementColoursOfLot);
  const todayOn = dayOf(deps.now(), show.zone);
  const lines = inTurn.map((l) => lineShown(l, colours, containersFor(deps.db, l, todayOn)));
  const currentId = currentLine(lines, { chosen: chosenLine, stay: null });
  return {
    lotId: bench.lot.id,
    number: bench.lot.number,
    status: bench.lot.status,
    cancelled: cancelledWords(deps.db, bench.lot.id),
    goodsText: bench.lot.goodsText,
    dryMassMg: bench.dryMassMg,
    plannedDryMassMg: bench.lot.dryMassMg,
    show,
    nowAt: deps.now(),
    order,
    // What was refused keeps the container that was tapped, and the screen asks for what that one holds.
    lines: withTapped(lines, currentId, Number(refused?.state.typed['stockLotId'])),
    questions: questionViews(deps.db, bench),
    currentId,
    weighUp: weighUpOf(bench),
    steps: bench.steps,
    readyAt: bench.readyAt,
    log: logShown(deps.db, bench),
    newest: newestOfBench(deps.db, bench.lot.id),
    person: { personId: by.personId, name: by.name },
    cautions: bench.plan.cautions,
    deviations: {
      instead: insteadChoices(bench, show.units),
      did: DIDS.map((value) => ({ value, ...DID[value] })),
    },
    placement: { plan, cloth, colours: placementColoursOfLot },
    fields: bench.plan.fields.map((f) => ({
      ...f,
      recorded: recordedField(bench.log, f.label),
      choices: f.choices
        .split(/\n|,/)
        .map((c) => c.trim())
        .filter(Boolean),
    })),
    newId: () => deps.newId(),
    refused,
  };
}

/** What the API answers to an entry: itself, what is asked because of it, and the lot as it is then. */
export function recorded(deps: Deps, entry: LogEntryRow): z.output<typeof Recorded> {
  const asked = benchQuestions(deps.db, entry.lotId).find(
    (q) => entry.id === q.logEntryId || entry.refersToId === q.logEntryId,
  );
  const question = asked ? { questionId: asked.id, words: asked.words } : null;
  return { entryId: entry.id, question, lot: lotSeen(deps, entry.lotId) };
}
