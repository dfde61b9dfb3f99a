import type { Sqlite } from './open.ts';
import { inOwnProcess } from './ownProcess.ts';

/** All pages in one step, which is one moment: between smaller ones a write of somebody else's would make it begin anew. */
const ALL_PAGES = 2_147_483_647;

/** Copies the database as it is at one moment to a new file, by SQLite's online backup; its connection serves nobody meanwhile. */
export async function copyHere(sqlite: Sqlite, to: string): Promise<void> {
  await sqlite.backup(to, { progress: () => ALL_PAGES });
}

/** The same in a process of its own: a large database, and above all waiting for the disk at its end, would hold everybody up.
 *  Rejects with SQLite's or the system's code. */
export async function copyApart(from: string, to: string): Promise<void> {
  const wrong = await inOwnProcess<{ code: string; message: string } | null>('db/copyDatabase', [from, to], 10).said;
  if (wrong !== null) throw Object.assign(new Error(wrong.message), { code: wrong.code });
}
