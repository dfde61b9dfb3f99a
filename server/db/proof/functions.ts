import type { Database } from 'better-sqlite3';
import { linkOf, removalOf, type Value } from './rowDigest.ts';
import { packed, plus, type Sum, termOf, unpacked } from './sums.ts';

/** Tables written to on a connection since the heads were last noted; 'record_links' for the chain. */
const written = new WeakMap<Database, Set<string>>();
export const writtenSince = (sqlite: Database): Set<string> => {
  const known = written.get(sqlite) ?? new Set<string>();
  written.set(sqlite, known);
  return known;
};

/** A sum that is damaged is not mended by writing on: it stays as it is, and `verify` tells. */
function moved(state: Buffer, table: string, terms: (sum: Sum) => Sum): Buffer {
  const sum = unpacked(table, state);
  return sum === null ? state : packed(table, terms({ ...sum, writes: sum.writes + 1 }));
}

/** The functions that the triggers of triggers.ts call. A program that does not bring them cannot write to the tables. */
export function withProofFunctions(sqlite: Database): void {
  const touched = writtenSince(sqlite);
  const define = (name: string, work: (...values: never[]) => Buffer): void => {
    sqlite.function(name, { varargs: true }, work as (...values: unknown[]) => unknown);
  };
  define('record_link', (before: Buffer | null, table: string, ...values: Value[]) => {
    touched.add('record_links');
    return linkOf(before, table, values);
  });
  define('record_removal', (before: Buffer | null, table: string, rowId: number) => {
    touched.add('record_links');
    return removalOf(before, table, rowId);
  });
  define('sum_with', (state: Buffer, table: string, keyLength: number, ...values: Value[]) => {
    touched.add(table);
    return moved(state, table, (sum) => plus(sum, termOf(table, keyLength, values), 1));
  });
  define('sum_without', (state: Buffer, table: string, keyLength: number, ...values: Value[]) => {
    touched.add(table);
    return moved(state, table, (sum) => plus(sum, termOf(table, keyLength, values), -1));
  });
  define('sum_changed', (state: Buffer, table: string, keyLength: number, ...values: Value[]) => {
    touched.add(table);
    const half = values.length / 2;
    return moved(state, table, (sum) =>
      plus(
        plus(sum, termOf(table, keyLength, values.slice(0, half)), -1),
        termOf(table, keyLength, values.slice(half)),
        1,
      ),
    );
  });
}
