import { costsPage } from '../../../views/costing/costs.ts';
import type { FieldErrors } from '../../../views/kit/field.ts';
import { typedBody, zodFieldErrors } from '../../http/forms.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { showOf } from '../../settings/show.ts';
import { today } from '../../settings/today.ts';
import { type filterOf, historyOptions, lotsAskedFor } from '../closedLotFilter.ts';
import { costGroups } from '../groups.ts';
import { carried, figuresOf, labelOf } from '../present.ts';
import { lastTwelveMonths, usualRanges } from '../ranges.ts';
import { CostingFilter, type Grouping, groupings } from '../schemas.ts';

const GROUPS_SHOWN = 80;

const HREFS: Partial<Record<Grouping, (key: string) => string>> = {
  lot: (key) => `/costing/lots/${key}`,
  order: (key) => `/orders/${key}`,
  customer: (key) => `/customers/${key}`,
  shade: (key) => `/costing/shades/${key}`,
  method: (key) => `/methods/${key}`,
  fibre: (key) => `/fibres/${key}`,
};

export const showCosts = page({
  show: async (deps, { request, reply }) => {
    const todayOn = today(deps);
    const asked = typedBody(request.query);
    const year = lastTwelveMonths(todayOn);
    const typed: Record<string, string> =
      'from' in asked || 'to' in asked ? asked : { ...asked, from: year.from, to: year.to };
    const parsed = CostingFilter.safeParse(typed);
    const by = parsed.success ? parsed.data.by : 'shade';
    const { filter, errors }: { filter: ReturnType<typeof filterOf> | null; errors: FieldErrors } = parsed.success
      ? lotsAskedFor(deps.db, parsed.data)
      : { filter: null, errors: zodFieldErrors(parsed.error) };
    const isRefused = Object.keys(errors).length > 0;
    const costs = filter === null || isRefused ? null : await costGroups(deps.db, filter, by, () => false);
    return sendPage(request, reply, {
      title: 'Costing',
      section: 'costing',
      status: isRefused ? 422 : 200,
      body: costsPage({
        by,
        form: { typed, errors },
        choices: historyOptions(deps.db),
        tabs: groupings.map((g) => ({ by: g, href: `/costing?${carried(typed, { by: g })}` })),
        ranges: [year, ...usualRanges(todayOn)].map(({ label, from, to }) => ({
          label,
          href: `/costing?${carried({ ...typed, from, to }, { by })}`,
          current: typed['from'] === from && typed['to'] === to,
        })),
        groups:
          costs?.groups.slice(0, GROUPS_SHOWN).map((g) => ({
            ...figuresOf(g),
            key: g.key,
            label: labelOf(by, g),
            nowCalled: g.label === g.labelNow ? null : g.labelNow,
            href: g.key === '' ? null : (HREFS[by]?.(g.key) ?? null),
            linesHref: `/costing/lines?${carried(typed, { by, of: g.key })}`,
            lotCount: g.lotCount,
          })) ?? null,
        hidden: Math.max(0, (costs?.groups.length ?? 0) - GROUPS_SHOWN),
        total:
          costs === null
            ? null
            : {
                ...figuresOf(costs.total),
                key: '',
                label: 'all',
                nowCalled: null,
                href: null,
                linesHref: `/costing/lines?${carried(typed, { by })}`,
                lotCount: costs.lotCount,
              },
        show: showOf(deps.db),
      }),
    });
  },
});
