import type { Db } from '../db/open.ts';
import { found } from '../errors.ts';
import { dyeOnShelf, newestSwatchesWithDye, recipesWithDye, swatchCountWithDye } from './queries.ts';
import type { DyeOnShelf, SwatchWithDye, Uses } from './schemas.ts';

/** How many of the swatches that were dyed with it are shown, the newest first. */
const SWATCHES_SHOWN = 24;

export const theDye = (db: Db, dyeId: number): DyeOnShelf => found(dyeOnShelf(db, dyeId), 'dye');

/** Recipes and swatches that a dye is in. */
export const usesOfDye = (db: Db, dyeId: number): Omit<Uses, 'swatches'> & { swatches: SwatchWithDye[] } => ({
  recipes: recipesWithDye(db, dyeId),
  swatches: newestSwatchesWithDye(db, dyeId, SWATCHES_SHOWN),
  swatchCount: swatchCountWithDye(db, dyeId),
});
