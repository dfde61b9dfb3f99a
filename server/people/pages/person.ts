import type { FormState } from '../../../views/kit/field.ts';
import { plainMoney } from '../../../views/kit/show.ts';
import type { Opened } from '../../../views/people/opened.ts';
import { personPage } from '../../../views/people/person.ts';
import type { Deps } from '../../deps.ts';
import { found, notFound } from '../../errors.ts';
import { submitForm } from '../../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../../http/page.ts';
import { addressesForOthers } from '../../http/qrCode.ts';
import { page } from '../../http/routes.ts';
import { theStudio } from '../../settings/queries.ts';
import { showOf } from '../../settings/show.ts';
import { idParams } from '../../typedFields.ts';
import { hasSecondStep } from '../doorQueries.ts';
import { actorOf } from '../guards.ts';
import { BENCH_CODE_MINUTES, benchCode, PASSPHRASE_LINK_HOURS, passphraseLink } from '../invitations.ts';
import { changePerson, endSecondStepOf, setActive } from '../members.ts';
import { personById, revokeSignInOf, signInsOf } from '../queries.ts';
import { PersonForm, StandingForm, signInKeyParams } from '../schemas.ts';

function one(
  { db, now }: Deps,
  personId: number,
  forms: Partial<{ person: FormState; opened: Opened; status: number }> = {},
): Rendering {
  const person = found(personById(db, personId), 'person');
  const { id, name, role, labourRateMinorPerHour: rate } = person;
  const show = showOf(db);
  return {
    title: name,
    section: 'settings',
    ...(forms.status ? { status: forms.status } : {}),
    body: personPage({
      person: { id, name, role, active: person.active === 1 },
      form: forms.person ?? {
        errors: {},
        typed: { name, role, labourRate: rate === null ? '' : plainMoney(show, rate) },
      },
      signIns: signInsOf(db, personId, now(), ''),
      hasSecondStep: hasSecondStep(db, personId),
      opened: forms.opened ?? null,
      currency: theStudio(db).currency,
      show,
    }),
  };
}

export const showPerson = page({
  params: idParams,
  show: (deps, { params, request, reply }) => sendPage(request, reply, one(deps, params.id)),
});

export const savePerson = page({
  params: idParams,
  show: (deps, { params, request, reply }) => {
    const { id } = found(personById(deps.db, params.id), 'person');
    return submitForm(request, reply, {
      schema: PersonForm(theStudio(deps.db).currency),
      save: (input) => {
        changePerson(deps.db, id, input);
        return '/people';
      },
      again: (person) => one(deps, id, { person }),
    });
  },
});

export const changeStanding = page({
  params: idParams,
  show: (deps, { params, request, reply }) => {
    const { id, name } = found(personById(deps.db, params.id), 'person');
    return submitForm(request, reply, {
      schema: StandingForm,
      save: ({ active }) => {
        setActive(deps, id, active === 'yes');
        return active === 'yes' ? `/people/${id}` : '/people';
      },
      again: ({ errors }) => one(deps, id, { person: { typed: { name }, errors } }),
    });
  },
});

// Links and codes are shown in the answer and nowhere else, so these posts render instead of going on.
export const makePassphraseLink = page({
  params: idParams,
  show: (deps, { params: { id }, request, reply }) => {
    const token = passphraseLink(deps, id, actorOf(request));
    const opened: Opened = {
      kind: 'link',
      words: 'Send this link to its person. With it they choose a new passphrase; every sign-in they have ends.',
      hours: PASSPHRASE_LINK_HOURS,
      urls: addressesForOthers(request, deps.config, `/invitation/${token}`),
    };
    return sendPage(request, reply, one(deps, id, { status: 201, opened }));
  },
});

export const makeBenchCode = page({
  params: idParams,
  show: (deps, { params: { id }, request, reply }) => {
    const code = benchCode(deps, id, actorOf(request));
    const urls = addressesForOthers(request, deps.config, '/bench-device');
    const opened: Opened = { kind: 'code', code, minutes: BENCH_CODE_MINUTES, urls };
    return sendPage(request, reply, one(deps, id, { status: 201, opened }));
  },
});

export const endSecondStep = page({
  params: idParams,
  show: (deps, { params: { id }, request, reply }) => {
    endSecondStepOf(deps, id, actorOf(request));
    return seeOther(reply, `/people/${id}`);
  },
});

export const endSignIn = page({
  params: idParams.extend(signInKeyParams.shape),
  show: ({ db, now }, { params: { id, key }, reply }) => {
    if (revokeSignInOf(db, id, key, now()) === 0) throw notFound('sign-in');
    return seeOther(reply, `/people/${id}`);
  },
});
