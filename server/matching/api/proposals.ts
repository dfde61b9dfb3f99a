import { keptConditions, keptLab } from '../../calc/colour/reading.ts';
import { operation } from '../../http/routes.ts';
import { knownResource } from '../present.ts';
import { proposals } from '../proposals.ts';
import { ProposalsBody, ProposalsResource } from '../schemas.ts';
import { targetOf } from '../wantedColour.ts';

export const proposeRecipes = operation({
  id: 'proposeRecipes',
  summary: 'Propose recipes for a colour',
  audit: 'never',
  body: ProposalsBody,
  answer: ProposalsResource,
  run: async ({ db }, { body: { target, ...asked } }) => {
    const found = await proposals(db, { ...asked, target: targetOf(db, target) }, 'newest');
    if (!found.known) return found;
    const { lab, conditions, ...shown } = found.target;
    return {
      known: true as const,
      target: { ...shown, lab: keptLab(lab), ...keptConditions(conditions) },
      adaptation: found.adaptation,
      notKnownDyeIds: found.notKnown.map((d) => d.dyeId),
      proposals: found.proposals.map(({ predicted, underLamp, ...p }) => ({
        ...p,
        predicted: knownResource(predicted),
        underLamp: {
          hex: underLamp.hex,
          deltaE2000FromTarget: underLamp.fromTarget,
          deltaE2000FromFirst: underLamp.fromFirst,
          deltaE90: underLamp.deltaE90,
        },
      })),
    };
  },
});
