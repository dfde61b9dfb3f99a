import type { FastifyRequest } from 'fastify';
import { renderSVG } from 'uqr';
import { emptyForm, type FormState, type Option } from '../../views/kit/field.ts';
import { cornersPage } from '../../views/sampling/cornersPage.ts';
import { type NewKind, type PreviewProps, samplingFormPage, samplingPreview } from '../../views/sampling/formPage.ts';
import { samplingListPage } from '../../views/sampling/listPage.ts';
import { nextPage } from '../../views/sampling/nextPage.ts';
import { samplingLabels, samplingSheet as samplingSheetPage } from '../../views/sampling/paper.ts';
import { samplingShowPage } from '../../views/sampling/showPage.ts';
import { CalcError } from '../calc/calcError.ts';
import { HUE_FAMILIES } from '../calc/colour/colourName.ts';
import { typedColour } from '../calc/colour/typedColour.ts';
import { durationText, pctText, tempText } from '../calc/quantity.ts';
import type { Deps } from '../deps.ts';
import { asRefusal, invalid, notFound } from '../errors.ts';
import { listFibres } from '../fibres/queries.ts';
import type { App } from '../http/app.ts';
import { readInput, submitForm, typedBody, typedRows, zodFieldErrors } from '../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../http/page.ts';
import { readMultipart } from '../http/upload.ts';
import { knownView } from '../matching/knownView.ts';
import { nextSamples, soldHues } from '../matching/nextSamples.ts';
import { sampledGoods } from '../matching/queries.ts';
import { NextQuery } from '../matching/schemas.ts';
import { listMethods, methodById, methodWithParts } from '../methods/queries.ts';
import { actorOf, allows } from '../people/guards.ts';
import { keepReadingCopy, readablePhoto } from '../photoReadings/photoCopies.ts';
import { notFoundInWords, warningInWords } from '../photoReadings/photoWords.ts';
import { photoById } from '../photos/queries.ts';
import { storePhoto } from '../photos/store.ts';
import { dyesByIds, dyesInUse } from '../recipes/queries.ts';
import { cardChoices, cardOf } from '../referenceCards/cards.ts';
import { theStudio } from '../settings/queries.ts';
import { showOf } from '../settings/show.ts';
import { idParams } from '../typedFields.ts';
import { piecesOfInput, planSamples, samplingSheet } from './planSamples.ts';
import { pieceViews, previewOf, samplingInputOf, stockViews, usualColumns } from './present.ts';
import { listPlans } from './queries.ts';
import { keepResults, keepSheetReading, makeSwatches, readSheetPhoto } from './results.ts';
import { KeepForm, NextForm, SamplingForm, SheetPhotoForm, TypedResultsForm } from './schemas.ts';

const PAGE = 40;
const NEXT = 6;
const photoParams = idParams.extend({ photoId: idParams.shape.id });
const pct = (ppm: number): string => pctText({ ppm }).replace(' %', '');
const KINDS: readonly NewKind[] = ['depthLadder', 'blendLadder', 'triangle'];
const DYES: Readonly<Record<NewKind, number>> = { depthLadder: 1, blendLadder: 2, triangle: 3 };
const NAMES: Readonly<Record<NewKind, string>> = { depthLadder: 'Ladder', blendLadder: 'Blends', triangle: 'Triangle' };

export function pages(app: App, deps: Deps): void {
  const { db } = deps;
  const fibreOptions = (): Option[] => listFibres(db).map((f) => ({ value: String(f.id), label: f.name }));
  const methodOptions = (): Option[] => listMethods(db).map((m) => ({ value: String(m.id), label: m.name }));
  const may = (request: FastifyRequest) => ({
    mayWork: allows(request.actor, 'work'),
    mayLog: allows(request.actor, 'log'),
  });

  app.get<{ Querystring: { before?: string } }>('/sampling', { config: { may: 'look' } }, async (request, reply) => {
    const before = /^[1-9]\d{0,14}$/.test(request.query.before ?? '') ? Number(request.query.before) : null;
    const rows = listPlans(db, before, PAGE + 1);
    return sendPage(request, reply, {
      title: 'Sampling',
      section: 'swatches',
      body: samplingListPage({
        plans: rows.slice(0, PAGE),
        nextHref: rows.length > PAGE ? `/sampling?before=${rows[PAGE - 1]?.planId}` : null,
        firstHref: before === null ? null : '/sampling',
        mayWork: may(request).mayWork,
        show: showOf(db),
      }),
    });
  });

  // ───────────── planning ─────────────
  const kindOf = (typed: Record<string, string>): NewKind => KINDS.find((k) => k === typed['kind']) ?? 'depthLadder';
  const shapeOf = (typed: Record<string, string>) => ({
    ...typed,
    kind: kindOf(typed),
    // A ladder has no step and a blend no ladder: what another kind left over does not count.
    step: typed['step'] ?? '10',
    dyes: typedRows(typed, ['dyeId', 'conc'])
      .filter((r) => r.dyeId !== '')
      .slice(0, DYES[kindOf(typed)]),
  });
  const besideDyes = (errors: Readonly<Record<string, string>>): Record<string, string> =>
    Object.fromEntries(
      Object.entries(errors).map(([name, words]) => {
        const [, i, field] = /^dyes\.(\d+)\.(\w+)$/.exec(name) ?? [];
        return [field === undefined ? (name === 'dyes' ? 'dyeId.0' : name) : `${field}.${i}`, words];
      }),
    );

  const preview = (typed: Record<string, string>): PreviewProps => {
    const read = SamplingForm.safeParse({ ...shapeOf(typed), name: typed['name'] || '—' });
    if (!read.success) {
      const named = Object.entries(besideDyes(zodFieldErrors(read.error))).filter(
        ([name]) => (typed[name] ?? '') !== '',
      );
      return { kind: 'notYet', why: named.map(([, words]) => words) };
    }
    try {
      const input = samplingInputOf(read.data);
      const dyes = new Map(
        dyesByIds(
          db,
          input.stocks.map((s) => s.dyeId),
        ).map((d) => [d.id, d.code]),
      );
      return previewOf(
        input,
        piecesOfInput(input),
        input.stocks.map((s) => dyes.get(s.dyeId) ?? ''),
      );
    } catch (error) {
      const refusal = asRefusal(error);
      if (!refusal) throw error;
      return { kind: 'notYet', why: Object.values(refusal.fields) };
    }
  };

  const formRendering = (form: FormState): Rendering => {
    const kind = kindOf(form.typed);
    const carried = Object.entries(form.typed).filter(
      ([name, value]) => value !== '' && /^(fibreId|methodId|pieceMass|ratio|dyeId\.\d|conc\.\d)$/.test(name),
    );
    const href = (k: NewKind): string => `/sampling/new?${new URLSearchParams([['kind', k], ...carried])}`;
    return {
      title: 'Plan samples',
      section: 'swatches',
      body: samplingFormPage({
        kind,
        form: { typed: form.typed, errors: besideDyes(form.errors) },
        fibres: fibreOptions(),
        methods: methodOptions(),
        dyes: dyesInUse(db).map((d) => ({ value: String(d.id), label: `${d.code} ${d.name}`, group: d.class })),
        preview: preview({ ...form.typed }),
        kindHrefs: { depthLadder: href('depthLadder'), blendLadder: href('blendLadder'), triangle: href('triangle') },
      }),
    };
  };

  app.get('/sampling/new', { config: { may: 'work' } }, async (request, reply) => {
    const typed = typedBody(request.query);
    const usual = sampledGoods(db)[0];
    const conc = pct(theStudio(db).stockConcPpm);
    const methodId = typed['methodId'] ?? String(usual?.methodId ?? '');
    const method = methodById(db, Number(methodId) || 0);
    const bath = method?.bathMlPerKg ?? null;
    const kind = kindOf(typed);
    const start = {
      kind,
      fibreId: String(usual?.fibreId ?? ''),
      methodId,
      pieceMass: '5 g',
      ratio: bath === null ? '' : String(bath / 1000),
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
      name: NAMES[kind],
    };
    return sendPage(request, reply, formRendering({ typed: { ...start, ...typed }, errors: {} }));
  });

  app.get('/sampling/preview', { config: { may: 'look' } }, async (request, reply) => {
    const typed = typedBody(request.query);
    return sendPage(request, reply, {
      ...formRendering({ typed, errors: {} }),
      part: samplingPreview(preview(typed)),
    });
  });

  app.post('/sampling', { config: { may: 'work' } }, async (request, reply) =>
    submitForm(request, reply, {
      schema: SamplingForm,
      shape: (typed) => shapeOf({ ...typed }),
      save: (words) => {
        const input = samplingInputOf(words);
        if (input.gridColumns > 40) throw invalid({ gridColumns: 'At most forty in a row.' });
        const gridColumns = input.gridColumns || usualColumns(piecesOfInput(input).length);
        return `/sampling/${planSamples(db, { ...input, gridColumns }, actorOf(request), deps.now()).id}`;
      },
      again: formRendering,
    }),
  );

  // ───────────── a set ─────────────
  const RESULT_DEFAULTS = { source: 'instrument', illuminant: 'D65', observer: '10' };
  const showRendering = (
    request: FastifyRequest,
    planId: number,
    forms: { form?: FormState; photoForm?: FormState; messages?: readonly string[] } = {},
  ): Rendering => {
    const sheet = samplingSheet(db, planId);
    const { plan } = sheet;
    return {
      title: plan.name,
      section: 'swatches',
      body: samplingShowPage({
        planId,
        name: plan.name,
        kind: plan.kind,
        fibreName: sheet.fibreName,
        methodName: sheet.methodName,
        pieceMassMg: plan.pieceMassMg,
        liquorMlPerKg: plan.liquorMlPerKg,
        reservePpm: plan.reservePpm,
        gridColumns: plan.gridColumns,
        note: plan.note,
        madeAt: plan.madeAt,
        madeByName: sheet.madeByName,
        stocks: stockViews(sheet),
        pieces: pieceViews(sheet),
        form: forms.form
          ? { typed: { ...RESULT_DEFAULTS, ...forms.form.typed }, errors: forms.form.errors }
          : { typed: RESULT_DEFAULTS, errors: {} },
        photoForm: forms.photoForm ?? emptyForm,
        cards: cardOptions(),
        messages: forms.messages ?? [],
        ...may(request),
        show: showOf(db),
      }),
    };
  };
  const cardOptions = (): Option[] => cardChoices(db).map((c) => ({ value: c.card, label: c.name }));

  app.get('/sampling/:id', { config: { may: 'look' }, schema: { params: idParams } }, async (request, reply) =>
    sendPage(request, reply, showRendering(request, request.params.id)),
  );

  app.get('/sampling/:id/sheet', { config: { may: 'look' }, schema: { params: idParams } }, async (request, reply) => {
    const sheet = samplingSheet(db, request.params.id);
    const parts = methodWithParts(db, sheet.plan.methodId);
    const show = showOf(db);
    return sendPage(request, reply, {
      title: `Bench page ${sheet.plan.name}`,
      section: 'swatches',
      shape: 'paper',
      body: samplingSheetPage({
        planId: sheet.plan.id,
        name: sheet.plan.name,
        fibreName: sheet.fibreName,
        methodName: sheet.methodName,
        pieceMassMg: sheet.plan.pieceMassMg,
        liquorMlPerKg: sheet.plan.liquorMlPerKg,
        gridColumns: sheet.plan.gridColumns,
        stocks: stockViews(sheet),
        pieces: pieceViews(sheet),
        note: sheet.plan.note,
        show,
        qrSvg: renderSVG(`${request.protocol}://${request.host}/sampling/${sheet.plan.id}`),
        steps: (parts?.steps ?? []).map((s) => ({
          name: s.name,
          words: [
            durationText({ durationS: s.durationS }),
            s.tempC === null ? '' : tempText({ tempC: s.tempC, scale: show.units === 'us' ? 'F' : 'C' }),
          ]
            .filter(Boolean)
            .join(', '),
        })),
        auxiliaries: (parts?.auxiliaries ?? []).map(({ line, auxiliary }) =>
          `${auxiliary.name} ${line.asTyped}`.trim(),
        ),
      }),
    });
  });

  app.get('/sampling/:id/labels', { config: { may: 'look' }, schema: { params: idParams } }, async (request, reply) => {
    const sheet = samplingSheet(db, request.params.id);
    return sendPage(request, reply, {
      title: `Labels ${sheet.plan.name}`,
      section: 'swatches',
      shape: 'paper',
      body: samplingLabels({
        planId: sheet.plan.id,
        name: sheet.plan.name,
        fibreName: sheet.fibreName,
        pieces: pieceViews(sheet),
      }),
    });
  });

  // ───────────── results ─────────────
  app.post(
    '/sampling/:id/results',
    { config: { may: 'work' }, schema: { params: idParams } },
    async (request, reply) => {
      const planId = request.params.id;
      return submitForm(request, reply, {
        schema: TypedResultsForm,
        shape: (typed) => ({ ...typed, rows: typedRows(typed, ['colour']) }),
        save: ({ rows, illuminant, observer, source }) => {
          if (rows.length === 0) throw invalid({ '': 'Type at least one colour.' });
          const errors: Record<string, string> = {};
          const results = rows.flatMap(({ colour, row }) => {
            try {
              const typed = typedColour({
                text: colour,
                conditions: { illuminant, observerDeg: observer === '2' ? 2 : 10 },
                field: `colour.${row}`,
              });
              const { lab, conditions, hex } = typed;
              return [
                {
                  ordinal: row,
                  l: lab.L,
                  a: lab.a,
                  b: lab.b,
                  illuminant: conditions.illuminant,
                  observer: conditions.observerDeg === 2 ? ('2' as const) : ('10' as const),
                  // A colour code is no instrument's reading, whatever the rest of the form says.
                  source: hex === null ? source : ('typed' as const),
                  asTyped: colour,
                },
              ];
            } catch (error) {
              if (!(error instanceof CalcError)) throw error;
              errors[error.field] = `${error.message.charAt(0).toUpperCase()}${error.message.slice(1)}.`;
              return [];
            }
          });
          if (Object.keys(errors).length > 0) throw invalid(errors);
          keepResults(db, planId, results);
          return `/sampling/${planId}#results`;
        },
        again: (form) => showRendering(request, planId, { form }),
      });
    },
  );

  app.post(
    '/sampling/:id/swatches',
    { config: { may: 'work' }, schema: { params: idParams } },
    async (request, reply) => {
      const planId = request.params.id;
      return submitForm(request, reply, {
        schema: KeepForm,
        save: (wish) => {
          makeSwatches(db, planId, actorOf(request), deps.now(), wish);
          return `/sampling/${planId}#results`;
        },
        again: (form) => showRendering(request, planId, { form }),
      });
    },
  );

  app.post('/sampling/:id/photo', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) => {
    const planId = request.params.id;
    samplingSheet(db, planId);
    const { typed, files } = await readMultipart(request);
    try {
      const file = files.find((f) => f.field === 'photo');
      if (!file) throw invalid({ photo: 'Choose a photo.' });
      const photo = await storePhoto(deps, file.buffer, actorOf(request));
      await keepReadingCopy(deps, photo.id, file.buffer);
      return seeOther(
        reply,
        `/sampling/${planId}/photo/${photo.id}?${new URLSearchParams({ card: typed['card'] ?? '' })}`,
      );
    } catch (error) {
      const refusal = asRefusal(error);
      if (!refusal || refusal.status === 404) throw error;
      const photoForm = { typed, errors: refusal.fields };
      return sendPage(request, reply, { ...showRendering(request, planId, { photoForm }), status: refusal.status });
    }
  });

  async function cornersRendering(planId: number, photoId: number, form: FormState): Promise<Rendering> {
    const sheet = samplingSheet(db, planId);
    const photo = photoById(db, photoId);
    if (!photo) throw notFound('photo');
    const { widthPx, heightPx } = await readablePhoto(deps, photo);
    return {
      title: 'Where do the pieces lie?',
      section: 'swatches',
      scripts: ['sheetCorners.js'],
      body: cornersPage({
        planId,
        name: sheet.plan.name,
        photoId,
        widthPx,
        heightPx,
        columns: sheet.plan.gridColumns,
        count: sheet.pieces.length,
        form,
        cards: cardOptions(),
      }),
    };
  }

  app.get(
    '/sampling/:id/photo/:photoId',
    { config: { may: 'work' }, schema: { params: photoParams } },
    async (request, reply) => {
      const { id, photoId } = request.params;
      const typed = { cardBy: 'find', ...typedBody(request.query) };
      return sendPage(request, reply, await cornersRendering(id, photoId, { typed, errors: {} }));
    },
  );

  app.post(
    '/sampling/:id/photo/:photoId',
    { config: { may: 'work' }, schema: { params: photoParams } },
    async (request, reply) => {
      const { id, photoId } = request.params;
      let messages: string[] = [];
      return submitForm(request, reply, {
        schema: SheetPhotoForm,
        // What is to be minded about the photo stands above what was read, and so the answer is the page itself.
        done: (location) =>
          messages.length === 0
            ? seeOther(reply, location)
            : sendPage(request, reply, showRendering(request, id, { messages })),
        save: async (f) => {
          const corners = [f.card0, f.card1, f.card2, f.card3].flatMap((c) => c ?? []);
          if (f.cardBy === 'hand' && corners.length < 4)
            throw invalid({ corners: 'Show all four corners of the card.' });
          const { sheet, reading } = await readSheetPhoto(deps, {
            planId: id,
            photoId,
            card: cardOf(db, { card: f.card }),
            cardCorners: f.cardBy === 'hand' ? (corners as unknown as readonly [P, P, P, P]) : 'find',
            gridCorners: [f.grid0, f.grid1, f.grid2, f.grid3],
          });
          if (reading.outcome !== 'read') throw invalid({ corners: notFoundInWords(reading.reason) });
          keepSheetReading(db, sheet, reading, photoId);
          messages = reading.warnings.map(warningInWords);
          return `/sampling/${id}#results`;
        },
        again: (form) =>
          cornersRendering(id, photoId, {
            typed: form.errors['corners'] ? { ...form.typed, cardBy: 'hand' } : form.typed,
            errors: form.errors,
          }),
      });
    },
  );

  // ───────────── what next ─────────────
  app.get('/sampling/next', { config: { may: 'look' } }, async (request, reply) => {
    const typed = typedBody(request.query);
    const query = readInput(NextQuery, typed);
    const usual = sampledGoods(db)[0];
    const fibreId = query.fibreId ?? usual?.fibreId ?? null;
    const methodId = query.methodId ?? usual?.methodId ?? null;
    const sold = soldHues(db);
    const answer =
      fibreId === null || methodId === null
        ? null
        : await nextSamples(db, {
            fibreId,
            methodId,
            hue: query.hue,
            maxDyes: Number(query.maxDyes) as 1 | 2 | 3,
            count: NEXT,
          });
    return sendPage(request, reply, {
      title: 'What to sample next',
      section: 'swatches',
      body: nextPage({
        form: {
          typed: {
            hue: query.hue,
            maxDyes: query.maxDyes,
            fibreId: String(fibreId ?? ''),
            methodId: String(methodId ?? ''),
          },
          errors: {},
        },
        fibres: fibreOptions(),
        methods: methodOptions(),
        hues: [
          { value: 'sold', label: 'what you sell' },
          { value: 'any', label: 'any' },
          ...HUE_FAMILIES.map((family) => {
            const lots = sold.find((s) => s.family === family)?.lots ?? 0;
            return {
              value: family,
              label: `${family === 'neutral' ? 'grey' : family}${lots > 0 ? `, ${lots} lots` : ''}`,
            };
          }),
        ],
        fibreId,
        methodId,
        answer:
          answer === null || !answer.known
            ? answer
            : {
                known: true,
                among:
                  answer.families === null
                    ? 'Among all hues.'
                    : `Among ${answer.families.map((f) => (f === 'neutral' ? 'grey' : f)).join(', ')}.`,
                unknown: answer.unknown,
                samples: answer.samples.map((s) => ({
                  components: s.components,
                  predicted: knownView(s.predicted),
                  formula: s.components.map((c) => `${c.dyeId}:${c.depthPpm}`).join(','),
                })),
              },
        mayWork: may(request).mayWork,
      }),
    });
  });

  app.post('/sampling/next', { config: { may: 'work' } }, async (request, reply) => {
    const typed = typedBody(request.body);
    const { fibreId, methodId, formulas } = readInput(NextForm, {
      ...typed,
      formulas: typedRows(typed, ['formula']),
    });
    const recipes = formulas.map(({ formula }) =>
      formula.split(',').map((part) => {
        const [dyeId = 0, depthPpm = 0] = part.split(':').map(Number);
        return { dyeId, depthPpm };
      }),
    );
    const dyeIds = [...new Set(recipes.flatMap((r) => r.map((c) => c.dyeId)))];
    const bath = methodById(db, methodId)?.bathMlPerKg ?? null;
    const plan = planSamples(
      db,
      {
        name: 'What teaches most',
        kind: 'recipes',
        fibreId,
        methodId,
        stocks: dyeIds.map((dyeId) => ({ dyeId, concPpm: theStudio(db).stockConcPpm })),
        ladder: null,
        blend: null,
        recipes: recipes.map((r) => dyeIds.map((dyeId) => r.find((c) => c.dyeId === dyeId)?.depthPpm ?? 0)),
        pieceMassMg: 5000,
        liquorMlPerKg: bath,
        reservePpm: 100_000,
        gridColumns: usualColumns(recipes.length),
        note: '',
      },
      actorOf(request),
      deps.now(),
    );
    return seeOther(reply, `/sampling/${plan.id}`);
  });
}

type P = { x: number; y: number };
