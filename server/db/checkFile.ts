import Database from 'better-sqlite3';
import { type CheckAnswer, structureFindings, wholeFindings } from './integrity.ts';
import { isDamage } from './soundness.ts';

/* A process of its own (see checkInBackground): reads the file named on its command line and tells its parent what is wrong. */
const [file = '', how = 'structure'] = process.argv.slice(2);
// Whoever asked for it is gone.
process.on('disconnect', () => process.exit(1));

function answer(): CheckAnswer {
  try {
    const sqlite = new Database(file, { readonly: true, fileMustExist: true });
    const findings = how === 'whole' ? wholeFindings(sqlite) : structureFindings(sqlite);
    sqlite.close();
    return { findings };
  } catch (error) {
    const { message } = error as Error;
    return isDamage(error) ? { findings: [message] } : { failure: message };
  }
}

process.send?.(answer(), () => process.exit(0));
