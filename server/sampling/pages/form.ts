import type { FormState } from '../../../views/kit/field.ts';
import {
  NEW_KINDS,
  type NewKind,
  type PreviewProps,
  samplingFormPage,
  samplingPreview,
} from '../../../views/sampling/form.ts';
import { pctTyped } from '../../calc/quantity.ts';
import type { Db } from '../../db/open.ts';
import { asRefusal, type FieldErrors, invalid } from '../../errors.ts';
import { fibreOptions } from '../../fibres/options.ts';
import { submitForm, typedBody, typedRows, zodFieldErrors } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { sampledGoods } from '../../matching/queries.ts';
import { methodOptions } from '../../methods/options.ts';
import { methodById } from '../../methods/queries.ts';
import { actorOf } from '../../people/guards.ts';
import { dyesByIds, dyesInUse } from '../../recipes/queries.ts';
import { theStudio } from '../../settings/queries.ts';
import { piecesOfInput, planSamples, usualColumns } from '../planSamples.ts';
import { previewOf, samplingInputOf } from '../present.ts';
import { SamplingForm } from '../schemas.ts';

type Typed = Readonly<Record<string, string>>;

/** Of each kind of set, how many dyes it is of and what it is called at first. */
const KINDS: Readonly<Record<NewKind, { dyes: number; name: string }>> = {
  depthLadder: { dyes: 1, name: 'Ladder' },
  blendLadder: { dyes: 2, name: 'Blends' },
  triangle: { dyes: 3, name: 'Triangle' },
};
/** Fields that go along when another kind of set is chosen. */
const CARRIED = /^(fibreId|methodId|pieceMass|ratio|dyeId\.\d|conc\.\d)$/;

const kindOf = (typed: Typed): NewKind => NEW_KINDS.find((k) => k === typed['kind']) ?? 'depthLadder';

/** The typed text in the shape of the schema. */
const shapeOf = (typed: Typed) => ({
  ...typed,
  kind: kindOf(typed),
  // A ladder has no step and a blend no ladder: what another kind left over does not count.
  step: typed['step'] ?? '10',
  dyes: typedRows(typed, ['dyeId', 'conc'])
    .filter((r) => r.dyeId !== '')
    .slice(0, KINDS[kindOf(typed)].dyes),
});

/** Messages about the dyes put beside their fields: 'dyes.1.conc' becomes 'conc.1'. */
const besideDyes = (errors: FieldErrors): FieldErrors =>
  Object.fromEntries(
    Object.entries(errors).map(([name, words]) => {
      const [, i, field] = /^dyes\.(\d+)\.(\w+)$/.exec(name) ?? [];
      return [field === undefined ? (name === 'dyes' ? 'dyeId.0' : name) : `${field}.${i}`, words];
    }),
  );

/** What the set comes to as it is typed; where it is not whole yet, what is wrong with fields that hold something. */
function preview(db: Db, typed: Typed): PreviewProps {
  const read = SamplingForm.safeParse({ ...shapeOf(typed), name: typed['name'] || '—' });
  if (!read.success) {
    const errors = Object.entries(besideDyes(zodFieldErrors(read.error)));
    return { kind: 'notYet', why: errors.flatMap(([name, words]) => ((typed[name] ?? '') === '' ? [] : [words])) };
  }
  try {
    const input = samplingInputOf(read.data);
    const dyeIds = input.stocks.map((s) => s.dyeId);
    const codes = new Map(dyesByIds(db, dyeIds).map((d) => [d.id, d.code]));
    return previewOf(
      input,
      piecesOfInput(input),
      dyeIds.map((id) => codes.get(id) ?? ''),
    );
  } catch (error) {
    const refusal = asRefusal(error);
    if (!refusal) throw error;
    return { kind: 'notYet', why: Object.values(refusal.fields) };
  }
}

function formPage(db: Db, { typed, errors }: FormState): Rendering {
  const carried = Object.entries(typed).filter(([name, value]) => value !== '' && CARRIED.test(name));
  const href = (kind: NewKind): string => `/sampling/new?${new URLSearchParams([['kind', kind], ...carried])}`;
  return {
    title: 'Plan samples',
    section: 'swatches',
    body: samplingFormPage({
      kind: kindOf(typed),
      form: { typed, errors: besideDyes(errors) },
      fibres: fibreOptions(db),
      methods: methodOptions(db),
      dyes: dyesInUse(db).map((d) => ({ value: String(d.id), label: `${d.code} ${d.name}`, group: d.class })),
      preview: preview(db, typed),
      kindHrefs: { depthLadder: href('depthLadder'), blendLadder: href('blendLadder'), triangle: href('triangle') },
    }),
  };
}

/** What a new form starts with: the goods and method with most swatches, and steps that serve most sets. */
function startingWith(db: Db, typed: Typed): Typed {
  const [usual] = sampledGoods(db);
  const methodId = typed['methodId'] ?? String(usual?.methodId ?? '');
  const bathMlPerKg = methodById(db, Number(methodId) || 0)?.bathMlPerKg ?? null;
  const conc = pctTyped({ ppm: theStudio(db).stockConcPpm });
  const kind = kindOf(typed);
  return {
    kind,
    fibreId: String(usual?.fibreId ?? ''),
    methodId,
    pieceMass: '5 g',
    ratio: bathMlPerKg === null ? '' : String(bathMlPerKg / 1000),
    'conc.0': conc,
    'conc.1': conc,
    'conc.2': conc,
    from: '0.25',
    to: '4',
    count: '5',
    spacing: 'ratio',
    depth: '1',
    step: kind === 'triangle' ? '20' : '10',
    reserve: '10',
    name: KINDS[kind].name,
  };
}

export const newPlan = page({
  show: ({ db }, { request, reply }) => {
    const typed = typedBody(request.query);
    return sendPage(request, reply, formPage(db, { typed: { ...startingWith(db, typed), ...typed }, errors: {} }));
  },
});

export const previewPlan = page({
  show: ({ db }, { request, reply }) => {
    const typed = typedBody(request.query);
    const part = samplingPreview(preview(db, typed));
    return sendPage(request, reply, { ...formPage(db, { typed, errors: {} }), part });
  },
});

export const addPlan = page({
  show: ({ db, now }, { request, reply }) =>
    submitForm(request, reply, {
      schema: SamplingForm,
      shape: shapeOf,
      save: (words) => {
        const input = samplingInputOf(words);
        if (input.gridColumns > 40) throw invalid({ gridColumns: 'At most forty in a row.' });
        const gridColumns = input.gridColumns || usualColumns(piecesOfInput(input).length);
        return `/sampling/${planSamples(db, { ...input, gridColumns }, actorOf(request), now()).id}`;
      },
      again: (form) => formPage(db, form),
    }),
});
