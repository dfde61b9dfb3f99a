import type { FastifyReply, FastifyRequest } from 'fastify';
import type { FormState } from '../../views/kit/field.ts';
import { signInDoor } from '../../views/people/doors.ts';
import type { App } from '../app.ts';
import type { Deps } from '../deps.ts';
import { submitForm } from '../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../http/page.ts';
import { findStudio } from '../settings/queries.ts';
import { SIGN_IN_COOKIE } from './guards.ts';
import { revokeSignIn } from './queries.ts';
import { SignInForm } from './schemas.ts';
import { SIGN_IN_DAYS, signIn, tokenHash } from './signIn.ts';

export function setSignInCookie(request: FastifyRequest, reply: FastifyReply, token: string): void {
  reply.setCookie(SIGN_IN_COOKIE, token, {
    path: '/',
    httpOnly: true,
    sameSite: 'lax',
    secure: request.protocol === 'https',
    maxAge: SIGN_IN_DAYS * 24 * 3600,
  });
}

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
    const to = ownPath(request.query.to);
    return request.actor ? seeOther(reply, to) : sendPage(request, reply, door({ typed: {}, errors: {} }, to));
  });

  app.post('/sign-in', { config: { may: 'anyone' } }, async (request, reply) =>
    submitForm(request, reply, {
      schema: SignInForm,
      save: async (input) => {
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

  app.post('/sign-out', { config: { may: 'anyone' } }, async (request, reply) => {
    const cookie = request.cookies[SIGN_IN_COOKIE];
    if (cookie) revokeSignIn(deps.db, tokenHash(cookie), deps.now());
    reply.clearCookie(SIGN_IN_COOKIE, { path: '/' });
    return seeOther(reply, '/sign-in');
  });
}
