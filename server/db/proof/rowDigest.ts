import { hash } from 'node:crypto';

/** A value as SQLite hands it over. */
export type Value = number | bigint | string | Buffer | null;

/** A row written down so that no other row reads the same: each value with its kind, and with its length where it has one. Text counts
 *  in UTF-16 units; whole numbers and others are told apart by the column, which holds one kind only (STRICT). */
export function canonical(table: string, values: readonly Value[]): string {
  let written = `${table}\n`;
  for (const value of values) {
    if (value === null) written += 'n';
    else if (typeof value === 'string') written += `t${value.length}:${value}`;
    else if (typeof value === 'object') written += `b${value.length}:${value.toString('latin1')}`;
    else written += `i${value};`;
  }
  return written;
}

export const sha256 = (written: string): Buffer => hash('sha256', written, 'buffer');

/** The link of a row: the digest of the link before it and of what the row holds. The first has none before it. */
export const linkOf = (before: Buffer | null, table: string, values: readonly Value[]): Buffer =>
  sha256(`${before?.toString('hex') ?? 'the record begins'}\n${canonical(table, values)}`);

/** The link that says that a row was taken away. */
export const removalOf = (before: Buffer | null, table: string, rowId: number): Buffer =>
  sha256(`${before?.toString('hex') ?? 'the record begins'}\nremoved\n${canonical(table, [rowId])}`);
