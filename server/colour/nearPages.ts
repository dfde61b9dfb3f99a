import { type NearPageProps, nearFound, nearPage } from '../../views/colour/nearPage.ts';
import { dyeClassNames } from '../calc/classFit.ts';
import { conditionsInWords } from '../calc/colour/reading.ts';
import { lchFromLab } from '../calc/colour/spaces.ts';
import type { Deps } from '../deps.ts';
import { asRefusal } from '../errors.ts';
import { listFibres } from '../fibres/queries.ts';
import type { App } from '../http/app.ts';
import { readInput, typedBody } from '../http/forms.ts';
import { sendPage, wantsPart } from '../http/page.ts';
import { listMethods } from '../methods/queries.ts';
import { allows } from '../people/guards.ts';
import { conditionsAt, formulaInWords, nearestFormula, nearTo } from './near.ts';
import { NearForm } from './schemas.ts';
import { type Standard, standardOf, standardText } from './standard.ts';

const TILES = 24;
/** Beyond this CIEDE2000 a swatch is another colour: shown only to fill the first row or two. */
const FAR = 10;
const AT_LEAST = 6;
/** What says which colour is looked for; the rest of the address narrows and orders. */
const STANDARD_NAMES = [
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
];
const FILTER_NAMES = ['fibreId', 'methodId', 'dyeClass', 'depth', 'stockFor', 'under', 'formula'];

const kept = (typed: Record<string, string>, names: readonly string[]): [string, string][] =>
  names.flatMap((name): [string, string][] => (typed[name] ? [[name, typed[name]]] : []));

export const nearHref = (entries: readonly [string, string][]): string =>
  entries.length === 0 ? '/swatches/near' : `/swatches/near?${new URLSearchParams(entries as [string, string][])}`;

export function nearPages(app: App, deps: Deps): void {
  const { db } = deps;

  const answerTo = (typed: Record<string, string>): Pick<NearPageProps, 'standard' | 'found' | 'picked'> => {
    const query = readInput(NearForm, typed);
    const standard = standardOf(db, query);
    if (!standard) return { standard: null, found: null, picked: { lightness: 55, chroma: 30, hue: 250 } };
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
        anyFilter: kept(typed, ['fibreId', 'methodId', 'dyeClass', 'depth', 'stockFor']).length > 0,
        plainHref: nearHref(kept(typed, STANDARD_NAMES)),
        standardHex: standard.hex,
        plusMinus: standard.plusMinus,
      },
      picked: { lightness: Math.round(L), chroma: Math.round(C), hue: Math.round(hueDeg) },
    };
  };

  const bandsOf = (standard: Standard, typed: Record<string, string>) =>
    standard.bands.map((band, i) => ({
      ...band,
      chosen: i === standard.band,
      href: nearHref([...kept({ ...typed, band: String(i) }, STANDARD_NAMES), ...kept(typed, FILTER_NAMES)]),
    }));

  app.get('/swatches/near', { config: { may: 'look' } }, async (request, reply) => {
    const typed = typedBody(request.query);
    let status = 200;
    let errors: Record<string, string> = {};
    let answer: ReturnType<typeof answerTo> = {
      standard: null,
      found: null,
      picked: { lightness: 55, chroma: 30, hue: 250 },
    };
    try {
      answer = answerTo(typed);
    } catch (error) {
      const refusal = asRefusal(error);
      if (!refusal || refusal.status === 404) throw error;
      status = refusal.status;
      errors = Object.fromEntries(
        Object.entries(refusal.fields).map(([name, words]) => [
          name,
          `${words.charAt(0).toUpperCase()}${words.slice(1)}${/[.!?]$/.test(words) ? '' : '.'}`,
        ]),
      );
    }
    if (wantsPart(request) && status === 200) {
      reply.header('hx-push-url', nearHref([...kept(typed, STANDARD_NAMES), ...kept(typed, FILTER_NAMES)]));
      return sendPage(request, reply, { title: 'Near a colour', section: 'swatches', body: nearFound(answer.found) });
    }
    return sendPage(request, reply, {
      status,
      title: answer.standard ? `Near ${answer.standard.name}` : 'Near a colour',
      section: 'swatches',
      scripts: ['colourPicker.js'],
      body: nearPage({
        ...answer,
        form: { typed: { illuminant: 'D65', observer: '2', formula: 'deltaE2000', ...typed }, errors },
        standardFields: kept(typed, STANDARD_NAMES),
        filterFields: kept(typed, FILTER_NAMES),
        choices: {
          fibres: listFibres(db).map((f) => ({ value: String(f.id), label: f.name })),
          methods: listMethods(db).map((m) => ({ value: String(m.id), label: m.name })),
          dyeClasses: Object.entries(dyeClassNames).map(([value, label]) => ({ value, label })),
        },
        mayLog: allows(request.actor, 'log'),
      }),
    });
  });
}
