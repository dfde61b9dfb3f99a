import { type NearPageProps, nearFound, nearPage } from '../../../views/near/near.ts';
import { asSentence } from '../../calc/calcError.ts';
import { dyeClassNames } from '../../calc/classFit.ts';
import { conditionsInWords } from '../../calc/colour/reading.ts';
import { lchFromLab } from '../../calc/colour/spaces.ts';
import type { Db } from '../../db/open.ts';
import { asRefusal, type FieldErrors, type Refusal } from '../../errors.ts';
import { fibreOptions } from '../../fibres/options.ts';
import { carried } from '../../http/carried.ts';
import { readInput, typedBody } from '../../http/forms.ts';
import { sendPage, wantsPart } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { methodOptions } from '../../methods/options.ts';
import { allows } from '../../people/guards.ts';
import { conditionsAt, formulaInWords, nearestFormula, nearTo } from '../near.ts';
import { NearForm, STANDARD_NAMES } from '../schemas.ts';
import { nearHref, type Standard, standardOf, standardText } from '../standard.ts';

const TILES = 24;
/** Beyond this CIEDE2000 a swatch is another colour: shown only to fill the first row or two. */
const FAR = 10;
const AT_LEAST = 6;
const NARROWING = ['fibreId', 'methodId', 'dyeClass', 'depth', 'stockFor'];
const FILTER_NAMES = [...NARROWING, 'under', 'formula'];

type Typed = Record<string, string>;
type Answer = Pick<NearPageProps, 'standard' | 'found' | 'picked'>;

/** Before a colour is chosen: a slate blue to start picking from. */
const NOTHING_ASKED: Answer = { standard: null, found: null, picked: { lightness: 55, chroma: 30, hue: 250 } };

function answerTo(db: Db, typed: Typed): Answer {
  const query = readInput(NearForm, typed);
  const standard = standardOf(db, query);
  if (!standard) return NOTHING_ASKED;
  const formula = nearestFormula(query.formula);
  const under = query.under === undefined ? standard.conditions : conditionsAt(query.under);
  const { hits, adaptation } = nearTo(db, {
    standard,
    under,
    formula,
    filter: { ...query, inStockForMassMg: query.stockFor ?? undefined },
    count: TILES,
    trim: { beyondDeltaE2000: FAR, atLeast: AT_LEAST },
  });
  const { L, C, hueDeg } = lchFromLab(standard.lab);
  return {
    standard: { ...standard, text: standardText(standard), bands: bandsOf(standard, typed) },
    found: {
      hits,
      adaptation,
      formulaName: formulaInWords(formula),
      underName: conditionsInWords(under),
      anyFilter: carried(typed, NARROWING).length > 0,
      plainHref: nearHref(carried(typed, STANDARD_NAMES)),
      standardHex: standard.hex,
      plusMinus: standard.plusMinus,
    },
    picked: { lightness: Math.round(L), chroma: Math.round(C), hue: Math.round(hueDeg) },
  };
}

const bandsOf = (standard: Standard, typed: Typed) =>
  standard.bands.map((band, i) => ({
    ...band,
    chosen: i === standard.band,
    href: nearHref([...carried({ ...typed, band: String(i) }, STANDARD_NAMES), ...carried(typed, FILTER_NAMES)]),
  }));

/** The answer, or why there is none: a refused search shows the same page with its messages. */
function answerOrRefusal(db: Db, typed: Typed): { answer: Answer; refusal: Refusal | null } {
  try {
    return { answer: answerTo(db, typed), refusal: null };
  } catch (error) {
    const refusal = asRefusal(error);
    if (!refusal || refusal.status === 404) throw error;
    return { answer: NOTHING_ASKED, refusal };
  }
}

const inSentences = (fields: FieldErrors): FieldErrors =>
  Object.fromEntries(Object.entries(fields).map(([name, words]) => [name, asSentence(words)]));

export const showNear = page({
  show: ({ db }, { request, reply }) => {
    const typed = typedBody(request.query);
    const { answer, refusal } = answerOrRefusal(db, typed);
    const standardFields = carried(typed, STANDARD_NAMES);
    const filterFields = carried(typed, FILTER_NAMES);
    if (wantsPart(request) && refusal === null) {
      reply.header('hx-push-url', nearHref([...standardFields, ...filterFields]));
      return sendPage(request, reply, { title: 'Near a colour', section: 'swatches', body: nearFound(answer.found) });
    }
    return sendPage(request, reply, {
      status: refusal?.status ?? 200,
      title: answer.standard ? `Near ${answer.standard.name}` : 'Near a colour',
      section: 'swatches',
      scripts: ['colourPicker.js'],
      body: nearPage({
        ...answer,
        form: {
          typed: { illuminant: 'D65', observer: '2', formula: 'deltaE2000', ...typed },
          errors: inSentences(refusal?.fields ?? {}),
        },
        standardFields,
        filterFields,
        choices: {
          fibres: fibreOptions(db),
          methods: methodOptions(db),
          dyeClasses: Object.entries(dyeClassNames).map(([value, label]) => ({ value, label })),
        },
        mayLog: allows(request.actor, 'log'),
      }),
    });
  },
});
