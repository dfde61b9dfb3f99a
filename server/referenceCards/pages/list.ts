import { cardsPage } from '../../../views/referenceCards/list.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { allows } from '../../people/guards.ts';
import { cardProps } from '../present.ts';
import { listCards } from '../queries.ts';

export const showCards = page({
  show: ({ db }, { request, reply }) =>
    sendPage(request, reply, {
      title: 'Reference cards',
      section: 'swatches',
      body: cardsPage({ cards: listCards(db).map(cardProps), mayWork: allows(request.actor, 'work') }),
    }),
});
