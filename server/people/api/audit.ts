import { z } from 'zod';
import { NextPage, pagedByNumber, pageOf } from '../../http/paging.ts';
import { operation } from '../../http/routes.ts';
import { auditBefore } from '../queries.ts';
import { AUDIT_PAGE, AuditEntryResource } from '../schemas.ts';

export const listAudit = operation({
  id: 'listAuditEntries',
  summary: 'Who did what, the latest first',
  query: z.object(pagedByNumber(AUDIT_PAGE)),
  answer: z.object({ auditEntries: z.array(AuditEntryResource), next: NextPage }),
  run: ({ db }, { query: { after, limit } }) => {
    const lines = auditBefore(db, { personId: null, before: after ?? null }, limit + 1);
    const { shown, next } = pageOf(lines, limit, (line) => line.id);
    return { auditEntries: shown.map(({ id, ...line }) => ({ ...line, auditEntryId: id })), next };
  },
});
