import { auditPage } from '../../../views/people/audit.ts';
import { readInput } from '../../http/forms.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { showOf } from '../../settings/show.ts';
import { auditBefore, listPeople } from '../queries.ts';
import { AUDIT_PAGE, AuditQuery } from '../schemas.ts';

export const showAudit = page({
  show: ({ db }, { request, reply }) => {
    const filter = readInput(AuditQuery, request.query ?? {});
    const lines = auditBefore(db, filter, AUDIT_PAGE + 1);
    const shown = lines.slice(0, AUDIT_PAGE);
    return sendPage(request, reply, {
      title: 'Who did what',
      section: 'settings',
      body: auditPage({
        lines: shown,
        nextBefore: lines.length > AUDIT_PAGE ? (shown.at(-1)?.id ?? null) : null,
        personId: filter.personId,
        people: listPeople(db).map(({ id, name }) => ({ id, name })),
        show: showOf(db),
      }),
    });
  },
});
