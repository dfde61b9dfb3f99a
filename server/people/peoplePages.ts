import type { FastifyRequest } from 'fastify';
import { renderSVG } from 'uqr';
import { emptyForm, type FormState } from '../../views/kit/field.ts';
import { plainMoney } from '../../views/kit/show.ts';
import { auditPage } from '../../views/people/auditPage.ts';
import { peoplePage, personPage } from '../../views/people/peoplePage.ts';
import type { PersonRow } from '../db/tables/studio.ts';
import type { Deps } from '../deps.ts';
import { notFound } from '../errors.ts';
import { networkAddresses } from '../http/addresses.ts';
import type { App } from '../http/app.ts';
import { readInput, submitForm } from '../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../http/page.ts';
import { theStudio } from '../settings/queries.ts';
import { showOf } from '../settings/show.ts';
import { idParams } from '../typedFields.ts';
import { actorOf } from './guards.ts';
import {
  addBenchDevice,
  BENCH_CODE_MINUTES,
  benchCode,
  INVITATION_HOURS,
  invite,
  PASSPHRASE_LINK_HOURS,
  passphraseLink,
} from './invitations.ts';
import { changePerson, setActive } from './members.ts';
import {
  auditBefore,
  listLiveInvitations,
  listPeople,
  peopleOverview,
  personById,
  revokeInvitation,
  revokeSignInOf,
  signInsOf,
} from './queries.ts';
import { AuditQuery, BenchDeviceForm, InvitationForm, PersonForm, StandingForm, signInKeyParams } from './schemas.ts';

const AUDIT_PAGE = 100;

/** What the owner is shown once: a link to send on, or a code to type in. */
type Opened =
  | { kind: 'link'; words: string; hours: number; urls: { url: string; qrSvg: string }[] }
  | { kind: 'code'; code: string; minutes: number; urls: { url: string; qrSvg: string }[] };

export function peoplePages(app: App, deps: Deps): void {
  const { db, now } = deps;

  /** Under what addresses another device reaches a path: the one asked for, unless that is this machine's own name. */
  const linksTo = (request: FastifyRequest, path: string): { url: string; qrSvg: string }[] => {
    const own = /^(localhost|127\.|\[::1\])/.test(request.host);
    const port = (app.server.address() as { port: number } | null)?.port ?? deps.config.port;
    const lan = networkAddresses(deps.config, port).filter((a) => !a.includes('//localhost'));
    const origins = own && lan.length > 0 ? lan : [`${request.protocol}://${request.host}`];
    return origins.map((origin) => ({ url: `${origin}${path}`, qrSvg: renderSVG(`${origin}${path}`) }));
  };

  const everybody = (
    forms: Partial<{ invitation: FormState; bench: FormState; opened: Opened; status: number }> = {},
  ): Rendering => ({
    title: 'People',
    section: 'settings',
    ...(forms.status ? { status: forms.status } : {}),
    body: peoplePage({
      people: peopleOverview(db, now()),
      invitations: listLiveInvitations(db, now()),
      invitation: forms.invitation ?? { typed: { role: 'dyer' }, errors: {} },
      bench: forms.bench ?? emptyForm,
      opened: forms.opened ?? null,
      show: showOf(db),
    }),
  });

  const found = (person: PersonRow | undefined): PersonRow => {
    if (!person) throw notFound('person');
    return person;
  };
  const one = (
    personId: number,
    forms: Partial<{ person: FormState; opened: Opened; status: number }> = {},
  ): Rendering => {
    const person = found(personById(db, personId));
    const { currency } = theStudio(db);
    const show = showOf(db);
    return {
      title: person.name,
      section: 'settings',
      ...(forms.status ? { status: forms.status } : {}),
      body: personPage({
        person: { id: person.id, name: person.name, role: person.role, active: person.active === 1 },
        form: forms.person ?? {
          errors: {},
          typed: {
            name: person.name,
            role: person.role,
            labourRate: person.labourRateMinorPerHour === null ? '' : plainMoney(show, person.labourRateMinorPerHour),
          },
        },
        signIns: signInsOf(db, personId, now(), ''),
        opened: forms.opened ?? null,
        currency,
        show,
      }),
    };
  };
  app.get('/people', { config: { may: 'own' } }, async (request, reply) => sendPage(request, reply, everybody()));

  // Links and codes are shown in the answer and nowhere else, so these posts render instead of going on.
  app.post('/people/invitations', { config: { may: 'own' } }, async (request, reply) => {
    let token = '';
    return submitForm(request, reply, {
      schema: InvitationForm(theStudio(db).currency),
      save: (input) => {
        token = invite(
          deps,
          { role: input.role, labourRateMinorPerHour: input.labourRate, note: input.note },
          actorOf(request),
        );
        return '';
      },
      again: (invitation) => everybody({ invitation }),
      done: () =>
        sendPage(
          request,
          reply,
          everybody({
            status: 201,
            opened: {
              kind: 'link',
              words: 'Send this link to the person you invite. They choose name and passphrase themselves.',
              hours: INVITATION_HOURS,
              urls: linksTo(request, `/invitation/${token}`),
            },
          }),
        ),
    });
  });

  app.post(
    '/people/invitations/:id/revocation',
    { config: { may: 'own' }, schema: { params: idParams } },
    async (request, reply) => {
      if (revokeInvitation(db, request.params.id, now()) === 0) throw notFound('invitation');
      return seeOther(reply, '/people');
    },
  );

  app.post('/people/bench-devices', { config: { may: 'own' } }, async (request, reply) =>
    submitForm(request, reply, {
      schema: BenchDeviceForm,
      save: ({ name }) => `/people/${addBenchDevice(deps, name).id}`,
      again: (bench) => everybody({ bench }),
    }),
  );

  app.get('/people/:id', { config: { may: 'own' }, schema: { params: idParams } }, async (request, reply) =>
    sendPage(request, reply, one(request.params.id)),
  );

  app.post('/people/:id', { config: { may: 'own' }, schema: { params: idParams } }, async (request, reply) => {
    const { id } = found(personById(db, request.params.id));
    return submitForm(request, reply, {
      schema: PersonForm(theStudio(db).currency),
      save: (input) => {
        changePerson(db, id, input);
        return '/people';
      },
      again: (person) => one(id, { person }),
    });
  });

  app.post('/people/:id/standing', { config: { may: 'own' }, schema: { params: idParams } }, async (request, reply) => {
    const { id } = found(personById(db, request.params.id));
    return submitForm(request, reply, {
      schema: StandingForm,
      save: ({ active }) => {
        setActive(deps, id, active === 'yes');
        return active === 'yes' ? `/people/${id}` : '/people';
      },
      again: ({ errors }) => one(id, { person: { typed: { name: found(personById(db, id)).name }, errors } }),
    });
  });

  app.post(
    '/people/:id/passphrase-link',
    { config: { may: 'own' }, schema: { params: idParams } },
    async (request, reply) => {
      const { id } = request.params;
      const token = passphraseLink(deps, id, actorOf(request));
      return sendPage(
        request,
        reply,
        one(id, {
          status: 201,
          opened: {
            kind: 'link',
            words: 'Send this link to its person. With it they choose a new passphrase; every sign-in they have ends.',
            hours: PASSPHRASE_LINK_HOURS,
            urls: linksTo(request, `/invitation/${token}`),
          },
        }),
      );
    },
  );

  app.post(
    '/people/:id/bench-code',
    { config: { may: 'own' }, schema: { params: idParams } },
    async (request, reply) => {
      const { id } = request.params;
      const code = benchCode(deps, id, actorOf(request));
      return sendPage(
        request,
        reply,
        one(id, {
          status: 201,
          opened: { kind: 'code', code, minutes: BENCH_CODE_MINUTES, urls: linksTo(request, '/bench-device') },
        }),
      );
    },
  );

  app.post(
    '/people/:id/sign-ins/:key/revocation',
    { config: { may: 'own' }, schema: { params: idParams.extend(signInKeyParams.shape) } },
    async (request, reply) => {
      const { id, key } = request.params;
      if (revokeSignInOf(db, id, key, now()) === 0) throw notFound('sign-in');
      return seeOther(reply, `/people/${id}`);
    },
  );

  app.get('/audit', { config: { may: 'own' } }, async (request, reply) => {
    const filter = readInput(AuditQuery, request.query ?? {});
    const lines = auditBefore(db, filter, AUDIT_PAGE + 1);
    const shown = lines.slice(0, AUDIT_PAGE);
    return sendPage(request, reply, {
      title: 'Who did what',
      section: 'settings',
      body: auditPage({
        lines: shown,
        nextBefore: lines.length > AUDIT_PAGE ? (shown.at(-1)?.id ?? null) : null,
        personId: filter.personId,
        people: listPeople(db).map(({ id, name }) => ({ id, name })),
        show: showOf(db),
      }),
    });
  });
}
