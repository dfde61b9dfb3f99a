import type { FormState } from '../../../views/kit/field.ts';
import { afterRestorePage, restoredDoor } from '../../../views/people/afterRestore.ts';
import type { Db } from '../../db/open.ts';
import { submitForm } from '../../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { theStudio } from '../../settings/queries.ts';
import { showOf } from '../../settings/show.ts';
import { activeOwners, openRestored, settleStandings, waitsForOwner } from '../afterRestore.ts';
import { letIn } from '../cookies.ts';
import { latestRestore, peopleOverview, standingsOf } from '../queries.ts';
import { CodeQuery, RestoredStudioForm } from '../schemas.ts';

/* The way into a studio that came out of an archive, and what its owner has to see there first. */

const door = (db: Db, form: FormState): Rendering => ({
  title: 'After a restore',
  section: 'none',
  shape: 'door',
  body: restoredDoor({
    form: { ...form, typed: { ...form.typed, passphrase: '' } },
    studioName: theStudio(db).name,
    owners: activeOwners(db).map(({ id, name }) => ({ id, name })),
    archiveMadeAt: latestRestore(db)?.archiveMadeAt ?? null,
    show: showOf(db),
  }),
});

export const showDoor = page({
  query: CodeQuery,
  show: ({ db }, { query, request, reply }) =>
    waitsForOwner(db) ? sendPage(request, reply, door(db, { typed: query, errors: {} })) : seeOther(reply, '/'),
});

export const openStudio = page({
  audit: 'always',
  show: (deps, { request, reply }) => {
    if (!waitsForOwner(deps.db)) return seeOther(reply, '/');
    return submitForm(request, reply, {
      schema: RestoredStudioForm,
      save: async (input) => {
        await openRestored(deps, { ...input, address: request.ip });
        request.audited = { personId: input.ownerId, detail: 'the restored studio was opened' };
        letIn(deps, request, reply, input.ownerId);
        return '/people/after-restore';
      },
      again: (form) => door(deps.db, form),
    });
  },
});

export const showStandings = page({
  show: ({ db, now }, { request, reply }) => {
    const restore = latestRestore(db) ?? null;
    return sendPage(request, reply, {
      title: 'After a restore',
      section: 'settings',
      body: afterRestorePage({
        restore,
        standings: restore ? standingsOf(db, restore.id) : [],
        shutOut: peopleOverview(db, now()).filter((p) => p.active === 1 && !p.hasPassphrase && p.liveSignIns === 0),
        show: showOf(db),
      }),
    });
  },
});

export const settle = page({
  show: (deps, { reply }) => {
    settleStandings(deps);
    return seeOther(reply, '/people');
  },
});
