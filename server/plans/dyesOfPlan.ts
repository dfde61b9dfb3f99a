import { ownDepthsPpm } from '../calc/dyeMass.ts';
import type { DyeInShade } from '../recipes/deepShade.ts';
import type { PlanContext } from './planContext.ts';
import type { PlanInput } from './schemas.ts';

/** Every dye of a plan with the depth that it has in its colour. */
export const dyesOfPlan = (input: PlanInput, context: PlanContext): DyeInShade[] =>
  input.colours.flatMap(({ depthPpm }, i) => {
    const components = context.revisions[i]?.components ?? [];
    const depths = ownDepthsPpm({ depthPpm, sharesPpm: components.map((c) => c.sharePpm) });
    return components.map(({ dye }, j) => ({ ...dye, depthPpm: depths[j] ?? 0 }));
  });
