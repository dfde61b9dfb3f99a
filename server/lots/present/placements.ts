import type { Db } from '../../db/open.ts';
import { displayOfSwatches } from '../../readings/queries.ts';
import { drawingWords, placementsIn, standingPlacements } from '../placements.ts';
import { coloursOf, type LogLine, newestSwatchOfRevision } from '../queries.ts';
import type { Placement, PlacementColour, PlacementVersion } from '../schemas.ts';

/** The colours of a lot as a drawing shows them: by the swatch that each follows, else by the newest of its recipe. */
export function placementColours(db: Db, lotId: number): (PlacementColour & { sharePpm: number; placement: string })[] {
  const colours = coloursOf(db, lotId).map((c) => ({
    ...c,
    shownSwatchId: c.swatchId ?? newestSwatchOfRevision(db, c.revisionId),
  }));
  const shown = displayOfSwatches(
    db,
    colours.flatMap((c) => (c.shownSwatchId === null ? [] : [c.shownSwatchId])),
  );
  return colours.map((c) => ({
    ordinal: c.ordinal,
    name: c.recipeName,
    hex: c.shownSwatchId === null ? null : (shown.get(c.shownSwatchId)?.hex ?? null),
    sharePpm: c.sharePpm,
    placement: c.placement,
  }));
}

/** A drawing with who made it and what is on it. */
export const versionOf = (p: Placement, person: string, colours: readonly PlacementColour[]): PlacementVersion => ({
  ...p,
  person,
  words: drawingWords(
    p.drawing,
    colours.map((c) => c.name),
  ),
});

/** Drawings of a lot for its page, the bench and its log. */
export function placementViews(log: readonly LogLine[], colours: readonly PlacementColour[]) {
  const personOf = new Map(log.map((e) => [e.id, e.personName]));
  const view = (p: Placement | null): PlacementVersion | null =>
    p && versionOf(p, personOf.get(p.entryId) ?? '', colours);
  const { plan, cloth } = standingPlacements(log);
  const versions = placementsIn(log).map((p) => versionOf(p, personOf.get(p.entryId) ?? '', colours));
  return { plan: view(plan), cloth: view(cloth), versions };
}
