import type { Db } from '../db/open.ts';
import type { SamplingPlanRow } from '../db/tables/sampling.ts';
import type { Actor } from '../deps.ts';
import { methodById } from '../methods/queries.ts';
import { theStudio } from '../settings/queries.ts';
import { planSamples, usualColumns } from './planSamples.ts';

const PIECE_MASS_MG = 5000;
const RESERVE_PPM = 100_000;

/** Plans a set of the recipes that would teach most, with the studio's usual stock solutions and bath. */
export function planChosenRecipes(
  db: Db,
  chosen: {
    fibreId: number;
    methodId: number;
    recipes: readonly (readonly { dyeId: number; depthPpm: number }[])[];
  },
  by: Pick<Actor, 'personId'>,
  at: number,
): SamplingPlanRow {
  const { fibreId, methodId, recipes } = chosen;
  const { stockConcPpm } = theStudio(db);
  const dyeIds = [...new Set(recipes.flatMap((r) => r.map((c) => c.dyeId)))];
  return planSamples(
    db,
    {
      name: 'What teaches most',
      kind: 'recipes',
      fibreId,
      methodId,
      stocks: dyeIds.map((dyeId) => ({ dyeId, concPpm: stockConcPpm })),
      ladder: null,
      blend: null,
      recipes: recipes.map((r) => dyeIds.map((dyeId) => r.find((c) => c.dyeId === dyeId)?.depthPpm ?? 0)),
      pieceMassMg: PIECE_MASS_MG,
      liquorMlPerKg: methodById(db, methodId)?.bathMlPerKg ?? null,
      reservePpm: RESERVE_PPM,
      gridColumns: usualColumns(recipes.length),
      note: '',
    },
    by,
    at,
  );
}
