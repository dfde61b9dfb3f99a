import type { Sqlite } from '../../server/db/open.ts';

/* Writes the same words into every text that a person may have written, behind the back of the rules: what stands in the record
   may be older than the rules, or have come by an import. */

/** Texts that are no one's words: secrets and hashes, names of things, zones. What has a CHECK on its values refuses by itself. */
const NOT_WORDS =
  /(^|_)(hash|sha256|client_id|media_type|zone|currency|hue_families|bands|daily_at|file|address|door|action|path|id|account)$/;
/** Keys of kept JSON whose values somebody typed, or were taken from what somebody typed. */
const WORDS_IN_JSON = /(name|text|note|label|why|code|words|reason|placement|goods|summary|caution)/i;

export interface Poisoned {
  /** 'table.column' that now hold the words. */
  columns: string[];
  rows: number;
}

/** Puts `words` in front of the row's number into every text column of every table. Triggers are dropped for it: the database
 *  is thrown away afterwards. */
export function poison(sqlite: Sqlite, words: string): Poisoned {
  const names = (type: 'table' | 'trigger'): string[] =>
    sqlite
      .prepare("select name from sqlite_master where type = ? and name not like 'sqlite_%'")
      .pluck()
      .all(type) as string[];
  for (const trigger of names('trigger')) sqlite.exec(`drop trigger "${trigger}"`);
  const columns: string[] = [];
  let rows = 0;
  for (const table of names('table').filter((t) => t !== '__drizzle_migrations')) {
    const info = sqlite.pragma(`table_info("${table}")`) as { name: string; type: string; pk: number }[];
    const references = new Set(
      (sqlite.pragma(`foreign_key_list("${table}")`) as { from: string }[]).map((reference) => reference.from),
    );
    const key = info.filter((c) => c.pk > 0).map((c) => `"${c.name}"`);
    for (const { name, type, pk } of info) {
      if (type !== 'TEXT' || pk > 0 || references.has(name) || NOT_WORDS.test(name)) continue;
      try {
        const changed = /_json$|^(patches|bands|reflectance)$/.test(name)
          ? poisonJson(sqlite, table, name, key, words)
          : sqlite.prepare(`update "${table}" set "${name}" = ? || (${key.join(" || '-' || ")})`).run(words).changes;
        if (changed > 0) columns.push(`${table}.${name}`);
        rows += changed;
      } catch (error) {
        // Refused by a CHECK: a choice, a day, a hex value. Anything else is a fault of this test.
        if (!String((error as { code?: string }).code).startsWith('SQLITE_CONSTRAINT')) throw error;
      }
    }
  }
  return { columns, rows };
}

function poisonJson(sqlite: Sqlite, table: string, column: string, key: readonly string[], words: string): number {
  const where = key.map((k) => `${k} = ?`).join(' and ');
  const read = sqlite
    .prepare(`select ${key.join(', ')}, "${column}" from "${table}"`)
    .raw()
    .all() as unknown[][];
  const write = sqlite.prepare(`update "${table}" set "${column}" = ? where ${where}`);
  let changed = 0;
  for (const row of read) {
    const kept = JSON.parse(String(row.at(-1))) as unknown;
    const spoilt = JSON.stringify(kept, (name, value: unknown) =>
      typeof value === 'string' && WORDS_IN_JSON.test(name) && !/^(split|kind|found|basis|unit)$/.test(name)
        ? `${words}${value}`
        : value,
    );
    if (spoilt !== row.at(-1)) changed += write.run(spoilt, ...row.slice(0, -1)).changes;
  }
  return changed;
}
