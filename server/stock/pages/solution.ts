import type { FormState } from '../../../views/kit/field.ts';
import { type SolutionAnswer, solutionAnswer, solutionForm } from '../../../views/stock/solution.ts';
import { CalcError } from '../../calc/calcError.ts';
import { massMgOf, pctTyped } from '../../calc/quantity.ts';
import type { Db } from '../../db/open.ts';
import type { Deps } from '../../deps.ts';
import { submitForm, typedBody } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { defaultScale, theStudio } from '../../settings/queries.ts';
import { showOf } from '../../settings/show.ts';
import { today } from '../../settings/today.ts';
import { idParams } from '../../typedFields.ts';
import { powderContainer } from '../containerState.ts';
import { bestBeforeOfSolution, makeStockSolution, proposedSolutionCode } from '../containers.ts';
import { freshForm } from '../deedPages.ts';
import { type StockLotOverview, safetyOf, solutionLifeDaysOf } from '../queries.ts';
import { SolutionForm, SolutionQuestion } from '../schemas.ts';
import { makeUpVolumeUl, powderMassMg } from '../solutions.ts';

/** A mass that may be half typed: null until it can be read. */
function massTyped(text: string | undefined): number | null {
  if (!text?.trim()) return null;
  try {
    return massMgOf({ text, defaultUnit: 'g', field: 'mass' }) || null;
  } catch (error) {
    if (error instanceof CalcError) return null;
    throw error;
  }
}

/** The answer to a form that is still being filled in; null until volume and strength can be read. */
function answerTo(db: Db, row: StockLotOverview, typed: FormState['typed']): SolutionAnswer | null {
  const asked = SolutionQuestion.safeParse(typed);
  if (!asked.success) return null;
  const { volume: volumeUl, conc: concPpm, mass } = asked.data;
  const massMg = massTyped(mass);
  return {
    concPpm,
    volumeUl,
    powderMg: powderMassMg({ volumeUl, concPpm }),
    weighed: massMg === null ? null : { massMg, makeUpUl: makeUpVolumeUl({ massMg, concPpm }) },
    onHandMg: row.onHandQuantity,
    readabilityMg: defaultScale(db)?.readabilityMg ?? 10,
  };
}

function solutionPage(deps: Deps, row: StockLotOverview & { unit: 'mg' }, form: FormState): Rendering {
  const { db } = deps;
  const answer = answerTo(db, row, form.typed);
  return {
    title: `Make a solution of ${row.code}`,
    section: 'stock',
    body: solutionForm({
      container: row,
      form,
      answer,
      safety: safetyOf(db, row) ?? { hazardCodes: '', sdsUrl: '' },
      proposedCode: proposedSolutionCode(db, row.code),
      lifeDays: solutionLifeDaysOf(db, row.dyeId),
      proposedBestBeforeOn: bestBeforeOfSolution(db, row.dyeId, today(deps)),
      show: showOf(db),
    }),
    part: solutionAnswer(answer),
  };
}

export const newSolution = page({
  params: idParams,
  show: (deps, { params, request, reply }) => {
    const { db } = deps;
    const row = powderContainer(db, params.id);
    const typed = {
      conc: pctTyped({ ppm: theStudio(db).stockConcPpm }),
      madeOn: today(deps),
      bestBeforeOn: bestBeforeOfSolution(db, row.dyeId, today(deps)) ?? '',
      ...typedBody(request.query),
    };
    return sendPage(request, reply, solutionPage(deps, row, freshForm(deps, typed)));
  },
});

export const makeSolution = page({
  params: idParams,
  show: (deps, { params, request, reply }) => {
    const row = powderContainer(deps.db, params.id);
    return submitForm(request, reply, {
      schema: SolutionForm,
      save: ({ volume: wantedUl, conc: concPpm, mass: massMg, madeUpTo: madeUpUl, clientId = null, ...input }) => {
        const made = { ...input, concPpm, massMg, madeUpUl, wantedUl, clientId };
        return `/stock/${makeStockSolution(deps, row.id, made, actorOf(request)).id}`;
      },
      again: (form) => ({ ...solutionPage(deps, row, form), part: undefined }),
    });
  },
});
