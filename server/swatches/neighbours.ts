import { deltaE2000Of } from '../calc/colour/deltaE.ts';
import type { Db } from '../db/open.ts';
import type { SwatchRow } from '../db/tables/swatches.ts';
import { leadingColours, type SwatchTile, sameRecipe, tilesByIds } from './queries.ts';

export interface NearSwatch {
  tile: SwatchTile;
  deltaE2000: number;
}

export interface Neighbours {
  /** The same recipe at other depths, on other goods, by other methods. */
  ladder: SwatchTile[];
  near: NearSwatch[];
}

/** Swatches to look at beside this one. Nearness is CIEDE2000 between the leading colours as the screen shows them, CIELAB
 *  D65/2°: readings under other lights were adapted to it by name, so that like is compared with like. */
export function neighboursOf(db: Db, swatch: SwatchRow, lead: { l: number; a: number; b: number } | null): Neighbours {
  const ladder = sameRecipe(db, swatch, 24);
  if (lead === null) return { ladder, near: [] };
  const nearest = leadingColours(db, swatch.id)
    .map((c) => ({ swatchId: c.swatchId, deltaE2000: deltaE2000Of(lead.l, lead.a, lead.b, c.l, c.a, c.b) }))
    .sort((x, y) => x.deltaE2000 - y.deltaE2000 || x.swatchId - y.swatchId)
    .slice(0, 12);
  const tiles = new Map(
    tilesByIds(
      db,
      nearest.map((n) => n.swatchId),
    ).map((t) => [t.swatchId, t]),
  );
  return {
    ladder,
    near: nearest.flatMap(({ swatchId, deltaE2000 }) => {
      const tile = tiles.get(swatchId);
      return tile ? [{ tile, deltaE2000 }] : [];
    }),
  };
}
