import type { FastifyRequest } from 'fastify';
import { emptyForm, type FormState } from '../../../views/kit/field.ts';
import { accountPage } from '../../../views/people/account.ts';
import type { Deps } from '../../deps.ts';
import { notFound } from '../../errors.ts';
import { submitForm } from '../../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { showOf } from '../../settings/show.ts';
import { askedFrom, signInHashOf } from '../cookies.ts';
import { hasSecondStep } from '../doorQueries.ts';
import { actorOf } from '../guards.ts';
import { changePassphrase } from '../members.ts';
import { liveTokensOf, revokeOtherSignIns, revokeSignInOf, signInsOf } from '../queries.ts';
import { AccountQuery, PassphraseChangeForm, signInKeyParams } from '../schemas.ts';

/* Everybody's own: passphrase and sign-ins. */

function account({ db, now }: Deps, request: FastifyRequest, form: FormState = emptyForm, saved = false): Rendering {
  const { personId, name, role } = actorOf(request);
  return {
    title: name,
    section: 'settings',
    body: accountPage({
      name,
      role,
      form: { typed: { tokens: form.typed['tokens'] ?? '' }, errors: form.errors },
      saved,
      tokens: liveTokensOf(db, personId, now()),
      hasSecondStep: hasSecondStep(db, personId),
      signIns: signInsOf(db, personId, now(), signInHashOf(request)),
      show: showOf(db),
    }),
  };
}

export const showAccount = page({
  query: AccountQuery,
  show: (deps, { query, request, reply }) =>
    sendPage(request, reply, account(deps, request, emptyForm, query.saved === 'passphrase')),
});

export const changeOwnPassphrase = page({
  audit: 'always',
  show: (deps, { request, reply }) =>
    submitForm(request, reply, {
      schema: PassphraseChangeForm,
      save: async (input) => {
        await changePassphrase(deps, actorOf(request).personId, input, askedFrom(request));
        return '/account?saved=passphrase';
      },
      again: (form) => account(deps, request, form),
    }),
});

export const endOwnSignIn = page({
  params: signInKeyParams,
  audit: 'always',
  show: ({ db, now }, { params, request, reply }) => {
    if (revokeSignInOf(db, actorOf(request).personId, params.key, now()) === 0) throw notFound('sign-in');
    return seeOther(reply, '/account');
  },
});

export const endOtherSignIns = page({
  audit: 'always',
  show: ({ db, now }, { request, reply }) => {
    revokeOtherSignIns(db, actorOf(request).personId, signInHashOf(request), now());
    return seeOther(reply, '/account');
  },
});
