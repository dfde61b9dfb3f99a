import { emptyForm, type FormState } from '../../../views/kit/field.ts';
import { benchDoor } from '../../../views/people/benchDevice.ts';
import type { Db } from '../../db/open.ts';
import { submitForm } from '../../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { theStudio } from '../../settings/queries.ts';
import { deviceOf, setSignInCookie } from '../cookies.ts';
import { signInByCode } from '../invitations.ts';
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
      save: ({ code }) => {
        const entered = signInByCode(deps, { code, address: request.ip, device: deviceOf(request) });
        request.audited = { personId: entered.personId, detail: 'a bench device' };
        setSignInCookie(request, reply, entered.signInToken);
        return '/';
      },
      again: (form) => door(deps.db, form),
    }),
});
