import Database from 'better-sqlite3';
import { structureFindings } from './integrity.ts';

/* A process of its own (see checkInBackground): reads the file named on its command line and tells its parent what is wrong. */
const file = process.argv[2] ?? '';
let findings: string[];
try {
  const sqlite = new Database(file, { readonly: true, fileMustExist: true });
  findings = structureFindings(sqlite);
  sqlite.close();
} catch (error) {
  findings = /^SQLITE_(CORRUPT|NOTADB)/.test(String((error as { code?: string }).code))
    ? [(error as Error).message]
    : [];
}
process.send?.(findings, () => process.disconnect?.());
