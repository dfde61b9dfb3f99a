import { found, notFound } from '../../errors.ts';
import { fibreById } from '../../fibres/queries.ts';
import { operation } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { modelOf } from '../models.ts';
import { namedKnowledge } from '../namedKnowledge.ts';
import { demandGoods, nothingLearned } from '../predictions.ts';
import { keepUndyed, undyedOf } from '../queries.ts';
import { type Knowledge, KnowledgeQuery, KnowledgeResource, UndyedBody, UndyedResource } from '../schemas.ts';

const NOTHING_KNOWN = {
  known: false,
  swatchCount: 0,
  mixtureCount: 0,
  spectrumCount: 0,
  undyedGoods: 'assumed',
  variegatedLeftOut: 0,
  thinnedOut: 0,
  adapted: 0,
  learningFrom: 0,
  dyes: [],
  doubtful: [],
} as const satisfies Partial<Knowledge>;

export const getKnowledge = operation({
  id: 'getMatchingKnowledge',
  summary: 'What is known of the dyes on these goods by this method',
  query: KnowledgeQuery,
  answer: KnowledgeResource,
  run: async ({ db }, { query: goods }) => {
    demandGoods(db, goods);
    const held = await modelOf(db, goods, 'learned');
    if (held === null)
      return { ...goods, ...NOTHING_KNOWN, dyes: [], doubtful: [], message: nothingLearned(db, goods).message };
    const { dyes, doubtful } = namedKnowledge(db, held.knowledge);
    return {
      ...goods,
      known: true,
      message: '',
      ...held.knowledge,
      dyes,
      doubtful: doubtful.map(({ swatchId, card, deltaE2000 }) => ({ swatchId, code: card?.code ?? '', deltaE2000 })),
    };
  },
});

export const getUndyed = operation({
  id: 'getUndyedColour',
  summary: 'The colour of goods before dyeing',
  params: idParams,
  answer: UndyedResource,
  run: ({ db }, { params }) => found(undyedOf(db, params.id), 'reading of these goods before dyeing'),
});

export const saveUndyed = operation({
  id: 'saveUndyedColour',
  summary: 'Keep the colour of goods before dyeing',
  description: 'What predictions on these goods start from; without it an ordinary scoured white is assumed.',
  params: idParams,
  body: UndyedBody,
  answer: UndyedResource,
  run: ({ db, now }, { params, body, request }) => {
    if (!fibreById(db, params.id)) throw notFound('fibre');
    const row = { fibreId: params.id, ...body, readAt: now() };
    keepUndyed(db, { ...row, readBy: actorOf(request).personId });
    return row;
  },
});
