import type { DyeClass } from '../calc/classFit.ts';
import { depthDoubt, depthDoubtWords } from '../calc/usualDepth.ts';
import { invalid } from '../errors.ts';

/** A dye in a shade, with the depth that it would have and its own deepest band. */
export interface DyeInShade {
  name: string;
  class: DyeClass;
  deepPpm: number | null;
  depthPpm: number;
}

/** Dyes that would be deeper than they or their class are known to take, each with the question. */
export const deepShadeWords = (dyes: readonly DyeInShade[]): string[] =>
  dyes.flatMap(({ name, class: dyeClass, deepPpm, depthPpm }) => {
    if (depthPpm <= 0) return [];
    const depthPct = depthPpm / 10_000;
    const doubt = depthDoubt({ depthPct, dyeClass, deepPct: deepPpm === null ? null : deepPpm / 10_000 });
    return doubt ? [`${name}: ${depthDoubtWords({ depthPct, doubt })}`] : [];
  });

/** Asks once about a depth that is hard to believe, since a decimal point slips easily: refused until somebody says that it is meant. */
export function demandBelievableDepths(dyes: readonly DyeInShade[], confirmed: boolean | undefined): void {
  const words = confirmed ? [] : deepShadeWords(dyes);
  if (words.length > 0) throw invalid({ depthConfirmed: `${words.join(' ')} Change it, or tick that it is meant.` });
}
