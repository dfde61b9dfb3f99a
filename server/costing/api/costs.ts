import { operation } from '../../http/routes.ts';
import { theStudio } from '../../settings/queries.ts';
import { filterOf } from '../closedLotFilter.ts';
import { costGroups } from '../groups.ts';
import { figuresOf, labelOf } from '../present.ts';
import { CostGroupsResource, CostingFilter } from '../schemas.ts';

export const listCostGroups = operation({
  id: 'listCostGroups',
  summary: 'Costs by lot, order, customer, shade, method, fibre or month; the groups add to the total',
  query: CostingFilter,
  answer: CostGroupsResource,
  run: async ({ db }, { query }) => {
    const { groups, total, lotCount } = await costGroups(db, filterOf(db, query), query.by, () => true);
    return {
      currency: theStudio(db).currency,
      by: query.by,
      lotCount,
      total: figuresOf(total),
      groups: groups.map((g) => ({
        ...figuresOf(g),
        key: g.key,
        label: labelOf(query.by, g),
        labelNow: labelOf(query.by, { key: g.key, label: g.labelNow }),
        lots: g.lots.map((p) => ({
          lotId: p.lot.lotId,
          number: p.lot.number,
          sharePpm: p.sharePpm,
          totalMinor: p.totalMinor,
        })),
      })),
    };
  },
});
