import { keptConditions, keptLab } from '../../calc/colour/reading.ts';
import { operation } from '../../http/routes.ts';
import { idParams } from '../../typedFields.ts';
import { correctionOf } from '../corrections.ts';
import { CorrectionBody, CorrectionResource } from '../schemas.ts';

export const proposeCorrections = operation({
  id: 'proposeCorrections',
  summary: 'What to add to a lot that came out off its standard',
  description: 'Additions only: dye cannot be taken out. Nothing is recorded.',
  audit: 'never',
  params: idParams,
  body: CorrectionBody,
  answer: CorrectionResource,
  run: async ({ db, now }, { params, body: { standardSwatchId } }) => {
    const asked = { lotId: params.id, standardSwatchId, now: now() };
    const { lotId, standard, tolerance, adaptation, conditions, advice } = await correctionOf(db, asked, 'newest');
    return {
      lotId,
      standardSwatchId: standard.swatchId,
      tolerance,
      adaptation,
      ...keptConditions(conditions),
      advice: advice.known
        ? { ...advice, offers: advice.offers.map(({ lab, ...o }) => ({ ...o, lab: keptLab(lab) })) }
        : advice,
    };
  },
});
