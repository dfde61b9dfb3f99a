import { setImmediate as nextTurn } from 'node:timers/promises';
import type { KeptConditions, KeptLab } from '../calc/colour/reading.ts';
import type { Db } from '../db/open.ts';
import type { ImportedThingRow } from '../db/tables/keeping.ts';
import type { Actor, Deps } from '../deps.ts';
import { asRefusal, invalid } from '../errors.ts';
import { undyedCameWith } from '../matching/queries.ts';
import type { SpectrumInput } from '../readings/schemas.ts';
import { cardCode } from '../swatches/addSwatch.ts';
import { highestCardNumber } from '../swatches/queries.ts';
import { copyToTryOn, insertImport, insertImportRows, type Thing } from './queries.ts';
import type { ChoicesInput, ImportKind, RowReport } from './schemas.ts';

/** What a row is written with: the open transaction, who and when, the answers given, and what earlier rows brought. */
export interface Writing {
  tx: Db;
  /** The same with the transaction in its place, for rules that take deps. */
  deps: Deps;
  by: Actor;
  at: number;
  choices: Pick<ChoicesInput, 'duplicates' | 'missing' | 'newFibreClass' | 'defaultDay'>;
  /** Notes that a row brought a thing into the studio. */
  brought: (thing: Thing, id: number) => void;
  /** What else is worth saying of the row. */
  note: (words: string) => void;
  /** The code that the next card gets, and the one after it the next time; the whole library is asked once. */
  nextCard: () => string;
  /** Tells of a card with a code of its own, so that its number is not given again. */
  cardGiven: (code: string) => void;
  /** Samples of undyed goods that this import brought so far, by goods. */
  undyed: Map<number, UndyedSample[]>;
  /** The line that had this key before, or undefined; remembers it for this line. */
  seenBefore: (key: string) => number | undefined;
}

export interface UndyedSample extends KeptLab, KeptConditions {
  spectrum: SpectrumInput | null;
}

/** Says that a row is left out because its thing is there already. */
export const SKIPPED = 'skipped';
export type Outcome = 'new' | typeof SKIPPED;

export interface RowToWrite {
  line: number;
  label: string;
  write: (w: Writing) => Outcome;
}

export interface ImportReport {
  rows: RowReport[];
  counts: Record<RowReport['outcome'], number>;
  brought: Omit<ImportedThingRow, 'importId'>[];
  /** Goods whose colour before dyeing came with it. */
  undyedFibreIds: number[];
}

class TakenBack extends Error {}

export interface RowsToImport {
  kind: ImportKind;
  fileName: string;
  rows: readonly RowToWrite[];
  choices: Writing['choices'];
}

/** Writes all rows or none: refuses when there is one that cannot be written. */
export function runImport(deps: Deps, input: RowsToImport, by: Actor): { report: ImportReport; importId: number } {
  return deps.db.transaction((tx) => {
    const at = deps.now();
    const { report, write } = rowWriter(deps, tx, input.choices, by, at);
    for (const row of input.rows) write(row);
    if (report.counts.wrong > 0) {
      const wrong = report.rows.filter((r) => r.outcome === 'wrong');
      const [first] = wrong;
      throw invalid(
        Object.fromEntries(
          wrong.slice(0, 100).flatMap((r) => r.problems.map((p) => [`${r.line}.${p.field}`, p.words] as const)),
        ),
        `${wrong.length} of ${report.rows.length} rows cannot be read; nothing was imported. First: ${first?.label}: ${first?.problems[0]?.words}`,
      );
    }
    const made = insertImport(tx, {
      kind: input.kind,
      fileName: input.fileName.slice(0, 200),
      rowCount: report.counts.new,
      madeAt: at,
      madeBy: by.personId,
    });
    insertImportRows(
      tx,
      report.brought.map((b) => ({ ...b, importId: made.id })),
    );
    undyedCameWith(tx, report.undyedFibreIds, made.id);
    return { report, importId: made.id };
  });
}

/** So many rows are tried in one go. */
const ROWS_A_TURN = 25;
/** A larger database is not copied to try a file on it. */
const MOST_COPIED_BYTES = 64_000_000;

/** Foretells what `runImport` would do, by doing it and taking everything back. A long file is tried on a copy in memory, so
 *  that others are answered between its rows; in a studio too large to be copied they wait. */
export async function tryImport(deps: Deps, input: RowsToImport, by: Actor): Promise<ImportReport> {
  const at = deps.now();
  const copy = input.rows.length > ROWS_A_TURN ? copyToTryOn(deps.sqlite, MOST_COPIED_BYTES) : null;
  if (copy) {
    try {
      const { report, write } = rowWriter({ ...deps, ...copy }, copy.db, input.choices, by, at);
      for (const [i, row] of input.rows.entries()) {
        if (i % ROWS_A_TURN === ROWS_A_TURN - 1) await nextTurn();
        write(row);
      }
      return report;
    } finally {
      copy.sqlite.close();
    }
  }
  let told: ImportReport | undefined;
  try {
    deps.db.transaction((tx) => {
      const { report, write } = rowWriter(deps, tx, input.choices, by, at);
      told = report;
      for (const row of input.rows) write(row);
      throw new TakenBack();
    });
  } catch (error) {
    if (!(error instanceof TakenBack)) throw error;
  }
  if (!told) throw new Error('an import without a report');
  return told;
}

/** Writes one row after the other into an open transaction, or a database of one's own, and keeps the report. */
function rowWriter(
  outer: Deps,
  tx: Db,
  choices: Writing['choices'],
  by: Actor,
  at: number,
): { report: ImportReport; write: (row: RowToWrite) => void } {
  const deps = { ...outer, db: tx as Deps['db'] };
  const seen = new Map<string, number>();
  const report: ImportReport = { rows: [], counts: { new: 0, skipped: 0, wrong: 0 }, brought: [], undyedFibreIds: [] };
  const undyed: Writing['undyed'] = new Map();
  let highest: number | undefined;
  const nextCard = (): string => {
    highest = (highest ?? highestCardNumber(tx)) + 1;
    return cardCode(highest);
  };
  const cardGiven = (code: string): void => {
    const number = Number(/^s-(\d{1,10})$/i.exec(code)?.[1] ?? 0);
    if (highest !== undefined) highest = Math.max(highest, number);
  };
  const writeRow = ({ line, label, write }: RowToWrite): void => {
    const row: RowReport = { line, label, outcome: 'new', problems: [], notes: [] };
    const brought: ImportReport['brought'] = [];
    try {
      // A savepoint of its own: what a refused row had half written is gone before the next one.
      tx.transaction((inner) => {
        row.outcome = write({
          tx: inner,
          deps: { ...deps, db: inner as Db as Deps['db'] },
          by,
          at,
          choices,
          brought: (thing, thingId) => brought.push({ thing, thingId, line }),
          note: (words) => row.notes.push(words),
          nextCard,
          cardGiven,
          undyed,
          seenBefore: (key) => {
            const before = seen.get(key.toLowerCase());
            if (before === undefined) seen.set(key.toLowerCase(), line);
            return before;
          },
        });
      });
      report.brought.push(...brought);
    } catch (error) {
      const refusal = asRefusal(error);
      if (!refusal) throw error;
      row.outcome = 'wrong';
      const fields = Object.entries(refusal.fields);
      row.problems =
        fields.length > 0
          ? fields.map(([field, words]) => ({ field, words }))
          : [{ field: '', words: refusal.message }];
    }
    report.counts[row.outcome] += 1;
    report.rows.push(row);
    report.undyedFibreIds = [...undyed.keys()];
  };
  return { report, write: writeRow };
}
