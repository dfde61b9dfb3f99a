import type { Option } from '../../../views/kit/field.ts';
import { type NextPageProps, nextPage } from '../../../views/sampling/next.ts';
import { HUE_FAMILIES, type HueFamily } from '../../calc/colour/colourName.ts';
import { learningInWords } from '../../calc/match/sureness.ts';
import type { Db } from '../../db/open.ts';
import { fibreOptions } from '../../fibres/options.ts';
import { readInput, typedBody, typedRows } from '../../http/forms.ts';
import { seeOther, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { knownView } from '../../matching/knownView.ts';
import { type NextSamples, nextSamples, soldHues } from '../../matching/nextSamples.ts';
import type { NotPredicted } from '../../matching/predictions.ts';
import { sampledGoods } from '../../matching/queries.ts';
import { formulaText } from '../../matching/schemas.ts';
import { methodOptions } from '../../methods/options.ts';
import { actorOf, allows } from '../../people/guards.ts';
import { planChosenRecipes } from '../planChosenRecipes.ts';
import { NextForm, NextQuery } from '../schemas.ts';

const SAMPLES = 6;
const MOST_DYES = { '1': 1, '2': 2, '3': 3 } as const;

const familyName = (family: HueFamily): string => (family === 'neutral' ? 'grey' : family);

/** The hues to choose from, each with how many lots of it were dyed. */
function hueOptions(db: Db): Option[] {
  const lotsOf = new Map(soldHues(db).map(({ family, lots }) => [family, lots]));
  return [
    { value: 'sold', label: 'what you sell' },
    { value: 'any', label: 'any' },
    ...HUE_FAMILIES.map((family) => {
      const lots = lotsOf.get(family) ?? 0;
      return { value: family, label: `${familyName(family)}${lots > 0 ? `, ${lots} lots` : ''}` };
    }),
  ];
}

const answerView = (answer: NextSamples | NotPredicted): NextPageProps['answer'] =>
  answer.known
    ? {
        known: true,
        among: answer.families === null ? 'Among all hues.' : `Among ${answer.families.map(familyName).join(', ')}.`,
        unknown: answer.unknown,
        undyedUnread: answer.knowledge.undyedGoods === 'assumed',
        learning: learningInWords(answer.knowledge.learningFrom),
        samples: answer.samples.map(({ components, predicted, gone }) => ({
          components,
          predicted: knownView(predicted),
          formula: formulaText(components),
          gonePct: Math.round(100 * gone),
        })),
      }
    : answer;

export const showNext = page({
  show: async ({ db }, { request, reply }) => {
    const { hue, maxDyes, ...asked } = readInput(NextQuery, typedBody(request.query));
    const [usual] = sampledGoods(db);
    const fibreId = asked.fibreId ?? usual?.fibreId ?? null;
    const methodId = asked.methodId ?? usual?.methodId ?? null;
    const answer =
      fibreId === null || methodId === null
        ? null
        : await nextSamples(db, { fibreId, methodId, hue, maxDyes: MOST_DYES[maxDyes], count: SAMPLES });
    return sendPage(request, reply, {
      title: 'What to sample next',
      section: 'swatches',
      body: nextPage({
        form: {
          typed: { hue, maxDyes, fibreId: String(fibreId ?? ''), methodId: String(methodId ?? '') },
          errors: {},
        },
        fibres: fibreOptions(db),
        methods: methodOptions(db),
        hues: hueOptions(db),
        fibreId,
        methodId,
        answer: answer && answerView(answer),
        mayWork: allows(request.actor, 'work'),
      }),
    });
  },
});

export const planNext = page({
  show: ({ db, now }, { request, reply }) => {
    const typed = typedBody(request.body);
    const { formulas, ...goods } = readInput(NextForm, { ...typed, formulas: typedRows(typed, ['formula']) });
    const recipes = formulas.map(({ formula }) => formula);
    const plan = planChosenRecipes(db, { ...goods, recipes }, actorOf(request), now());
    return seeOther(reply, `/sampling/${plan.id}`);
  },
});
