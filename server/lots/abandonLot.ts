import type { LotRow } from '../db/tables/lots.ts';
import type { Actor, Deps } from '../deps.ts';
import { invalid } from '../errors.ts';
import { benchOf } from './benchState.ts';
import { close, closingTime } from './closeLot.ts';
import { demandOpen, type SentOccurrence, sentBefore } from './occurrence.ts';
import { lotById } from './queries.ts';

/** Gives a lot up, with a reason. What was weighed stays spent and costs what it cost. */
export function abandonLot(deps: Deps, sent: { lotId: number; reason: string } & SentOccurrence, by: Actor): LotRow {
  if (sent.reason.trim() === '') throw invalid({ reason: 'Say why, for the log.' });
  return deps.db.transaction((tx) => {
    const { known, digest } = sentBefore(tx, sent.lotId, sent, 'abandon');
    const done = known && lotById(tx, sent.lotId);
    if (done) return done;
    const bench = benchOf(tx, sent.lotId, deps.now());
    demandOpen(bench.lot);
    const input = { ...sent, ...closingTime(bench.lot, sent.at, deps.now()) };
    return close(deps, tx, bench, 'abandoned', { ...input, digest }, by, sent.reason.trim());
  });
}
