import { HUE_FAMILIES, type HueFamily } from '../calc/colour/colourName.ts';
import type { Db } from '../db/open.ts';
import { askModelOnce, type Knowledge, modelOf } from './models.ts';
import { type Goods, type NotPredicted, nothingLearned, type PredictedColour, tellAll } from './predictions.ts';
import { demandedGoods, fittingDyes } from './proposals.ts';
import { soldFamilies, soldStamp } from './queries.ts';

export interface SampleToDye {
  components: { dyeId: number; code: string; name: string; shownHex: string | null; depthPpm: number }[];
  predicted: PredictedColour;
}

export interface NextSamples {
  known: true;
  knowledge: Knowledge;
  families: readonly HueFamily[] | null;
  samples: SampleToDye[];
  /** Dyes that suit and that the model does not know: the first thing to sample. */
  unknown: { dyeId: number; code: string; name: string }[];
}

interface SoldHue {
  family: HueFamily;
  lots: number;
}

const SOLD = new WeakMap<Db, { stamp: string; hues: readonly SoldHue[] }>();

/** Lots of each hue family, most first: what the studio sells. Counted anew when a lot was planned or a swatch's colour changed. */
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

/** The recipes whose dyeing would teach most: those within the hues asked for that the model is least sure of. */
export async function nextSamples(
  db: Db,
  asked: Goods & { hue: 'sold' | 'any' | HueFamily; maxDyes: 1 | 2 | 3; count: number },
): Promise<NextSamples | NotPredicted> {
  const { fibre, method } = demandedGoods(db, asked);
  const fitting = fittingDyes(db, fibre, method);
  const held = await modelOf(db, asked, 'atHand');
  if (held === null) return nothingLearned(db, asked);
  const sold = asked.hue === 'sold' ? soldHues(db).map((s) => s.family) : [];
  const families =
    asked.hue === 'any' || (asked.hue === 'sold' && sold.length === 0)
      ? null
      : asked.hue === 'sold'
        ? sold
        : [asked.hue];
  const known = new Map(held.knowledge.dyes.map((d) => [Number(d.dyeId), d]));
  const classes = [...new Set(fitting.filter((d) => known.has(d.dyeId)).map((d) => d.class))];
  const found = [];
  for (const dyeClass of classes) {
    const allowed = fitting.filter((d) => d.class === dyeClass && known.has(d.dyeId));
    found.push(
      ...(await askModelOnce({
        kind: 'lessons',
        modelId: held.modelId,
        input: {
          allowed: allowed.map((d) => ({
            dyeId: d.dyeId,
            minDepthPct: Math.max(0.02, (known.get(d.dyeId)?.minDepthPct ?? 0.1) / 2),
            maxDepthPct: known.get(d.dyeId)?.maxDepthPct ?? 0,
          })),
          maxDyes: asked.maxDyes,
          ...(families === null ? {} : { families }),
          count: asked.count,
        },
      })),
    );
  }
  const kept = found.sort((x, y) => y.prediction.deltaE90 - x.prediction.deltaE90).slice(0, asked.count);
  const told = tellAll(
    db,
    kept.map((k) => k.prediction),
    held.knowledge,
  );
  const byId = new Map(fitting.map((d) => [d.dyeId, d]));
  return {
    known: true,
    knowledge: held.knowledge,
    families,
    samples: kept.map((k, i) => ({
      components: k.components.flatMap((c) => {
        const dye = byId.get(Number(c.dyeId));
        if (!dye) return [];
        const { dyeId, code, name, shownHex } = dye;
        return [{ dyeId, code, name, shownHex, depthPpm: Math.max(1, Math.round(c.depthPct * 1000) * 10) }];
      }),
      predicted: told[i] as PredictedColour,
    })),
    unknown: fitting
      .filter((d) => !known.has(d.dyeId) || (known.get(d.dyeId)?.alone ?? 0) + (known.get(d.dyeId)?.mixed ?? 0) < 2)
      .map(({ dyeId, code, name }) => ({ dyeId, code, name })),
  };
}
