import type { SpectrumInput } from '../colour/schemas.ts';
import type { Db } from '../db/open.ts';
import type { ImportedThingRow } from '../db/tables/keeping.ts';
import type { Actor, Deps } from '../deps.ts';
import { asRefusal, invalid } from '../errors.ts';
import { undyedCameWith } from '../matching/queries.ts';
import { insertImport, insertImportRows, type Thing } from './queries.ts';
import type { ChoicesInput, ImportKind } from './schemas.ts';

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
  /** Samples of undyed goods that this import brought so far, by goods. */
  undyed: Map<number, UndyedSample[]>;
  /** The line that had this key before, or undefined; remembers it for this line. */
  seenBefore: (key: string) => number | undefined;
}

export interface UndyedSample {
  l: number;
  a: number;
  b: number;
  illuminant: 'D65' | 'D50' | 'A';
  observer: '2' | '10';
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

export interface RowReport {
  line: number;
  label: string;
  outcome: 'new' | 'skipped' | 'wrong';
  problems: { field: string; words: string }[];
  notes: string[];
}

export interface ImportReport {
  rows: RowReport[];
  counts: Record<RowReport['outcome'], number>;
  brought: Omit<ImportedThingRow, 'importId'>[];
  /** Goods whose colour before dyeing came with it. */
  undyedFibreIds: number[];
}

class TakenBack extends Error {}

/** Writes all rows or none. `try` writes them as `keep` would and takes everything back, so that what the page foretells is
 *  what happens. Rows that cannot be written are reported, each with its messages; `keep` refuses when there is one. */
export function runImport(
  deps: Deps,
  input: {
    kind: ImportKind;
    fileName: string;
    rows: readonly RowToWrite[];
    choices: Writing['choices'];
    mode: 'try' | 'keep';
  },
  by: Actor,
): { report: ImportReport; importId: number | null } {
  let report: ImportReport | undefined;
  let importId: number | null = null;
  try {
    deps.db.transaction((tx) => {
      const at = deps.now();
      report = writeRows({ ...deps, db: tx as Db as Deps['db'] }, tx, input, by, at);
      if (input.mode === 'try') throw new TakenBack();
      if (report.counts.wrong > 0) {
        const first = report.rows.find((r) => r.outcome === 'wrong');
        throw invalid(
          Object.fromEntries(
            report.rows
              .filter((r) => r.outcome === 'wrong')
              .slice(0, 100)
              .flatMap((r) => r.problems.map((p) => [`${r.line}.${p.field}`, p.words] as const)),
          ),
          `${report.counts.wrong} of ${report.rows.length} rows cannot be read; nothing was imported. First: ${first?.label}: ${first?.problems[0]?.words}`,
        );
      }
      const made = insertImport(tx, {
        kind: input.kind,
        fileName: input.fileName.slice(0, 200),
        rowCount: report.counts.new,
        madeAt: at,
        madeBy: by.personId,
      });
      importId = made.id;
      insertImportRows(
        tx,
        report.brought.map((b) => ({ ...b, importId: made.id })),
      );
      undyedCameWith(tx, report.undyedFibreIds, made.id);
    });
  } catch (error) {
    if (!(error instanceof TakenBack)) throw error;
  }
  if (!report) throw new Error('an import without a report');
  return { report, importId };
}

function writeRows(
  deps: Deps,
  tx: Db,
  input: { rows: readonly RowToWrite[]; choices: Writing['choices'] },
  by: Actor,
  at: number,
): ImportReport {
  const seen = new Map<string, number>();
  const report: ImportReport = { rows: [], counts: { new: 0, skipped: 0, wrong: 0 }, brought: [], undyedFibreIds: [] };
  const undyed: Writing['undyed'] = new Map();
  for (const { line, label, write } of input.rows) {
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
          choices: input.choices,
          brought: (thing, thingId) => brought.push({ thing, thingId, line }),
          note: (words) => row.notes.push(words),
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
  }
  report.undyedFibreIds = [...undyed.keys()];
  return report;
}
