import type { FastifyReply, FastifyRequest } from 'fastify';
import type { FormState } from '../../views/kit/field.ts';
import { emptyForm } from '../../views/kit/field.ts';
import { benchDoor, invitationDoor, passphraseDoor } from '../../views/people/doors.ts';
import type { Deps } from '../deps.ts';
import type { App } from '../http/app.ts';
import { submitForm } from '../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../http/page.ts';
import { theStudio } from '../settings/queries.ts';
import { acceptInvitation, acceptPassphraseLink, invitationOf, signInByCode } from './invitations.ts';
import { personById } from './queries.ts';
import { AcceptanceForm, BenchCodeForm, NewPassphraseForm } from './schemas.ts';
import { setSignInCookie } from './signInRoutes.ts';

/** The doors of people who were let in by the owner: a one-time link, or a code for a bench device. */
export function doorPages(app: App, deps: Deps): void {
  const { db } = deps;
  const deviceOf = (request: FastifyRequest): string => request.headers['user-agent'] ?? '';

  const door = (token: string, form: FormState): Rendering => {
    const invitation = invitationOf(deps, token);
    const studioName = theStudio(db).name;
    const person = invitation.personId === null ? undefined : personById(db, invitation.personId);
    const typed = { ...form.typed, passphrase: '' };
    return {
      title: invitation.kind === 'person' ? 'Invitation' : 'New passphrase',
      section: 'none',
      shape: 'door',
      body:
        invitation.kind === 'person' || !person
          ? invitationDoor({ form: { ...form, typed }, token, studioName, role: invitation.role ?? 'viewer' })
          : passphraseDoor({ form: { ...form, typed }, token, studioName, personName: person.name }),
    };
  };
  const enter = (
    request: FastifyRequest,
    reply: FastifyReply,
    entered: { signInToken: string; personId: number },
    detail: string,
  ): string => {
    request.audited = { personId: entered.personId, detail };
    setSignInCookie(request, reply, entered.signInToken);
    return '/';
  };

  app.get<{ Params: { token: string } }>('/invitation/:token', { config: { may: 'anyone' } }, async (request, reply) =>
    sendPage(request, reply, door(request.params.token, emptyForm)),
  );

  app.post<{ Params: { token: string } }>(
    '/invitation/:token',
    { config: { may: 'anyone', audit: 'always' } },
    async (request, reply) => {
      const { token } = request.params;
      const again = (form: FormState): Rendering => door(token, form);
      return invitationOf(deps, token).kind === 'person'
        ? submitForm(request, reply, {
            schema: AcceptanceForm,
            save: async (input) =>
              enter(request, reply, await acceptInvitation(deps, token, input, deviceOf(request)), 'a new person'),
            again,
          })
        : submitForm(request, reply, {
            schema: NewPassphraseForm,
            save: async ({ passphrase }) =>
              enter(
                request,
                reply,
                await acceptPassphraseLink(deps, token, passphrase, deviceOf(request)),
                'a new passphrase',
              ),
            again,
          });
    },
  );

  const bench = (form: FormState): Rendering => ({
    title: 'Bench device',
    section: 'none',
    shape: 'door',
    body: benchDoor({ form, studioName: theStudio(db).name }),
  });

  app.get('/bench-device', { config: { may: 'anyone' } }, async (request, reply) =>
    request.actor ? seeOther(reply, '/') : sendPage(request, reply, bench(emptyForm)),
  );

  app.post('/bench-device', { config: { may: 'anyone', audit: 'always' } }, async (request, reply) =>
    submitForm(request, reply, {
      schema: BenchCodeForm,
      save: ({ code }) =>
        enter(
          request,
          reply,
          signInByCode(deps, { code, address: request.ip, device: deviceOf(request) }),
          'a bench device',
        ),
      again: bench,
    }),
  );
}
