import { submitForm, typedRows } from '../../http/forms.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { planRendering } from '../present.ts';
import { keepResults, typedResults } from '../results.ts';
import { KeepForm, TypedResultsForm } from '../schemas.ts';
import { makeSwatches } from '../swatchesOfPieces.ts';

export const showPlan = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => sendPage(request, reply, planRendering(db, request, params.id)),
});

export const keepTypedResults = page({
  params: idParams,
  show: ({ db }, { params: { id: planId }, request, reply }) =>
    submitForm(request, reply, {
      schema: TypedResultsForm,
      shape: (typed) => ({ ...typed, rows: typedRows(typed, ['colour']) }),
      save: (typed) => {
        keepResults(db, planId, typedResults(typed));
        return `/sampling/${planId}#results`;
      },
      again: (form) => planRendering(db, request, planId, { form }),
    }),
});

export const keepSwatches = page({
  params: idParams,
  show: ({ db, now }, { params: { id: planId }, request, reply }) =>
    submitForm(request, reply, {
      schema: KeepForm,
      save: (wish) => {
        makeSwatches(db, planId, actorOf(request), now(), wish);
        return `/sampling/${planId}#results`;
      },
      again: (form) => planRendering(db, request, planId, { form }),
    }),
});
