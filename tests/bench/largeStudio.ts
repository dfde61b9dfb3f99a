import { randomUUID } from 'node:crypto';
import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { sowSampleStudio } from '../../seed/studio.ts';
import { readConfig } from '../../server/config.ts';
import { applyMigrations } from '../../server/db/migrate.ts';
import { openDatabase, type Sqlite } from '../../server/db/open.ts';
import { beginProof } from '../../server/db/proof/begin.ts';
import type { Actor, Deps } from '../../server/deps.ts';
import { setUpStudio } from '../../server/people/firstRun.ts';

/* Thirty years of a studio: the sample year, made through the rules, repeated with its ids, names and days moved. What is still
   open stays once; every repetition is finished work. */

export interface LargeStudio {
  deps: Deps;
  owner: Actor;
  counts: Record<string, number>;
}

const YEARS = 30;
const DAY_MS = 86_400_000;
const FULL = {
  customers: 600,
  lots: 50_000,
  swatches: 20_000,
  logEntries: 2_000_000,
  photos: 100_000,
  recipes: 2_000,
  containers: 3_000,
  audit: 200_000,
};

/** Tables that are repeated, in the order of their foreign keys, and how often: with the lots, the swatches, and so on. */
const REPEATED = {
  recipes: 'recipes',
  customers: 'customers',
  recipe_revisions: 'recipes',
  recipe_components: 'recipes',
  orders: 'lots',
  order_lines: 'lots',
  stock_lots: 'containers',
  lots: 'lots',
  lot_lines: 'lots',
  swatches: 'swatches',
  lot_colours: 'lots',
  lot_components: 'lots',
  lot_steps: 'lots',
  log_entries: 'lots',
  lot_adjustments: 'lots',
  lot_targets: 'lots',
  weighings: 'lots',
  lot_labour: 'lots',
  lot_outcomes: 'lots',
  cost_lines: 'lots',
  swatch_stock_lots: 'swatches',
  colour_readings: 'swatches',
  swatch_colours: 'swatches',
  stock_ledger: 'lots',
} as const;
type Table = keyof typeof REPEATED;

const CLOSED = "(select id from lots where status in ('finished', 'abandoned'))";
/** What of the sample year is repeated. */
const SOURCE: Partial<Record<Table, string>> = {
  lots: `id in ${CLOSED}`,
  swatches: `lot_id is null or lot_id in ${CLOSED}`,
  swatch_stock_lots: `swatch_id in (select id from swatches where lot_id is null or lot_id in ${CLOSED})`,
  colour_readings: `swatch_id in (select id from swatches where lot_id is null or lot_id in ${CLOSED})`,
  swatch_colours: `swatch_id in (select id from swatches where lot_id is null or lot_id in ${CLOSED})`,
  stock_ledger: `lot_id is null or lot_id in ${CLOSED}`,
};
const OF_CLOSED_LOTS = new Set<Table>([
  'lot_lines',
  'lot_colours',
  'lot_components',
  'lot_steps',
  'log_entries',
  'lot_adjustments',
  'lot_targets',
  'weighings',
  'lot_labour',
  'lot_outcomes',
  'cost_lines',
]);

async function openDeps(dataDir: string): Promise<Deps> {
  const config = readConfig({ DATA_DIR: dataDir, LOG_LEVEL: 'silent', TZ: 'Europe/Lisbon' });
  mkdirSync(dataDir, { recursive: true });
  const open = openDatabase(join(dataDir, 'studio.sqlite'));
  await applyMigrations(open, join(config.packageRoot, 'migrations'));
  return { config, ...open, now: Date.now, newId: randomUUID, firstRunCode: '314159' };
}

const OWNER = 'Inês';
const COUNTED = [
  'swatches',
  'lots',
  'log_entries',
  'weighings',
  'cost_lines',
  'orders',
  'recipes',
  'stock_lots',
  'photos',
];
const countsOf = (sqlite: Sqlite): Record<string, number> =>
  Object.fromEntries(COUNTED.map((t) => [t, sqlite.prepare(`select count(*) from ${t}`).pluck().get() as number]));

/** The studio that was made in `dataDir` before, with the migrations that came since. */
export async function openLargeStudio(dataDir: string): Promise<LargeStudio> {
  const deps = await openDeps(dataDir);
  const personId = deps.sqlite.prepare('select id from people where name = ?').pluck().get(OWNER) as number;
  return { deps, owner: { personId, name: OWNER, role: 'owner' }, counts: countsOf(deps.sqlite) };
}

/** Makes the studio in `dataDir`; scale 1 is the size it must stand. */
export async function makeLargeStudio(dataDir: string, scale: number): Promise<LargeStudio> {
  const deps = await openDeps(dataDir);
  const personId = await setUpStudio(deps, {
    studioName: 'Thirty Years',
    currency: 'EUR',
    zone: 'Europe/Lisbon',
    units: 'metric',
    readabilityMg: 10,
    ownerName: OWNER,
    passphrase: 'four unrelated words',
  });
  const owner: Actor = { personId, name: OWNER, role: 'owner' };
  await sowSampleStudio(deps, owner);
  const { sqlite } = deps;
  const pragma = (words: string): unknown => sqlite.pragma(words);
  pragma('synchronous = OFF');
  pragma('foreign_keys = OFF');
  pragma('cache_size = -200000');
  const triggers = sqlite.prepare("select name, sql from sqlite_master where type = 'trigger'").all() as {
    name: string;
    sql: string;
  }[];
  for (const { name } of triggers) sqlite.exec(`drop trigger "${name}"`);
  repeat(sqlite, scale);
  fillUp(sqlite, scale, owner);
  for (const { name, sql } of triggers) if (!name.startsWith('proof_of_')) sqlite.exec(sql);
  beginProof(sqlite);
  const dangling = (sqlite.pragma('foreign_key_check') as unknown[]).length;
  if (dangling > 0) throw new Error(`the large studio has ${dangling} dangling references`);
  pragma('foreign_keys = ON');
  pragma('synchronous = FULL');
  pragma('cache_size = -2000');
  pragma('wal_checkpoint(TRUNCATE)');
  return { deps, owner, counts: countsOf(sqlite) };
}

function repeat(sqlite: Sqlite, scale: number): void {
  const value = (sql: string): number => (sqlite.prepare(sql).pluck().get() as number | null) ?? 0;
  const lots = value(`select count(*) from lots where id in ${CLOSED}`);
  const copies = {
    lots: Math.ceil((FULL.lots * scale) / lots),
    swatches: Math.ceil((FULL.swatches * scale) / value('select count(*) from swatches')),
    customers: Math.ceil((FULL.customers * Math.max(scale, 0.1)) / value('select count(*) from customers')),
    recipes: Math.ceil((FULL.recipes * scale) / value('select count(*) from recipes')),
    containers: Math.max(2, Math.ceil((FULL.containers * scale) / value('select count(*) from stock_lots'))),
  };
  const tables = Object.keys(REPEATED) as Table[];
  const offset = new Map<string, number>();
  const columns = new Map<Table, { name: string; pk: number; type: string }[]>();
  const references = new Map<Table, Map<string, string>>();
  for (const table of tables) {
    const info = sqlite.pragma(`table_info("${table}")`) as { name: string; type: string; pk: number }[];
    columns.set(table, info);
    const keys = info.filter((c) => c.pk > 0);
    if (keys.length === 1) offset.set(table, value(`select max("${keys[0]?.name}") from "${table}"`));
    references.set(
      table,
      new Map(
        (sqlite.pragma(`foreign_key_list("${table}")`) as { from: string; table: string }[]).map((f) => [
          f.from,
          f.table,
        ]),
      ),
    );
    const where = SOURCE[table] ?? (OF_CLOSED_LOTS.has(table) ? `lot_id in ${CLOSED}` : 'true');
    sqlite.exec(`create temp table "source_${table}" as select * from "${table}" where ${where}`);
  }
  // A round of its own for stock that no lot drew: it is repeated with the containers, not with the lots.
  sqlite.exec('create temp table source_receipts as select * from source_stock_ledger where lot_id is null');
  sqlite.exec('delete from source_stock_ledger where lot_id is null');

  /** Which repetition of the referred-to table the k-th of this one belongs to. Later work draws from old containers. */
  const roundOf = (table: string, k: number): number => {
    const group = REPEATED[table as Table];
    if (group === 'containers') return k === 0 ? 0 : 1 + ((k - 1) % (copies.containers - 1));
    return k % copies[group];
  };
  const insert = (table: Table, source: string, k: number, round: number): void => {
    const days = Math.round((k / copies.lots) * (YEARS - 1) * 365);
    const names = (columns.get(table) ?? []).map((c) => c.name);
    const values = (columns.get(table) ?? []).map(({ name, pk, type }) => {
      const to = references.get(table)?.get(name);
      if (to !== undefined && to in REPEATED) return `"${name}" + ${(offset.get(to) ?? 0) * roundOf(to, k)}`;
      if (pk > 0 && offset.has(table)) return `"${name}" + ${(offset.get(table) ?? 0) * round}`;
      if (table === 'lots' && name === 'number')
        return `printf('%02d-%05d', (cast(substr(number, 1, 2) as integer) + 100 - ${Math.floor(days / 365)}) % 100, ${k} * 100 + cast(substr(number, 4) as integer))`;
      if (table === 'orders' && name === 'status') return "'delivered'";
      if (table === 'stock_lots' && name === 'closed_at') return String(Date.now() - days * DAY_MS);
      if (type === 'TEXT' && /^(number|code|client_id|name)$/.test(name)) return `"${name}" || '-${round}'`;
      if (/(^|_)at$/.test(name)) return `"${name}" - ${days * DAY_MS}`;
      if (/_on$/.test(name)) return `date("${name}", '-${days} days')`;
      if (table === 'colour_readings' && /^[lab]$/.test(name))
        return name === 'l' ? `min(100, max(0, l + (random() % 100) / 12.0))` : `"${name}" + (random() % 100) / 12.0`;
      return `"${name}"`;
    });
    sqlite.exec(
      `insert into "${table}" (${names.map((n) => `"${n}"`).join(', ')}) select ${values.join(', ')} from temp."${source}"`,
    );
  };
  sqlite.transaction(() => {
    for (let k = 1; k < copies.lots; k++)
      for (const table of tables) {
        const round = roundOf(table, k);
        const first = REPEATED[table] === 'lots' || k < copies[REPEATED[table]];
        if (first) insert(table, `source_${table}`, k, REPEATED[table] === 'lots' ? k : round);
        if (table === 'stock_ledger' && k < copies.containers) insert(table, 'source_receipts', k, k);
      }
  })();
  // Readings are of swatches, lots or order lines; those repeated here are of swatches only.
  sqlite.exec(`insert into swatch_changes (swatch_id, sequence) select id, id + 1000000000 from swatches where true
    on conflict (swatch_id) do update set sequence = excluded.sequence`);
  sqlite.exec(`insert into closed_lots select l.finished_at, l.id, l.status, l.number, l.method_id, l.fibre_id, d.dry_mass_mg, l.estimate_minor,
      o.first_quality, o.seconds, o.rework, o.scrap, o.seconds_value_minor,
      ${['dye', 'auxiliary', 'goods', 'labour', 'overhead', 'other'].map((kind) => `coalesce(sum(iif(c.kind = '${kind}', c.cost_minor, 0)), 0)`).join(', ')},
      coalesce(sum(c.cost_minor * c.wasted), 0), studio_day(l.finished_at, (select zone from studio))
    from lots l join lots_dyed_mass d on d.lot_id = l.id left join lot_outcomes o on o.lot_id = l.id left join cost_lines c on c.lot_id = l.id
    where l.finished_at is not null and l.id not in (select lot_id from closed_lots) group by l.id`);
  // What the triggers of a closing keep, which are away while all of this is written.
  const closed = 'l.finished_at is not null and l.id not in (select lot_id from lot_closings)';
  sqlite.exec(`insert into lot_names select distinct n.lot_id, n.kind, n.ref_id, n.code, n.name from lot_names_now n
      join lots l on l.id = n.lot_id where ${closed};
    insert into lot_line_closings select n.* from lot_lines_now n join lots l on l.id = n.lot_id where ${closed};
    insert into lot_closings select l.id, studio_day(l.finished_at, s.zone), s.zone, s.currency, d.dry_mass_mg, s.weighing_tolerance_ppm, 'atClosing'
      from lots l join lots_dyed_mass d on d.lot_id = l.id cross join studio s where ${closed}`);
  for (const table of tables) sqlite.exec(`drop table temp."source_${table}"`);
  sqlite.exec('drop table temp.source_receipts');
}

/** Brings the log, the photos and the audit to their size. */
function fillUp(sqlite: Sqlite, scale: number, owner: Actor): void {
  const value = (sql: string): number => sqlite.prepare(sql).pluck().get() as number;
  const missing = Math.round(FULL.logEntries * scale) - value('select count(*) from log_entries');
  const lots = value('select count(*) from lots where finished_at is not null');
  const each = Math.max(0, Math.ceil(missing / lots));
  const numbers = (n: number): string =>
    `with recursive n(i) as (select 1 union all select i + 1 from n where i < ${n})`;
  sqlite.transaction(() => {
    if (each > 0)
      sqlite.exec(`${numbers(each)} insert into log_entries (lot_id, client_id, kind, text, at, recorded_at, by_person_id)
        select l.id, 'note-' || l.id || '-' || n.i, 'note', 'Stirred, ' || (20 + n.i % 30) || ' °C in the bath, even so far', l.finished_at - n.i * 60000, l.finished_at - n.i * 60000, ${owner.personId}
        from lots l cross join n where l.finished_at is not null limit ${missing}`);
    sqlite.exec(`${numbers(Math.round(FULL.photos * scale))} insert into photos (sha256, width_px, height_px, byte_size, stored_at, stored_by)
      select lower(hex(randomblob(32))), 1600, 1200, 240000, ${Date.now()} - n.i * 9000000, ${owner.personId} from n`);
    sqlite.exec(`${numbers(Math.round(FULL.audit * scale))} insert into audit_entries (at, person_id, door, action, path, status, detail, address)
      select ${Date.now()} - (${Math.round(FULL.audit * scale)} - n.i) * 4000000, ${owner.personId}, 'page', 'POST /lots', '/lots', 303, '', '192.0.2.7' from n`);
  })();
}
