import { dyePage } from '../../../views/dyes/dye.ts';
import { puttingAway } from '../../http/archiving.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { allows } from '../../people/guards.ts';
import { showOf } from '../../settings/show.ts';
import { today } from '../../settings/today.ts';
import { idParams } from '../../typedFields.ts';
import { theDye, usesOfDye } from '../present.ts';
import { closedContainerCountOfDye, openContainersOfDye, setDyeArchived } from '../queries.ts';
import { formPage } from './form.ts';

export const showDye = page({
  params: idParams,
  show: (deps, { params, request, reply }) => {
    const { db } = deps;
    const dye = theDye(db, params.id);
    return sendPage(request, reply, {
      title: dye.name,
      section: 'dyes',
      body: dyePage({
        dye,
        containers: openContainersOfDye(db, dye.dyeId),
        closedCount: closedContainerCountOfDye(db, dye.dyeId),
        ...usesOfDye(db, dye.dyeId),
        mayWork: allows(request.actor, 'work'),
        show: showOf(db),
        todayOn: today(deps),
      }),
    });
  },
});

export const putDyeAway = puttingAway({ at: '/dyes', find: theDye, setArchived: setDyeArchived, again: formPage });
