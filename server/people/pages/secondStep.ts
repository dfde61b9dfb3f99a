import type { FastifyReply, FastifyRequest } from 'fastify';
import { emptyForm, type FormState } from '../../../views/kit/field.ts';
import { secondStepDoor } from '../../../views/people/secondStep.ts';
import type { Deps } from '../../deps.ts';
import { submitForm } from '../../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { theStudio } from '../../settings/queries.ts';
import { letIn, ticketShown, triedFrom } from '../cookies.ts';
import { codeAppOf } from '../doorQueries.ts';
import { passkeyOptions, placeOf } from '../passkeys.ts';
import { personById } from '../queries.ts';
import { PasskeyAnswerForm, SecondStepForm } from '../schemas.ts';
import { type Ticket, takeSecondStep, ticketOf } from '../secondStep.ts';

/* Between passphrase and studio: only who has shown the first step sees this page. */

async function door(deps: Deps, request: FastifyRequest, ticket: Ticket, form: FormState): Promise<Rendering> {
  const { db } = deps;
  const place = placeOf(request);
  const options = place && (await passkeyOptions(deps, place, ticket.personId));
  ticket.challenge = options?.challenge ?? null;
  return {
    title: 'Second step',
    section: 'none',
    shape: 'door',
    scripts: options ? ['passkeys.js'] : [],
    body: secondStepDoor({
      form: { typed: {}, errors: form.errors },
      studioName: theStudio(db).name,
      name: personById(db, ticket.personId)?.name ?? '',
      options: options ? JSON.stringify(options) : null,
      hasApp: codeAppOf(db, ticket.personId)?.confirmedAt != null,
    }),
  };
}

export const showSecondStep = page({
  show: async (deps, { request, reply }) => {
    const ticket = ticketOf(deps, ticketShown(request));
    return ticket
      ? sendPage(request, reply, await door(deps, request, ticket, emptyForm))
      : seeOther(reply, request.actor ? '/' : '/sign-in');
  },
});

async function take(
  deps: Deps,
  request: FastifyRequest,
  reply: FastifyReply,
  given: Parameters<typeof takeSecondStep>[2],
): Promise<string> {
  const { personId, to, detail } = await takeSecondStep(deps, ticketShown(request), given, triedFrom(request));
  request.audited = { personId, detail };
  letIn(deps, request, reply, personId);
  return to;
}

const second = <S extends typeof SecondStepForm | typeof PasskeyAnswerForm>(
  schema: S,
  givenOf: (request: FastifyRequest, input: unknown) => Parameters<typeof takeSecondStep>[2],
) =>
  page({
    audit: 'always',
    show: (deps, { request, reply }) => {
      const ticket = ticketOf(deps, ticketShown(request));
      if (!ticket) return seeOther(reply, '/sign-in');
      request.audited = { personId: ticket.personId, detail: '' };
      return submitForm(request, reply, {
        schema,
        save: (input) => take(deps, request, reply, givenOf(request, input)),
        again: (form) => door(deps, request, ticket, form),
      });
    },
  });

export const takeCode = second(SecondStepForm, (_request, input) => ({ code: SecondStepForm.parse(input).code }));

export const takePasskey = second(PasskeyAnswerForm, (request, input) => ({
  answer: PasskeyAnswerForm.parse(input).answer,
  place: placeOf(request),
}));
