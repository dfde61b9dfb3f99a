import type { CardDefinition } from '../../calc/colour/cardDefinitions.ts';
import { D50_2, D65_2, keptConditions, keptLab } from '../../calc/colour/reading.ts';
import type { Region } from '../../calc/colour/regions.ts';
import { adaptLab } from '../../calc/colour/spaces.ts';
import { operation } from '../../http/routes.ts';
import { readUpload } from '../../http/upload.ts';
import { actorOf } from '../../people/guards.ts';
import { storePhoto } from '../../photos/store.ts';
import { readingResource } from '../../readings/display.ts';
import { cardOf } from '../../referenceCards/cards.ts';
import { demandMayKeep, keepPhotoReading, photoSubject } from '../keepPhotoReading.ts';
import { uprightSize } from '../photoCopies.ts';
import { patchMiddles, spotRadiusPx } from '../photoPlaces.ts';
import { type PhotoReading, readPhoto } from '../photoReader.ts';
import { type GoodsReading, goodsOf, type ReadCard, type ShownReading, shownReading } from '../photoReading.ts';
import { notFoundInWords, warningInWords } from '../photoWords.ts';
import { type PhotoReadingAnswer, PhotoReadingFields, PhotoReadingResource } from '../schemas.ts';

const shownResource = ({ lab, conditions, hex, inGamut, name, plusMinus }: ShownReading) => ({
  hex,
  inGamut,
  name,
  plusMinus,
  lab: keptLab(lab),
  labD65: keptLab(adaptLab({ lab, from: conditions, to: D65_2, method: 'bradford' })),
});

const goodsResource = (goods: GoodsReading) => ({
  ...shownResource(goods),
  spread: goods.spread,
  between: goods.between,
});

/** What a photo says, before anything of it is kept. */
type WhatWasRead = Omit<PhotoReadingAnswer, 'photoId' | 'readings'>;

const NOT_READ = {
  corners: null,
  cornersFrom: null,
  confidence: null,
  turnedDeg: null,
  residuals: null,
  patches: [],
  warnings: [],
  regions: [],
  goods: null,
} satisfies Partial<WhatWasRead>;

function whatWasRead(card: CardDefinition, reading: ReadCard) {
  const middles = patchMiddles(card, reading.corners);
  const goods = goodsOf(reading);
  return {
    outcome: reading.outcome,
    reason: null,
    message:
      reading.cornersFrom === 'found' ? 'The card was found and read.' : 'The card was read at the given corners.',
    corners: reading.corners.map(({ x, y }) => ({ x, y })),
    cornersFrom: reading.cornersFrom,
    confidence: reading.confidence,
    turnedDeg: reading.turnedDeg,
    residuals: {
      heldOutMedian: reading.heldOutMedian,
      heldOutP90: reading.heldOutP90,
      uncorrectedMedian: reading.uncorrectedMedian,
    },
    patches: reading.patches.map((patch, i) => ({
      ...patch,
      known: keptLab(patch.known),
      uncorrected: keptLab(patch.uncorrected),
      middle: middles[i] ?? { x: 0, y: 0 },
    })),
    warnings: reading.warnings.map((w) => ({ ...w, message: warningInWords(w) })),
    regions: reading.regions.map((r) => ({
      ...shownResource(shownReading(r.lab, reading.conditions, r.plusMinus)),
      labD65: keptLab(r.labD65),
      spread: r.spread,
      clippedPct: r.clippedPct,
      pixels: r.pixels,
      clusters: r.clusters.map(({ lab, plusMinus, ...c }) => ({
        ...c,
        ...shownResource(shownReading(lab, D50_2, plusMinus)),
      })),
    })),
    goods: goods && goodsResource(goods),
  };
}

const resourceOf = ({ widthPx, heightPx, reading }: PhotoReading, card: CardDefinition): WhatWasRead => ({
  widthPx,
  heightPx,
  card: { card: card.id, name: card.name, columns: card.columns, rows: card.rows },
  conditions: keptConditions(D50_2),
  ...(reading.outcome === 'read'
    ? whatWasRead(card, reading)
    : { ...NOT_READ, outcome: reading.outcome, reason: reading.reason, message: notFoundInWords(reading.reason) }),
});

const PHOTO = { file: 'photo', of: 'a picture that also holds the card', fields: PhotoReadingFields };

export const readUploadedPhoto = operation({
  id: 'readPhoto',
  summary: 'Read colours from a photo that also holds a reference card',
  description: [
    'Places are in pixels of the upright photo as it came (turned by its own orientation mark), x to the right, y down, the centre of the first pixel (0, 0).',
    '`card`: chart24Since2014 (the default), chart24Before2014, greyCard (with `greyL`, its L*), or studio-N of /reference-cards.',
    '`corners` (JSON, optional): the middles of the four corner patches as [{"x":…,"y":…} × 4] or [[x,y] × 4]: upper left, upper right, lower right, lower left of the card as its maker draws it; in another order or turn they are put right by the colours. Of a plain grey card: the corners of its even area. Without corners the card is looked for; outcome `cornersNeeded` says why it was not found.',
    '`regions` (JSON, optional): a list of {"kind":"spot","x":…,"y":…,"radiusPx":…} and {"kind":"area","outline":[[x,y],…]}, each with "clusters" none, auto or 3 to 6 for variegated goods.',
    '`swatchId` or `lotId` (optional): keeps photo and reading there.',
  ].join('\n\n'),
  upload: PHOTO,
  answer: PhotoReadingResource,
  run: async (deps, { request }) => {
    const { content: photo, fields: asked } = await readUpload(request, PHOTO);
    const by = actorOf(request);
    const subject = photoSubject(deps, asked);
    demandMayKeep(subject, by);
    const card = cardOf(deps.db, asked);
    const usualRadiusPx = spotRadiusPx(await uprightSize(photo));
    const regions = asked.regions.map(
      (r): Region => (r.kind === 'spot' ? { ...r, radiusPx: r.radiusPx ?? usualRadiusPx } : r),
    );
    const read = await readPhoto(photo, { card, corners: asked.corners ?? 'find', regions });
    const resource = resourceOf(read, card);
    if (!subject || read.reading.outcome !== 'read') return { ...resource, photoId: null, readings: [] };
    const { id: photoId } = await storePhoto(deps, photo, by);
    const rows = keepPhotoReading(deps, { subject: subject.subject, reading: read.reading, card, photoId }, by);
    return { ...resource, photoId, readings: rows.map(readingResource) };
  },
});
