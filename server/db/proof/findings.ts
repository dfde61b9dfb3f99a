import type { Sqlite } from '../open.ts';
import { isDamage } from '../soundness.ts';
import { CHAINED, type Covered, coveredTables, quoted, rowReader, SCHEMA_TABLE, schemaRows } from './covered.ts';
import { linkOf, removalOf, type Value } from './rowDigest.ts';
import { EMPTY, keyOfDifference, plus, type Sum, termOf, unpacked } from './sums.ts';

export interface ProofFinding {
  name: string;
  wrong: string[];
}

/** Up to so many rows, each is tried as one that has come in the place of another. */
const TRIED_ROWS = 200_000;
const CHAIN_IDS = new Set(Object.values(CHAINED));
/** No row has a higher number. */
const HIGHEST_KEY = 2n ** 53n;

/** What is read, or words for it where the file is damaged at that place: the rest may be sound. */
function readable<Read, Words>(read: () => Read, words: Words): Read | Words {
  try {
    return read();
  } catch (error) {
    if (isDamage(error)) return words;
    throw error;
  }
}

const rowWords = (table: Covered, row: readonly Value[]): string =>
  `${table.name} ${row.slice(0, Math.max(1, table.keyLength)).join(' ')}`;

/** Which rows of a table account for the difference between the sum that is kept and the one that was found. */
function differing(table: Covered, kept: Sum, found: Sum, rows: () => Iterable<Value[]>): string {
  const more = found.rows - kept.rows;
  const key = keyOfDifference(kept, found);
  const byKey = (wanted: bigint): Value[] | undefined => {
    for (const row of rows()) if (termOf(table.name, table.keyLength, row).key === wanted) return row;
    return undefined;
  };
  if (key !== null && Math.abs(more) <= 1) {
    const row = byKey(key);
    if (row && more === 0) return `${rowWords(table, row)} is not what was written`;
    if (row && more === 1) return `${rowWords(table, row)} was not written by the service`;
    if (!row && more === -1)
      return table.keyLength === 0 && key < HIGHEST_KEY
        ? `${table.name} ${key} is missing`
        : `a row of ${table.name} is missing`;
    // One row in the place of another: without the one that is there, the missing one’s number comes out.
    if (more === 0 && table.keyLength === 0 && found.rows <= TRIED_ROWS) {
      for (const row of rows()) {
        const missing = keyOfDifference(kept, plus(found, termOf(table.name, 0, row), -1));
        if (missing !== null && missing < HIGHEST_KEY)
          return `${table.name} ${missing} is missing, and ${rowWords(table, row)} was not written by the service`;
      }
    }
  }
  const count = more === 0 ? '' : more > 0 ? `, ${more} more than were written` : `, ${-more} fewer than were written`;
  return `several rows of ${table.name} are not what was written${count}`;
}

function sumFinding(table: Covered, [id, state]: [number?, Buffer?], rows: () => Iterable<Value[]>): string | null {
  if (state === undefined) return `of ${table.name} no sum is kept`;
  const kept = unpacked(table.name, state);
  if (kept === null) return `table_sums ${id}: what is kept of ${table.name} is not what was written`;
  let found: Sum = EMPTY;
  for (const row of rows()) found = plus(found, termOf(table.name, table.keyLength, row), 1);
  const same = found.rows === kept.rows && found.plain === kept.plain && found.weighted === kept.weighted;
  return same ? null : differing(table, kept, found, rows);
}

function sumFindings(sqlite: Sqlite, tables: readonly Covered[]): string[] {
  const states = new Map(
    (sqlite.prepare('select table_name, id, state from table_sums').raw().all() as [string, number, Buffer][]).map(
      ([name, id, state]) => [name, [id, state] as [number, Buffer]],
    ),
  );
  const wrong: string[] = [];
  const known = new Set([SCHEMA_TABLE.name, ...tables.map((t) => t.name)]);
  for (const [name, [id]] of states) if (!known.has(name)) wrong.push(`table_sums ${id}: there is no table ${name}`);
  for (const table of [...tables, SCHEMA_TABLE]) {
    const rows = table === SCHEMA_TABLE ? () => schemaRows(sqlite) : rowReader(sqlite, table).rows;
    const finding = readable(
      () => sumFinding(table, states.get(table.name) ?? [], rows),
      `${table.name} cannot be read to its end`,
    );
    if (finding !== null) wrong.push(finding);
  }
  return wrong;
}

interface LinkRow {
  id: number;
  chainId: number;
  rowId: number;
  removed: number;
  link: Buffer;
}

/** Something about the rows of a linked table; '' where the chain itself is concerned. */
interface Unlinked {
  table: string;
  words: string;
}

interface Chain {
  name: string;
  fromLink: number;
  /** Rows that the links so far account for. */
  live: number;
  read: (rowId: number) => Value[] | 'unreadable' | undefined;
}

function chainsOf(sqlite: Sqlite, tables: readonly Covered[], wrong: Unlinked[]): Map<number, Chain> {
  const known = sqlite
    .prepare('select id, table_name as name, columns, from_link as fromLink from record_chains')
    .all() as { id: number; name: string; columns: string; fromLink: number }[];
  const chains = new Map<number, Chain>();
  for (const table of tables) {
    const { name, columns } = table;
    const chainId = CHAINED[name];
    if (chainId === undefined) continue;
    const chain = known.find((c) => c.id === chainId && c.name === name);
    if (!chain || chain.columns !== columns.join(' ')) {
      wrong.push({ table: name, words: `record_chains ${chainId}: what is kept of ${name} is not what was written` });
      continue;
    }
    const { row } = rowReader(sqlite, table, `where ${quoted(columns[0] ?? '')} = ?`);
    const read: Chain['read'] = (rowId) => readable(() => row(rowId), 'unreadable');
    chains.set(chainId, { name, fromLink: chain.fromLink, live: 0, read });
  }
  return chains;
}

/** Holds the rows of the linked tables against the chain, in one pass over its links. */
function chainFindings(sqlite: Sqlite, tables: readonly Covered[]): Unlinked[] {
  const wrong: Unlinked[] = [];
  const chains = chainsOf(sqlite, tables, wrong);
  const removals = sqlite
    .prepare('select id, chain_id as chainId, row_id as rowId from record_links where removed = 1 order by id')
    .all() as Pick<LinkRow, 'id' | 'chainId' | 'rowId'>[];
  const gone = new Map(removals.map(({ id, chainId, rowId }) => [`${chainId} ${rowId}`, id]));
  const isGoneAfter = (id: number, chainId: number, rowId: number): boolean =>
    gone.size > 0 && (gone.get(`${chainId} ${rowId}`) ?? 0) > id;
  /** What is wrong with one link; '' when nothing is. */
  const amiss = ({ id, chainId, rowId, removed, link }: LinkRow, before: Buffer | null): string => {
    const chain = chains.get(chainId);
    if (!chain) return CHAIN_IDS.has(chainId) ? '' : `record_links ${id} is not what was written`;
    const { name } = chain;
    if (removed === 1)
      return removalOf(before, name, rowId).equals(link) ? '' : `record_links ${id} is not what was written`;
    if (id < chain.fromLink || isGoneAfter(id, chainId, rowId)) return '';
    chain.live += 1;
    const row = chain.read(rowId);
    if (row === 'unreadable') return `${name} ${rowId} cannot be read`;
    if (!row) return `${name} ${rowId} is missing`;
    return linkOf(before, name, row).equals(link)
      ? ''
      : `${name} ${rowId} is not what was written (record_links ${id})`;
  };
  let before: Buffer | null = null;
  let number = 0;
  const links = sqlite.prepare(
    'select id, chain_id as chainId, row_id as rowId, removed, link from record_links order by id',
  );
  for (const link of links.iterate() as IterableIterator<LinkRow>) {
    number += 1;
    if (link.id !== number) {
      wrong.push({ table: '', words: `record_links: ${link.id - number} before ${link.id} missing` });
      number = link.id;
    }
    const words = amiss(link, before);
    if (words !== '') wrong.push({ table: chains.get(link.chainId)?.name ?? '', words });
    before = link.link;
  }
  for (const { name, live } of chains.values()) {
    const rows = sqlite
      .prepare(`select count(*) from ${quoted(name)}`)
      .pluck()
      .get() as number;
    if (rows > live)
      wrong.push({ table: name, words: `${rows - live} rows of ${name} were not written by the service` });
  }
  return wrong;
}

/** The linked tables whose rows are not, as they stand, what their links account for. */
export function unlinkedTables(sqlite: Sqlite): Set<string> {
  return new Set(chainFindings(sqlite, coveredTables(sqlite)).map((w) => w.table));
}

/** What of the record is not as the service has written it, row by row. */
export function proofFindings(sqlite: Sqlite): ProofFinding[] {
  const tables = coveredTables(sqlite);
  return [
    {
      name: 'log, weighings, ledger, costs, money and audit are the chain that was written',
      wrong: readable(
        () => chainFindings(sqlite, tables).map((w) => w.words),
        ['record_links cannot be read to its end'],
      ),
    },
    {
      name: 'every other table is as it was written',
      wrong: sumFindings(
        sqlite,
        tables.filter((t) => CHAINED[t.name] === undefined),
      ),
    },
  ];
}

/** What an upgrade found before it made the proof anew. */
export const earlierFindings = (sqlite: Sqlite): string[] =>
  (
    sqlite.prepare('select found_at as foundAt, words from proof_findings order by id').all() as {
      foundAt: number;
      words: string;
    }[]
  ).map(({ foundAt, words }) => `found by an upgrade on ${new Date(foundAt).toISOString().slice(0, 10)}: ${words}`);

/** Of every table of which a sum is kept, its rows and the plain sum over their digests, in hex. */
export const tableSums = (sqlite: Sqlite): Record<string, { rows: number; sum: string }> =>
  Object.fromEntries(
    (
      sqlite.prepare('select table_name, state from table_sums order by table_name').raw().all() as [string, Buffer][]
    ).map(([name, state]) => {
      const sum = unpacked(name, state);
      return [name, { rows: sum?.rows ?? 0, sum: sum?.plain.toString(16).padStart(32, '0') ?? '' }];
    }),
  );
