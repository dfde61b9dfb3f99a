import { depthsDyed } from '../closings/asDyed.ts';
import type { Db } from '../db/open.ts';
import { coloursOf } from './queries.ts';

/** The colours of a lot at the depth that each was really dyed at; at the plan's as long as it cannot be known. */
export function coloursAsDyed(db: Db, lotId: number): ReturnType<typeof coloursOf> {
  const dyed = new Map(depthsDyed(db, [lotId]).map((d) => [d.lotColourId, d.dyedPpm]));
  return coloursOf(db, lotId).map((c) => ({ ...c, depthPpm: dyed.get(c.id) ?? c.depthPpm }));
}
