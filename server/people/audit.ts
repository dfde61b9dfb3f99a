import type { AuditEntryRow } from '../db/tables/studio.ts';
import type { Deps } from '../deps.ts';
import { insertAudit } from './queries.ts';

/** Writes who did what. The only writer of the audit: requests come here from one hook, commands from their own end. */
export function recordAction(
  { db, now }: Pick<Deps, 'db' | 'now'>,
  action: Omit<AuditEntryRow, 'id' | 'at' | 'tokenId' | 'detail'> & { tokenId?: number | null; detail?: string },
): void {
  insertAudit(db, {
    ...action,
    at: now(),
    path: action.path.slice(0, 300),
    detail: (action.detail ?? '').slice(0, 300),
  });
}
