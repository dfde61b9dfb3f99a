import type { FastifyReply, FastifyRequest } from 'fastify';
import { emptyForm, type FormState } from '../../../views/kit/field.ts';
import { ownSecondStepPage } from '../../../views/people/ownSecondStep.ts';
import type { Deps } from '../../deps.ts';
import { invalid } from '../../errors.ts';
import { submitForm } from '../../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../../http/page.ts';
import { svgOf } from '../../http/qrCode.ts';
import { page } from '../../http/routes.ts';
import { theStudio } from '../../settings/queries.ts';
import { showOf } from '../../settings/show.ts';
import { idParams } from '../../typedFields.ts';
import { askedFrom, signInHashOf } from '../cookies.ts';
import { codeAppOf, hasSecondStep, passkeysOf, recoveryCodesLeft } from '../doorQueries.ts';
import { actorOf } from '../guards.ts';
import { demandPassphrase } from '../members.ts';
import { afterAdding, demandOpen, mayChange, openChanges, takeAway } from '../ownStep.ts';
import { addPasskey, newPasskeyOptions, placeOf } from '../passkeys.ts';
import { makeRecoveryCodes } from '../recoveryCodes.ts';
import { FirstCodeForm, OwnPassphraseForm, PasskeyForm } from '../schemas.ts';
import { beginAppOf, begunAppOf, type CodeAppSetUp, confirmAppOf } from '../timeCodes.ts';

/* One's own second step: passkeys, codes from an app, codes on paper. */

const HERE = '/account/second-step';

const ownerOf = ({ db }: Deps, request: FastifyRequest) => {
  const { personId, name } = actorOf(request);
  return { personId, person: name, studio: theStudio(db).name };
};

async function own(
  deps: Deps,
  request: FastifyRequest,
  more: Partial<{ form: FormState; setUp: CodeAppSetUp; freshCodes: readonly string[] | null; status: number }> = {},
): Promise<Rendering> {
  const { db } = deps;
  const { role } = actorOf(request);
  const { personId, person, studio } = ownerOf(deps, request);
  const isOpen = mayChange(deps, signInHashOf(request));
  const place = placeOf(request);
  const options = isOpen && place ? await newPasskeyOptions(deps, place, { personId, person, studio }) : null;
  if (options) demandOpen(deps, signInHashOf(request)).challenge = options.challenge;
  const app = codeAppOf(db, personId);
  return {
    title: 'Second step',
    section: 'settings',
    ...(more.status ? { status: more.status } : {}),
    scripts: options ? ['passkeys.js'] : [],
    body: ownSecondStepPage({
      name: person,
      studioName: studio,
      mayChange: isOpen,
      isDemanded: role === 'owner' && theStudio(db).secondStepForOwners === 1 && !hasSecondStep(db, personId),
      form: more.form ?? emptyForm,
      passkeys: passkeysOf(db, personId),
      // Where nothing may be changed yet, it is enough to know that the connection allows it.
      passkeyOptions: options ? JSON.stringify(options) : place ? '' : null,
      app: app === undefined ? 'none' : app.confirmedAt === null ? 'begun' : 'on',
      setUp: more.setUp && isOpen ? { secret: more.setUp.secret, qrSvg: svgOf(more.setUp.uri) } : null,
      codesLeft: recoveryCodesLeft(db, personId),
      freshCodes: more.freshCodes ?? null,
      show: showOf(db),
    }),
  };
}

export const showOwnStep = page({
  show: async (deps, { request, reply }) => sendPage(request, reply, await own(deps, request)),
});

export const openOwnStep = page({
  audit: 'always',
  show: (deps, { request, reply }) =>
    submitForm(request, reply, {
      schema: OwnPassphraseForm,
      save: async ({ current }) => {
        await demandPassphrase(deps, actorOf(request).personId, current, askedFrom(request));
        openChanges(deps, signInHashOf(request));
        return HERE;
      },
      again: ({ errors }) => own(deps, request, { form: { typed: {}, errors } }),
    }),
});

/** Answers with the codes for paper where there are new ones, which are shown nowhere else. */
async function goOn(
  deps: Deps,
  request: FastifyRequest,
  reply: FastifyReply,
  freshCodes: readonly string[] | null,
): Promise<FastifyReply> {
  return freshCodes
    ? sendPage(request, reply, await own(deps, request, { freshCodes, status: 201 }))
    : seeOther(reply, HERE);
}

export const beginApp = page({
  audit: 'always',
  show: async (deps, { request, reply }) => {
    demandOpen(deps, signInHashOf(request));
    const setUp = await beginAppOf(deps, ownerOf(deps, request));
    return sendPage(request, reply, await own(deps, request, { setUp, status: 201 }));
  },
});

export const confirmApp = page({
  audit: 'always',
  show: (deps, { request, reply }) => {
    const hash = signInHashOf(request);
    const owner = ownerOf(deps, request);
    let freshCodes: string[] | null = null;
    return submitForm(request, reply, {
      schema: FirstCodeForm,
      save: async ({ code }) => {
        demandOpen(deps, hash);
        await confirmAppOf(deps, owner.personId, code);
        freshCodes = afterAdding(deps, owner.personId, hash);
        return HERE;
      },
      again: async (form) => {
        const setUp = await begunAppOf(deps, owner);
        return own(deps, request, { form, ...(setUp && { setUp }) });
      },
      done: () => goOn(deps, request, reply, freshCodes),
    });
  },
});

export const addOwnPasskey = page({
  audit: 'always',
  show: (deps, { request, reply }) => {
    const hash = signInHashOf(request);
    const { personId } = actorOf(request);
    let freshCodes: string[] | null = null;
    return submitForm(request, reply, {
      schema: PasskeyForm,
      save: async ({ name, answer }) => {
        const opening = demandOpen(deps, hash);
        const { challenge } = opening;
        const place = placeOf(request);
        opening.challenge = null;
        if (challenge === null || !place) throw invalid({ answer: 'That took too long. Try again.' });
        await addPasskey(deps, place, { personId, name, answer, challenge });
        freshCodes = afterAdding(deps, personId, hash);
        return HERE;
      },
      again: (form) => own(deps, request, { form }),
      done: () => goOn(deps, request, reply, freshCodes),
    });
  },
});

export const takePasskeyAway = page({
  params: idParams,
  audit: 'always',
  show: (deps, { params, request, reply }) => {
    demandOpen(deps, signInHashOf(request));
    takeAway(deps, actorOf(request).personId, { passkeyId: params.id });
    return seeOther(reply, HERE);
  },
});

export const takeAppAway = page({
  audit: 'always',
  show: (deps, { request, reply }) => {
    demandOpen(deps, signInHashOf(request));
    takeAway(deps, actorOf(request).personId, 'app');
    return seeOther(reply, HERE);
  },
});

export const renewCodes = page({
  audit: 'always',
  show: (deps, { request, reply }) => {
    demandOpen(deps, signInHashOf(request));
    const { personId } = actorOf(request);
    if (!hasSecondStep(deps.db, personId)) return seeOther(reply, HERE);
    return goOn(deps, request, reply, makeRecoveryCodes(deps, personId));
  },
});
