import type { FastifyRequest } from 'fastify';
import { photoPage } from '../../views/colour/photoPage.ts';
import { type PhotoResultProps, photoResult } from '../../views/colour/photoResult.ts';
import { photoStart } from '../../views/colour/photoStart.ts';
import type { FormState } from '../../views/kit/field.ts';
import type { CardDefinition } from '../calc/colour/cardDefinitions.ts';
import type { CardCorners } from '../calc/colour/cardFinding.ts';
import type { Point } from '../calc/colour/pixelImage.ts';
import { D50_2, D65_2 } from '../calc/colour/reading.ts';
import { adaptLab, srgbFromLab } from '../calc/colour/spaces.ts';
import type { Deps } from '../deps.ts';
import { invalid, notFound, Refusal } from '../errors.ts';
import type { App } from '../http/app.ts';
import { readInput, submitForm, typedBody } from '../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../http/page.ts';
import { readMultipart } from '../http/upload.ts';
import { actorOf, allows } from '../people/guards.ts';
import { photoById } from '../photos/queries.ts';
import { storePhoto } from '../photos/store.ts';
import { idParams } from '../typedFields.ts';
import { cardChoices, cardOf, USUAL_GREY_L } from './cards.ts';
import { demandMayKeep, keepPhotoReading, photoSubject } from './keepPhotoReading.ts';
import { nearHref } from './nearPages.ts';
import { keepReadingCopy, type ReadablePhoto, readablePhoto } from './photoCopies.ts';
import { patchMiddles, regionsOf, toPixels, toShares } from './photoPlaces.ts';
import { readPhoto } from './photoReader.ts';
import { goodsOf, type ReadCard, type ShownReading } from './photoReading.ts';
import { notFoundInWords, warningInWords } from './photoWords.ts';
import { PhotoFlow, PhotoPlaces } from './schemas.ts';
import { labText } from './standard.ts';

const FLOW_NAMES = ['card', 'greyL', 'swatchId', 'lotId'];
const PLACE_NAMES = ['corners', 'spots', 'area', 'bands'];

const kept = (typed: Record<string, string>, names: readonly string[]): [string, string][] =>
  names.flatMap((name): [string, string][] => (typed[name] ? [[name, typed[name]]] : []));
const withQuery = (path: string, entries: [string, string][]): string =>
  entries.length === 0 ? path : `${path}?${new URLSearchParams(entries)}`;

const sharesText = (points: readonly Point[]): string =>
  points.map((p) => `${p.x.toFixed(5)},${p.y.toFixed(5)}`).join(';');

/** Corners of the handles: the card's corner patches, by name. */
const cornerNames = (card: CardDefinition): string[] =>
  card.columns < 2 || card.rows < 2
    ? ['upper left', 'upper right', 'lower right', 'lower left']
    : [0, card.columns - 1, card.columns * card.rows - 1, card.columns * (card.rows - 1)].map(
        (i) => card.patches[i]?.name ?? '',
      );

const nearOf = (shown: ShownReading): string =>
  nearHref([
    ['colour', `${shown.lab.L.toFixed(2)} ${shown.lab.a.toFixed(2)} ${shown.lab.b.toFixed(2)}`],
    ['illuminant', shown.conditions.illuminant],
    ['observer', String(shown.conditions.observerDeg)],
    ['plusMinus', shown.plusMinus.toFixed(1)],
  ]);

const shownProps = (shown: ShownReading) => ({
  hex: shown.hex,
  inGamut: shown.inGamut,
  name: shown.name,
  plusMinus: shown.plusMinus,
  text: `${labText(shown.lab)}, D50/2°`,
  d65Text: `Adapted to D65/2° (Bradford, an estimate): ${labText(adaptLab({ lab: shown.lab, from: D50_2, to: D65_2, method: 'bradford' }))}`,
  nearHref: nearOf(shown),
});

export function photoPages(app: App, deps: Deps): void {
  const { db } = deps;

  const startPage = (form: FormState): Rendering => {
    const { typed } = form;
    const ids = PhotoFlow.pick({ swatchId: true, lotId: true }).safeParse(typed);
    const subject = ids.success ? photoSubject(deps, ids.data) : null;
    return {
      title: 'Colour from a photo',
      section: subject && 'lotId' in subject.subject ? 'lots' : 'swatches',
      scripts: ['photoReading.js'],
      body: photoStart({
        form,
        cards: cardChoices(db).map(({ card, name }) => ({ value: card, label: name })),
        subject: subject && { name: subject.name, href: subject.href },
        hidden: kept(typed, ['swatchId', 'lotId']),
      }),
    };
  };

  app.get('/photo-readings/new', { config: { may: 'log' } }, async (request, reply) =>
    sendPage(
      request,
      reply,
      startPage({
        typed: { card: 'chart24Since2014', greyL: String(USUAL_GREY_L), ...typedBody(request.query) },
        errors: {},
      }),
    ),
  );

  app.post('/photo-readings', { config: { may: 'log' } }, async (request, reply) => {
    const upload = await readMultipart(request);
    return submitForm(request, reply, {
      schema: PhotoFlow,
      save: async (flow, typed) => {
        demandMayKeep(photoSubject(deps, flow), actorOf(request));
        cardOf(db, flow);
        const file = upload.files.find((f) => f.field === 'photo');
        if (!file) throw invalid({ photo: 'Take or choose a photo first.' });
        const { id } = await storePhoto(deps, file.buffer, actorOf(request));
        await keepReadingCopy(deps, id, file.buffer);
        const entries = kept(typed, flow.card === 'greyCard' ? FLOW_NAMES : FLOW_NAMES.filter((n) => n !== 'greyL'));
        return withQuery(`/photo-readings/${id}`, entries);
      },
      again: startPage,
    });
  });

  const demandPhoto = (id: number) => {
    const photo = photoById(db, id);
    if (!photo) throw notFound('photo');
    return photo;
  };

  /** Reads the photo as the address says: the card, and what was pointed at. */
  const readAsAsked = async (id: number, typed: Record<string, string>) => {
    const asked = readInput(PhotoPlaces, typed);
    const card = cardOf(db, asked);
    const readable = await readablePhoto(deps, demandPhoto(id));
    const clusters =
      asked.bands === 'none' || asked.bands === 'auto' ? asked.bands : (Number(asked.bands) as 3 | 4 | 5 | 6);
    const corners = asked.corners?.map((p) => toPixels(p, readable)) as unknown as CardCorners | undefined;
    const { reading } = await readPhoto(readable.file, {
      card,
      corners: corners ?? 'find',
      regions: regionsOf({ ...asked, clusters }, readable),
    });
    return { asked, card, readable, reading };
  };

  const resultProps = async (
    request: FastifyRequest,
    id: number,
    typed: Record<string, string>,
  ): Promise<PhotoResultProps> => {
    const { asked, card, readable, reading } = await readAsAsked(id, typed);
    const subject = photoSubject(deps, asked);
    if (reading.outcome === 'cornersNeeded') {
      return { outcome: 'cornersNeeded', message: notFoundInWords(reading.reason), copyWords: copyWords(readable) };
    }
    const goods = goodsOf(reading);
    return {
      outcome: 'read',
      corners: sharesText(reading.corners.map((p) => toShares(p, readable))),
      patchPlaces: sharesText(patchMiddles(card, reading.corners).map((p) => toShares(p, readable))),
      cornersFrom: reading.cornersFrom,
      cardName: card.name,
      heldOutMedian: reading.heldOutMedian,
      uncorrectedMedian: reading.uncorrectedMedian,
      patches: patchProps(reading),
      warnings: reading.warnings.map((w) => ({
        words: warningInWords(w),
        bad: w.code === 'poorFit',
        note: NOTES.has(w.code),
      })),
      goods: goods && {
        ...shownProps(goods),
        spread: goods.spread,
        between: goods.between,
        places: goods.places.map(shownProps),
        bands: goods.bands.map((b) => ({ ...shownProps(b), areaSharePct: b.areaSharePct })),
      },
      keep:
        goods && subject && mayKeep(request, subject)
          ? {
              action: `/photo-readings/${id}/keeping`,
              name: subject.name,
              hidden: kept(typed, [...FLOW_NAMES, ...PLACE_NAMES]),
            }
          : null,
      copyWords: copyWords(readable),
    };
  };

  const pageOf = (
    request: FastifyRequest,
    id: number,
    typed: Record<string, string>,
    result: PhotoResultProps | null,
  ): Rendering => {
    const photo = demandPhoto(id);
    const flow = readInput(PhotoFlow, typed);
    const card = cardOf(db, flow);
    const subject = photoSubject(deps, flow);
    const entries = kept(typed, FLOW_NAMES);
    return {
      title: subject ? `Colour of ${subject.name} from a photo` : 'Colour from a photo',
      section: subject && 'lotId' in subject.subject ? 'lots' : 'swatches',
      scripts: ['photoReading.js'],
      ...(result ? { part: photoResult(result) } : {}),
      body: photoPage({
        photoId: id,
        widthPx: photo.widthPx,
        heightPx: photo.heightPx,
        resultHref: withQuery(`/photo-readings/${id}/result`, [...entries, ...kept(typed, PLACE_NAMES)]),
        cornerNames: cornerNames(card),
        plainCard: card.columns < 2,
        cardSides: { columns: card.columns, rows: card.rows },
        cards: cardChoices(db).map((c) => ({
          ...c,
          chosen: c.card === card.id,
          href: withQuery(`/photo-readings/${id}`, [...entries.filter(([n]) => n !== 'card'), ['card', c.card]]),
        })),
        cardName: card.name,
        subject: subject && { name: subject.name, href: subject.href },
        againHref: withQuery('/photo-readings/new', entries),
        result,
        mayAddCards: allows(request.actor, 'work'),
      }),
    };
  };

  app.get('/photo-readings/:id', { config: { may: 'log' }, schema: { params: idParams } }, async (request, reply) =>
    sendPage(request, reply, pageOf(request, request.params.id, typedBody(request.query), null)),
  );

  app.get(
    '/photo-readings/:id/result',
    { config: { may: 'log' }, schema: { params: idParams } },
    async (request, reply) => {
      const typed = typedBody(request.query);
      const { id } = request.params;
      return sendPage(request, reply, pageOf(request, id, typed, await resultProps(request, id, typed)));
    },
  );

  app.post(
    '/photo-readings/:id/keeping',
    { config: { may: 'log' }, schema: { params: idParams } },
    async (request, reply) => {
      const { id } = request.params;
      const { asked, card, reading } = await readAsAsked(id, typedBody(request.body));
      const subject = photoSubject(deps, asked);
      if (!subject) throw invalid({ swatchId: 'Say on which swatch or lot to keep it.' });
      demandMayKeep(subject, actorOf(request));
      if (reading.outcome !== 'read') throw new Refusal('invalidInput', notFoundInWords(reading.reason));
      keepPhotoReading(deps, { subject: subject.subject, reading, card, photoId: id }, actorOf(request));
      return seeOther(reply, `${subject.href}#${'lotId' in subject.subject ? 'colour' : 'readings'}`);
    },
  );
}

/** Warnings that only tell how it was read; the others ask for something to be done. */
const NOTES: ReadonlySet<string> = new Set(['cardTurned', 'cornersReordered', 'cornersMoved', 'greyOnly']);

const mayKeep = (request: FastifyRequest, subject: NonNullable<ReturnType<typeof photoSubject>>): boolean =>
  allows(request.actor, 'swatchId' in subject.subject ? 'work' : 'log');

const copyWords = (readable: ReadablePhoto): string =>
  readable.asItCame
    ? ''
    : 'The photo as it came is not kept any longer; it is read from the smaller picture, a little less surely.';

/** Over this a patch stands out among the others of an ordinary photo. */
const PATCH_OFF = 6;

const patchProps = (reading: ReadCard) =>
  reading.patches.map((patch) => ({
    name: patch.name,
    hex: srgbFromLab({ lab: patch.known, conditions: reading.conditions }).hex,
    photoHex: srgbFromLab({ lab: patch.uncorrected, conditions: reading.conditions }).hex,
    heldOutDeltaE: patch.heldOutDeltaE,
    off: (patch.heldOutDeltaE ?? 0) > PATCH_OFF,
  }));
