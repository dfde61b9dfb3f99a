import type { FastifyRequest } from 'fastify';
import { renderSVG } from 'uqr';
import type { FormState, Option } from '../../views/kit/field.ts';
import { swatchCard } from '../../views/swatches/card.ts';
import { editSwatchForm, newSwatchForm } from '../../views/swatches/form.ts';
import { repeatForm, swatchPage } from '../../views/swatches/show.ts';
import { moreTiles, swatchesPage, swatchWall, type WallProps } from '../../views/swatches/wall.ts';
import { weighUp, weighUpPage } from '../../views/swatches/weighUp.ts';
import { pctText } from '../calc/quantity.ts';
import { atDepthDyed } from '../closings/asDyed.ts';
import type { Deps } from '../deps.ts';
import { invalid, notFound } from '../errors.ts';
import { listFibres } from '../fibres/queries.ts';
import type { App } from '../http/app.ts';
import { readInput, submitForm, typedBody, typedRows, zodFieldErrors } from '../http/forms.ts';
import { type Rendering, sendPage, wantsPart } from '../http/page.ts';
import { readMultipart, type Upload } from '../http/upload.ts';
import { listMethods } from '../methods/queries.ts';
import { actorOf, allows } from '../people/guards.ts';
import { withPhoto } from '../photos/store.ts';
import { recordReadings } from '../readings/recordReadings.ts';
import { typedReadings } from '../readings/schemas.ts';
import { dyesInUse, recipeChoices } from '../recipes/queries.ts';
import { dayOf } from '../settings/days.ts';
import { theStudio } from '../settings/queries.ts';
import { showOf } from '../settings/show.ts';
import { openStockLots } from '../stock/queries.ts';
import { idParams } from '../typedFields.ts';
import { addSwatch, editSwatch, nextCardCode } from './addSwatch.ts';
import { neighboursOf } from './neighbours.ts';
import { anySwatch, countSwatches, listSwatches, lotsFromSwatch, swatchById } from './queries.ts';
import { repeatOf } from './repeat.ts';
import { ReadingForm, RepeatForm, SwatchEditForm, SwatchForm, WallQuery, type WallQueryInput } from './schemas.ts';
import { type SwatchSheet, swatchSheet } from './sheet.ts';

const TILES_AT_ONCE = 60;

/** The wall's address with only what differs from the plain wall. */
function wallHref(query: WallQueryInput, from: number): string {
  const plain = WallQuery.parse({});
  const said = Object.entries({ ...query, from }).flatMap(([name, value]): [string, string][] => {
    if (value === undefined || value === plain[name as keyof WallQueryInput]) return [];
    return [[name, value === true ? 'yes' : String(value)]];
  });
  return said.length > 0 ? `/swatches?${new URLSearchParams(said)}` : '/swatches';
}

const plainPct = (ppm: number): string => pctText({ ppm }).replace(' %', '');

const withReadings = (typed: Readonly<Record<string, string>>) => ({
  ...typed,
  readings: typedRows(typed, ['colour', 'share']),
});

export function pages(app: App, deps: Deps): void {
  const { db } = deps;
  const fibreOptions = (): Option[] => listFibres(db).map((f) => ({ value: String(f.id), label: f.name }));
  const methodOptions = (): Option[] => listMethods(db).map((m) => ({ value: String(m.id), label: m.name }));

  app.get('/swatches', { config: { may: 'look' } }, async (request, reply) => {
    const typed = typedBody(request.query);
    const query = readInput(WallQuery, typed);
    const { from, show, size, ...filter } = query;
    const total = countSwatches(db, filter);
    const wall: WallProps = {
      tiles: listSwatches(db, filter, { from, limit: TILES_AT_ONCE, total }),
      total,
      from,
      show,
      size,
      moreHref: from + TILES_AT_ONCE < total ? wallHref(query, from + TILES_AT_ONCE) : null,
      anyAtAll: total > 0 || anySwatch(db),
      archived: filter.archived,
      mayWork: mayWork(request),
    };
    if (wantsPart(request)) {
      if (from === 0) reply.header('hx-push-url', wallHref(query, 0));
      return sendPage(request, reply, {
        title: 'Swatch library',
        section: 'swatches',
        body: from > 0 ? moreTiles(wall) : swatchWall(wall),
      });
    }
    return sendPage(request, reply, {
      title: 'Swatch library',
      section: 'swatches',
      body: swatchesPage({
        wall,
        form: { typed: { show, size, sort: filter.sort, ...typed }, errors: {} },
        choices: {
          fibres: fibreOptions(),
          methods: methodOptions(),
          dyes: dyesInUse(db).map((d) => ({ value: String(d.id), label: `${d.code} ${d.name}` })),
        },
      }),
    });
  });

  const newPage = (form: FormState): Rendering => ({
    title: 'New swatch',
    section: 'swatches',
    body: newSwatchForm({
      form,
      choices: {
        revisions: recipeChoices(db).map((r) => ({ value: String(r.revisionId), label: r.label })),
        fibres: fibreOptions(),
        methods: methodOptions(),
        containers: openStockLots(db, { kind: 'dye' }).map((s) => ({
          value: String(s.id),
          label: `${s.code} · ${s.itemName}`,
        })),
      },
    }),
  });

  app.get('/swatches/new', { config: { may: 'work' } }, async (request, reply) =>
    sendPage(
      request,
      reply,
      newPage({
        typed: {
          code: nextCardCode(db),
          dyedOn: dayOf(deps.now(), theStudio(db).zone),
          readingSource: 'instrument',
          illuminant: 'D65',
          observer: '10',
          rating: '',
          ...typedBody(request.query),
        },
        errors: {},
      }),
    ),
  );

  app.post('/swatches', { config: { may: 'work' } }, async (request, reply) => {
    const upload = await readMultipart(request);
    return submitForm(request, reply, {
      schema: SwatchForm,
      shape: (typed) => ({ ...withReadings(typed), stockLots: typedRows(typed, ['stockLot']).map((r) => r.stockLot) }),
      save: async (input) => {
        const { inputs, errors } = typedReadings(input);
        if (Object.keys(errors).length > 0) throw invalid(errors);
        const by = actorOf(request);
        const swatch = await withPhoto(deps, pictureOf(upload), by, (photoId) =>
          addSwatch(
            db,
            {
              code: input.code,
              name: input.name,
              revisionId: input.revisionId,
              depthPpm: input.depth,
              fibreId: input.fibreId,
              methodId: input.methodId,
              lotId: null,
              dryMassMg: input.dryMass,
              dyedOn: input.dyedOn,
              cardPlace: input.cardPlace,
              photoId,
              rating: input.rating,
              note: input.note,
              stockLotIds: input.stockLots.filter((id) => id !== null),
              readings: inputs,
            },
            by,
            deps.now(),
          ),
        );
        return `/swatches/${swatch.id}`;
      },
      again: newPage,
    });
  });

  const showPage = (request: FastifyRequest, sheet: SwatchSheet, readingForm: FormState): Rendering => {
    const { swatch, formula } = sheet;
    const repeat = repeatPart(sheet, {
      mass: '100 g',
      fibreId: String(swatch.fibreId),
      depth: plainPct(swatch.depthPpm),
    });
    return {
      title: `${swatch.name}, ${swatch.code}`,
      section: 'swatches',
      body: swatchPage({
        tile: sheet.tile,
        namesNow: sheet.namesNow,
        correctedDepthPpm: sheet.correctedDepthPpm,
        recipeId: formula.recipe.id,
        revisionNumber: formula.revision.number,
        dyeClass: sheet.dyeClass,
        components: sheet.components,
        containers: sheet.containers,
        lotId: swatch.lotId,
        lotNumber: sheet.lotNumber,
        dryMassMg: swatch.dryMassMg,
        madeByName: sheet.madeByName,
        cardPlace: swatch.cardPlace,
        note: swatch.note,
        archived: swatch.archivedAt !== null,
        ...screenNotes(sheet),
        readings: sheet.readings,
        lots: atDepthDyed(db, lotsFromSwatch(db, swatch.id)),
        ...neighboursOf(db, swatch, sheet.tile.lab),
        repeatForm: repeat.form,
        weighUp: repeat.part,
        readingForm,
        mayWork: mayWork(request),
        show: showOf(db),
      }),
    };
  };

  const repeatPart = (sheet: SwatchSheet, typed: Record<string, string>) => {
    const read = RepeatForm.safeParse(typed);
    const result = read.success
      ? repeatOf(
          db,
          { revision: sheet.formula, method: sheet.method },
          { massMg: read.data.mass, fibreId: read.data.fibreId, depthPpm: read.data.depth },
        )
      : null;
    const errors = read.success ? {} : zodFieldErrors(read.error);
    const plan = new URLSearchParams({
      swatchId: String(sheet.swatch.id),
      depth: typed['depth'] ?? '',
      fibreId: typed['fibreId'] ?? '',
      mass: typed['mass'] ?? '',
    });
    const predicted = new URLSearchParams({
      revisionId: String(sheet.swatch.revisionId),
      methodId: String(sheet.swatch.methodId),
      fibreId: typed['fibreId'] ?? '',
      depth: typed['depth'] ?? '',
    });
    return {
      refused: !read.success,
      form: repeatForm({ swatchId: sheet.swatch.id, form: { typed, errors }, fibres: fibreOptions() }),
      part: weighUp({
        result,
        errors,
        planHref: `/lots/new?${plan}`,
        predictedHref: `/colour/predicted?${predicted}`,
        show: showOf(db),
      }),
    };
  };

  app.get('/swatches/:id', { config: { may: 'look' }, schema: { params: idParams } }, async (request, reply) =>
    sendPage(
      request,
      reply,
      showPage(request, swatchSheet(db, request.params.id), { typed: READING_DEFAULTS, errors: {} }),
    ),
  );

  app.get(
    '/swatches/:id/weigh-up',
    { config: { may: 'look' }, schema: { params: idParams } },
    async (request, reply) => {
      const sheet = swatchSheet(db, request.params.id);
      const { form, part, refused } = repeatPart(sheet, typedBody(request.query));
      return sendPage(request, reply, {
        status: refused ? 422 : 200,
        title: `Repeat ${sheet.swatch.name}`,
        section: 'swatches',
        part,
        body: weighUpPage({ swatchId: sheet.swatch.id, title: sheet.swatch.name, form, part }),
      });
    },
  );

  app.post(
    '/swatches/:id/readings',
    { config: { may: 'work' }, schema: { params: idParams } },
    async (request, reply) => {
      const sheet = swatchSheet(db, request.params.id);
      return submitForm(request, reply, {
        schema: ReadingForm,
        shape: withReadings,
        save: (input) => {
          const { inputs, errors } = typedReadings(input);
          if (Object.keys(errors).length > 0) throw invalid(errors);
          if (inputs.length === 0) throw invalid({ 'colour.0': 'Type at least one colour.' });
          recordReadings(db, { swatchId: sheet.swatch.id }, inputs, actorOf(request), deps.now());
          return `/swatches/${sheet.swatch.id}#readings`;
        },
        again: (form) => showPage(request, sheet, form),
      });
    },
  );

  const editPage = (id: number, form: FormState): Rendering => {
    const swatch = swatchById(db, id);
    if (!swatch) throw notFound('swatch');
    return {
      title: `Edit ${swatch.name}`,
      section: 'swatches',
      body: editSwatchForm({ form, swatchId: id, name: swatch.name, photoId: swatch.photoId }),
    };
  };

  app.get('/swatches/:id/edit', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) => {
    const { id } = request.params;
    const swatch = swatchById(db, id);
    if (!swatch) throw notFound('swatch');
    const typed = {
      name: swatch.name,
      cardPlace: swatch.cardPlace,
      note: swatch.note,
      rating: swatch.rating === null ? '' : String(swatch.rating),
      archived: swatch.archivedAt === null ? '' : 'yes',
      version: String(swatch.version),
    };
    return sendPage(request, reply, editPage(id, { typed, errors: {} }));
  });

  app.post('/swatches/:id', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) => {
    const { id } = request.params;
    const swatch = swatchById(db, id);
    if (!swatch) throw notFound('swatch');
    const upload = await readMultipart(request);
    return submitForm(request, reply, {
      schema: SwatchEditForm,
      save: async (input) => {
        const { name, cardPlace, note, rating, version, dropPhoto } = input;
        const saved = await withPhoto(deps, pictureOf(upload), actorOf(request), (sent) => {
          const photoId = sent ?? (dropPhoto ? null : swatch.photoId);
          const edit = { name, cardPlace, note, rating, version, photoId, archived: input.archived === 'yes' };
          return editSwatch(db, id, edit, deps.now());
        });
        return `/swatches/${saved.id}`;
      },
      again: (form) => editPage(id, form),
    });
  });

  app.get('/swatches/:id/card', { config: { may: 'look' }, schema: { params: idParams } }, async (request, reply) => {
    const sheet = swatchSheet(db, request.params.id);
    const { swatch } = sheet;
    const address = `${request.protocol}://${request.host}/swatches/${swatch.id}`;
    return sendPage(request, reply, {
      title: `Card ${swatch.code}`,
      section: 'swatches',
      shape: 'paper',
      body: swatchCard({
        tile: sheet.tile,
        revisionNumber: sheet.formula.revision.number,
        components: sheet.components,
        containers: sheet.containers,
        readings: sheet.readings.filter((r) => r.withdrawnAt === null),
        cardPlace: swatch.cardPlace,
        note: swatch.note,
        madeByName: sheet.madeByName,
        address,
        qrSvg: renderSVG(address),
      }),
    });
  });
}

const READING_DEFAULTS = { readingSource: 'instrument', illuminant: 'D65', observer: '10' };

const mayWork = (request: FastifyRequest): boolean => allows(request.actor, 'work');

/** What to say beside the colour: whether the screen can show it, and whether it was adapted to the screen's white. */
const screenNotes = (sheet: SwatchSheet): { inGamut: boolean; adapted: boolean } => {
  const shown = sheet.readings.filter(
    (r) => r.withdrawnAt === null && sheet.tile.bands.some((band) => band.hex === r.hex),
  );
  return { inGamut: shown.every((r) => r.inGamut), adapted: shown.some((r) => r.adapted) };
};

/** The picture of a form; undefined when none was chosen. */
const pictureOf = (upload: Upload): Buffer | undefined => upload.files.find((f) => f.field === 'photo')?.buffer;
