import { z } from 'zod';
import type { ReferenceCardRow } from '../db/tables/swatches.ts';
import type { Deps } from '../deps.ts';
import type { App } from '../http/app.ts';
import { actorOf } from '../people/guards.ts';
import { idParams } from '../typedFields.ts';
import { addCard, archiveCard, cardAdaptation, demandCard } from './cards.ts';
import { listCards } from './queries.ts';
import { CardBody, CardResource } from './schemas.ts';

const resource = ({ id, madeAt: _at, madeBy: _by, archivedAt, ...row }: ReferenceCardRow) => ({
  ...row,
  cardId: id,
  card: `studio-${id}`,
  archived: archivedAt !== null,
  adaptation: cardAdaptation({ ...row, id, madeAt: _at, madeBy: _by, archivedAt }),
});

export function cardApi(app: App, deps: Deps): void {
  const { db } = deps;
  const tags = ['Reference cards'];
  app.get(
    '/reference-cards',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'listReferenceCards',
        tags,
        summary: 'Reference cards that the studio measured',
        response: { 200: z.object({ cards: z.array(CardResource) }) },
      },
    },
    async () => ({ cards: listCards(db).map(resource) }),
  );
  app.get(
    '/reference-cards/:id',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'getReferenceCard',
        tags,
        summary: 'One of them',
        params: idParams,
        response: { 200: CardResource },
      },
    },
    async (request) => resource(demandCard(db, request.params.id)),
  );
  app.post(
    '/reference-cards',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'addReferenceCard',
        tags,
        summary: 'Add a card by its measured patches',
        description: 'A card is never changed: measured anew it is a new card, and the old one is put away.',
        body: CardBody,
        response: { 201: CardResource },
      },
    },
    async (request, reply) => {
      const { patches, ...rest } = request.body;
      const named = patches.map((p, i) => ({ ...p, name: p.name || `patch ${i + 1}` }));
      const row = addCard(db, { ...rest, patches: named }, actorOf(request), deps.now());
      reply.code(201);
      return resource(row);
    },
  );
  app.put(
    '/reference-cards/:id',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'saveReferenceCard',
        tags,
        summary: 'Put a card away, or take it out again',
        params: idParams,
        body: z.object({ archived: z.boolean() }),
        response: { 200: CardResource },
      },
    },
    async (request) => resource(archiveCard(db, request.params.id, request.body.archived, deps.now())),
  );
}
