import type { FastifyRequest } from 'fastify';
import type { FormState } from '../../../views/kit/field.ts';
import { firstRunDoor } from '../../../views/people/firstRun.ts';
import { submitForm } from '../../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { currencyOptions, zoneNames } from '../../settings/choices.ts';
import { findStudio } from '../../settings/queries.ts';
import { deviceOf, setSignInCookie } from '../cookies.ts';
import { setUpStudio } from '../firstRun.ts';
import { FirstRunForm } from '../schemas.ts';
import { openSignIn } from '../signIn.ts';

const LOCAL_NAMES = new Set(['localhost', '127.0.0.1', '[::1]']);

/** At the server's own machine: by the connection and by the name asked for. The name matters, since another site can
 *  make a browser here ask for its own name at this address. */
function isSameMachine(request: FastifyRequest): boolean {
  const address = request.socket.remoteAddress ?? '';
  const host = request.host.replace(/:\d+$/, '');
  return (
    (address === '127.0.0.1' || address === '::1' || address === '::ffff:127.0.0.1') &&
    LOCAL_NAMES.has(host) &&
    !request.headers['x-forwarded-for']
  );
}

const door = (request: FastifyRequest, form: FormState): Rendering => ({
  title: 'First run',
  section: 'none',
  shape: 'door',
  body: firstRunDoor({ form, asksCode: !isSameMachine(request), zones: zoneNames(), currencies: currencyOptions() }),
});

// Until there is a studio, every page leads here.
export const showFirstRun = page({
  show: ({ db, config }, { request, reply }) => {
    if (findStudio(db)) return seeOther(reply, '/');
    const typed = { zone: config.zone, units: 'metric', currency: 'EUR', readabilityMg: '10', sample: 'yes' };
    return sendPage(request, reply, door(request, { typed, errors: {} }));
  },
});

export const setUp = page({
  audit: 'always',
  show: (deps, { request, reply }) =>
    submitForm(request, reply, {
      schema: FirstRunForm,
      save: async (input) => {
        const ownerId = await setUpStudio(deps, input, !isSameMachine(request));
        request.audited = { personId: ownerId, detail: '' };
        if (input.sample) {
          // Wanted once in the life of a studio: a service starts without.
          const { sowSampleStudio } = await import('../../../seed/studio.ts');
          await sowSampleStudio(deps, { personId: ownerId, name: input.ownerName, role: 'owner' });
        }
        setSignInCookie(request, reply, openSignIn(deps, ownerId, deviceOf(request)));
        return input.sample ? '/swatches' : '/';
      },
      again: (form) => door(request, form),
    }),
});
