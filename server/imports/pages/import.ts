import { importedPage } from '../../../views/imports/import.ts';
import type { Db } from '../../db/open.ts';
import { asRefusal, found } from '../../errors.ts';
import { type Rendering, seeOther, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { undyedOfImport } from '../../matching/queries.ts';
import { actorOf } from '../../people/guards.ts';
import { showOf } from '../../settings/show.ts';
import { idParams } from '../../typedFields.ts';
import { importById, namesOf, thingsOf } from '../queries.ts';
import { undoImport } from '../undoImport.ts';

const NAMES_SHOWN = 60;

const imported = (db: Db, importId: number, refused = ''): Rendering => {
  const row = found(importById(db, importId), 'import');
  const things = thingsOf(db, importId);
  const undyed = undyedOfImport(db, importId);
  const kinds = [...new Set(things.map((t) => t.thing))];
  return {
    title: `Import of ${row.fileName}`,
    section: 'settings',
    body: importedPage({
      row,
      refused,
      groups: [
        ...kinds.map((thing) => {
          const ids = things.filter((t) => t.thing === thing).map((t) => t.thingId);
          return {
            thing,
            count: ids.length,
            items: row.undoneAt === null ? namesOf(db, thing, ids.slice(0, NAMES_SHOWN)) : [],
          };
        }),
        ...(undyed.length > 0 ? [{ thing: 'undyed', count: undyed.length, items: undyed.slice(0, NAMES_SHOWN) }] : []),
      ],
      show: showOf(db),
    }),
  };
};

export const showImport = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => sendPage(request, reply, imported(db, params.id)),
});

export const undo = page({
  params: idParams,
  show: (deps, { params, request, reply }) => {
    try {
      undoImport(deps, params.id, actorOf(request));
    } catch (error) {
      const refusal = asRefusal(error);
      if (!refusal || refusal.status === 404) throw error;
      return sendPage(request, reply, { ...imported(deps.db, params.id, refusal.message), status: refusal.status });
    }
    return seeOther(reply, `/imports/${params.id}`);
  },
});
