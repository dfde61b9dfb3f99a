import { html, type Value } from '../../views/html.ts';
import type { FormState } from '../../views/kit/field.ts';
import { day, grams, millilitres, type Show, when } from '../../views/kit/show.ts';
import type { BenchLineView, BenchProps, BenchStepView, LogView, WeighOrder } from '../../views/lots/benchPage.ts';
import { voiceInLog } from '../../views/lots/voiceNote.ts';
import { countsFor } from '../calc/countsFor.ts';
import type { Db } from '../db/open.ts';
import type { Actor, Deps } from '../deps.ts';
import { dayOf } from '../settings/days.ts';
import { showOf } from '../settings/show.ts';
import { type StockLotOverview, usableStockLots } from '../stock/queries.ts';
import { countsForOne, OTHER_STEP, weighUpOf } from './bench.ts';
import type { Bench, BenchLine } from './benchState.ts';
import { DID, dids, insteadChoices } from './deviations.ts';
import { cancelledWords } from './ordersServed.ts';
import { benchQuestions } from './parkedWay.ts';
import { drawingWords, placementOfEntry } from './placement.ts';
import { placementColours, placementMarkup, placementViews } from './placementPages.ts';
import { adjustmentsOf, coloursOf, type LogLine, newestOfBench, voiceById, type WeighingOfLot } from './queries.ts';
import { voiceIdOfEntry } from './voices.ts';

/** What the bench knows, as its views need it. No rules here. */

/** A reading with the digits that it had. */
const readingText = (massMg: number | null, volumeUl: number | null): string =>
  massMg !== null ? `${massMg / 1000} g` : `${(volumeUl ?? 0) / 1000} mL`;
const weighedText = (w: WeighingOfLot): string => readingText(w.massMg, w.volumeUl);

export const containerLabel = (
  s: Pick<StockLotOverview, 'code' | 'concPpm' | 'onHandQuantity' | 'unit' | 'strengthPpm'>,
): string =>
  `${s.code}${s.concPpm === null ? '' : `, ${s.concPpm / 10_000} % solution`}${s.strengthPpm === 1_000_000 ? '' : `, strength ${s.strengthPpm / 10_000} %`} (${s.unit === 'mg' ? grams(s.onHandQuantity, 10) : millilitres(s.onHandQuantity, 1000)} left)`;

/** How a line or a container says what it is, beside the name: '' of powder at its usual strength. */
const formWords = (concPpm: number | null, unit: 'mg' | 'ul', planned: BenchLine['component']): string =>
  concPpm !== null
    ? `, ${concPpm / 10_000} % solution`
    : planned.concPpm !== null
      ? `, ${unit === 'mg' ? 'powder' : 'as bought'}`
      : '';

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
 *  best-before and is what was planned; where there is none such, none is proposed. `tapped` is the one that somebody chose. */
function containersFor(db: Db, line: BenchLine, todayOn: string, tapped: number | null): BenchLineView['containers'] {
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
  const chosen = sorted.find((v) => v.id === tapped) ?? proposed;
  return sorted.map((v) => ({ ...v, chosen: v === chosen }));
}

export function lineView(
  line: BenchLine,
  colours: ReturnType<typeof coloursOf>,
  containers: BenchLineView['containers'],
): BenchLineView {
  const { component, verdict } = line;
  const colour = colours.find((c) => c.id === component.lotColourId);
  return {
    componentId: component.id,
    code: component.code,
    name: component.name,
    colourOrdinal: colour?.ordinal ?? null,
    colourName: colour?.recipeName ?? null,
    vessel: component.vessel,
    unit: line.unit,
    form: formWords(component.concPpm, line.unit, component),
    concPct: component.concPpm === null ? null : component.concPpm / 10_000,
    planned: line.planned,
    target: line.target,
    step: line.step,
    tolerance: line.tolerance,
    actual: line.actual,
    corrected: line.corrected ?? null,
    difference: verdict?.difference ?? null,
    differencePct: verdict?.differencePct ?? null,
    state: line.state,
    containers,
    weighings: line.weighings.map((w) => ({
      entryId: w.logEntryId,
      at: w.at,
      amount: weighedText(w),
      containerId: w.stockLotId,
      container: w.stockLotCode,
      recalled: w.stockLotRecalledAt !== null,
      person: w.personName,
      state: w.voided ? 'voided' : w.discarded ? 'discarded' : 'counts',
      counts: countsFor(component, w),
    })),
  };
}

const VOIDABLE = new Set([
  'note',
  'deviation',
  'photo',
  'temperature',
  'field',
  'placement',
  'voice',
  'stepStart',
  'stepEnd',
  'adjustment',
]);

const KIND_WORDS: Partial<Record<LogLine['kind'], string>> = {
  stepStart: 'Began',
  stepEnd: 'Ended',
  deviation: 'Otherwise than planned:',
  temperature: 'Temperature',
  finish: 'Finished:',
  abandon: 'Given up:',
};

/** A log entry in words. A drawing names the lot's colours where they are handed in. */
export function entryText(e: LogLine, colourNames: readonly string[] = []): string {
  const value = JSON.parse(e.valueJson) as Record<string, unknown>;
  if (e.kind === 'weighing') {
    const massMg = value['massMg'];
    const amount = readingText(typeof massMg === 'number' ? massMg : null, Number(value['volumeUl'] ?? 0));
    return `${String(value['name'])}: ${amount} from ${String(value['stockLotCode'])}`;
  }
  if (e.kind === 'placement') {
    const { of, drawing } = placementOfEntry(e);
    const drawn = drawingWords(drawing, colourNames);
    return `${of === 'plan' ? 'Placement as meant' : 'Placement as it lies'}: ${drawn}${e.text ? `. ${e.text}` : ''}`;
  }
  if (e.kind === 'voice') return e.text ? `Voice note: ${e.text}` : 'Voice note';
  if (e.kind === 'labour') return `${e.text}, ${Math.round(Number(value['durationS'] ?? 0) / 60)} min`;
  if (e.kind === 'field') return `${String(value['label'] ?? '')}: ${e.text}`;
  const before = KIND_WORDS[e.kind];
  return before ? `${before} ${e.text}` : e.text;
}

/** Entered so much later than it happened: worth saying. */
const LATE_MS = 60 * 60_000;

/** What must be known of the time of an entry, in words; '' of most. */
export function doubtOf(e: LogLine, show: Show): string {
  const { clockWentBack, beforeReceiptOn } = JSON.parse(e.valueJson) as Record<string, unknown>;
  const told = [
    e.late === 1
      ? `reached the record on ${when(show, e.recordedAt)}, after the lot was closed`
      : e.recordedAt - e.at > LATE_MS
        ? `reached the record on ${when(show, e.recordedAt)}`
        : '',
    e.clockSaidAt === null
      ? ''
      : `the device’s clock said ${when(show, e.clockSaidAt)}, so the time is that of its arrival`,
    clockWentBack === true ? 'by the clock before the step began: one of the two times is wrong' : '',
    typeof beforeReceiptOn === 'string'
      ? `before the container came, which was on ${day(beforeReceiptOn)} by its receipt`
      : '',
  ];
  return told.filter(Boolean).join('; ');
}

/** The log of a lot for its views. What was drawn and said stands under its words. */
export function logViews(db: Db, bench: Bench): LogView[] {
  const colours = placementColours(db, bench.lot.id);
  const under = (e: LogLine): Value => {
    if (e.kind === 'placement') return placementMarkup(e, bench.log, colours);
    if (e.kind !== 'voice') return '';
    const voiceId = voiceIdOfEntry(e.valueJson);
    const voice = voiceId === null ? undefined : voiceById(db, voiceId);
    return voice ? voiceInLog({ voiceId: voice.id, mediaType: voice.mediaType, durationMs: voice.durationMs }) : '';
  };
  const colourNames = colours.map((c) => c.name);
  const newestChoice = adjustmentsOf(db, bench.lot.id).at(-1)?.logEntryId;
  const show = showOf(db);
  return bench.log
    .filter((e) => e.kind !== 'voiding')
    .map((e) => ({
      entryId: e.id,
      kind: e.kind,
      at: e.at,
      person: e.personName,
      text: html`${entryText(e, colourNames)}${under(e)}`,
      words: entryText(e, colourNames),
      told: doubtOf(e, show),
      stepName: e.stepName,
      photo: e.photoId === null ? null : `/photos/${e.photoId}/640`,
      voidedReason: e.voidedReason,
      // A choice is undone from the newest back: each was worked out from what the one before it made.
      voidable:
        bench.lot.finishedAt === null &&
        e.voidedAt === null &&
        VOIDABLE.has(e.kind) &&
        (e.kind !== 'adjustment' || e.id === newestChoice),
      undo: e.kind === 'adjustment',
    }));
}

/** What the bench is asked, with the line that it is about. */
function questionViews(db: Db, bench: Bench): BenchProps['questions'] {
  return benchQuestions(db, bench.lot.id).map((q) => {
    const { componentId } = JSON.parse(q.detailsJson) as { componentId?: number };
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
  log.findLast(
    (e) =>
      e.kind === 'field' && e.voidedAt === null && (JSON.parse(e.valueJson) as { label?: unknown }).label === label,
  )?.text ?? null;

/** The temperatures that were read on a lot and not voided. */
export const temperaturesOf = (log: readonly LogLine[]): { at: number; tempC: number }[] =>
  log.flatMap((e) => {
    const { tempC } = JSON.parse(e.valueJson) as { tempC?: unknown };
    return e.kind === 'temperature' && e.voidedAt === null && typeof tempC === 'number' ? [{ at: e.at, tempC }] : [];
  });

export const stepViews = (bench: Bench): BenchStepView[] => bench.steps;

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

/** The first line that wants something: over before under before waiting. */
const currentLine = (lines: readonly BenchLine[]): number | null =>
  (
    lines.find((l) => l.state === 'over') ??
    lines.find((l) => l.state === 'under') ??
    lines.find((l) => l.state === 'waiting')
  )?.component.id ?? null;

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
  const lines = inOrder(bench.lines, order);
  const placementColoursOfLot = placementColours(deps.db, bench.lot.id);
  const { plan, cloth } = placementViews(bench.log, placementColoursOfLot);
  const todayOn = dayOf(deps.now(), show.zone);
  // What was refused keeps the container that was tapped, and the screen asks for what that one holds.
  const tapped = Number(refused?.state.typed['stockLotId'] ?? '') || null;
  const currentId = lines.some((l) => l.component.id === chosenLine) ? chosenLine : currentLine(lines);
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
    lines: lines.map((l) =>
      lineView(l, colours, containersFor(deps.db, l, todayOn, l.component.id === currentId ? tapped : null)),
    ),
    questions: questionViews(deps.db, bench),
    currentId,
    weighUp: weighUpOf(bench),
    steps: stepViews(bench),
    readyAt: bench.readyAt,
    log: logViews(deps.db, bench),
    newest: newestOfBench(deps.db, bench.lot.id),
    person: { personId: by.personId, name: by.name },
    cautions: bench.plan.cautions,
    deviations: {
      instead: insteadChoices(bench, show.units),
      did: dids.map((value) => ({ value, ...DID[value] })),
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
    newId: deps.newId,
    refused,
  };
}
