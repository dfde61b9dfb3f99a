import { emptyForm, type FormState } from '../../../views/kit/field.ts';
import { tokensPage } from '../../../views/people/tokens.ts';
import type { Db } from '../../db/open.ts';
import { notFound } from '../../errors.ts';
import { submitForm } from '../../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { showOf } from '../../settings/show.ts';
import { idParams } from '../../typedFields.ts';
import { actorOf } from '../guards.ts';
import { listTokens, revokeToken } from '../queries.ts';
import { TokenForm } from '../schemas.ts';
import { makeToken } from '../signIn.ts';

const DAY_MS = 86_400_000;
const NEW: FormState = { typed: { scope: 'read' }, errors: {} };

const tokens = (db: Db, form: FormState = NEW, freshToken: string | null = null): Rendering => ({
  title: 'API tokens',
  section: 'settings',
  body: tokensPage({ form, freshToken, tokens: listTokens(db), show: showOf(db) }),
});

export const showTokens = page({
  show: ({ db }, { request, reply }) => sendPage(request, reply, tokens(db)),
});

// The token is shown in the answer to the form and nowhere else, so this one post renders instead of going on.
export const addToken = page({
  show: (deps, { request, reply }) => {
    const { db, now } = deps;
    let freshToken = '';
    return submitForm(request, reply, {
      schema: TokenForm,
      save: ({ name, scope, days }) => {
        const expiresAt = days === '' ? null : now() + Number(days) * DAY_MS;
        freshToken = makeToken(deps, { name, scope, expiresAt }, actorOf(request).personId).token;
        return '';
      },
      again: (form) => tokens(db, form),
      done: () => sendPage(request, reply, { ...tokens(db, emptyForm, freshToken), status: 201 }),
    });
  },
});

export const endToken = page({
  params: idParams,
  show: ({ db, now }, { params, reply }) => {
    if (revokeToken(db, params.id, now()) === 0) throw notFound('token');
    return seeOther(reply, '/settings/tokens');
  },
});
