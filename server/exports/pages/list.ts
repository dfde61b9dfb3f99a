import { exportsPage } from '../../../views/exports/list.ts';
import { seeOther, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { allows } from '../../people/guards.ts';
import { today } from '../../settings/today.ts';
import { idParams } from '../../typedFields.ts';
import { listSavedExports, orderNumberOf } from '../queries.ts';
import { columnsOf, daysOfSpan, forgetExport } from '../savedExports.ts';

export const showExports = page({
  show: (deps, { request, reply }) => {
    const todayOn = today(deps);
    return sendPage(request, reply, {
      title: 'Saved exports',
      section: 'history',
      body: exportsPage({
        exports: listSavedExports(deps.db).map((row) => ({
          id: row.id,
          name: row.name,
          rows: row.rowKind,
          format: row.format,
          span: row.span,
          ...daysOfSpan(row, todayOn),
          order: row.orderId === null ? null : orderNumberOf(deps.db, row.orderId),
          columnCount: columnsOf(row).length,
        })),
        mayWork: allows(request.actor, 'work'),
      }),
    });
  },
});

export const removeExport = page({
  params: idParams,
  show: (deps, { params, reply }) => {
    forgetExport(deps, params.id);
    return seeOther(reply, '/exports');
  },
});
