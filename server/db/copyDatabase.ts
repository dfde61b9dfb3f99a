import Database from 'better-sqlite3';

/* A process of its own (databaseCopy.ts starts it): copies a database by SQLite's online backup while its service goes on
   reading and writing. All pages in one step, which is one moment of the database: in smaller steps a write of the service
   would make it begin anew. Says null, or what went wrong. */

const [from = '', to = ''] = process.argv.slice(2);
// Whoever asked for it is gone: nobody would take the copy.
process.on('disconnect', () => process.exit(1));

const ALL_PAGES = 2_147_483_647;

async function copy(): Promise<{ code: string; message: string } | null> {
  try {
    const source = new Database(from, { readonly: true, fileMustExist: true });
    await source.backup(to, { progress: () => ALL_PAGES });
    source.close();
    return null;
  } catch (error) {
    const { code = '', message } = error as { code?: string; message: string };
    return { code, message };
  }
}

const wrong = await copy();
process.send?.(wrong, () => process.exit(wrong === null ? 0 : 1));
