/* How wide an interval must be that holds nine of ten: learned from swatches that were held out, each error in units of the scale
   that was reckoned for it, stratum by stratum. */

/** Whether the recipe's dyes were dyed together before: `alone` one dye; `together` this very set; `apart` never this set. */
export type Familiarity = 'alone' | 'together' | 'apart';
/** `pale`, `deep`: a dye paler than its palest swatch, or deeper than its deepest. */
export type Stratum = Familiarity | 'pale' | 'deep';
/** A rule of our own over the model. */
export const STRATA: readonly Stratum[] = ['alone', 'together', 'apart', 'pale', 'deep'];

/** Nine of ten errors lie within this many scales; `count` held-out swatches say so. */
export interface Radius {
  count: number;
  L: number;
  a: number;
  b: number;
  deltaE: number;
}
export type Calibration = Record<Stratum, Radius>;

/** Held-out swatches under which a radius leans on guessed scores. */
const ENOUGH_SCORES = 20;
/* Nine of ten errors in units of scale where nothing was held out yet. A normal error in three coordinates has 1.44 of them, one
   coordinate 1.64; guessed wider, since a scale that no swatch has checked may be too narrow. */
const GUESSED: Record<Stratum, number> = { alone: 1.8, together: 1.4, apart: 1.4, pale: 2, deep: 2 };
/** A scale is not believed to be more than this much too wide. */
const LEAST = 0.8;

interface Scores {
  L: number[];
  a: number[];
  b: number[];
  deltaE: number[];
}

/** Scores by stratum, gathered one held-out swatch at a time. */
export class ScoreBook {
  readonly #scores = Object.fromEntries(
    STRATA.map((stratum) => [stratum, { L: [], a: [], b: [], deltaE: [] }]),
  ) as unknown as Record<Stratum, Scores>;

  add(stratum: Stratum, score: { L: number; a: number; b: number; deltaE: number }): void {
    const into = this.#scores[stratum];
    into.L.push(score.L);
    into.a.push(score.a);
    into.b.push(score.b);
    into.deltaE.push(score.deltaE);
  }

  calibration(): Calibration {
    return Object.fromEntries(
      STRATA.map((stratum) => {
        const { L, a, b, deltaE } = this.#scores[stratum];
        const of = (list: readonly number[]) => quantile90(list, GUESSED[stratum]);
        return [stratum, { count: deltaE.length, L: of(L), a: of(a), b: of(b), deltaE: of(deltaE) }];
      }),
    ) as unknown as Calibration;
  }
}

/** Every radius so many times as wide. A rule of our own over the model. */
export const widened = (calibration: Calibration, times: number): Calibration =>
  Object.fromEntries(
    STRATA.map((stratum) => {
      const { count, L, a, b, deltaE } = calibration[stratum];
      return [stratum, { count, L: times * L, a: times * a, b: times * b, deltaE: times * deltaE }];
    }),
  ) as unknown as Calibration;

/** Nine of ten scores lie under this, with the small-sample correction of conformal prediction; under ENOUGH_SCORES the
 *  missing ones are filled by a half-normal of the guessed width. */
function quantile90(scores: readonly number[], guessed90: number): number {
  const missing = Math.max(0, ENOUGH_SCORES - scores.length);
  const filled = [...scores];
  for (let i = 0; i < missing; i += 1) {
    filled.push((guessed90 * halfNormalQuantile((i + 0.5) / missing)) / halfNormalQuantile(0.9));
  }
  filled.sort((x, y) => x - y);
  return Math.max(LEAST, filled[Math.min(filled.length - 1, Math.ceil((filled.length + 1) * 0.9) - 1)] as number);
}

/** Quantile of |N(0, 1)|, by bisection of erf's rational form (Abramowitz & Stegun 7.1.26, error under 2e-7). */
function halfNormalQuantile(p: number): number {
  const erf = (x: number) => {
    const t = 1 / (1 + 0.3275911 * x);
    const poly = t * (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429))));
    return 1 - poly * Math.exp(-x * x);
  };
  let low = 0;
  let high = 6;
  for (let i = 0; i < 50; i += 1) {
    const mid = (low + high) / 2;
    if (erf(mid / Math.SQRT2) < p) low = mid;
    else high = mid;
  }
  return (low + high) / 2;
}
