import { emptyForm, type FormState } from '../../../views/kit/field.ts';
import { invitationDoor, passphraseDoor } from '../../../views/people/invitation.ts';
import type { Deps } from '../../deps.ts';
import { submitForm } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { theStudio } from '../../settings/queries.ts';
import { showOf } from '../../settings/show.ts';
import { letInOrAsk } from '../cookies.ts';
import { acceptInvitation, acceptPassphraseLink, invitationOf } from '../invitations.ts';
import { liveTokensOf, personById } from '../queries.ts';
import { AcceptanceForm, linkParams, NewPassphraseForm } from '../schemas.ts';

/* Behind a one-time link of the owner's: somebody invited, or who lost their passphrase. */

function door(deps: Deps, token: string, form: FormState): Rendering {
  const { db } = deps;
  const invitation = invitationOf(deps, token);
  const person = invitation.personId === null ? undefined : personById(db, invitation.personId);
  const shown = { form: { ...form, typed: { ...form.typed, passphrase: '' } }, token, studioName: theStudio(db).name };
  return {
    title: invitation.kind === 'person' ? 'Invitation' : 'New passphrase',
    section: 'none',
    shape: 'door',
    body:
      invitation.kind === 'person' || !person
        ? invitationDoor({ ...shown, role: invitation.role ?? 'viewer' })
        : passphraseDoor({
            ...shown,
            personName: person.name,
            tokens: liveTokensOf(db, person.id, deps.now()),
            show: showOf(db),
          }),
  };
}

export const showLink = page({
  params: linkParams,
  show: (deps, { params, request, reply }) => sendPage(request, reply, door(deps, params.token, emptyForm)),
});

export const acceptLink = page({
  params: linkParams,
  audit: 'always',
  show: (deps, { params: { token }, request, reply }) => {
    const again = (form: FormState): Rendering => door(deps, token, form);
    return invitationOf(deps, token).kind === 'person'
      ? submitForm(request, reply, {
          schema: AcceptanceForm,
          save: async (input) => {
            const personId = await acceptInvitation(deps, token, input);
            return letInOrAsk(deps, request, reply, { personId, to: '/', detail: 'a new person' });
          },
          again,
        })
      : submitForm(request, reply, {
          schema: NewPassphraseForm,
          save: async (input) => {
            const personId = await acceptPassphraseLink(deps, token, input);
            return letInOrAsk(deps, request, reply, { personId, to: '/', detail: 'a new passphrase' });
          },
          again,
        });
  },
});
