import { z } from 'zod';
import type { Db } from '../db/open.ts';
import type { LogEntryRow } from '../db/tables/lots.ts';
import type { Actor, Deps } from '../deps.ts';
import { invalid, notFound, Refusal } from '../errors.ts';
import { baseEntry, demandOpen, recordOnce, type SentOccurrence, sentBefore, type When, whenOf } from './bench.ts';
import type { Plan } from './planShape.ts';
import { coloursOf, insertEntry, type LogLine, type LotHead, lotById } from './queries.ts';
import { happened } from './schemas.ts';

const MAX_COLUMNS = 24;
const MAX_ROWS = 36;
const half = z.number().int().min(0);

/** How a piece lies: a grid over the flat goods, seen from above, the width from left to right. Cells are counted row by
 *  row from the top left; lines run between points half a cell apart, so that a fold may lie on an edge or a middle. */
export const Drawing = z
  .object({
    columns: z.number().int().min(2).max(MAX_COLUMNS),
    rows: z.number().int().min(2).max(MAX_ROWS),
    cells: z
      .array(z.number().int().min(0).max(24))
      .meta({ description: 'a cell’s colour by its number in the lot; 0 is bare' }),
    ice: z.array(z.number().int().min(0)).default([]).meta({ description: 'cells with ice' }),
    clamps: z.array(z.number().int().min(0)).default([]).meta({ description: 'cells under a clamp or block' }),
    lines: z
      .array(
        z.object({
          kind: z.enum(['fold', 'binding']),
          x1: half,
          y1: half,
          x2: half,
          y2: half,
        }),
      )
      .max(60)
      .default([])
      .meta({ description: 'folds and bindings, in half cells from the top left' }),
  })
  .superRefine((d, context) => {
    const say = (path: string, message: string): void => context.addIssue({ code: 'custom', path: [path], message });
    const cells = d.columns * d.rows;
    if (d.cells.length !== cells) say('cells', `A grid of ${d.columns} by ${d.rows} has ${cells} cells.`);
    for (const name of ['ice', 'clamps'] as const) {
      if (d[name].some((cell) => cell >= cells)) say(name, 'That cell is outside the grid.');
      if (new Set(d[name]).size !== d[name].length) say(name, 'A cell is named twice.');
    }
    for (const line of d.lines) {
      if (Math.max(line.x1, line.x2) > 2 * d.columns || Math.max(line.y1, line.y2) > 2 * d.rows)
        say('lines', 'That line leaves the grid.');
      if (line.x1 === line.x2 && line.y1 === line.y2) say('lines', 'A line joins two points.');
    }
  })
  .meta({ id: 'PlacementDrawing' });
export type Drawing = z.output<typeof Drawing>;

/** 'plan' is how it is meant to lie, 'cloth' how it lies. */
const placementOf = z.enum(['plan', 'cloth']);
export type PlacementOf = z.output<typeof placementOf>;

export const PlacementBody = z
  .object({
    of: placementOf
      .default('cloth')
      .meta({ description: 'how it is meant to lie (before work began), or how it lies' }),
    drawing: Drawing,
    text: z.string().max(1000).default(''),
    ...happened,
  })
  .meta({ id: 'NewPlacement' });

const Kept = z.object({ of: placementOf, drawing: Drawing });

export interface Placement {
  entryId: number;
  at: number;
  of: PlacementOf;
  drawing: Drawing;
  text: string;
}

/** The drawing that a log entry holds. */
export function placementOfEntry(e: Pick<LogLine, 'id' | 'at' | 'text' | 'valueJson'>): Placement {
  return { entryId: e.id, at: e.at, text: e.text, ...Kept.parse(JSON.parse(e.valueJson)) };
}

/** Every drawing of a lot that was not voided, oldest first. */
export const placementsIn = (log: readonly LogLine[]): Placement[] =>
  log.filter((e) => e.kind === 'placement' && e.voidedAt === null).map(placementOfEntry);

/** The drawing of what was meant, and the newest of what is. */
export function standingPlacements(log: readonly LogLine[]): { plan: Placement | null; cloth: Placement | null } {
  const all = placementsIn(log);
  return {
    plan: all.findLast((p) => p.of === 'plan') ?? null,
    cloth: all.findLast((p) => p.of === 'cloth') ?? null,
  };
}

const COLUMNS = 8;

/** An empty grid in the goods' proportions, where they are known; square otherwise. */
export function emptyDrawing(plan: Plan, fibreWidthMm: number | null): Drawing {
  const { massFound } = plan;
  const widthMm = massFound.found === 'fromArea' ? (massFound.widthMm ?? fibreWidthMm) : null;
  const lengthMm = massFound.found === 'fromArea' ? massFound.lengthMm : null;
  const rows = widthMm && lengthMm ? Math.round((COLUMNS * lengthMm) / widthMm) : COLUMNS;
  const within = Math.min(24, Math.max(4, rows));
  return { columns: COLUMNS, rows: within, cells: Array(COLUMNS * within).fill(0), ice: [], clamps: [], lines: [] };
}

const plural = (n: number, one: string, many = `${one}s`): string => `${n} ${n === 1 ? one : many}`;

/** A drawing in words, for ears and for the log. */
export function drawingWords(d: Drawing, colourNames: readonly string[]): string {
  const of = (n: number): string => `${Math.round((100 * n) / d.cells.length)} %`;
  const parts = colourNames.flatMap((name, i) => {
    const n = d.cells.filter((c) => c === i + 1).length;
    return n === 0 ? [] : [`${i + 1} ${name} on ${of(n)}`];
  });
  const bare = d.cells.filter((c) => c === 0).length;
  if (parts.length > 0 && bare > 0) parts.push(`bare ${of(bare)}`);
  const folds = d.lines.filter((l) => l.kind === 'fold').length;
  const bindings = d.lines.length - folds;
  if (folds > 0) parts.push(plural(folds, 'fold'));
  if (bindings > 0) parts.push(plural(bindings, 'binding'));
  if (d.clamps.length > 0) parts.push(plural(d.clamps.length, 'clamp or block', 'clamps or blocks'));
  if (d.ice.length > 0) parts.push(`ice on ${of(d.ice.length)}`);
  return parts.length === 0 ? 'nothing drawn' : parts.join(', ');
}

const isBlank = (d: Drawing): boolean =>
  d.cells.every((c) => c === 0) && d.ice.length + d.clamps.length + d.lines.length === 0;

/** Keeps a drawing as a version of its own: earlier ones stay as they were. One of 'plan' is drawn before work begins and
 *  does not begin it. */
export function recordPlacement(
  deps: Deps,
  input: { lotId: number; of: PlacementOf; drawing: Drawing; text: string; stepId: number | null } & SentOccurrence,
  by: Actor,
): LogEntryRow {
  const text = input.text.trim();
  if (text.length > 1000) throw invalid({ text: 'At most 1000 characters.' });
  if (isBlank(input.drawing) && text === '') throw invalid({ drawing: 'Nothing is drawn or said yet.' });
  const write = (tx: Db, base: typeof baseEntry, when: When, lot: LotHead): LogEntryRow => {
    demandOpen(lot, when);
    const colours = coloursOf(tx, lot.id).length;
    if (input.drawing.cells.some((c) => c > colours))
      throw invalid({ drawing: `This lot has ${plural(colours, 'colour')}.` });
    return insertEntry(tx, {
      ...base(deps, lot.id, { ...input, at: when.at }, by),
      kind: 'placement',
      text,
      stepId: input.stepId,
      valueJson: JSON.stringify({ of: input.of, drawing: input.drawing }),
    });
  };
  if (input.of === 'cloth') return recordOnce(deps, input.lotId, input, by, 'placement', write);
  return deps.db.transaction((tx) => {
    const { known, digest } = sentBefore(tx, input.lotId, input, 'placement');
    if (known) return known;
    const lot = lotById(tx, input.lotId);
    if (!lot) throw notFound('lot');
    if (lot.status !== 'planned')
      throw new Refusal('conflict', 'Work on the lot has begun: draw how it lies now. The plan stays as it was.');
    const when = whenOf(lot, input.at, deps.now());
    return write(tx, (...of) => ({ ...baseEntry(...of), contentDigest: digest }), when, lot);
  });
}
