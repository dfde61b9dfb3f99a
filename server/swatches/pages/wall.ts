import { moreTiles, swatchesPage, swatchWall } from '../../../views/swatches/wall.ts';
import { readInput, typedBody } from '../../http/forms.ts';
import { sendPage, wantsPart } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { allows } from '../../people/guards.ts';
import { dyesInUse } from '../../recipes/queries.ts';
import { anySwatch, countSwatches, listSwatches } from '../queries.ts';
import { WallQuery, type WallQueryInput } from '../schemas.ts';
import { fibreOptions, methodOptions } from './form.ts';

const TILES_AT_ONCE = 60;

/** The wall's address with only what differs from the plain wall. */
function wallHref(query: WallQueryInput, from: number): string {
  const plain: Record<string, unknown> = WallQuery.parse({});
  const said = Object.entries({ ...query, from }).flatMap(([name, value]): [string, string][] => {
    if (value === undefined || value === plain[name]) return [];
    return [[name, value === true ? 'yes' : String(value)]];
  });
  return said.length > 0 ? `/swatches?${new URLSearchParams(said)}` : '/swatches';
}

export const showWall = page({
  show: ({ db }, { request, reply }) => {
    const typed = typedBody(request.query);
    const query = readInput(WallQuery, typed);
    const { from, show, size, ...filter } = query;
    const total = countSwatches(db, filter);
    const wall = {
      tiles: listSwatches(db, filter, { from, limit: TILES_AT_ONCE, total }),
      total,
      from,
      show,
      size,
      moreHref: from + TILES_AT_ONCE < total ? wallHref(query, from + TILES_AT_ONCE) : null,
      anyAtAll: total > 0 || anySwatch(db),
      archived: filter.archived,
      mayWork: allows(request.actor, 'work'),
    };
    const rendering = { title: 'Swatch library', section: 'swatches' } as const;
    if (wantsPart(request)) {
      if (from === 0) reply.header('hx-push-url', wallHref(query, 0));
      return sendPage(request, reply, { ...rendering, body: from > 0 ? moreTiles(wall) : swatchWall(wall) });
    }
    return sendPage(request, reply, {
      ...rendering,
      body: swatchesPage({
        wall,
        form: { typed: { show, size, sort: filter.sort, ...typed }, errors: {} },
        choices: {
          fibres: fibreOptions(db),
          methods: methodOptions(db),
          dyes: dyesInUse(db).map((d) => ({ value: String(d.id), label: `${d.code} ${d.name}` })),
        },
      }),
    });
  },
});
