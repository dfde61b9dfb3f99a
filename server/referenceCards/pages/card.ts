import { cardPage } from '../../../views/referenceCards/card.ts';
import { seeOther, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { allows } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import * as cards from '../cards.ts';
import { cardProps } from '../present.ts';

export const showCard = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => {
    const row = cards.demandCard(db, params.id);
    return sendPage(request, reply, {
      title: row.name,
      section: 'swatches',
      body: cardPage({
        ...cardProps(row),
        mayWork: allows(request.actor, 'work'),
        mayLog: allows(request.actor, 'log'),
      }),
    });
  },
});

const archiving = (archived: boolean) =>
  page({
    params: idParams,
    show: ({ db, now }, { params, reply }) => {
      cards.archiveCard(db, params.id, archived, now());
      return seeOther(reply, `/reference-cards/${params.id}`);
    },
  });
export const archiveCard = archiving(true);
export const restoreCard = archiving(false);
