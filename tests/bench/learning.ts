import { monitorEventLoopDelay } from 'node:perf_hooks';
import { D65_10 } from '../../server/calc/colour/reading.ts';
import { labFromSpectrum } from '../../server/calc/colour/spectra.ts';
import type { KnownSwatch } from '../../server/calc/match/predict.ts';
import { MatchingThread } from '../../server/matching/matchingThread.ts';
import { seededRandom } from '../support/syntheticCloth.ts';

/* What a person notices of learning: a thousand swatches of twenty dyes, with curves, are learned in the background thread, while
   the thread that holds the model from before takes three new swatches in and answers. Colours are invented, for the clock alone. */

export const SWATCHES = 1000;

export function swatchesOfTwentyDyes(count: number): KnownSwatch[] {
  const random = seededRandom(99);
  const between = (low: number, high: number) => low + (high - low) * random();
  const dyes = Array.from({ length: 20 }, (_, i) => ({
    dyeId: i + 1,
    centreNm: 400 + 15 * i,
    widthNm: between(28, 50),
    height: between(2, 5),
  }));
  return Array.from({ length: count }, (_, n) => {
    const pool = [...dyes];
    const parts = Array.from({ length: n < 120 ? 1 : 2 + (n % 2) }, () => ({
      dye: pool.splice(Math.floor(random() * pool.length), 1)[0] as (typeof dyes)[number],
      depthPct: between(0.05, 2),
    }));
    const reflectance = Array.from({ length: 31 }, (_, i) => {
      const nm = 400 + 10 * i;
      const ks = parts.reduce(
        (sum, { dye, depthPct }) =>
          sum + depthPct * dye.height * Math.exp(-0.5 * ((nm - dye.centreNm) / dye.widthNm) ** 2),
        0.03,
      );
      return 1 + ks - Math.sqrt(ks * ks + 2 * ks);
    });
    const spectrum = { startNm: 400, stepNm: 10, reflectance } as const;
    return {
      swatchId: n,
      components: parts.map(({ dye, depthPct }) => ({ dyeId: dye.dyeId, depthPct })),
      lab: labFromSpectrum({ spectrum, conditions: D65_10 }),
      spectrum,
      substrate: { lab: { L: 93, a: 0, b: 3 } },
    };
  });
}

export interface Learning {
  learnedMs: number;
  takenInMs: number;
  /** Answers of the thread that holds the models while the other learns, slowest of ten. */
  answerMs: number;
  /** Longest that the process itself was held up meanwhile. */
  heldUpMs: number;
  memoryMb: number;
}

export async function measureLearning(): Promise<Learning> {
  const options = { restsAfterMs: 60_000, giveUpMs: 600_000 };
  const background = new MatchingThread({ ...options, inBackground: true });
  const answerer = new MatchingThread(options);
  const swatches = swatchesOfTwentyDyes(SWATCHES + 3);
  const learn = { kind: 'learn', swatches: swatches.slice(0, SWATCHES), conditions: D65_10 } as const;
  const rss = () => process.memoryUsage.rss() / 1e6;
  const before = rss();
  let most = before;
  const watch = setInterval(() => {
    most = Math.max(most, rss());
  }, 20);
  const began = performance.now();
  const { model } = await background.ask<'learn'>(learn);
  const learnedMs = performance.now() - began;
  const memoryMb = most - before;
  clearInterval(watch);
  await answerer.ask<'hold'>({ kind: 'hold', modelId: 1, model });
  const again = background.ask<'learn'>(learn);
  const delay = monitorEventLoopDelay({ resolution: 5 });
  delay.enable();
  const since = performance.now();
  await answerer.ask<'takeIn'>({ kind: 'takeIn', modelId: 1, asModelId: 2, swatches: swatches.slice(SWATCHES) });
  const takenInMs = performance.now() - since;
  const answers: number[] = [];
  for (let i = 0; i < 10; i += 1) {
    const at = performance.now();
    await answerer.ask<'predict'>({
      kind: 'predict',
      modelId: 2,
      recipes: [swatches[500 + i]?.components ?? []],
    });
    answers.push(performance.now() - at);
  }
  delay.disable();
  again.catch(() => undefined);
  await Promise.all([background.close(), answerer.close()]);
  return { learnedMs, takenInMs, answerMs: Math.max(...answers), heldUpMs: delay.max / 1e6, memoryMb };
}
