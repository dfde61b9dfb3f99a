import { besideField } from '../../errors.ts';
import { operation } from '../../http/routes.ts';
import { occurrenceOf } from '../../lots/occurrence.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { recorded } from '../present.ts';
import { recordWeighing } from '../recordWeighing.ts';
import { Recorded, WeighingBody } from '../schemas.ts';

export const addWeighing = operation({
  id: 'recordWeighing',
  summary: 'Record a reading of the scale',
  params: idParams,
  body: WeighingBody,
  answer: Recorded,
  status: 201,
  run(deps, { params, body, request }) {
    const { massMg, volumeUl, ...line } = body;
    const read =
      volumeUl === undefined ? { amount: massMg ?? 0, unit: 'mg' as const } : { amount: volumeUl, unit: 'ul' as const };
    try {
      const sent = { lotId: params.id, ...line, ...read, ...occurrenceOf(deps, line) };
      return recorded(deps, recordWeighing(deps, sent, actorOf(request)));
    } catch (error) {
      throw besideField(error, 'amount', volumeUl === undefined ? 'massMg' : 'volumeUl');
    }
  },
});
