import { z } from 'zod';
import { emptyForm, type FormState } from '../../../views/kit/field.ts';
import { questionList } from '../../../views/questions/questions.ts';
import { containerPage } from '../../../views/stock/container.ts';
import type { Db } from '../../db/open.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { actorOf, allows } from '../../people/guards.ts';
import { questionsProps } from '../../questions/shown.ts';
import { instantsOfDay } from '../../settings/days.ts';
import { theStudio } from '../../settings/queries.ts';
import { showOf } from '../../settings/show.ts';
import { today } from '../../settings/today.ts';
import { idParams, optionalDay } from '../../typedFields.ts';
import { theContainer } from '../containerState.ts';
import {
  ledgerOf,
  onHandAt,
  receiptOf,
  safetyOf,
  solutionsOf,
  stockLotEventsOf,
  stockMoneyOf,
  strengthChangesOf,
} from '../queries.ts';
import { withShelfWorth } from '../worth.ts';

const ENTRIES_SHOWN = 50;

/** On hand at the end of a day that was typed into the address. */
function pastOf(db: Db, id: number, on: string | undefined): { form: FormState; quantity: number | null } {
  if (on === undefined) return { form: emptyForm, quantity: null };
  const read = optionalDay().safeParse(on);
  const form = { typed: { on }, errors: read.success ? {} : { on: 'That is not a day: try 2026-03-31.' } };
  if (!read.success || read.data === null) return { form, quantity: null };
  return { form, quantity: onHandAt(db, id, instantsOfDay(read.data, theStudio(db).zone).endAt - 1) };
}

export const showContainer = page({
  params: idParams,
  query: z.object({ on: z.string().optional(), before: z.coerce.number().int().positive().optional() }),
  show: (deps, { params, query: { on, before }, request, reply }) => {
    const { db } = deps;
    const row = theContainer(db, params.id);
    const { id } = row;
    const entries = ledgerOf(db, id, before ?? null, ENTRIES_SHOWN);
    return sendPage(request, reply, {
      title: row.code,
      section: 'stock',
      body: containerPage({
        strengthChanges: strengthChangesOf(db, id),
        container: withShelfWorth(db, [row], deps.now())[0] ?? row,
        lateMoney: stockMoneyOf(db, id),
        safety: safetyOf(db, row) ?? null,
        entries,
        nextHref: entries.length === ENTRIES_SHOWN ? `/stock/${id}?before=${entries.at(-1)?.id}` : null,
        firstHref: before === undefined ? null : `/stock/${id}`,
        solutions: withShelfWorth(db, solutionsOf(db, id), deps.now()),
        events: stockLotEventsOf(db, id),
        questions: questionList(questionsProps(db, { stockLotId: id }, actorOf(request), `/stock/${id}`)),
        receivedAt: receiptOf(db, id)?.at ?? 0,
        past: pastOf(db, id, on),
        mayLog: allows(request.actor, 'log'),
        mayWork: allows(request.actor, 'work'),
        mayOwn: allows(request.actor, 'own'),
        show: showOf(db),
        todayOn: today(deps),
      }),
    });
  },
});
