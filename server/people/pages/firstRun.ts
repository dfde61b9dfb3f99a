import type { FormState } from '../../../views/kit/field.ts';
import { firstRunDoor } from '../../../views/people/firstRun.ts';
import { submitForm } from '../../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { currencyOptions, zoneNames } from '../../settings/choices.ts';
import { findStudio } from '../../settings/queries.ts';
import { letIn } from '../cookies.ts';
import { setUpByVisitor } from '../firstRun.ts';
import { CodeQuery, FirstRunForm } from '../schemas.ts';

const door = (form: FormState): Rendering => ({
  title: 'First run',
  section: 'none',
  shape: 'door',
  body: firstRunDoor({ form, zones: zoneNames(), currencies: currencyOptions() }),
});

// Until there is a studio, every page leads here.
export const showFirstRun = page({
  query: CodeQuery,
  show: ({ db, config }, { query: { code }, request, reply }) => {
    if (findStudio(db)) return seeOther(reply, '/');
    const typed = { zone: config.zone, units: 'metric', currency: 'EUR', readabilityMg: '10', sample: 'yes', code };
    return sendPage(request, reply, door({ typed, errors: {} }));
  },
});

export const setUp = page({
  audit: 'always',
  show: (deps, { request, reply }) =>
    submitForm(request, reply, {
      schema: FirstRunForm,
      save: async (input) => {
        const ownerId = await setUpByVisitor(deps, input, request.ip);
        request.audited = { personId: ownerId, detail: '' };
        if (input.sample) {
          // Wanted once in the life of a studio: a service starts without.
          const { sowSampleStudio } = await import('../../../seed/studio.ts');
          await sowSampleStudio(deps, { personId: ownerId, name: input.ownerName, role: 'owner' });
        }
        letIn(deps, request, reply, ownerId);
        return input.sample ? '/swatches' : '/';
      },
      again: (form) => door(form),
    }),
});
