/** A stream of chance that is the same for the same seed: the sample studio is one studio, not a new one each time. */
export interface Chance {
  /** Evenly in [0, 1). */
  next: () => number;
  between: (low: number, high: number) => number;
  /** Whole number in [low, high]. */
  whole: (low: number, high: number) => number;
  /** Normal about 0 with this standard deviation (Box and Muller, Ann. Math. Stat. 29, 1958). */
  noise: (deviation: number) => number;
  pick: <T>(from: readonly T[]) => T;
  happens: (probability: number) => boolean;
}

/** Mixes a name into a 32-bit start (FNV-1a), so that every part of the studio has a stream of its own. */
function startOf(name: string): number {
  let h = 2_166_136_261;
  for (let i = 0; i < name.length; i += 1) {
    h ^= name.charCodeAt(i);
    h = Math.imul(h, 16_777_619);
  }
  return h >>> 0;
}

/** The stream of a name: 32-bit counter with a multiplying mix (mulberry32, public domain). */
export function chanceOf(name: string): Chance {
  let state = startOf(name);
  const next = (): number => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4_294_967_296;
  };
  return {
    next,
    between: (low, high) => low + (high - low) * next(),
    whole: (low, high) => low + Math.floor((high - low + 1) * next()),
    noise: (deviation) => deviation * Math.sqrt(-2 * Math.log(1 - next())) * Math.cos(2 * Math.PI * next()),
    pick: (from) => {
      const chosen = from[Math.floor(next() * from.length)];
      if (chosen === undefined) throw new Error('nothing to pick from');
      return chosen;
    },
    happens: (probability) => next() < probability,
  };
}
