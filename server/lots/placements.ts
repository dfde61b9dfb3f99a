import type { Plan } from '../plans/schemas.ts';
import type { LogLine } from './queries.ts';
import { type Drawing, type Placement, PlacementResource } from './schemas.ts';

const Kept = PlacementResource.pick({ of: true, drawing: true });

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

export const plural = (n: number, one: string, many = `${one}s`): string => `${n} ${n === 1 ? one : many}`;

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
