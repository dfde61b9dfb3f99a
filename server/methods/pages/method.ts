import { methodPage } from '../../../views/methods/method.ts';
import { archivingPages } from '../../http/archiving.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { allows } from '../../people/guards.ts';
import { showOf } from '../../settings/show.ts';
import { idParams } from '../../typedFields.ts';
import { methodResource, theMethod } from '../present.ts';
import { lotCountOfMethod, swatchCountOfMethod } from '../queries.ts';
import { setMethodArchived } from '../saveMethod.ts';

export const showMethod = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => {
    const row = theMethod(db, params.id);
    return sendPage(request, reply, {
      title: row.method.name,
      section: 'methods',
      body: methodPage({
        method: methodResource(row),
        auxiliaryNames: new Map(row.auxiliaries.map(({ auxiliary }) => [auxiliary.id, auxiliary.name])),
        lotCount: lotCountOfMethod(db, params.id),
        swatchCount: swatchCountOfMethod(db, params.id),
        show: showOf(db),
        mayWork: allows(request.actor, 'work'),
      }),
    });
  },
});

export const { archive: archiveMethod, restore: restoreMethod } = archivingPages({
  at: '/methods',
  setArchived: setMethodArchived,
});
