import { html, type Value } from '../../views/html.ts';
import type { FormState } from '../../views/kit/field.ts';
import { grams, millilitres } from '../../views/kit/show.ts';
import type { BenchLineView, BenchProps, BenchStepView, LogView, WeighOrder } from '../../views/lots/benchPage.ts';
import { voiceInLog } from '../../views/lots/voiceNote.ts';
import type { Db } from '../db/open.ts';
import type { Actor, Deps } from '../deps.ts';
import { showOf } from '../settings/show.ts';
import { type StockLotOverview, usableStockLots } from '../stock/queries.ts';
import { type Bench, type BenchLine, countsFor, weighUpOf } from './bench.ts';
import { DID, dids, insteadChoices } from './deviations.ts';
import { cancelledWords } from './ordersServed.ts';
import { drawingWords, placementOfEntry } from './placement.ts';
import { placementColours, placementMarkup, placementViews } from './placementPages.ts';
import { coloursOf, type LogLine, voiceById, type WeighingOfLot } from './queries.ts';
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

/** Containers that fit a line: powder for a weighed line; for a solution line its solutions first, then the powder. */
function containersFor(db: Db, line: BenchLine): BenchLineView['containers'] {
  const { component } = line;
  const all = usableStockLots(db, { dyeId: component.dyeId, auxiliaryId: component.auxiliaryId }).filter((s) =>
    component.concPpm !== null
      ? true
      : component.plannedMassMg !== null
        ? s.unit === 'mg' || s.concPpm !== null
        : s.unit === 'ul' && s.concPpm === null,
  );
  const fits = (s: StockLotOverview): number =>
    component.concPpm === null
      ? s.concPpm === null
        ? 0
        : 1
      : s.concPpm === component.concPpm
        ? 0
        : s.concPpm !== null
          ? 1
          : 2;
  const sorted = [...all].sort((x, y) => fits(x) - fits(y));
  const lastUsed = line.weighings.findLast((w) => !w.voided)?.stockLotId;
  const chosen = lastUsed ?? component.stockLotId ?? sorted[0]?.id;
  const oneOf = { stockLotStrengthPpm: 0, stockLotConcPpm: null, massMg: null, volumeUl: null };
  return sorted.map((s) => ({
    id: s.id,
    code: s.code,
    label: containerLabel(s),
    unit: s.unit,
    counts: countsFor(component, {
      ...oneOf,
      ...(s.unit === 'mg' ? { massMg: 1 } : { volumeUl: 1 }),
      stockLotStrengthPpm: s.strengthPpm,
      stockLotConcPpm: s.concPpm,
    }),
    chosen: s.id === chosen,
  }));
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
    concPct: component.concPpm === null ? null : component.concPpm / 10_000,
    planned: line.planned,
    target: line.target,
    step: line.step,
    tolerance: line.tolerance,
    actual: line.actual,
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
]);

const KIND_WORDS: Partial<Record<LogLine['kind'], string>> = {
  stepStart: 'Began',
  stepEnd: 'Ended',
  deviation: 'Otherwise than planned:',
  temperature: 'Temperature',
  start: '',
  finish: 'Finished:',
  abandon: 'Given up:',
  labour: 'Hands:',
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
  return bench.log
    .filter((e) => e.kind !== 'voiding')
    .map((e) => ({
      entryId: e.id,
      kind: e.kind,
      at: e.at,
      person: e.personName,
      text: html`${entryText(e, colourNames)}${under(e)}`,
      words: entryText(e, colourNames),
      stepName: e.stepName,
      photo: e.photoId === null ? null : `/photos/${e.photoId}/640`,
      voidedReason: e.voidedReason,
      voidable: bench.lot.finishedAt === null && e.voidedAt === null && VOIDABLE.has(e.kind),
    }));
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
    lines: lines.map((l) => lineView(l, colours, containersFor(deps.db, l))),
    currentId,
    weighUp: weighUpOf(bench),
    steps: stepViews(bench),
    readyAt: bench.readyAt,
    log: logViews(deps.db, bench),
    newestEntryId: bench.log.reduce((newest, e) => Math.max(newest, e.id), 0),
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
