import { orderIdOf } from '../costing/queries.ts';
import { type DayRange, usualRanges } from '../costing/ranges.ts';
import type { Db } from '../db/open.ts';
import type { SavedExportRow } from '../db/tables/costing.ts';
import type { Actor, Deps } from '../deps.ts';
import { found, invalid, notFound, Refusal } from '../errors.ts';
import { dayOf } from '../settings/days.ts';
import { theStudio } from '../settings/queries.ts';
import { chosenColumns, costLineColumns, lotColumns } from './columns.ts';
import { deleteSavedExport, insertSavedExport, orderNumberOf, savedExportById, updateSavedExport } from './queries.ts';
import type { ExportWanted, SavedExportInput } from './schemas.ts';

export const namedSpans = { thisMonth: 0, lastMonth: 1, thisYear: 2, lastYear: 3, everything: 4 } as const;

/** The days that a span means on a studio day; null for an end that is open. */
export function daysOfSpan(
  saved: Pick<SavedExportRow, 'span' | 'fromOn' | 'toOn'>,
  todayOn: string,
): { from: string | null; to: string | null } {
  if (saved.span === 'fixed') return { from: saved.fromOn, to: saved.toOn };
  const range: DayRange | undefined = usualRanges(todayOn)[namedSpans[saved.span]];
  return { from: range?.from || null, to: range?.to || null };
}

export const columnsOf = (saved: Pick<SavedExportRow, 'columnsJson'>): string[] =>
  JSON.parse(saved.columnsJson) as string[];

/** What a saved export asks for today. */
export function wantedOf(db: Db, saved: SavedExportRow, now: number): ExportWanted {
  return {
    ...daysOfSpan(saved, dayOf(now, theStudio(db).zone)),
    order: saved.orderId === null ? '' : (orderNumberOf(db, saved.orderId) ?? ''),
    customerId: saved.customerId,
    methodId: saved.methodId,
    fibreId: saved.fibreId,
    rows: saved.rowKind,
    columns: columnsOf(saved),
  };
}

function rowOf(db: Db, input: SavedExportInput): Omit<SavedExportRow, 'id' | 'version' | 'madeAt' | 'madeBy'> {
  const studio = theStudio(db);
  // Names that are no columns are refused now, not when the month is over.
  if (input.rows === 'lot') chosenColumns(lotColumns(studio), input.columns);
  else chosenColumns(costLineColumns(studio), input.columns);
  const orderId = input.order === '' ? null : orderIdOf(db, input.order);
  if (input.order !== '' && orderId === null) throw invalid({ order: `There is no order ${input.order}.` });
  const isFixed = input.span === 'fixed';
  return {
    name: input.name,
    rowKind: input.rows,
    format: input.format,
    span: input.span,
    fromOn: isFixed ? input.from : null,
    toOn: isFixed ? input.to : null,
    orderId,
    customerId: input.customerId,
    methodId: input.methodId,
    fibreId: input.fibreId,
    columnsJson: JSON.stringify(input.columns),
  };
}

export const saveExport = (deps: Deps, input: SavedExportInput, by: Actor): SavedExportRow =>
  insertSavedExport(deps.db, { ...rowOf(deps.db, input), madeAt: deps.now(), madeBy: by.personId });

export function changeExport(deps: Deps, id: number, input: SavedExportInput, version: number): SavedExportRow {
  found(savedExportById(deps.db, id), 'saved export');
  const saved = updateSavedExport(deps.db, id, rowOf(deps.db, input), version);
  if (!saved) throw new Refusal('staleEdit', 'Somebody saved this export meanwhile. What you typed is below.');
  return saved;
}

export function forgetExport(deps: Deps, id: number): void {
  if (!deleteSavedExport(deps.db, id)) throw notFound('saved export');
}
