import { D65_2 } from '../calc/colour/reading.ts';
import type { Db } from '../db/open.ts';
import type { SwatchRow } from '../db/tables/swatches.ts';
import { nearestSwatches } from '../near/library.ts';
import { sameRecipe, tilesByIds } from './queries.ts';
import type { SwatchTile } from './schemas.ts';

export interface NearSwatch {
  tile: SwatchTile;
  deltaE2000: number;
}

interface Neighbours {
  /** The same recipe at other depths, on other goods, by other methods. */
  ladder: SwatchTile[];
  near: NearSwatch[];
}

/** Swatches to look at beside this one. Nearness is CIEDE2000 from its leading colour as the screen shows it, CIELAB D65/2°:
 *  readings under other lights are adapted to it by name, so that like is compared with like. */
export function neighboursOf(db: Db, swatch: SwatchRow, lead: { l: number; a: number; b: number } | null): Neighbours {
  const ladder = sameRecipe(db, swatch, 24);
  if (lead === null) return { ladder, near: [] };
  const nearest = nearestSwatches(db, {
    standard: { lab: { L: lead.l, a: lead.a, b: lead.b }, conditions: D65_2 },
    under: D65_2,
    formula: { name: 'deltaE2000' },
    count: 12,
    exceptSwatchId: swatch.id,
  });
  const tiles = new Map(
    tilesByIds(
      db,
      nearest.map((n) => n.swatchId),
    ).map((t) => [t.swatchId, t]),
  );
  return {
    ladder,
    near: nearest.flatMap(({ swatchId, deltaE }) => {
      const tile = tiles.get(swatchId);
      return tile ? [{ tile, deltaE2000: deltaE }] : [];
    }),
  };
}
