import { z } from 'zod';
import { operation } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { addCard, archiveCard, demandCard } from '../cards.ts';
import { cardResource } from '../present.ts';
import { listCards } from '../queries.ts';
import { CardBody, CardResource } from '../schemas.ts';

export const listAllCards = operation({
  id: 'listReferenceCards',
  summary: 'Reference cards that the studio measured',
  answer: z.object({ cards: z.array(CardResource) }),
  run: ({ db }) => ({ cards: listCards(db).map(cardResource) }),
});

export const getCard = operation({
  id: 'getReferenceCard',
  summary: 'One of them',
  params: idParams,
  answer: CardResource,
  run: ({ db }, { params }) => cardResource(demandCard(db, params.id)),
});

export const addMeasuredCard = operation({
  id: 'addReferenceCard',
  summary: 'Add a card by its measured patches',
  description: 'A card is never changed: measured anew it is a new card, and the old one is put away.',
  body: CardBody,
  answer: CardResource,
  status: 201,
  run: ({ db, now }, { body: { patches, ...rest }, request }) => {
    const named = patches.map((p, i) => ({ ...p, name: p.name || `patch ${i + 1}` }));
    return cardResource(addCard(db, { ...rest, patches: named }, actorOf(request), now()));
  },
});

export const saveCard = operation({
  id: 'saveReferenceCard',
  summary: 'Put a card away, or take it out again',
  params: idParams,
  body: z.object({ archived: z.boolean() }),
  answer: CardResource,
  run: ({ db, now }, { params, body }) => cardResource(archiveCard(db, params.id, body.archived, now())),
});
