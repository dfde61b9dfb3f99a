import { auxiliaryPage, type ScoopAnswer, scoopAnswer } from '../../../views/auxiliaries/auxiliary.ts';
import { emptyForm, type FormState } from '../../../views/kit/field.ts';
import { puttingAway } from '../../http/archiving.ts';
import { typedBody, zodFieldErrors } from '../../http/forms.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { allows } from '../../people/guards.ts';
import { showOf } from '../../settings/show.ts';
import { today } from '../../settings/today.ts';
import { idParams } from '../../typedFields.ts';
import { scoopMassMg } from '../cups.ts';
import { theAuxiliary } from '../present.ts';
import {
  closedContainerCountOfAuxiliary,
  methodsWithAuxiliary,
  openContainersOfAuxiliary,
  setAuxiliaryArchived,
} from '../queries.ts';
import { type Auxiliary, ScoopForm } from '../schemas.ts';
import { formPage } from './form.ts';

/** What the scoop that was typed into the address weighs, once it can be said. */
function scooped(auxiliary: Auxiliary, typed: Record<string, string>): { answer: ScoopAnswer | null; form: FormState } {
  if (!typed['scoop']?.trim() || auxiliary.cupMassMg === null) return { answer: null, form: { ...emptyForm, typed } };
  const read = ScoopForm.safeParse(typed);
  if (!read.success) return { answer: null, form: { typed, errors: zodFieldErrors(read.error) } };
  const volumeUl = read.data.scoop;
  return { answer: { volumeUl, massMg: scoopMassMg(auxiliary, volumeUl) }, form: { typed, errors: {} } };
}

export const showAuxiliary = page({
  params: idParams,
  show: (deps, { params, request, reply }) => {
    const { db } = deps;
    const auxiliary = theAuxiliary(db, params.id);
    const { answer, form } = scooped(auxiliary, typedBody(request.query));
    const show = showOf(db);
    return sendPage(request, reply, {
      title: auxiliary.name,
      section: 'auxiliaries',
      part: scoopAnswer({ answer, form }),
      body: auxiliaryPage({
        auxiliary,
        form,
        answer,
        containers: openContainersOfAuxiliary(db, auxiliary.auxiliaryId),
        closedCount: closedContainerCountOfAuxiliary(db, auxiliary.auxiliaryId),
        methods: methodsWithAuxiliary(db, auxiliary.auxiliaryId),
        mayWork: allows(request.actor, 'work'),
        show,
        todayOn: today(deps),
      }),
    });
  },
});

export const putAuxiliaryAway = puttingAway({
  at: '/auxiliaries',
  find: theAuxiliary,
  setArchived: setAuxiliaryArchived,
  again: formPage,
});
