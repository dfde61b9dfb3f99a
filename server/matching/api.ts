import type { Deps } from '../deps.ts';
import { invalid, notFound } from '../errors.ts';
import { fibreById } from '../fibres/queries.ts';
import type { App } from '../http/app.ts';
import { actorOf } from '../people/guards.ts';
import { idParams } from '../typedFields.ts';
import { correctionOf } from './corrections.ts';
import { modelOf } from './models.ts';
import {
  demandGoods,
  nothingLearned,
  type PredictedColour,
  type PredictionAnswer,
  predictions,
} from './predictions.ts';
import { proposals } from './proposals.ts';
import { cardsOf, dyeIdsByCode, dyeNames, keepUndyed, undyedOf } from './queries.ts';
import {
  CorrectionBody,
  CorrectionResource,
  KnowledgeQuery,
  KnowledgeResource,
  PredictBody,
  PredictionsResource,
  ProposalsBody,
  ProposalsResource,
  type RecipeToPredictInput,
  UndyedBody,
  UndyedResource,
} from './schemas.ts';
import { targetOf } from './wantedColour.ts';

const conditionsResource = ({ illuminant, observerDeg }: PredictedColour['conditions']) => ({
  illuminant,
  observer: observerDeg === 2 ? ('2' as const) : ('10' as const),
});
const labResource = ({ L, a, b }: PredictedColour['lab']) => ({ l: L, a, b });

const knownResource = ({ conditions, lab, ...p }: PredictedColour) => ({
  ...p,
  lab: labResource(lab),
  ...conditionsResource(conditions),
});
const predictionResource = (p: PredictionAnswer) => (p.known ? knownResource(p) : p);

export function api(app: App, deps: Deps): void {
  const { db } = deps;
  const tags = ['Matching'];

  /** Dyes by their codes, all in one statement; an unknown code is named at its place. */
  function withIds(recipes: readonly RecipeToPredictInput[]) {
    const codes = [...new Set(recipes.flatMap((r) => r.components.flatMap((c) => c.dyeCode ?? [])))];
    const ids = new Map(dyeIdsByCode(db, codes).map((d) => [d.code.toLowerCase(), d.dyeId]));
    const missing = codes.filter((code) => !ids.has(code.toLowerCase()));
    if (missing.length > 0) throw invalid({ dyeCode: `There is no dye coded ${missing.join(', ')}.` });
    return recipes.map(({ fibreId, methodId, components }) => ({
      fibreId,
      methodId,
      components: components.map(({ dyeId, dyeCode, depthPpm }) => ({
        dyeId: dyeId ?? ids.get((dyeCode ?? '').toLowerCase()) ?? 0,
        depthPpm,
      })),
    }));
  }

  app.post(
    '/predict',
    {
      // 2000 recipes in one request.
      bodyLimit: 4_000_000,
      config: { may: 'look', audit: 'never' },
      schema: {
        operationId: 'predictColours',
        tags,
        summary: 'Predict the colour of a recipe, or of a list of recipes',
        description:
          'Learned from the studio’s own swatches of these goods and this method; the last change of them is learned before the answer, which can take seconds. Outside its swatches it answers known: false with the reason. A list is answered by a list in the same order.',
        body: PredictBody,
        response: { 200: PredictionsResource },
      },
    },
    async (request) => {
      const { body } = request;
      const list = Array.isArray(body) ? body : [body];
      const asked = withIds(list);
      // Those that are to be told under the same light go together.
      const answers: PredictionAnswer[] = [];
      const lights = new Map<string, number[]>();
      list.forEach(({ illuminant, observer }, i) => {
        const key = `${illuminant ?? ''}/${observer ?? ''}`;
        lights.set(key, [...(lights.get(key) ?? []), i]);
      });
      for (const places of lights.values()) {
        const { illuminant, observer } = list[places[0] as number] as RecipeToPredictInput;
        const under =
          illuminant === undefined
            ? undefined
            : { illuminant, observerDeg: observer === '2' ? (2 as const) : (10 as const) };
        const found = await predictions(
          db,
          places.map((i) => asked[i] as (typeof asked)[number]),
          'newest',
          under,
        );
        places.forEach((i, j) => {
          answers[i] = found[j] as PredictionAnswer;
        });
      }
      const told = answers.map(predictionResource);
      return Array.isArray(body) ? told : (told[0] as (typeof told)[number]);
    },
  );

  app.get(
    '/matching',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'getMatchingKnowledge',
        tags,
        summary: 'What is known of the dyes on these goods by this method',
        querystring: KnowledgeQuery,
        response: { 200: KnowledgeResource },
      },
    },
    async (request) => {
      const goods = request.query;
      demandGoods(db, goods);
      const held = await modelOf(db, goods, 'newest');
      if (held === null) {
        return {
          ...goods,
          known: false,
          message: nothingLearned(db, goods).message,
          swatchCount: 0,
          mixtureCount: 0,
          spectrumCount: 0,
          undyedGoods: 'assumed' as const,
          variegatedLeftOut: 0,
          thinnedOut: 0,
          adapted: 0,
          dyes: [],
          doubtful: [],
        };
      }
      const { dyes, doubtful, ...told } = held.knowledge;
      const names = new Map(
        dyeNames(
          db,
          dyes.map((d) => Number(d.dyeId)),
        ).map((d) => [d.dyeId, d]),
      );
      const cards = new Map(
        cardsOf(
          db,
          doubtful.map((d) => Number(d.swatchId)),
        ).map((c) => [c.swatchId, c.code]),
      );
      return {
        ...goods,
        known: true,
        message: '',
        ...told,
        dyes: dyes.map(({ dyeId, alone, mixed, minDepthPct, maxDepthPct }) => ({
          dyeId: Number(dyeId),
          code: names.get(Number(dyeId))?.code ?? '',
          name: names.get(Number(dyeId))?.name ?? '',
          alone,
          mixed,
          minDepthPpm: minDepthPct * 10_000,
          maxDepthPpm: maxDepthPct * 10_000,
        })),
        doubtful: doubtful.map((d) => ({
          swatchId: Number(d.swatchId),
          code: cards.get(Number(d.swatchId)) ?? '',
          deltaE2000: d.deltaE2000,
        })),
      };
    },
  );

  app.get(
    '/fibres/:id/undyed',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'getUndyedColour',
        tags,
        summary: 'The colour of goods before dyeing',
        params: idParams,
        response: { 200: UndyedResource },
      },
    },
    async (request) => {
      const row = undyedOf(db, request.params.id);
      if (!row) throw notFound('reading of these goods before dyeing');
      return row;
    },
  );

  app.put(
    '/fibres/:id/undyed',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'saveUndyedColour',
        tags,
        summary: 'Keep the colour of goods before dyeing',
        description: 'What predictions on these goods start from; without it an ordinary scoured white is assumed.',
        params: idParams,
        body: UndyedBody,
        response: { 200: UndyedResource },
      },
    },
    async (request) => {
      const fibreId = request.params.id;
      if (!fibreById(db, fibreId)) throw notFound('fibre');
      const row = { fibreId, ...request.body, readAt: deps.now() };
      keepUndyed(db, { ...row, readBy: actorOf(request).personId });
      return row;
    },
  );

  app.post(
    '/proposals',
    {
      config: { may: 'look', audit: 'never' },
      schema: {
        operationId: 'proposeRecipes',
        tags,
        summary: 'Propose recipes for a colour',
        body: ProposalsBody,
        response: { 200: ProposalsResource },
      },
    },
    async (request) => {
      const { target, maxDyes, ...asked } = request.body;
      const found = await proposals(
        db,
        { ...asked, maxDyes: maxDyes as 1 | 2 | 3 | 4, target: targetOf(db, target) },
        'newest',
      );
      if (!found.known) return found;
      const { lab, conditions, ...shown } = found.target;
      return {
        known: true as const,
        target: { ...shown, lab: labResource(lab), ...conditionsResource(conditions) },
        adaptation: found.adaptation,
        notKnownDyeIds: found.notKnown.map((d) => d.dyeId),
        proposals: found.proposals.map(({ predicted, underLamp, ...p }) => ({
          ...p,
          predicted: knownResource(predicted),
          underLamp: {
            hex: underLamp.hex,
            deltaE2000FromTarget: underLamp.fromTarget,
            deltaE2000FromFirst: underLamp.fromFirst,
          },
        })),
      };
    },
  );

  app.post(
    '/lots/:id/corrections',
    {
      config: { may: 'look', audit: 'never' },
      schema: {
        operationId: 'proposeCorrections',
        tags,
        summary: 'What to add to a lot that came out off its standard',
        description: 'Additions only: dye cannot be taken out. Nothing is recorded.',
        params: idParams,
        body: CorrectionBody,
        response: { 200: CorrectionResource },
      },
    },
    async (request) => {
      const { standardSwatchId } = request.body;
      const found = await correctionOf(db, { lotId: request.params.id, standardSwatchId, now: deps.now() }, 'newest');
      const { advice } = found;
      return {
        lotId: found.lotId,
        standardSwatchId: found.standard.swatchId,
        tolerance: found.tolerance,
        adaptation: found.adaptation,
        ...conditionsResource(found.conditions),
        advice: advice.known
          ? { ...advice, offers: advice.offers.map(({ lab, ...o }) => ({ ...o, lab: labResource(lab) })) }
          : advice,
      };
    },
  );
}
