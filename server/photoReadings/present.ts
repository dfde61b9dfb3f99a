import type { FastifyRequest } from 'fastify';
import { photoPage } from '../../views/photoReadings/photo.ts';
import { type PhotoResultProps, photoResult } from '../../views/photoReadings/result.ts';
import type { CardDefinition } from '../calc/colour/cardDefinitions.ts';
import type { Deps } from '../deps.ts';
import { found } from '../errors.ts';
import { carried, withQuery } from '../http/carried.ts';
import { readInput } from '../http/forms.ts';
import type { Rendering } from '../http/page.ts';
import { allows } from '../people/guards.ts';
import { photoById } from '../photos/queries.ts';
import { cardChoices, cardOf } from '../referenceCards/cards.ts';
import { photoSubject } from './keepPhotoReading.ts';
import { FLOW_NAMES, PhotoFlow, PLACE_NAMES } from './schemas.ts';

/** What the four handles are called: the card's corner patches, by name. */
const cornerNames = (card: CardDefinition): string[] =>
  card.columns < 2 || card.rows < 2
    ? ['upper left', 'upper right', 'lower right', 'lower left']
    : [0, card.columns - 1, card.columns * card.rows - 1, card.columns * (card.rows - 1)].map(
        (i) => card.patches[i]?.name ?? '',
      );

/** The page of a photo, with what was read of it where that is known already. */
export function photoRendering(
  deps: Deps,
  request: FastifyRequest,
  asked: { photoId: number; typed: Record<string, string>; result: PhotoResultProps | null },
): Rendering {
  const { photoId, typed, result } = asked;
  const { widthPx, heightPx } = found(photoById(deps.db, photoId), 'photo');
  const flow = readInput(PhotoFlow, typed);
  const card = cardOf(deps.db, flow);
  const subject = photoSubject(deps, flow);
  const entries = carried(typed, FLOW_NAMES);
  const withoutCard = entries.filter(([name]) => name !== 'card');
  return {
    title: subject ? `Colour of ${subject.name} from a photo` : 'Colour from a photo',
    section: subject && 'lotId' in subject.subject ? 'lots' : 'swatches',
    scripts: ['photoReading.js'],
    ...(result ? { part: photoResult(result) } : {}),
    body: photoPage({
      photoId,
      widthPx,
      heightPx,
      resultHref: withQuery(`/photo-readings/${photoId}/result`, [...entries, ...carried(typed, PLACE_NAMES)]),
      cornerNames: cornerNames(card),
      plainCard: card.columns < 2,
      cardSides: { columns: card.columns, rows: card.rows },
      cards: cardChoices(deps.db).map((c) => ({
        ...c,
        chosen: c.card === card.id,
        href: withQuery(`/photo-readings/${photoId}`, [...withoutCard, ['card', c.card]]),
      })),
      cardName: card.name,
      subject: subject && { name: subject.name, href: subject.href },
      againHref: withQuery('/photo-readings/new', entries),
      result,
      mayAddCards: allows(request.actor, 'work'),
    }),
  };
}
