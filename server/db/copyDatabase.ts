import Database from 'better-sqlite3';
import { copyHere } from './databaseCopy.ts';

/* A process of its own (see copyApart): copies the database that its command line names, while its service goes on reading and
   writing, and says null, or what went wrong. */

const [from = '', to = ''] = process.argv.slice(2);
// Whoever asked for it is gone: nobody would take the copy.
process.on('disconnect', () => process.exit(1));

async function copy(): Promise<{ code: string; message: string } | null> {
  try {
    const source = new Database(from, { readonly: true, fileMustExist: true });
    await copyHere(source, to);
    source.close();
    return null;
  } catch (error) {
    const { code = '', message } = error as { code?: string; message: string };
    return { code, message };
  }
}

const wrong = await copy();
process.send?.(wrong, () => process.exit(wrong === null ? 0 : 1));
