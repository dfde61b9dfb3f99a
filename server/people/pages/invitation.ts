import { emptyForm, type FormState } from '../../../views/kit/field.ts';
import { invitationDoor, passphraseDoor } from '../../../views/people/invitation.ts';
import type { Deps } from '../../deps.ts';
import { submitForm } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { theStudio } from '../../settings/queries.ts';
import { deviceOf, setSignInCookie } from '../cookies.ts';
import { acceptInvitation, acceptPassphraseLink, invitationOf } from '../invitations.ts';
import { personById } from '../queries.ts';
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
        : passphraseDoor({ ...shown, personName: person.name }),
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
    const enter = ({ signInToken, personId }: { signInToken: string; personId: number }, detail: string): string => {
      request.audited = { personId, detail };
      setSignInCookie(request, reply, signInToken);
      return '/';
    };
    const again = (form: FormState): Rendering => door(deps, token, form);
    return invitationOf(deps, token).kind === 'person'
      ? submitForm(request, reply, {
          schema: AcceptanceForm,
          save: async (input) => enter(await acceptInvitation(deps, token, input, deviceOf(request)), 'a new person'),
          again,
        })
      : submitForm(request, reply, {
          schema: NewPassphraseForm,
          save: async ({ passphrase }) =>
            enter(await acceptPassphraseLink(deps, token, passphrase, deviceOf(request)), 'a new passphrase'),
          again,
        });
  },
});
