import type { FastifyRequest } from 'fastify';
import '@fastify/cookie';
import { emptyForm, type FormState } from '../../views/kit/field.ts';
import { accountPage } from '../../views/people/accountPage.ts';
import type { Deps } from '../deps.ts';
import { notFound } from '../errors.ts';
import type { App } from '../http/app.ts';
import { submitForm } from '../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../http/page.ts';
import { showOf } from '../settings/show.ts';
import { actorOf, SIGN_IN_COOKIE } from './guards.ts';
import { changePassphrase } from './members.ts';
import { revokeOtherSignIns, revokeSignInOf, signInsOf } from './queries.ts';
import { PassphraseChangeForm, signInKeyParams } from './schemas.ts';
import { tokenHash } from './signIn.ts';

/** Everybody's own: passphrase and sign-ins. */
export function accountPages(app: App, deps: Deps): void {
  const { db, now } = deps;
  const ownHash = (request: FastifyRequest): string => tokenHash(request.cookies[SIGN_IN_COOKIE] ?? '');
  const account = (request: FastifyRequest, form: FormState = emptyForm, saved = false): Rendering => {
    const { personId, name, role } = actorOf(request);
    return {
      title: name,
      section: 'settings',
      body: accountPage({
        name,
        role,
        form: { typed: {}, errors: form.errors },
        saved,
        signIns: signInsOf(db, personId, now(), ownHash(request)),
        show: showOf(db),
      }),
    };
  };

  app.get<{ Querystring: { saved?: string } }>('/account', { config: { may: 'look' } }, async (request, reply) =>
    sendPage(request, reply, account(request, emptyForm, request.query.saved === 'passphrase')),
  );

  app.post('/account/passphrase', { config: { may: 'look', audit: 'always' } }, async (request, reply) =>
    submitForm(request, reply, {
      schema: PassphraseChangeForm,
      save: async (input) => {
        await changePassphrase(deps, actorOf(request).personId, input, {
          address: request.ip,
          signInHash: ownHash(request),
        });
        return '/account?saved=passphrase';
      },
      again: (form) => account(request, form),
    }),
  );

  app.post(
    '/account/sign-ins/:key/revocation',
    { config: { may: 'look', audit: 'always' }, schema: { params: signInKeyParams } },
    async (request, reply) => {
      if (revokeSignInOf(db, actorOf(request).personId, request.params.key, now()) === 0) throw notFound('sign-in');
      return seeOther(reply, '/account');
    },
  );

  app.post(
    '/account/other-sign-ins/revocation',
    { config: { may: 'look', audit: 'always' } },
    async (request, reply) => {
      revokeOtherSignIns(db, actorOf(request).personId, ownHash(request), now());
      return seeOther(reply, '/account');
    },
  );
}
