import { z } from 'zod';
import type { FormState } from '../../views/kit/field.ts';
import { signInDoor } from '../../views/people/doors.ts';
import type { Deps } from '../deps.ts';
import type { App } from '../http/app.ts';
import { submitForm } from '../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../http/page.ts';
import { NextPage, pagedByNumber, pageOf } from '../http/paging.ts';
import { findStudio } from '../settings/queries.ts';
import { accountPages } from './accountPages.ts';
import { waitsForOwner } from './afterRestore.ts';
import { afterRestorePages } from './afterRestorePages.ts';
import { doorPages } from './doorPages.ts';
import { SIGN_IN_COOKIE } from './guards.ts';
import { peoplePages } from './peoplePages.ts';
import { auditBefore, peopleOverview, personByName, revokeSignIn } from './queries.ts';
import { AuditEntryResource, PersonResource, SignInForm } from './schemas.ts';
import { signIn, tokenHash } from './signIn.ts';
import { setSignInCookie } from './signInRoutes.ts';

const AUDIT_PAGE = 100;

/** Only paths of ours: no scheme, no host, no backslash tricks. */
const ownPath = (to: string | undefined): string => (to && /^\/(?![/\\])[^\\\s]*$/.test(to) ? to : '/');

export function pages(app: App, deps: Deps): void {
  const door = (form: FormState, to: string): Rendering => ({
    title: 'Sign in',
    section: 'none',
    shape: 'door',
    body: signInDoor({ form, to, studioName: findStudio(deps.db)?.name ?? 'Lot & Shade' }),
  });

  app.get<{ Querystring: { to?: string } }>('/sign-in', { config: { may: 'anyone' } }, async (request, reply) => {
    if (!findStudio(deps.db)) return seeOther(reply, '/first-run');
    if (waitsForOwner(deps.db)) return seeOther(reply, '/after-restore');
    const to = ownPath(request.query.to);
    return request.actor ? seeOther(reply, to) : sendPage(request, reply, door({ typed: {}, errors: {} }, to));
  });

  app.post('/sign-in', { config: { may: 'anyone', audit: 'always' } }, async (request, reply) =>
    submitForm(request, reply, {
      schema: SignInForm,
      save: async (input) => {
        // A name that nobody has may be a passphrase typed in the wrong field: it is not written down.
        const meant = personByName(deps.db, input.name);
        request.audited = { personId: meant?.id ?? null, detail: meant ? '' : 'a name that nobody has' };
        const { token } = await signIn(deps, {
          ...input,
          address: request.ip,
          device: request.headers['user-agent'] ?? '',
        });
        setSignInCookie(request, reply, token);
        return ownPath(input.to);
      },
      again: (form) => door({ ...form, typed: { ...form.typed, passphrase: '' } }, ownPath(form.typed['to'])),
    }),
  );

  app.post('/sign-out', { config: { may: 'anyone', audit: 'always' } }, async (request, reply) => {
    const cookie = request.cookies[SIGN_IN_COOKIE];
    if (cookie) revokeSignIn(deps.db, tokenHash(cookie), deps.now());
    reply.clearCookie(SIGN_IN_COOKIE, { path: '/' });
    return seeOther(reply, '/sign-in');
  });

  doorPages(app, deps);
  accountPages(app, deps);
  peoplePages(app, deps);
  afterRestorePages(app, deps);
}

export function api(app: App, deps: Deps): void {
  const { db } = deps;
  const tags = ['People'];

  app.get(
    '/people',
    {
      config: { may: 'own' },
      schema: {
        operationId: 'listPeople',
        tags,
        summary: 'Everybody who may or might sign in',
        response: { 200: z.object({ people: z.array(PersonResource) }) },
      },
    },
    async () => ({
      people: peopleOverview(db, deps.now()).map(({ id, active, ...person }) => ({
        ...person,
        personId: id,
        active: active === 1,
      })),
    }),
  );

  app.get(
    '/audit-entries',
    {
      config: { may: 'own' },
      schema: {
        operationId: 'listAuditEntries',
        tags,
        summary: 'Who did what, the latest first',
        querystring: z.object(pagedByNumber(AUDIT_PAGE)),
        response: {
          200: z.object({ auditEntries: z.array(AuditEntryResource), next: NextPage }),
        },
      },
    },
    async (request) => {
      const { after, limit } = request.query;
      const { shown, next } = pageOf(
        auditBefore(db, { personId: null, before: after ?? null }, limit + 1),
        limit,
        (l) => l.id,
      );
      return {
        auditEntries: shown.map(({ id, ...line }) => ({ ...line, auditEntryId: id })),
        next,
      };
    },
  );
}
