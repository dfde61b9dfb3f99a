import { HUE_FAMILIES, type HueFamily } from '../calc/colour/colourName.ts';
import type { Db } from '../db/open.ts';
import type { MatchingAnswer } from './matchingThread.ts';
import { askModelOnce, type HeldModel, type LearnedKnowledge, modelOf } from './models.ts';
import { type Goods, type NotPredicted, nothingLearned, type PredictedColour, tellKnown } from './predictions.ts';
import { demandedGoods, fittingDyes } from './proposals.ts';
import { type DyeChoiceRow, soldFamilies, soldStamp } from './queries.ts';

export interface SampleToDye {
  components: { dyeId: number; code: string; name: string; shownHex: string | null; depthPpm: number }[];
  predicted: PredictedColour;
  /** Share of the expected squared error that is gone once this and those before it are dyed, of its own class of dyes. */
  gone: number;
}

export interface NextSamples {
  known: true;
  knowledge: LearnedKnowledge;
  families: readonly HueFamily[] | null;
  samples: SampleToDye[];
  /** Dyes that suit and that the model hardly knows: the first thing to sample. */
  unknown: { dyeId: number; code: string; name: string }[];
}

interface SoldHue {
  family: HueFamily;
  lots: number;
}

const SOLD = new WeakMap<Db, { stamp: string; hues: readonly SoldHue[] }>();

/** Lots of each hue family, most first: what the studio sells. Counted again once a lot has been planned or a swatch's colour has
 *  changed. */
export function soldHues(db: Db): readonly SoldHue[] {
  const stamp = soldStamp(db);
  const known = SOLD.get(db);
  if (known?.stamp === stamp) return known.hues;
  const counts = new Map<HueFamily, number>();
  for (const { hueFamilies, lots } of soldFamilies(db)) {
    for (const family of HUE_FAMILIES) {
      if (hueFamilies.includes(`,${family},`)) counts.set(family, (counts.get(family) ?? 0) + lots);
    }
  }
  const hues = [...counts].map(([family, lots]) => ({ family, lots })).sort((x, y) => y.lots - x.lots);
  SOLD.set(db, { stamp, hues });
  return hues;
}

type HueWish = 'sold' | 'any' | HueFamily;

/** The hue families that a wish means; null when all of them, as when nothing has been sold yet. */
function familiesOf(db: Db, hue: HueWish): readonly HueFamily[] | null {
  if (hue === 'any') return null;
  if (hue !== 'sold') return [hue];
  const sold = soldHues(db).map((s) => s.family);
  return sold.length === 0 ? null : sold;
}

/** The recipes whose dyeing would teach most: those within the hues asked for that the model is least sure of. */
export async function nextSamples(
  db: Db,
  asked: Goods & { hue: HueWish; maxDyes: 1 | 2 | 3; count: number },
): Promise<NextSamples | NotPredicted> {
  const { fibre, method } = demandedGoods(db, asked);
  const fitting = fittingDyes(db, fibre, method);
  const held = await modelOf(db, asked, 'atHand');
  if (held === null) return nothingLearned(db, asked);
  const families = familiesOf(db, asked.hue);
  const known = new Map(held.knowledge.dyes.map((d) => [Number(d.dyeId), d]));
  const isHardlyKnown = (dyeId: number): boolean => {
    const dye = known.get(dyeId);
    return dye === undefined || dye.alone + dye.mixed < 2;
  };
  const lessons = await lessonsOf(held, fitting, { maxDyes: asked.maxDyes, count: asked.count, families });
  const colours = tellKnown(
    db,
    lessons.map((l) => l.prediction),
    held.knowledge,
  );
  const byId = new Map(fitting.map((d) => [d.dyeId, d]));
  return {
    known: true,
    knowledge: held.knowledge,
    families,
    samples: colours.map((predicted, i) => ({
      components: (lessons[i]?.components ?? []).flatMap((c) => {
        const dye = byId.get(Number(c.dyeId));
        if (!dye) return [];
        const { dyeId, code, name, shownHex } = dye;
        return [{ dyeId, code, name, shownHex, depthPpm: Math.max(1, Math.round(c.depthPct * 1000) * 10) }];
      }),
      predicted,
      gone: lessons[i]?.gone ?? 0,
    })),
    unknown: fitting.filter((d) => isHardlyKnown(d.dyeId)).map(({ dyeId, code, name }) => ({ dyeId, code, name })),
  };
}

/** What the model would learn most from, in the order in which to dye it; classes of dyes take turns. */
async function lessonsOf(
  { modelId, knowledge }: HeldModel,
  fitting: readonly DyeChoiceRow[],
  wish: { maxDyes: 1 | 2 | 3; count: number; families: readonly HueFamily[] | null },
): Promise<MatchingAnswer<'lessons'>> {
  const { families, maxDyes, count } = wish;
  const known = new Map(knowledge.dyes.map((d) => [Number(d.dyeId), d]));
  const usable = fitting.flatMap((dye) => {
    const { minDepthPct, maxDepthPct } = known.get(dye.dyeId) ?? {};
    return minDepthPct === undefined || maxDepthPct === undefined ? [] : [{ ...dye, minDepthPct, maxDepthPct }];
  });
  const found: { place: number; lesson: MatchingAnswer<'lessons'>[number] }[] = [];
  for (const ofClass of Map.groupBy(usable, (d) => d.class).values()) {
    const allowed = ofClass.map(({ dyeId, minDepthPct, maxDepthPct }) => ({
      dyeId,
      minDepthPct: Math.max(0.02, minDepthPct / 2),
      maxDepthPct,
    }));
    const input = { allowed, maxDyes, ...(families === null ? {} : { families }), count };
    const lessons = await askModelOnce({ kind: 'lessons', modelId, input });
    found.push(...lessons.map((lesson, place) => ({ place, lesson })));
  }
  return found
    .sort((x, y) => x.place - y.place)
    .slice(0, count)
    .map(({ lesson }) => lesson);
}
