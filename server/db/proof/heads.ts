import {
  closeSync,
  fdatasync,
  fdatasyncSync,
  openSync,
  readFileSync,
  renameSync,
  writeFileSync,
  writeSync,
} from 'node:fs';
import { dirname, join } from 'node:path';
import type { Sqlite } from '../open.ts';
import { CHAINED, hasProof } from './covered.ts';
import { writtenSince } from './functions.ts';
import { sha256 } from './rowDigest.ts';
import { unpacked } from './sums.ts';

/* How far the record had come when something was acknowledged, in a small file beside the database, to which lines are only added: what
   the database holds later must reach as far. So a write-ahead log that has lost its end is noticed, which SQLite takes for the end. It
   is written before each answer and brought to the disk every second: the database waits for the disk itself, and a power cut can only
   leave this file behind it, never ahead. */

export const HEADS_FILE = 'studio.heads';
const TO_DISK_EVERY_MS = 1000;
const LARGEST_BYTES = 200_000;

interface Head {
  /** 'record_links', or a table of which a sum is kept. */
  what: string;
  /** The last link, or how often the table had been written to. */
  reached: number;
  /** Of a link: itself, and the row that it is of. */
  link: string;
  row: string;
}

const checked = (words: string): string => `${words} ${sha256(words).toString('hex', 0, 4)}\n`;
const lineOf = ({ what, reached, link, row }: Head): string =>
  checked(link === '' ? `${what} ${reached}` : `${what} ${reached} ${link} ${row}`);

/** The lines that are whole; the last one before a power cut may not be. */
function headsIn(text: string): Head[] {
  return text.split('\n').flatMap((line) => {
    const words = line.slice(0, line.lastIndexOf(' '));
    if (checked(words) !== `${line}\n`) return [];
    const [what = '', reached = '', link = '', ...row] = words.split(' ');
    return [{ what, reached: Number(reached), link, row: row.join(' ') }];
  });
}

const newestOf = (heads: readonly Head[]): Head[] => [...new Map(heads.map((h) => [h.what, h])).values()];

export function notedHeads(dataDir: string): Head[] {
  try {
    return headsIn(readFileSync(join(dataDir, HEADS_FILE), 'utf8'));
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return [];
    throw error;
  }
}

const TABLE_OF = new Map(Object.entries(CHAINED).map(([name, id]) => [id, name]));

export interface RecordHead {
  links: number;
  /** In hex; '' before the first. */
  link: string;
}
interface LastLink {
  id: number;
  chainId: number;
  rowId: number;
  link: Buffer;
}

/** The newest link of the record and its number: whoever knows it can tell later whether anything before it was changed. */
export function recordHead(sqlite: Pick<Sqlite, 'prepare'>): RecordHead {
  const last = sqlite.prepare('select id, link from record_links order by id desc limit 1').get() as
    | Pick<LastLink, 'id' | 'link'>
    | undefined;
  return { links: last?.id ?? 0, link: last?.link.toString('hex') ?? '' };
}

interface Keeper {
  note: () => void;
  close: () => void;
}
const keepers = new WeakMap<Sqlite, Keeper>();

/** Notes how far the record has come, if this connection has written since the last time. */
export const noteHeads = (sqlite: Sqlite): void => keepers.get(sqlite)?.note();
export const closeHeads = (sqlite: Sqlite): void => keepers.get(sqlite)?.close();

/** Keeps the heads of an open file beside it, until closeHeads. */
export function keepHeads(sqlite: Sqlite): void {
  const file = join(dirname(sqlite.name), HEADS_FILE);
  const earlier = newestOf(notedHeads(dirname(sqlite.name)));
  let bytes = 0;
  const beginAnew = (heads: readonly Head[]): number => {
    const text = heads.map(lineOf).join('');
    writeFileSync(`${file}.new`, text, { mode: 0o600, flush: true });
    renameSync(`${file}.new`, file);
    bytes = text.length;
    return openSync(file, 'a');
  };
  let handle = beginAnew(earlier);
  let isOnDisk = true;
  const newest = new Map(earlier.map((h) => [h.what, h]));
  const last = sqlite.prepare(
    'select id, chain_id as chainId, row_id as rowId, link from record_links order by id desc limit 1',
  );
  const state = sqlite.prepare('select state from table_sums where table_name = ?').pluck();
  const headOf = (what: string): Head | null => {
    if (what !== 'record_links') {
      const sum = unpacked(what, (state.get(what) as Buffer | undefined) ?? Buffer.alloc(0));
      return sum && { what, reached: sum.writes, link: '', row: '' };
    }
    const found = last.get() as LastLink | undefined;
    if (!found) return null;
    const row = `${TABLE_OF.get(found.chainId)} ${found.rowId}`;
    return { what, reached: found.id, link: found.link.toString('hex'), row };
  };
  const note = (): void => {
    const written = writtenSince(sqlite);
    if (written.size === 0 || sqlite.inTransaction) return;
    let text = '';
    for (const what of written) {
      const head = headOf(what);
      if (head === null || newest.get(what)?.reached === head.reached) continue;
      newest.set(what, head);
      text += lineOf(head);
    }
    if (text !== '') {
      if (bytes > LARGEST_BYTES) {
        closeSync(handle);
        handle = beginAnew([...newest.values()]);
      } else {
        writeSync(handle, text);
        bytes += text.length;
        isOnDisk = false;
      }
    }
    written.clear();
  };
  const noteWhenPossible = (): void => {
    try {
      note();
    } catch {
      // A full disk, or a connection from which a file is being streamed: the next time will do.
    }
  };
  const toDisk = setInterval(() => {
    noteWhenPossible();
    if (isOnDisk) return;
    isOnDisk = true;
    fdatasync(handle, () => undefined);
  }, TO_DISK_EVERY_MS).unref();
  const close = (): void => {
    clearInterval(toDisk);
    noteWhenPossible();
    keepers.delete(sqlite);
    fdatasyncSync(handle);
    closeSync(handle);
  };
  keepers.set(sqlite, { note: noteWhenPossible, close });
}

/** What had been acknowledged by these heads and is not in the database, or is another there; nothing when all is. */
export function lostSince(sqlite: Sqlite, heads: readonly Head[]): string[] {
  if (!hasProof(sqlite)) return [];
  const lost: string[] = [];
  const head = recordHead(sqlite);
  const links = heads.filter((h) => h.what === 'record_links').sort((a, b) => a.reached - b.reached);
  const gone = links.filter((h) => h.reached > head.links);
  const reached = gone.at(-1)?.reached;
  if (reached !== undefined) {
    const named = gone.slice(0, 20).map((h) => h.row);
    const more = gone.length > 20 ? ' and more' : '';
    lost.push(
      `the record ends at link ${head.links}, and had been acknowledged up to ${reached}: missing are ${named.join(', ')}${more}`,
    );
  }
  const linkAt = sqlite.prepare('select link from record_links where id = ?').pluck();
  for (const { reached: id, link, row } of links) {
    const there = linkAt.get(id) as Buffer | undefined;
    if (there && there.toString('hex') !== link) lost.push(`${row} is not the one that was acknowledged (link ${id})`);
  }
  const state = sqlite.prepare('select state from table_sums where table_name = ?').pluck();
  for (const { what, reached: writes } of newestOf(heads)) {
    if (what === 'record_links') continue;
    const kept = state.get(what) as Buffer | undefined;
    // A table that an upgrade has done away with.
    if (kept === undefined) continue;
    const now = unpacked(what, kept)?.writes ?? writes;
    if (now < writes) lost.push(`the last ${writes - now} changes of ${what} are missing`);
  }
  return lost;
}
