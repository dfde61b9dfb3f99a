import { auxiliariesPage } from '../../../views/auxiliaries/list.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { allows } from '../../people/guards.ts';
import { showOf } from '../../settings/show.ts';
import { today } from '../../settings/today.ts';
import { listAuxiliaries } from '../present.ts';
import { archivedAuxiliaries } from '../queries.ts';

export const showAuxiliaries = page({
  show: (deps, { request, reply }) =>
    sendPage(request, reply, {
      title: 'Auxiliaries',
      section: 'auxiliaries',
      body: auxiliariesPage({
        auxiliaries: listAuxiliaries(deps.db),
        archived: archivedAuxiliaries(deps.db),
        mayWork: allows(request.actor, 'work'),
        show: showOf(deps.db),
        todayOn: today(deps),
      }),
    }),
});
