import { z } from 'zod';
import type { FormState, Typed } from '../../../views/kit/field.ts';
import { finishPage } from '../../../views/lots/finish.ts';
import { durationText } from '../../calc/quantity.ts';
import type { Deps } from '../../deps.ts';
import { demandNone, found } from '../../errors.ts';
import { submitForm, typedRows } from '../../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { listPeople } from '../../people/queries.ts';
import { theStudio } from '../../settings/queries.ts';
import {
  countField,
  idParams,
  optionalCount,
  optionalDurationS,
  optionalMoneyMinor,
  optionalText,
} from '../../typedFields.ts';
import { abandonLot } from '../abandonLot.ts';
import { benchOf } from '../benchState.ts';
import { finishLot } from '../finishLot.ts';
import { lotById } from '../queries.ts';

const OutcomeForm = (currency: string) =>
  z.object({
    firstQuality: countField('How many came out first quality?'),
    seconds: optionalCount(),
    rework: optionalCount(),
    scrap: optionalCount(),
    secondsValue: optionalMoneyMinor(currency),
    note: optionalText(4000),
    doDifferently: optionalText(4000),
    unweighedConfirmed: z.literal('yes').optional(),
    clientId: z.string().min(8).max(64),
  });
const AbandonForm = z.object({
  reason: z.string().trim().min(1, 'Say why, for the log.').max(500),
  clientId: z.string().min(8).max(64),
});

export const showFinish = page({
  params: idParams,
  show(deps, { params, request, reply }) {
    const lot = found(lotById(deps.db, params.id), 'lot');
    if (lot.finishedAt !== null) return seeOther(reply, `/lots/${lot.id}`);
    return sendPage(request, reply, formPage(deps, lot.id, actorOf(request).personId, null));
  },
});

export const finishTypedLot = page({
  params: idParams,
  show: (deps, { params, request, reply }) =>
    submitForm(request, reply, {
      schema: OutcomeForm(theStudio(deps.db).currency),
      save: ({ seconds, rework, scrap, secondsValue, unweighedConfirmed, ...input }, typed) => {
        finishLot(
          deps,
          {
            ...input,
            lotId: params.id,
            seconds: seconds ?? 0,
            rework: rework ?? 0,
            scrap: scrap ?? 0,
            secondsValueMinor: secondsValue ?? 0,
            labour: labourRows(typed),
            unweighedConfirmed: unweighedConfirmed === 'yes',
            at: deps.now(),
          },
          actorOf(request),
        );
        return `/lots/${params.id}`;
      },
      again: (form) => formPage(deps, params.id, actorOf(request).personId, form),
    }),
});

export const abandonTypedLot = page({
  params: idParams,
  show: (deps, { params, request, reply }) =>
    submitForm(request, reply, {
      schema: AbandonForm,
      save: (input) => {
        abandonLot(deps, { lotId: params.id, ...input, at: deps.now() }, actorOf(request));
        return `/lots/${params.id}`;
      },
      again: (form) => formPage(deps, params.id, actorOf(request).personId, form),
    }),
});

function formPage({ db, now, newId }: Deps, lotId: number, personId: number, form: FormState | null): Rendering {
  const bench = benchOf(db, lotId, now());
  const clientId = form?.typed['clientId'] ?? newId();
  const typed: Record<string, string> = { clientId };
  if (!form) {
    bench.steps.forEach((step, i) => {
      const planned = bench.plan.steps.find((p) => p.ordinal === step.ordinal)?.handsOnS ?? 0;
      typed[`time.${i}`] = planned > 0 ? durationText({ durationS: planned }) : '';
      typed[`personId.${i}`] = String(personId);
    });
    typed[`personId.${bench.steps.length}`] = String(personId);
  }
  return {
    title: `Finish lot ${bench.lot.number}`,
    section: 'lots',
    body: finishPage({
      lotId,
      number: bench.lot.number,
      goodsText: bench.lot.goodsText,
      pieces: bench.lot.pieces,
      form: form ?? { typed, errors: {} },
      currency: theStudio(db).currency,
      people: listPeople(db)
        .filter((p) => p.active === 1)
        .map((p) => ({ value: String(p.id), label: p.name })),
      steps: bench.steps.map((s) => ({ stepId: s.stepId, name: s.name })),
      unweighed: bench.lines.filter((l) => l.actual === undefined).map((l) => l.component.name),
      clientId,
    }),
  };
}

/** Hands: one row a step; a time that cannot be read is a message beside it. */
function labourRows(typed: Typed): { stepId: number | null; personId: number; durationS: number }[] {
  const errors: Record<string, string> = {};
  const rows = typedRows(typed, ['stepId', 'time', 'personId']).flatMap((r) => {
    if (r.time === '') return [];
    const parsed = optionalDurationS('min').safeParse(r.time);
    if (!parsed.success) errors[`time.${r.row}`] = parsed.error.issues[0]?.message ?? 'That is not a time.';
    return parsed.success && parsed.data !== null
      ? [{ stepId: r.stepId === '' ? null : Number(r.stepId), personId: Number(r.personId), durationS: parsed.data }]
      : [];
  });
  demandNone(errors);
  return rows;
}
