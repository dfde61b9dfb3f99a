import { CLOCKS_DIFFER_MS, type PossibleTime, possibleTime } from '../calc/possibleTime.ts';
import type { Db } from '../db/open.ts';
import type { LotRow } from '../db/tables/lots.ts';
import type { Actor, Deps } from '../deps.ts';
import { notFound } from '../errors.ts';
import { issue } from '../stock/ledger.ts';
import { stockLotById } from '../stock/queries.ts';
import { settle } from './benchQuestions.ts';
import type { Bench } from './benchState.ts';
import { writeCostLines } from './costAtClosing.ts';
import { askAboutWeighing } from './late.ts';
import type { SentOccurrence } from './occurrence.ts';
import { closeLot, entryById, insertEntry, lotById } from './queries.ts';

/** A lot is closed after it began: after its earliest happening, or of one on which nothing happened, after it was planned. */
export function closingTime(lot: LotRow, at: number, now: number): PossibleTime {
  return possibleTime({
    atMs: at,
    nowMs: now,
    beganAtMs: lot.startedAt ?? lot.plannedAt,
    beforeMs: CLOCKS_DIFFER_MS,
    aheadMs: CLOCKS_DIFFER_MS,
    field: 'at',
    tooEarly: 'That is before work on the lot began: look at the day, or at the device’s clock.',
  });
}

export function close(
  deps: Deps,
  tx: Db,
  bench: Bench,
  status: 'finished' | 'abandoned',
  h: SentOccurrence & PossibleTime & { digest: string },
  by: Actor,
  words: string,
): LotRow {
  const { lot } = bench;
  if (status === 'finished' && lot.goodsStockLotId !== null) {
    const stockLotId = lot.goodsStockLotId;
    // The last of a roll goes into a lot, the roll is closed as empty, the lot is finished: the goods had left it before.
    const closedAt = stockLotById(tx, stockLotId)?.closedAt ?? null;
    const at = closedAt === null ? h.at : Math.min(h.at, closedAt - 1);
    const reason = 'goods of the lot';
    issue(tx, { stockLotId, quantity: bench.dryMassMg, lotId: lot.id, weighingId: null, reason }, by, {
      at,
      recordedAt: deps.now(),
    });
  }
  writeCostLines(deps, tx, bench, status, h.at);
  insertEntry(tx, {
    lotId: lot.id,
    clientId: h.clientId,
    kind: status === 'finished' ? 'finish' : 'abandon',
    text: words,
    valueJson: '{}',
    at: h.at,
    clockSaidAt: h.clockSaidAt,
    recordedAt: deps.now(),
    byPersonId: by.personId,
    contentDigest: h.digest,
  });
  // Nothing is left to choose at the bench of a lot that is closed.
  settle(tx, lot.id, 'all', { answer: 'lapsed', words: 'The lot was closed as it was.', at: deps.now() }, by);
  closeLot(tx, lot.id, status, h.at);
  const closed = lotById(tx, lot.id);
  if (!closed) throw notFound('lot');
  askAboutLaterWeighings(tx, closed, bench, by, deps.now());
  return closed;
}

/** A closing that is sent late may lie before weighings that reached us in the meantime: asked as if they had come after it. */
function askAboutLaterWeighings(tx: Db, lot: LotRow, bench: Bench, by: Actor, now: number): void {
  for (const w of bench.lines.flatMap((l) => l.weighings)) {
    // A time ahead of our own clock is the clock's doing.
    if (w.voided || lot.finishedAt === null || w.at <= lot.finishedAt || w.at > now) continue;
    const stockLot = stockLotById(tx, w.stockLotId);
    const entry = entryById(tx, w.logEntryId);
    if (!stockLot || !entry) throw notFound('weighing');
    const amount = w.massMg ?? w.volumeUl ?? 0;
    askAboutWeighing(
      tx,
      { lot, stockLot, entry: { ...entry, recordedAt: now }, amount },
      { ...by, name: w.personName },
    );
  }
}
