import { KINDS } from '../../../views/costing/costKinds.ts';
import { linesPage } from '../../../views/costing/lines.ts';
import { notFound } from '../../errors.ts';
import { typedBody } from '../../http/forms.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { showOf } from '../../settings/show.ts';
import { filterOf } from '../closedLotFilter.ts';
import { type Costs, costGroups } from '../groups.ts';
import { carried, labelOf } from '../present.ts';
import { costLinesOf, goodsTextsOf } from '../queries.ts';
import { GroupFilter } from '../schemas.ts';

const LOTS_OF_LINES = 60;

export const showLines = page({
  query: GroupFilter,
  show: async ({ db }, { query, request, reply }) => {
    const asked = query;
    const { by, of, kind, page } = asked;
    const typed = typedBody(query);
    const raw = typedBody(Object.fromEntries(new URL(request.url, 'http://studio').searchParams));
    const { groups } = await costGroups(
      db,
      filterOf(db, asked),
      of === undefined ? 'lot' : by,
      (key) => of === undefined || key === of,
    );
    const group = of === undefined ? null : groups.find((g) => g.key === of);
    if (group === undefined) throw notFound('group of costs in these days');
    const parts = (group === null ? groups.flatMap((g) => g.lots) : [...group.lots].reverse()).filter(
      (p) => kind === undefined || p.byKind[kind] !== 0 || p.totalMinor === 0,
    );
    const figure = (c: Costs): number => (kind === undefined ? c.totalMinor : c.byKind[kind]);
    const shown = parts.slice((page - 1) * LOTS_OF_LINES, page * LOTS_OF_LINES);
    const lines = costLinesOf(
      db,
      shown.map((p) => p.lot.lotId),
    );
    const goodsTexts = new Map(
      goodsTextsOf(
        db,
        shown.map((p) => p.lot.lotId),
      ).map((l) => [l.lotId, l.goodsText]),
    );
    const href = (n: number): string =>
      `/costing/lines?${carried(raw, { by, ...(of === undefined ? {} : { of }), ...(kind ? { kind } : {}), page: String(n) })}`;
    const name = group === null ? 'All lots' : labelOf(by, group);
    return sendPage(request, reply, {
      title: 'Cost lines',
      section: 'costing',
      body: linesPage({
        title: kind ? `${KINDS[kind].label}: ${name}` : `Cost: ${name}`,
        backHref: `/costing?${carried({ ...typed, ...raw }, { by })}`,
        lots: shown.map((p) => {
          const own = lines.filter((l) => l.lotId === p.lot.lotId && (kind === undefined || l.kind === kind));
          return {
            lotId: p.lot.lotId,
            number: p.lot.number,
            finishedOn: p.lot.closedOn,
            goodsText: goodsTexts.get(p.lot.lotId) ?? '',
            sharePpm: p.sharePpm,
            lines: own,
            linesMinor: own.reduce((sum, l) => sum + l.costMinor, 0),
            partMinor: figure(p),
            estimateMinor: p.estimateMinor,
          };
        }),
        lotCount: parts.length,
        figureMinor: parts.reduce((sum, p) => sum + figure(p), 0),
        estimateMinor: kind === undefined ? parts.reduce((sum, p) => sum + p.estimateMinor, 0) : null,
        nextHref: page * LOTS_OF_LINES < parts.length ? href(page + 1) : null,
        firstHref: page === 1 ? null : href(1),
        show: showOf(db),
      }),
    });
  },
});
