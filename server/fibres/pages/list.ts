import { fibresPage } from '../../../views/fibres/list.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { showOf } from '../../settings/show.ts';
import { listFibres } from '../queries.ts';

export const showFibres = page({
  show: ({ db }, { request, reply }) =>
    sendPage(request, reply, {
      title: 'Fibres',
      section: 'fibres',
      body: fibresPage({ fibres: listFibres(db), show: showOf(db) }),
    }),
});
