import type { Db } from '../db/open.ts';
import type { LearnedKnowledge } from './models.ts';
import { type CardOfSwatch, cardsOf, dyeNames } from './queries.ts';
import type { DyeKnown } from './schemas.ts';

/** What is known of each dye, with its name, and the doubtful swatches with their cards (null where one has none any more). Names
 *  and cards come in one statement each. */
export function namedKnowledge(
  db: Db,
  { dyes, doubtful }: Pick<LearnedKnowledge, 'dyes' | 'doubtful'>,
): { dyes: DyeKnown[]; doubtful: { swatchId: number; card: CardOfSwatch | null; deltaE2000: number }[] } {
  const dyeIds = dyes.map((d) => Number(d.dyeId));
  const swatchIds = doubtful.map((d) => Number(d.swatchId));
  const names = new Map(dyeNames(db, dyeIds).map((d) => [d.dyeId, d]));
  const cards = new Map(cardsOf(db, swatchIds).map((c) => [c.swatchId, c]));
  return {
    dyes: dyes.map(({ dyeId, alone, mixed, minDepthPct, maxDepthPct }) => ({
      dyeId: Number(dyeId),
      code: names.get(Number(dyeId))?.code ?? '',
      name: names.get(Number(dyeId))?.name ?? '',
      alone,
      mixed,
      minDepthPpm: minDepthPct * 10_000,
      maxDepthPpm: maxDepthPct * 10_000,
    })),
    doubtful: doubtful.map(({ swatchId, deltaE2000 }) => ({
      swatchId: Number(swatchId),
      card: cards.get(Number(swatchId)) ?? null,
      deltaE2000,
    })),
  };
}
