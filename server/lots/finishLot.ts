import type { Db } from '../db/open.ts';
import type { LotRow } from '../db/tables/lots.ts';
import type { Actor, Deps } from '../deps.ts';
import { invalid, notFound, Refusal } from '../errors.ts';
import { personById } from '../people/queries.ts';
import { theStudio } from '../settings/queries.ts';
import { type Bench, benchOf } from './benchState.ts';
import { close, closingTime } from './closeLot.ts';
import { demandOpen, type SentOccurrence, sentBefore } from './occurrence.ts';
import { insertEntry, insertLabour, insertOutcome, lotById, stepsOf } from './queries.ts';

export interface OutcomeInput extends SentOccurrence {
  lotId: number;
  firstQuality: number;
  seconds: number;
  rework: number;
  scrap: number;
  /** What the seconds will bring, in money. */
  secondsValueMinor: number;
  note: string;
  doDifferently: string;
  labour: { stepId: number | null; personId: number; durationS: number }[];
  /** Said by the person when lines of the weigh-up have no reading. */
  unweighedConfirmed: boolean;
}

/** Finishes a lot: outcome, labour, goods and cost lines in one transaction, after which the lot never changes. */
export function finishLot(deps: Deps, sent: OutcomeInput, by: Actor): LotRow {
  return deps.db.transaction((tx) => {
    const { known, digest } = sentBefore(tx, sent.lotId, sent, 'finish');
    const done = known && lotById(tx, sent.lotId);
    if (done) return done;
    const bench = benchOf(tx, sent.lotId, deps.now());
    demandOpen(bench.lot);
    const input = { ...sent, ...closingTime(bench.lot, sent.at, deps.now()) };
    if (bench.lot.status === 'planned')
      throw new Refusal('conflict', 'Nothing has happened on this lot yet. Weigh, start a step or write a note first.');
    judge(input, bench);
    const missing = bench.lines.filter((l) => l.actual === undefined).map((l) => l.component.name);
    if (missing.length > 0 && !input.unweighedConfirmed) {
      throw invalid({
        unweighedConfirmed: `No reading of ${missing.join(', ')}. Weigh it, or tick that the lot was dyed without a record of it.`,
      });
    }
    writeLabour(deps, tx, bench.lot, input, by);
    insertOutcome(tx, {
      lotId: bench.lot.id,
      firstQuality: input.firstQuality,
      seconds: input.seconds,
      rework: input.rework,
      scrap: input.scrap,
      secondsValueMinor: input.secondsValueMinor,
      note: input.note.trim(),
      doDifferently: input.doDifferently.trim(),
      judgedAt: input.at,
      judgedBy: by.personId,
    });
    return close(
      deps,
      tx,
      bench,
      'finished',
      { ...input, digest },
      by,
      `${input.firstQuality} first quality, ${input.seconds} seconds, ${input.rework} rework, ${input.scrap} scrap`,
    );
  });
}

function judge(input: OutcomeInput, bench: Bench): void {
  const total = input.firstQuality + input.seconds + input.rework + input.scrap;
  if (input.seconds === 0 && input.secondsValueMinor > 0)
    throw invalid({ secondsValue: 'There are no seconds that could bring it. How many are seconds?' });
  if (total === 0) throw invalid({ firstQuality: 'How many pieces came out, and how good?' });
  if (bench.lot.pieces !== null && total !== bench.lot.pieces && input.note.trim() === '') {
    throw invalid({
      note: `${bench.lot.pieces} pieces were planned and these add to ${total}. Correct the counts, or say here what happened to the rest.`,
    });
  }
  const running = bench.steps.find((s) => s.state === 'running' || s.state === 'overdue');
  if (running)
    throw invalid(
      { '': `“${running.name}” is still running. End it first.` },
      `“${running.name}” is still running. End it first.`,
    );
}

function writeLabour(deps: Deps, tx: Db, lot: LotRow, input: OutcomeInput, by: Actor): void {
  const studio = theStudio(tx);
  const steps = new Map(stepsOf(tx, lot.id).map((s) => [s.id, s.name]));
  for (const { stepId, personId, durationS } of input.labour) {
    if (durationS <= 0) continue;
    const person = personById(tx, personId);
    if (!person) throw notFound('person');
    if (stepId !== null && !steps.has(stepId)) throw notFound('step of this lot');
    const entry = insertEntry(tx, {
      lotId: lot.id,
      clientId: `labour:${deps.newId()}`,
      kind: 'labour',
      stepId,
      text: `${person.name}: ${stepId === null ? 'the whole lot' : steps.get(stepId)}`,
      valueJson: JSON.stringify({ durationS }),
      at: input.at,
      recordedAt: deps.now(),
      byPersonId: by.personId,
    });
    insertLabour(tx, {
      lotId: lot.id,
      logEntryId: entry.id,
      stepId,
      personId,
      durationS,
      rateMinorPerHour: person.labourRateMinorPerHour ?? studio.labourRateMinorPerHour,
    });
  }
}
