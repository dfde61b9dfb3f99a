import { cardForm, cardPage, cardsPage } from '../../views/colour/referenceCards.ts';
import type { FormState } from '../../views/kit/field.ts';
import { srgbFromLab } from '../calc/colour/spaces.ts';
import type { ReferenceCardRow } from '../db/tables/swatches.ts';
import type { Deps } from '../deps.ts';
import type { App } from '../http/app.ts';
import { submitForm } from '../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../http/page.ts';
import { actorOf, allows } from '../people/guards.ts';
import { idParams } from '../typedFields.ts';
import { addCard, archiveCard, cardAdaptation, demandCard, typedPatches } from './cards.ts';
import { conditionsOf, readingText } from './display.ts';
import { listCards } from './queries.ts';
import { CardForm } from './schemas.ts';

const propsOf = (row: ReferenceCardRow) => ({
  cardId: row.id,
  name: row.name,
  columns: row.columns,
  rows: row.rows,
  note: row.note,
  archived: row.archivedAt !== null,
  adaptation: cardAdaptation(row),
  patches: row.patches.map(({ name, l, a, b }) => ({
    name,
    hex: srgbFromLab({ lab: { L: l, a, b }, conditions: conditionsOf(row) }).hex,
    text: readingText({ l, a, b, illuminant: row.illuminant, observer: row.observer }),
  })),
});

export function cardPages(app: App, deps: Deps): void {
  const { db } = deps;

  app.get('/reference-cards', { config: { may: 'look' } }, async (request, reply) =>
    sendPage(request, reply, {
      title: 'Reference cards',
      section: 'swatches',
      body: cardsPage({ cards: listCards(db).map(propsOf), mayWork: allows(request.actor, 'work') }),
    }),
  );

  const newPage = (form: FormState): Rendering => ({
    title: 'New reference card',
    section: 'swatches',
    body: cardForm({ form }),
  });

  app.get('/reference-cards/new', { config: { may: 'work' } }, async (request, reply) =>
    sendPage(
      request,
      reply,
      newPage({ typed: { illuminant: 'D50', observer: '2', columns: '6', rows: '4' }, errors: {} }),
    ),
  );

  app.post('/reference-cards', { config: { may: 'work' } }, async (request, reply) =>
    submitForm(request, reply, {
      schema: CardForm,
      save: (input) => {
        const patches = typedPatches(input.patches, input);
        return `/reference-cards/${addCard(db, { ...input, patches }, actorOf(request), deps.now()).id}`;
      },
      again: newPage,
    }),
  );

  app.get('/reference-cards/:id', { config: { may: 'look' }, schema: { params: idParams } }, async (request, reply) => {
    const row = demandCard(db, request.params.id);
    return sendPage(request, reply, {
      title: row.name,
      section: 'swatches',
      body: cardPage({ ...propsOf(row), mayWork: allows(request.actor, 'work'), mayLog: allows(request.actor, 'log') }),
    });
  });

  for (const [path, archived] of [
    ['archiving', true],
    ['restoring', false],
  ] as const) {
    app.post(
      `/reference-cards/:id/${path}`,
      { config: { may: 'work' }, schema: { params: idParams } },
      async (request, reply) => {
        archiveCard(db, request.params.id, archived, deps.now());
        return seeOther(reply, `/reference-cards/${request.params.id}`);
      },
    );
  }
}
