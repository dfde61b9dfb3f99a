import type { FastifyRequest } from 'fastify';
import type { FormState, Option } from '../../views/kit/field.ts';
import { type CorrectionPageProps, correctionPage } from '../../views/matching/correctionPage.ts';
import { knowledgePage } from '../../views/matching/knowledgePage.ts';
import { type PredictedProps, predictedPage, predictedPart } from '../../views/matching/predicted.ts';
import { type ProposalsPageProps, proposalsPage } from '../../views/matching/proposalsPage.ts';
import { conditionsInWords } from '../calc/colour/reading.ts';
import { differenceInWords } from '../calc/colour/tolerance.ts';
import { typedColour } from '../calc/colour/typedColour.ts';
import { pctText } from '../calc/quantity.ts';
import type { Deps } from '../deps.ts';
import { asRefusal, invalid, notFound } from '../errors.ts';
import { fibreById, listFibres } from '../fibres/queries.ts';
import type { App } from '../http/app.ts';
import { readInput, submitForm, typedBody } from '../http/forms.ts';
import { type Rendering, sendPage } from '../http/page.ts';
import { recordEntry } from '../lots/bench.ts';
import { listMethods, methodById } from '../methods/queries.ts';
import { nearTo } from '../near/near.ts';
import { GoodsQuery } from '../near/schemas.ts';
import { type Standard, standardOf, standardText } from '../near/standard.ts';
import { actorOf, allows } from '../people/guards.ts';
import { labText } from '../readings/display.ts';
import { recipeById, revisionWithComponents } from '../recipes/queries.ts';
import { showOf } from '../settings/show.ts';
import { idParams } from '../typedFields.ts';
import { additionWords, type CorrectionAnswer, correctionOf } from './corrections.ts';
import { knownView } from './knownView.ts';
import { modelOf } from './models.ts';
import { nothingLearned, type PredictionAnswer, predictions } from './predictions.ts';
import { type ProposalsAnswer, type ProposedRecipe, proposals } from './proposals.ts';
import { cardsOf, dyeNames, keepUndyed, sampledGoods } from './queries.ts';
import {
  AdditionForm,
  CorrectionQuery,
  PredictedQuery,
  ProposalsForm,
  type ProposalsInput,
  TakeForm,
  UndyedForm,
} from './schemas.ts';
import { takeProposal } from './trial.ts';
import { goodsFor, wantedOf } from './wantedColour.ts';

const TARGET_NAMES = [
  'colour',
  'illuminant',
  'observer',
  'lightness',
  'chroma',
  'hue',
  'swatchId',
  'lotId',
  'band',
  'plusMinus',
  'recipeId',
] as const;
const WISH_NAMES = ['fibreId', 'methodId', 'dyes', 'maxDyes', 'least', 'most'] as const;
const PROPOSALS = 5;
const NEAR = 8;

const kept = (typed: Record<string, string>, names: readonly string[]): [string, string][] =>
  names.flatMap((name): [string, string][] => (typed[name] ? [[name, typed[name]]] : []));

const pct = (ppm: number): string => pctText({ ppm }).replace(' %', '');

const predictionView = (p: PredictionAnswer) =>
  p.known ? knownView(p) : { known: false as const, message: p.message };

export function pages(app: App, deps: Deps): void {
  const { db } = deps;
  const fibreOptions = (): Option[] => listFibres(db).map((f) => ({ value: String(f.id), label: f.name }));
  const methodOptions = (): Option[] => listMethods(db).map((m) => ({ value: String(m.id), label: m.name }));
  const mayWork = (request: FastifyRequest): boolean => allows(request.actor, 'work');

  // ───────────── what would it look like ─────────────
  app.get('/colour/predicted', { config: { may: 'look' } }, async (request, reply) => {
    const typed = typedBody(request.query);
    const query = readInput(PredictedQuery, typed);
    const formula = revisionWithComponents(db, query.revisionId);
    if (!formula) throw notFound('recipe');
    const usual = usualGoods(formula.components.map((c) => c.dye.id));
    const fibreId = query.fibreId ?? usual?.fibreId ?? null;
    const methodId = query.methodId ?? usual?.methodId ?? null;
    const depthPpm = query.depth ?? formula.revision.totalDepthPpm;
    const [answer] =
      fibreId === null || methodId === null
        ? []
        : await predictions(
            db,
            [
              {
                fibreId,
                methodId,
                components: formula.components.map((c) => ({
                  dyeId: c.dye.id,
                  depthPpm: (depthPpm * c.sharePpm) / 1_000_000,
                })),
              },
            ],
            'atHand',
          );
    const goods = new URLSearchParams({ fibreId: String(fibreId), methodId: String(methodId) });
    const props: PredictedProps = {
      revisionId: query.revisionId,
      recipeName: formula.recipe.name,
      depthPpm,
      fibreId,
      methodId,
      goodsName: fibreId === null ? '' : (fibreById(db, fibreId)?.name ?? ''),
      methodName: methodId === null ? '' : (methodById(db, methodId)?.name ?? ''),
      answer: answer ? predictionView(answer) : null,
      fibres: fibreOptions(),
      methods: methodOptions(),
      form: {
        typed: { fibreId: String(fibreId ?? ''), methodId: String(methodId ?? ''), depth: pct(depthPpm) },
        errors: {},
      },
      proposalsHref: answer?.known
        ? `/colour/proposals?${new URLSearchParams([
            ['colour', `${answer.lab.L.toFixed(2)} ${answer.lab.a.toFixed(2)} ${answer.lab.b.toFixed(2)}`],
            ['illuminant', answer.conditions.illuminant],
            ['observer', String(answer.conditions.observerDeg)],
            ['plusMinus', answer.deltaE90.toFixed(1)],
            ['recipeId', String(formula.recipe.id)],
            ...goods,
          ])}`
        : null,
    };
    return sendPage(request, reply, {
      title: `What would ${formula.recipe.name} look like?`,
      section: 'recipes',
      body: predictedPage(props),
      part: predictedPart(props),
    });
  });

  /** The goods and method by which most swatches of these dyes were dyed. */
  function usualGoods(dyeIds: readonly number[]) {
    return sampledGoods(db, dyeIds)[0];
  }

  // ───────────── recipes for a colour ─────────────
  async function proposalsRendering(
    request: FastifyRequest,
    typed: Record<string, string>,
    take: FormState,
  ): Promise<Rendering> {
    let read: ProposalsInput | null = null;
    let standard: Standard | null = null;
    let errors: Record<string, string> = {};
    try {
      read = readInput(ProposalsForm, typed);
      standard = standardOf(db, read);
    } catch (error) {
      const refusal = asRefusal(error);
      if (!refusal || refusal.status === 404) throw error;
      errors = Object.keys(refusal.fields).length > 0 ? refusal.fields : { '': refusal.message };
    }
    const usual = goodsFor(db, { swatchId: read?.swatchId, lotId: read?.lotId });
    const fibreId = read?.fibreId ?? usual?.fibreId ?? null;
    const methodId = read?.methodId ?? usual?.methodId ?? null;
    const recipe = read?.recipeId === undefined ? undefined : recipeById(db, read.recipeId);
    const answer =
      read === null || standard === null || fibreId === null || methodId === null
        ? null
        : await proposals(
            db,
            {
              fibreId,
              methodId,
              target: wantedOf(standard),
              dyes: read.dyes,
              dyeIds: [],
              withoutDyeIds: [],
              maxDyes: read.maxDyes,
              minDepthPpm: read.least,
              maxDepthPpm: read.most ?? null,
              count: PROPOSALS,
            },
            'atHand',
          );
    const props: ProposalsPageProps = {
      target: standard && { ...standard, text: standardText(standard) },
      targetFields: kept(typed, TARGET_NAMES),
      answer: answer === null ? null : answer.known ? answerView(answer, standard) : answer,
      near:
        standard === null
          ? []
          : nearTo(db, {
              standard,
              under: standard.conditions,
              formula: { name: 'deltaE2000' },
              filter: fibreId === null ? {} : { fibreId },
              count: NEAR,
            }).hits,
      recipe: recipe && !recipe.archivedAt ? { recipeId: recipe.id, name: recipe.name } : null,
      fibreId,
      methodId,
      likeSwatchId: standard?.swatchId ?? null,
      trialName: standard?.name ?? '',
      asked: new URLSearchParams(kept(typed, [...TARGET_NAMES, ...WISH_NAMES])).toString(),
      form: {
        typed: {
          dyes: 'fitting',
          maxDyes: '3',
          least: '0.02',
          ...typed,
          fibreId: String(fibreId ?? ''),
          methodId: String(methodId ?? ''),
        },
        errors,
      },
      take,
      fibres: fibreOptions(),
      methods: methodOptions(),
      mayWork: mayWork(request),
      show: showOf(db),
    };
    return {
      title: standard ? `Recipes for ${standard.name}` : 'Recipes for a colour',
      section: 'swatches',
      body: proposalsPage(props),
      ...(Object.keys(errors).length > 0 ? { status: 422 } : {}),
    };
  }

  const answerView = (answer: ProposalsAnswer, standard: Standard | null) => {
    const { knowledge } = answer;
    return {
      known: true as const,
      adaptation: answer.adaptation,
      learned: `From ${knowledge.swatchCount} of your swatches on these goods by this method, ${knowledge.mixtureCount} of them of several dyes.`,
      notKnown: answer.notKnown.map((d) => d.code),
      allowedCount: answer.allowed.length,
      proposals: answer.proposals.map((p) => ({
        components: p.components.map((c) => ({ ...c, inStock: c.onHandMg > 0 })),
        totalDepthPpm: p.totalDepthPpm,
        predicted: knownView(p.predicted),
        deltaE2000: p.deltaE2000,
        deltaInWords: differenceInWords({ deltaE2000: p.deltaE2000 }),
        underLamp: p.underLamp,
        dyeCostMinorPer100g: p.dyeCostMinorPer100g,
        formula: p.components.map((c) => `${c.dyeId}:${c.depthPpm}`).join(','),
        why: whyOf(p, standard),
      })),
    };
  };

  app.get('/colour/proposals', { config: { may: 'look' } }, async (request, reply) =>
    sendPage(request, reply, await proposalsRendering(request, typedBody(request.query), { typed: {}, errors: {} })),
  );

  app.post('/colour/proposals', { config: { may: 'work' } }, async (request, reply) =>
    submitForm(request, reply, {
      schema: TakeForm,
      save: ({ formula, mass, ...input }) => {
        const made = takeProposal(deps, { ...input, components: formula, massMg: mass }, actorOf(request));
        return made.lotId === null ? `/recipes/${made.recipeId}` : `/lots/${made.lotId}`;
      },
      again: (form) =>
        proposalsRendering(request, Object.fromEntries(new URLSearchParams(form.typed['asked'] ?? '')), form),
    }),
  );

  // ───────────── a lot off its shade ─────────────
  const correctionRendering = (request: FastifyRequest, found: CorrectionAnswer, form: FormState): Rendering => {
    const { advice } = found;
    const { lab, text } = found.came;
    const props: CorrectionPageProps = {
      ...found,
      came: found.came,
      advice: advice.known
        ? {
            ...advice,
            deltaInWords: differenceInWords({ deltaE2000: advice.deltaE2000Now }),
            offers: advice.offers.map((o) => ({ ...o, words: additionWords(found, o) })),
          }
        : { known: false, message: advice.message },
      // A fifth less lightness is about what an overdye needs to hide what is below.
      darkerHref: `/colour/proposals?${new URLSearchParams({
        colour: `${(lab.L * 0.8).toFixed(1)} ${lab.a.toFixed(1)} ${lab.b.toFixed(1)}`,
        illuminant: found.conditions.illuminant,
        observer: String(found.conditions.observerDeg),
        fibreId: String(found.fibreId),
        methodId: String(found.methodId),
      })}`,
      form,
      mayLog: allows(request.actor, 'log'),
      show: showOf(db),
    };
    return { title: `Correct lot ${found.lotNumber}: ${text}`, section: 'lots', body: correctionPage(props) };
  };

  app.get('/lots/:id/correction', { config: { may: 'look' }, schema: { params: idParams } }, async (request, reply) => {
    const { standard } = readInput(CorrectionQuery, typedBody(request.query));
    const found = await correctionOf(
      db,
      { lotId: request.params.id, standardSwatchId: standard ?? null, now: deps.now() },
      'atHand',
    );
    return sendPage(request, reply, correctionRendering(request, found, { typed: {}, errors: {} }));
  });

  app.post('/lots/:id/correction', { config: { may: 'log' }, schema: { params: idParams } }, async (request, reply) => {
    const lotId = request.params.id;
    const again = (standardSwatchId: number | null) =>
      correctionOf(db, { lotId, standardSwatchId, now: deps.now() }, 'atHand');
    return submitForm(request, reply, {
      schema: AdditionForm,
      save: async ({ offer, words, standard }) => {
        const found = await again(standard);
        const chosen = found.advice.known ? found.advice.offers[offer] : undefined;
        if (!chosen || additionWords(found, chosen) !== words) {
          throw invalid({}, 'The reckoning changed meanwhile: look at the offers again.');
        }
        recordEntry(
          deps,
          {
            lotId,
            kind: 'note',
            text: words,
            stepId: null,
            photoId: null,
            value: {
              shadingAddition: chosen.additions.map((a) => ({ dyeId: a.dyeId, massMg: a.massMg })),
              predictedDeltaE2000: chosen.deltaE2000,
              deltaE90: chosen.deltaE90,
            },
            clientId: deps.newId(),
            at: deps.now(),
          },
          actorOf(request),
        );
        return `/lots/${lotId}`;
      },
      again: async (form) => correctionRendering(request, await again(Number(form.typed['standard']) || null), form),
    });
  });

  // ───────────── what is known, and the map ─────────────
  async function knowledgeRendering(
    request: FastifyRequest,
    asked: { fibreId?: number | undefined; methodId?: number | undefined },
    undyed: FormState,
  ): Promise<Rendering> {
    const goods = sampledGoods(db);
    const chosen =
      asked.fibreId !== undefined && asked.methodId !== undefined
        ? { fibreId: asked.fibreId, methodId: asked.methodId }
        : (goods[0] ?? null);
    return {
      title: 'What the swatches teach',
      section: 'swatches',
      body: knowledgePage({
        goods: goods.map((g) => ({
          ...g,
          chosen: g.fibreId === chosen?.fibreId && g.methodId === chosen?.methodId,
        })),
        chosen: chosen && (await knowledgeOf(chosen)),
        undyed,
        fibres: fibreOptions(),
        mayWork: mayWork(request),
      }),
    };
  }

  async function knowledgeOf(goods: { fibreId: number; methodId: number }) {
    const fibre = fibreById(db, goods.fibreId);
    const method = methodById(db, goods.methodId);
    if (!fibre || !method) throw notFound('such goods or method');
    const names = { fibreName: fibre.name, methodName: method.name };
    const held = await modelOf(db, goods, 'atHand');
    if (held === null) return { ...names, answer: nothingLearned(db, goods) };
    const { knowledge: k } = held;
    const dyes = new Map(
      dyeNames(
        db,
        k.dyes.map((d) => Number(d.dyeId)),
      ).map((d) => [d.dyeId, d]),
    );
    const cards = new Map(
      cardsOf(
        db,
        k.doubtful.map((d) => Number(d.swatchId)),
      ).map((c) => [c.swatchId, c]),
    );
    return {
      ...names,
      answer: {
        known: true as const,
        swatchCount: k.swatchCount,
        mixtureCount: k.mixtureCount,
        spectrumCount: k.spectrumCount,
        undyedGoods: k.undyedGoods,
        conditionsText: conditionsInWords(k.conditions),
        calibratedOn: k.calibratedOn,
        leftOut: [
          k.variegatedLeftOut > 0 ? `Left out: ${k.variegatedLeftOut} of several colours.` : '',
          k.thinnedOut > 0 ? `An even part of them is taken: ${k.thinnedOut} more would not fit.` : '',
          k.adapted > 0 ? `${k.adapted} were read under another light and adapted (Bradford), an estimate.` : '',
        ].filter(Boolean),
        dyes: k.dyes.map((d) => ({
          dyeId: Number(d.dyeId),
          code: dyes.get(Number(d.dyeId))?.code ?? '',
          name: dyes.get(Number(d.dyeId))?.name ?? '',
          alone: d.alone,
          mixed: d.mixed,
          minDepthPpm: Math.round(d.minDepthPct * 10_000),
          maxDepthPpm: Math.round(d.maxDepthPct * 10_000),
          enough: d.alone + d.mixed > 1,
        })),
        doubtful: k.doubtful.flatMap((d) => {
          const card = cards.get(Number(d.swatchId));
          return card ? [{ ...card, deltaE2000: d.deltaE2000 }] : [];
        }),
      },
    };
  }

  app.get('/colour/knowledge', { config: { may: 'look' } }, async (request, reply) =>
    sendPage(
      request,
      reply,
      await knowledgeRendering(request, readInput(GoodsQuery, typedBody(request.query)), {
        typed: { illuminant: 'D65', observer: '10' },
        errors: {},
      }),
    ),
  );

  app.post('/colour/undyed', { config: { may: 'work' } }, async (request, reply) =>
    submitForm(request, reply, {
      schema: UndyedForm,
      save: ({ fibreId, colour, illuminant, observer }) => {
        if (!fibreById(db, fibreId)) throw invalid({ fibreId: 'There are no such goods.' });
        const { lab, conditions } = typedColour({
          text: colour,
          conditions: { illuminant, observerDeg: observer === '2' ? 2 : 10 },
          field: 'colour',
        });
        keepUndyed(db, {
          fibreId,
          l: lab.L,
          a: lab.a,
          b: lab.b,
          illuminant: conditions.illuminant,
          observer: conditions.observerDeg === 2 ? '2' : '10',
          spectrum: null,
          readAt: deps.now(),
          readBy: actorOf(request).personId,
        });
        return '/colour/knowledge';
      },
      again: (form) => knowledgeRendering(request, {}, form),
    }),
  );
}

/** What stands in the revision: where the formula comes from and how sure it is. */
function whyOf(p: ProposedRecipe, standard: Standard | null): string {
  const cards = p.predicted.restsOn.slice(0, 4).map((r) => r.code);
  return `Proposed for ${standard?.name ?? 'a colour'} (${standard?.of ?? ''}): predicted ${labText(p.predicted.lab)}, ${conditionsInWords(p.predicted.conditions)}, ΔE ${p.deltaE2000.toFixed(1)} ± ${p.predicted.deltaE90.toFixed(1)}${cards.length > 0 ? `; rests on ${cards.join(', ')}` : ''}.`;
}
