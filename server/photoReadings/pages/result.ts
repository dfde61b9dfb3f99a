import type { FastifyRequest } from 'fastify';
import type { PhotoResultProps, ShownColour } from '../../../views/photoReadings/result.ts';
import type { Point } from '../../calc/colour/pixelImage.ts';
import { D50_2, D65_2, keptConditions } from '../../calc/colour/reading.ts';
import { adaptLab, srgbFromLab } from '../../calc/colour/spaces.ts';
import type { Deps } from '../../deps.ts';
import { carried } from '../../http/carried.ts';
import { readInput, typedBody } from '../../http/forms.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { nearHref } from '../../near/standard.ts';
import { allows } from '../../people/guards.ts';
import { labText } from '../../readings/display.ts';
import { idParams } from '../../typedFields.ts';
import { type PhotoSubject, photoSubject } from '../keepPhotoReading.ts';
import type { ReadablePhoto } from '../photoCopies.ts';
import { patchMiddles, toShares } from '../photoPlaces.ts';
import { type GoodsReading, goodsOf, type ReadCard, type ShownReading } from '../photoReading.ts';
import { notFoundInWords, warningInWords } from '../photoWords.ts';
import { photoRendering } from '../present.ts';
import { readAsAsked } from '../readAsAsked.ts';
import { FLOW_NAMES, PhotoPlaces, PLACE_NAMES } from '../schemas.ts';

/** Warnings that only tell how the photo was read; the others ask for something to be done. */
const NOTES: ReadonlySet<string> = new Set(['cardTurned', 'cornersReordered', 'cornersMoved', 'greyOnly']);
/** Beyond this (CIEDE2000) a patch stands out among the others of an ordinary photo. */
const PATCH_OFF = 6;

const sharesText = (points: readonly Point[]): string =>
  points.map((p) => `${p.x.toFixed(5)},${p.y.toFixed(5)}`).join(';');

const mayKeep = (request: FastifyRequest, { subject }: PhotoSubject): boolean =>
  allows(request.actor, 'swatchId' in subject ? 'work' : 'log');

const copyWords = (readable: ReadablePhoto): string =>
  readable.asItCame
    ? ''
    : 'The photo as it came is not kept any longer; it is read from the smaller picture, a little less surely.';

const shownColour = ({ lab, conditions, hex, inGamut, name, plusMinus }: ShownReading): ShownColour => {
  const { illuminant, observer } = keptConditions(conditions);
  const underD65 = adaptLab({ lab, from: D50_2, to: D65_2, method: 'bradford' });
  return {
    hex,
    inGamut,
    name,
    plusMinus,
    text: `${labText(lab)}, D50/2°`,
    d65Text: `Adapted to D65/2° (Bradford, an estimate): ${labText(underD65)}`,
    nearHref: nearHref([
      ['colour', `${lab.L.toFixed(2)} ${lab.a.toFixed(2)} ${lab.b.toFixed(2)}`],
      ['illuminant', illuminant],
      ['observer', observer],
      ['plusMinus', plusMinus.toFixed(1)],
    ]),
  };
};

const goodsProps = (goods: GoodsReading) => ({
  ...shownColour(goods),
  spread: goods.spread,
  between: goods.between,
  places: goods.places.map(shownColour),
  bands: goods.bands.map((b) => ({ ...shownColour(b), areaSharePct: b.areaSharePct })),
});

const patchProps = ({ patches, conditions }: ReadCard) =>
  patches.map(({ name, known, uncorrected, heldOutDeltaE }) => ({
    name,
    hex: srgbFromLab({ lab: known, conditions }).hex,
    photoHex: srgbFromLab({ lab: uncorrected, conditions }).hex,
    heldOutDeltaE,
    off: (heldOutDeltaE ?? 0) > PATCH_OFF,
  }));

async function resultProps(
  deps: Deps,
  request: FastifyRequest,
  photoId: number,
  typed: Record<string, string>,
): Promise<PhotoResultProps> {
  const asked = readInput(PhotoPlaces, typed);
  const { card, readable, reading } = await readAsAsked(deps, photoId, asked);
  const subject = photoSubject(deps, asked);
  if (reading.outcome === 'cornersNeeded')
    return { outcome: 'cornersNeeded', message: notFoundInWords(reading.reason), copyWords: copyWords(readable) };
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
    goods: goods && goodsProps(goods),
    keep:
      goods && subject && mayKeep(request, subject)
        ? {
            action: `/photo-readings/${photoId}/keeping`,
            name: subject.name,
            hidden: carried(typed, [...FLOW_NAMES, ...PLACE_NAMES]),
          }
        : null,
    copyWords: copyWords(readable),
  };
}

export const showResult = page({
  params: idParams,
  show: async (deps, { params: { id: photoId }, request, reply }) => {
    const typed = typedBody(request.query);
    const result = await resultProps(deps, request, photoId, typed);
    return sendPage(request, reply, photoRendering(deps, request, { photoId, typed, result }));
  },
});
