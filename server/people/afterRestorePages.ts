import { emptyForm, type FormState } from '../../views/kit/field.ts';
import { afterRestorePage, restoredDoor } from '../../views/people/afterRestore.ts';
import type { Deps } from '../deps.ts';
import type { App } from '../http/app.ts';
import { submitForm } from '../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../http/page.ts';
import { theStudio } from '../settings/queries.ts';
import { showOf } from '../settings/show.ts';
import { activeOwners, openRestored, settleStandings, waitsForOwner } from './afterRestore.ts';
import { latestRestore, peopleOverview, standingsOf } from './queries.ts';
import { RestoredStudioForm } from './schemas.ts';
import { setSignInCookie } from './signInRoutes.ts';

/** The way into a studio that came out of an archive, and what its owner has to see there first. */
export function afterRestorePages(app: App, deps: Deps): void {
  const { db } = deps;

  const door = (form: FormState): Rendering => ({
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

  app.get('/after-restore', { config: { may: 'anyone' } }, async (request, reply) =>
    waitsForOwner(db) ? sendPage(request, reply, door(emptyForm)) : seeOther(reply, '/'),
  );

  app.post('/after-restore', { config: { may: 'anyone', audit: 'always' } }, async (request, reply) => {
    if (!waitsForOwner(db)) return seeOther(reply, '/');
    return submitForm(request, reply, {
      schema: RestoredStudioForm,
      save: async (input) => {
        const token = await openRestored(deps, input, request.headers['user-agent'] ?? '');
        request.audited = { personId: input.ownerId, detail: 'the restored studio was opened' };
        setSignInCookie(request, reply, token);
        return '/people/after-restore';
      },
      again: door,
    });
  });

  app.get('/people/after-restore', { config: { may: 'own' } }, async (request, reply) => {
    const restore = latestRestore(db) ?? null;
    return sendPage(request, reply, {
      title: 'After a restore',
      section: 'settings',
      body: afterRestorePage({
        restore,
        standings: restore ? standingsOf(db, restore.id) : [],
        shutOut: peopleOverview(db, deps.now()).filter(
          (p) => p.active === 1 && !p.hasPassphrase && p.liveSignIns === 0,
        ),
        show: showOf(db),
      }),
    });
  });

  app.post('/people/after-restore/settlement', { config: { may: 'own' } }, async (_request, reply) => {
    settleStandings(deps);
    return seeOther(reply, '/people');
  });
}
