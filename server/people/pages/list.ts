import { emptyForm, type FormState } from '../../../views/kit/field.ts';
import { peoplePage } from '../../../views/people/list.ts';
import type { Opened } from '../../../views/people/opened.ts';
import type { Deps } from '../../deps.ts';
import { notFound } from '../../errors.ts';
import { submitForm } from '../../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../../http/page.ts';
import { addressesForOthers } from '../../http/qrCode.ts';
import { page } from '../../http/routes.ts';
import { theStudio } from '../../settings/queries.ts';
import { showOf } from '../../settings/show.ts';
import { idParams } from '../../typedFields.ts';
import { actorOf } from '../guards.ts';
import { addBenchDevice, INVITATION_HOURS, invite } from '../invitations.ts';
import { demandOfOwners } from '../members.ts';
import { listLiveInvitations, peopleOverview, revokeInvitation } from '../queries.ts';
import { BenchDeviceForm, InvitationForm, OwnersStepForm } from '../schemas.ts';

const everybody = (
  { db, now }: Deps,
  forms: Partial<{ invitation: FormState; bench: FormState; step: FormState; opened: Opened; status: number }> = {},
): Rendering => ({
  title: 'People',
  section: 'settings',
  ...(forms.status ? { status: forms.status } : {}),
  body: peoplePage({
    people: peopleOverview(db, now()),
    invitations: listLiveInvitations(db, now()),
    invitation: forms.invitation ?? { typed: { role: 'dyer' }, errors: {} },
    bench: forms.bench ?? emptyForm,
    step: forms.step ?? {
      typed: { required: theStudio(db).secondStepForOwners === 1 ? 'yes' : 'no' },
      errors: {},
    },
    opened: forms.opened ?? null,
    show: showOf(db),
  }),
});

export const showEverybody = page({
  show: (deps, { request, reply }) => sendPage(request, reply, everybody(deps)),
});

// The link is shown in the answer and nowhere else, so this post renders instead of going on.
export const inviteSomebody = page({
  show: (deps, { request, reply }) => {
    let token = '';
    return submitForm(request, reply, {
      schema: InvitationForm(theStudio(deps.db).currency),
      save: ({ role, labourRate, note }) => {
        token = invite(deps, { role, labourRateMinorPerHour: labourRate, note }, actorOf(request));
        return '';
      },
      again: (invitation) => everybody(deps, { invitation }),
      done: () => {
        const opened: Opened = {
          kind: 'link',
          words: 'Send this link to the person you invite. They choose name and passphrase themselves.',
          hours: INVITATION_HOURS,
          urls: addressesForOthers(request, deps.config, `/invitation/${token}`),
        };
        return sendPage(request, reply, everybody(deps, { status: 201, opened }));
      },
    });
  },
});

export const demandSecondStep = page({
  show: (deps, { request, reply }) =>
    submitForm(request, reply, {
      schema: OwnersStepForm,
      save: ({ required }) => {
        demandOfOwners(deps, required === 'yes', actorOf(request));
        return '/people#second-step';
      },
      again: (step) => everybody(deps, { step }),
    }),
});

export const takeInvitationBack = page({
  params: idParams,
  show: ({ db, now }, { params, reply }) => {
    if (revokeInvitation(db, params.id, now()) === 0) throw notFound('invitation');
    return seeOther(reply, '/people');
  },
});

export const addDevice = page({
  show: (deps, { request, reply }) =>
    submitForm(request, reply, {
      schema: BenchDeviceForm,
      save: ({ name }) => `/people/${addBenchDevice(deps, name).id}`,
      again: (bench) => everybody(deps, { bench }),
    }),
});
