import type { FastifyRequest } from 'fastify';
import type { FormState } from '../../../views/kit/field.ts';
import { type ProposalsPageProps, proposalsPage } from '../../../views/matching/proposals.ts';
import { conditionsInWords } from '../../calc/colour/reading.ts';
import { differenceInWords } from '../../calc/colour/tolerance.ts';
import { learningInWords } from '../../calc/match/sureness.ts';
import type { Db } from '../../db/open.ts';
import { asRefusal, type FieldErrors } from '../../errors.ts';
import { fibreOptions } from '../../fibres/options.ts';
import { carried } from '../../http/carried.ts';
import { readInput, submitForm, typedBody } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { methodOptions } from '../../methods/options.ts';
import { nearTo } from '../../near/near.ts';
import { STANDARD_NAMES } from '../../near/schemas.ts';
import { type Standard, standardOf, standardText } from '../../near/standard.ts';
import { actorOf, allows } from '../../people/guards.ts';
import { labText } from '../../readings/display.ts';
import { recipeById } from '../../recipes/queries.ts';
import { showOf } from '../../settings/show.ts';
import { knownView } from '../knownView.ts';
import { type ProposalsAnswer, type ProposedRecipe, proposals } from '../proposals.ts';
import { formulaText, ProposalsForm, type ProposalsInput, TakeForm } from '../schemas.ts';
import { takeProposal } from '../trial.ts';
import { goodsFor, wantedOf } from '../wantedColour.ts';

/** What says which colour is wanted, and for which recipe. */
const TARGET_NAMES = [...STANDARD_NAMES, 'recipeId'];
/** What says of which dyes, how many and how deep. */
const WISH_NAMES = ['fibreId', 'methodId', 'dyes', 'maxDyes', 'least', 'most'];
const PROPOSALS = 5;
const NEAR = 8;

type Typed = Record<string, string>;
interface Asked {
  wish: ProposalsInput | null;
  standard: Standard | null;
  errors: FieldErrors;
}

/** What is asked for; a wish that cannot be read, or a colour that was not read yet, is told on the page. */
function askedIn(db: Db, typed: Typed): Asked {
  let wish: ProposalsInput | null = null;
  try {
    wish = readInput(ProposalsForm, typed);
    return { wish, standard: standardOf(db, wish), errors: {} };
  } catch (error) {
    const refusal = asRefusal(error);
    if (!refusal || refusal.status === 404) throw error;
    const errors = Object.keys(refusal.fields).length > 0 ? refusal.fields : { '': refusal.message };
    return { wish, standard: null, errors };
  }
}

async function answerTo(
  db: Db,
  { wish, standard }: Asked,
  goods: { fibreId: number | null; methodId: number | null },
): Promise<ProposalsPageProps['answer']> {
  const { fibreId, methodId } = goods;
  if (wish === null || standard === null || fibreId === null || methodId === null) return null;
  const asked = {
    fibreId,
    methodId,
    target: wantedOf(standard),
    dyes: wish.dyes,
    dyeIds: [],
    withoutDyeIds: [],
    maxDyes: wish.maxDyes,
    minDepthPpm: wish.least,
    maxDepthPpm: wish.most ?? null,
    count: PROPOSALS,
  };
  const found = await proposals(db, asked, 'atHand');
  return found.known ? answerView(found, standard) : found;
}

/** What stands in the revision: where the formula comes from and how sure it is. */
function whyOf(p: ProposedRecipe, standard: Standard): string {
  const cards = p.predicted.restsOn.slice(0, 4).map((r) => r.code);
  const rests = cards.length > 0 ? `; rests on ${cards.join(', ')}` : '';
  const predicted = `${labText(p.predicted.lab)}, ${conditionsInWords(p.predicted.conditions)}`;
  const sure = `ΔE ${p.deltaE2000.toFixed(1)} ± ${p.predicted.deltaE90.toFixed(1)}`;
  return `Proposed for ${standard.name} (${standard.of}): predicted ${predicted}, ${sure}${rests}.`;
}

const answerView = ({ knowledge, ...answer }: ProposalsAnswer, standard: Standard) => ({
  known: true as const,
  adaptation: answer.adaptation,
  learned: `From ${knowledge.swatchCount} of your swatches on these goods by this method, ${knowledge.mixtureCount} of them of several dyes.`,
  learning: learningInWords(knowledge.learningFrom),
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
    formula: formulaText(p.components),
    why: whyOf(p, standard),
  })),
});

/** Real swatches near the wanted colour, on the same goods where these are known. */
const swatchesNear = (db: Db, standard: Standard, fibreId: number | null) =>
  nearTo(db, {
    standard,
    under: standard.conditions,
    formula: { name: 'deltaE2000' },
    filter: fibreId === null ? {} : { fibreId },
    count: NEAR,
  }).hits;

/** Defaults of the form, under what was typed, with the goods that the page is about. */
const typedIn = (typed: Typed, goods: { fibreId: number | null; methodId: number | null }): Typed => ({
  dyes: 'fitting',
  maxDyes: '3',
  least: '0.02',
  ...typed,
  fibreId: String(goods.fibreId ?? ''),
  methodId: String(goods.methodId ?? ''),
});

async function proposalsRendering(db: Db, request: FastifyRequest, typed: Typed, take: FormState): Promise<Rendering> {
  const asked = askedIn(db, typed);
  const { wish, standard, errors } = asked;
  const usual = goodsFor(db, { swatchId: wish?.swatchId, lotId: wish?.lotId });
  const fibreId = wish?.fibreId ?? usual?.fibreId ?? null;
  const methodId = wish?.methodId ?? usual?.methodId ?? null;
  const recipe = wish?.recipeId === undefined ? undefined : recipeById(db, wish.recipeId);
  const props: ProposalsPageProps = {
    target: standard && { ...standard, text: standardText(standard) },
    targetFields: carried(typed, TARGET_NAMES),
    answer: await answerTo(db, asked, { fibreId, methodId }),
    near: standard === null ? [] : swatchesNear(db, standard, fibreId),
    recipe: recipe && !recipe.archivedAt ? { recipeId: recipe.id, name: recipe.name } : null,
    fibreId,
    methodId,
    likeSwatchId: standard?.swatchId ?? null,
    trialName: standard?.name ?? '',
    asked: new URLSearchParams(carried(typed, [...TARGET_NAMES, ...WISH_NAMES])).toString(),
    form: { typed: typedIn(typed, { fibreId, methodId }), errors },
    take,
    fibres: fibreOptions(db),
    methods: methodOptions(db),
    mayWork: allows(request.actor, 'work'),
    show: showOf(db),
  };
  return {
    title: standard ? `Recipes for ${standard.name}` : 'Recipes for a colour',
    section: 'swatches',
    body: proposalsPage(props),
    ...(Object.keys(errors).length > 0 ? { status: 422 } : {}),
  };
}

export const showProposals = page({
  show: async ({ db }, { request, reply }) =>
    sendPage(
      request,
      reply,
      await proposalsRendering(db, request, typedBody(request.query), { typed: {}, errors: {} }),
    ),
});

export const take = page({
  show: (deps, { request, reply }) =>
    submitForm(request, reply, {
      schema: TakeForm,
      save: ({ formula, mass, ...input }) => {
        const made = takeProposal(deps, { ...input, components: formula, massMg: mass }, actorOf(request));
        return made.lotId === null ? `/recipes/${made.recipeId}` : `/lots/${made.lotId}`;
      },
      again: (form) => {
        const asked = Object.fromEntries(new URLSearchParams(form.typed['asked'] ?? ''));
        return proposalsRendering(deps.db, request, asked, form);
      },
    }),
});
