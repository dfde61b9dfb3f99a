import { samplingListPage } from '../../../views/sampling/list.ts';
import { typedBody } from '../../http/forms.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { allows } from '../../people/guards.ts';
import { showOf } from '../../settings/show.ts';
import { listPlans } from '../queries.ts';

const PAGE = 40;

/** The plan after which the list goes on; the newest when the address says nothing readable. */
const beforeIn = (typed: Record<string, string>): number | null =>
  /^[1-9]\d{0,14}$/.test(typed['before'] ?? '') ? Number(typed['before']) : null;

export const listAllPlans = page({
  show: ({ db }, { request, reply }) => {
    const before = beforeIn(typedBody(request.query));
    const rows = listPlans(db, before, PAGE + 1);
    return sendPage(request, reply, {
      title: 'Sampling',
      section: 'swatches',
      body: samplingListPage({
        plans: rows.slice(0, PAGE),
        nextHref: rows.length > PAGE ? `/sampling?before=${rows[PAGE - 1]?.planId}` : null,
        firstHref: before === null ? null : '/sampling',
        mayWork: allows(request.actor, 'work'),
        show: showOf(db),
      }),
    });
  },
});
