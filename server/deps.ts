import type { BetterSQLite3Database } from 'drizzle-orm/better-sqlite3';
import type { Config } from './config.ts';
import type { Sqlite } from './db/open.ts';

/** What every rule is handed. The clock and new ids are here, so that rules are repeatable in tests. */
export interface Deps {
  config: Config;
  sqlite: Sqlite;
  db: BetterSQLite3Database;
  /** Now, epoch ms UTC. */
  now: () => number;
  /** A fresh random id (UUID v4). */
  newId: () => string;
  /** The one-time code that the first-run page asks of a visitor from another machine. */
  firstRunCode: string;
}

/** Who does it. Handed to every rule that writes. */
export interface Actor {
  personId: number;
  name: string;
  role: 'owner' | 'dyer' | 'viewer' | 'bench';
}
