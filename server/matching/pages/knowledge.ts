import type { FastifyRequest } from 'fastify';
import type { FormState } from '../../../views/kit/field.ts';
import { type KnowledgePageProps, knowledgePage } from '../../../views/matching/knowledge.ts';
import { conditionsInWords, conditionsOf, keptConditions, keptLab } from '../../calc/colour/reading.ts';
import { typedColour } from '../../calc/colour/typedColour.ts';
import { learningInWords } from '../../calc/match/sureness.ts';
import type { Db } from '../../db/open.ts';
import { invalid, notFound } from '../../errors.ts';
import { fibreOptions } from '../../fibres/options.ts';
import { fibreById } from '../../fibres/queries.ts';
import { readInput, submitForm, typedBody } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { methodById } from '../../methods/queries.ts';
import { GoodsQuery } from '../../near/schemas.ts';
import { actorOf, allows } from '../../people/guards.ts';
import { type LearnedKnowledge, modelOf } from '../models.ts';
import { namedKnowledge } from '../namedKnowledge.ts';
import { type Goods, nothingLearned } from '../predictions.ts';
import { keepUndyed, sampledGoods } from '../queries.ts';
import { UndyedForm } from '../schemas.ts';

type Chosen = NonNullable<KnowledgePageProps['chosen']>;

const leftOutInWords = (k: LearnedKnowledge): string[] =>
  [
    k.variegatedLeftOut > 0 ? `Left out: ${k.variegatedLeftOut} of several colours.` : '',
    k.thinnedOut > 0 ? `An even part of them is taken: ${k.thinnedOut} more would not fit.` : '',
    k.adapted > 0 ? `${k.adapted} were read under another light and adapted (Bradford), an estimate.` : '',
  ].filter(Boolean);

function knowledgeView(db: Db, k: LearnedKnowledge): Chosen['answer'] {
  const { dyes, doubtful } = namedKnowledge(db, k);
  return {
    known: true,
    swatchCount: k.swatchCount,
    mixtureCount: k.mixtureCount,
    spectrumCount: k.spectrumCount,
    undyedGoods: k.undyedGoods,
    conditionsText: conditionsInWords(k.conditions),
    calibratedOn: k.calibratedOn,
    leftOut: leftOutInWords(k),
    learning: learningInWords(k.learningFrom),
    dyes: dyes.map((d) => ({
      ...d,
      minDepthPpm: Math.round(d.minDepthPpm),
      maxDepthPpm: Math.round(d.maxDepthPpm),
      enough: d.alone + d.mixed > 1,
    })),
    doubtful: doubtful.flatMap(({ card, deltaE2000 }) => (card ? [{ ...card, deltaE2000 }] : [])),
  };
}

async function chosenGoods(db: Db, goods: Goods): Promise<Chosen> {
  const fibre = fibreById(db, goods.fibreId);
  const method = methodById(db, goods.methodId);
  if (!fibre || !method) throw notFound('goods or method');
  const held = await modelOf(db, goods, 'atHand');
  return {
    fibreName: fibre.name,
    methodName: method.name,
    answer: held === null ? nothingLearned(db, goods) : knowledgeView(db, held.knowledge),
  };
}

async function knowledgeRendering(
  db: Db,
  request: FastifyRequest,
  { fibreId, methodId }: Partial<Record<keyof Goods, number | undefined>>,
  undyed: FormState,
): Promise<Rendering> {
  const goods = sampledGoods(db);
  const chosen = fibreId !== undefined && methodId !== undefined ? { fibreId, methodId } : (goods[0] ?? null);
  return {
    title: 'What the swatches teach',
    section: 'swatches',
    body: knowledgePage({
      goods: goods.map((g) => ({
        ...g,
        chosen: g.fibreId === chosen?.fibreId && g.methodId === chosen?.methodId,
      })),
      chosen: chosen && (await chosenGoods(db, chosen)),
      undyed,
      fibres: fibreOptions(db),
      mayWork: allows(request.actor, 'work'),
    }),
  };
}

const NOTHING_TYPED: FormState = { typed: { illuminant: 'D65', observer: '10' }, errors: {} };

export const showKnowledge = page({
  show: async ({ db }, { request, reply }) => {
    const asked = readInput(GoodsQuery, typedBody(request.query));
    return sendPage(request, reply, await knowledgeRendering(db, request, asked, NOTHING_TYPED));
  },
});

export const keepUndyedColour = page({
  show: ({ db, now }, { request, reply }) =>
    submitForm(request, reply, {
      schema: UndyedForm,
      save: ({ fibreId, colour, ...measured }) => {
        if (!fibreById(db, fibreId)) throw invalid({ fibreId: 'There are no such goods.' });
        const { lab, conditions } = typedColour({ text: colour, conditions: conditionsOf(measured), field: 'colour' });
        keepUndyed(db, {
          fibreId,
          ...keptLab(lab),
          ...keptConditions(conditions),
          spectrum: null,
          readAt: now(),
          readBy: actorOf(request).personId,
        });
        return '/colour/knowledge';
      },
      again: (form) => knowledgeRendering(db, request, {}, form),
    }),
});
