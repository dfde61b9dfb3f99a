import { emptyForm, type FormState } from '../../../views/kit/field.ts';
import { benchDoor } from '../../../views/people/benchDevice.ts';
import type { Db } from '../../db/open.ts';
import { submitForm } from '../../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { theStudio } from '../../settings/queries.ts';
import { letIn, triedFrom } from '../cookies.ts';
import { enterByCode } from '../invitations.ts';
import { BenchCodeForm } from '../schemas.ts';

const door = (db: Db, form: FormState): Rendering => ({
  title: 'Bench device',
  section: 'none',
  shape: 'door',
  body: benchDoor({ form, studioName: theStudio(db).name }),
});

export const showBenchDoor = page({
  show: ({ db }, { request, reply }) =>
    request.actor ? seeOther(reply, '/') : sendPage(request, reply, door(db, emptyForm)),
});

export const enterBenchDevice = page({
  audit: 'always',
  show: (deps, { request, reply }) =>
    submitForm(request, reply, {
      schema: BenchCodeForm,
      save: async ({ code }) => {
        const personId = await enterByCode(deps, { code, ...triedFrom(request) });
        request.audited = { personId, detail: 'a bench device' };
        letIn(deps, request, reply, personId);
        return '/';
      },
      again: (form) => door(deps.db, form),
    }),
});
