import { emptyForm, type FormState } from '../../../views/kit/field.ts';
import { signInDoor } from '../../../views/people/signIn.ts';
import type { Db } from '../../db/open.ts';
import { submitForm } from '../../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { findStudio } from '../../settings/queries.ts';
import { waitsForOwner } from '../afterRestore.ts';
import { letInOrAsk, triedFrom } from '../cookies.ts';
import { SIGN_IN_COOKIE } from '../guards.ts';
import { personByName, revokeSignIn } from '../queries.ts';
import { SignInForm, SignInQuery } from '../schemas.ts';
import { signIn, tokenHash } from '../signIn.ts';

/** Only paths of ours: no scheme, no host, no backslash tricks. */
const ownPath = (to: string | undefined): string => (to && /^\/(?![/\\])[^\\\s]*$/.test(to) ? to : '/');

const door = (db: Db, form: FormState, to: string): Rendering => ({
  title: 'Sign in',
  section: 'none',
  shape: 'door',
  body: signInDoor({ form, to, studioName: findStudio(db)?.name ?? 'Lot & Shade' }),
});

export const showSignIn = page({
  query: SignInQuery,
  show: ({ db }, { query, request, reply }) => {
    if (!findStudio(db)) return seeOther(reply, '/first-run');
    if (waitsForOwner(db)) return seeOther(reply, '/after-restore');
    const to = ownPath(query.to);
    return request.actor ? seeOther(reply, to) : sendPage(request, reply, door(db, emptyForm, to));
  },
});

export const enter = page({
  audit: 'always',
  show: (deps, { request, reply }) =>
    submitForm(request, reply, {
      schema: SignInForm,
      save: async (input) => {
        // A name that nobody has may be a passphrase typed in the wrong field: it is not written down.
        const meant = personByName(deps.db, input.name);
        request.audited = { personId: meant?.id ?? null, detail: meant ? '' : 'a name that nobody has' };
        const { id } = await signIn(deps, { ...input, ...triedFrom(request) });
        return letInOrAsk(deps, request, reply, { personId: id, to: ownPath(input.to), detail: '' });
      },
      again: (form) => door(deps.db, { ...form, typed: { ...form.typed, passphrase: '' } }, ownPath(form.typed['to'])),
    }),
});

export const leave = page({
  audit: 'always',
  show: ({ db, now }, { request, reply }) => {
    const cookie = request.cookies[SIGN_IN_COOKIE];
    if (cookie) revokeSignIn(db, tokenHash(cookie), now());
    reply.clearCookie(SIGN_IN_COOKIE, { path: '/' });
    return seeOther(reply, '/sign-in');
  },
});
