import type { Db } from '../db/open.ts';
import type { LogEntryRow } from '../db/tables/lots.ts';
import type { Actor, Deps } from '../deps.ts';
import { invalid, notFound, Refusal } from '../errors.ts';
import {
  baseEntry,
  demandOpen,
  recordOnce,
  type SentOccurrence,
  sentBefore,
  type When,
  whenOf,
} from '../lots/occurrence.ts';
import { plural } from '../lots/placements.ts';
import { coloursOf, insertEntry, type LotHead, lotById } from '../lots/queries.ts';
import type { Drawing, PlacementOf } from '../lots/schemas.ts';

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
