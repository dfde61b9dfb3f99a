import { dyesPage } from '../../../views/dyes/list.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { allows } from '../../people/guards.ts';
import { showOf } from '../../settings/show.ts';
import { today } from '../../settings/today.ts';
import { archivedDyes, listDyes } from '../queries.ts';

export const showDyes = page({
  show: (deps, { request, reply }) =>
    sendPage(request, reply, {
      title: 'Dyes',
      section: 'dyes',
      body: dyesPage({
        dyes: listDyes(deps.db),
        archived: archivedDyes(deps.db),
        mayWork: allows(request.actor, 'work'),
        show: showOf(deps.db),
        todayOn: today(deps),
      }),
    }),
});
