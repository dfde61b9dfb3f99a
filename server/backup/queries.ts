import { and, asc, desc, eq, isNotNull, isNull, sql } from 'drizzle-orm';
import { copyApart, copyHere } from '../db/databaseCopy.ts';
import { checkInBackground } from '../db/integrity.ts';
import { type Db, openForReading, type Sqlite } from '../db/open.ts';
import { inOwnProcess } from '../db/ownProcess.ts';
import { hasProof } from '../db/proof/covered.ts';
import { earlierFindings, type ProofFinding, proofFindings, tableSums } from '../db/proof/findings.ts';
import { type RecordHead, recordHead } from '../db/proof/heads.ts';

export { noteHeads } from '../db/proof/heads.ts';
export { damageFault, faultOf, isDamage, lookAtFile, stopWriting } from '../db/soundness.ts';

import {
  type BackupRunRow,
  type BackupSettingsRow,
  backupRuns,
  backupSettings,
  type TrialRow,
  trials,
} from '../db/tables/keeping.ts';
import { people } from '../db/tables/studio.ts';

export const theBackupSettings = (db: Db): BackupSettingsRow =>
  db.select().from(backupSettings).get() ?? {
    id: 1,
    daily: 1,
    dailyAt: '03:30',
    keepCount: 14,
    warnAfterHours: 48,
    version: 1,
  };

/** Saves against the version that was read; false when somebody saved meanwhile. */
export const updateBackupSettings = (
  db: Db,
  changes: Omit<BackupSettingsRow, 'id' | 'version'>,
  version: number,
): boolean =>
  db
    .update(backupSettings)
    .set({ ...changes, version: sql`${backupSettings.version} + 1` })
    .where(and(eq(backupSettings.id, 1), eq(backupSettings.version, version)))
    .run().changes === 1;

export const insertRun = (db: Db, row: typeof backupRuns.$inferInsert): number =>
  db.insert(backupRuns).values(row).returning({ id: backupRuns.id }).get().id;

export const finishRun = (
  db: Db,
  runId: number,
  outcome: { finishedAt: number; byteSize: number | null; sha256: string | null; failure: string },
): void => {
  db.update(backupRuns).set(outcome).where(eq(backupRuns.id, runId)).run();
};

/** Runs that a crash of the server cut short. */
export const failUnfinishedRuns = (db: Db, now: number): void => {
  db.update(backupRuns)
    .set({ finishedAt: now, failure: 'The server stopped meanwhile.' })
    .where(isNull(backupRuns.finishedAt))
    .run();
};

export const markRemoved = (db: Db, file: string, now: number): void => {
  db.update(backupRuns)
    .set({ removedAt: now })
    .where(and(eq(backupRuns.file, file), isNull(backupRuns.removedAt)))
    .run();
};

export const listRuns = (db: Db, limit: number): (BackupRunRow & { madeByName: string | null })[] =>
  db
    .select({ run: backupRuns, madeByName: people.name })
    .from(backupRuns)
    .leftJoin(people, eq(people.id, backupRuns.madeBy))
    .orderBy(desc(backupRuns.id))
    .limit(limit)
    .all()
    .map(({ run, madeByName }) => ({ ...run, madeByName }));

export const runById = (db: Db, runId: number): BackupRunRow | undefined =>
  db.select().from(backupRuns).where(eq(backupRuns.id, runId)).get();

const isGood = and(eq(backupRuns.failure, ''), isNotNull(backupRuns.finishedAt));

/** The newest backup that went well, and the first; undefined when there is none. By their order and not by their times, since a
 *  clock that ran ahead for a while would otherwise hide all that came after. */
export const newestGoodRun = (db: Db): BackupRunRow | undefined =>
  db.select().from(backupRuns).where(isGood).orderBy(desc(backupRuns.id)).limit(1).get();
export const firstGoodRun = (db: Db): BackupRunRow | undefined =>
  db.select().from(backupRuns).where(isGood).orderBy(asc(backupRuns.id)).limit(1).get();

/** Archives that were written and not thinned out since, the newest first: those that passed, and those that did not. */
export const standingArchives = (db: Db): Pick<BackupRunRow, 'id' | 'file' | 'byteSize' | 'failure'>[] =>
  db
    .select({ id: backupRuns.id, file: backupRuns.file, byteSize: backupRuns.byteSize, failure: backupRuns.failure })
    .from(backupRuns)
    .where(and(isNotNull(backupRuns.byteSize), isNull(backupRuns.removedAt)))
    .orderBy(desc(backupRuns.id))
    .all();

/** The last tries of the daily backup: any, and one that left an archive. */
export const lastDaily = (db: Db): { triedAt: number | null; madeAt: number | null } => {
  const last = (only: ReturnType<typeof and>): number | null =>
    db
      .select({ at: backupRuns.startedAt })
      .from(backupRuns)
      .where(and(eq(backupRuns.how, 'daily'), only))
      .orderBy(desc(backupRuns.id))
      .limit(1)
      .get()?.at ?? null;
  return { triedAt: last(undefined), madeAt: last(isNotNull(backupRuns.byteSize)) };
};

// ───────────── trials ─────────────
export const insertTrial = (db: Db, row: Omit<TrialRow, 'id'>): void => {
  db.insert(trials).values(row).run();
};

export const lastTrial = (db: Db, kind: TrialRow['kind']): TrialRow | undefined =>
  db.select().from(trials).where(eq(trials.kind, kind)).orderBy(desc(trials.id)).limit(1).get();

export const lastPassedTrial = (db: Db, kind: TrialRow['kind']): TrialRow | undefined =>
  db
    .select()
    .from(trials)
    .where(and(eq(trials.kind, kind), eq(trials.failure, '')))
    .orderBy(desc(trials.id))
    .limit(1)
    .get();

/** Starts commands/trial.ts on what is named, at the lowest priority. */
export const tryApart = <Answer>(args: readonly string[]): { said: Promise<Answer>; stop: () => void } => {
  const { child, said } = inOwnProcess<Answer>('commands/trial', args, 19);
  child.unref();
  return { said, stop: () => child.kill() };
};

/** Looks into a file of its own, as of one moment. */
export async function readingFrom<Result>(file: string, look: (db: Db) => Promise<Result>): Promise<Result> {
  const open = openForReading(file);
  try {
    return await look(open.db);
  } finally {
    open.sqlite.close();
  }
}

/** What SQLite finds wrong with the database that is open, read by a process of its own; one in memory has no file for that. */
export const findingsApart = (sqlite: Sqlite, db: Db): { done: Promise<string[]>; stop: () => void } =>
  sqlite.memory
    ? { done: Promise.resolve(integrityFindings(db)), stop: () => undefined }
    : checkInBackground(sqlite.name, 'whole');

export const migratedTo = (db: Db): number =>
  db.get<{ at: number | null }>(sql`select max(created_at) as at from __drizzle_migrations`)?.at ?? 0;

// ───────────── what must hold in a studio ─────────────
/** What SQLite itself finds wrong with the file; nothing when it is whole. A file too damaged to be asked is a finding. */
export function integrityFindings(db: Db): string[] {
  try {
    return db
      .all<{ integrity_check: string }>(sql`pragma integrity_check(50)`)
      .map((row) => row.integrity_check)
      .filter((words) => words !== 'ok');
  } catch (error) {
    const { code, message } = error as { code?: string; message: string };
    if (code?.startsWith('SQLITE_CORRUPT') || code === 'SQLITE_NOTADB') return [message];
    throw error;
  }
}

/** The connection itself, without the query builder’s memory for statements. */
function connectionOf(db: Db): Sqlite {
  const { session } = db as unknown as { session: { client: Sqlite } };
  return Object.getPrototypeOf(session.client) as Sqlite;
}

/** How far the record has come and what every other table adds up to, to be kept where the database cannot change it. */
export function proofHeads(db: Db): { record?: RecordHead; tables?: Record<string, { rows: number; sum: string }> } {
  const sqlite = connectionOf(db);
  return hasProof(sqlite) ? { record: recordHead(sqlite), tables: tableSums(sqlite) } : {};
}

/** What of the record is not as the service has written it, by the chain and the sums that its triggers keep. */
export function proofChecks(db: Db): ProofFinding[] {
  const sqlite = connectionOf(db);
  if (!hasProof(sqlite)) return [];
  return [
    ...proofFindings(sqlite),
    { name: 'no upgrade has found the record changed', wrong: earlierFindings(sqlite) },
  ];
}

export const danglingReferences = (db: Db): { table: string; rowid: number | null; parent: string }[] =>
  db.all(sql`pragma foreign_key_check`);

/** Each query answers the rows that break its rule, in words; an empty answer is a rule that holds. */
export const RULES: readonly { name: string; broken: (db: Db) => string[] }[] = [
  {
    name: 'every container was received once, as its first entry says',
    broken: (db) =>
      words(
        db,
        sql`select 'container ' || s.code || ': received ' || s.received_quantity || ', by the ledger ' || coalesce((select group_concat(quantity) from stock_ledger l where l.stock_lot_id = s.id and l.kind = 'receipt'), 'never') as words
        from stock_lots s where (select count(*) from stock_ledger l where l.stock_lot_id = s.id and l.kind = 'receipt' and l.quantity = s.received_quantity) <> 1`,
      ),
  },
  {
    name: 'a reversal undoes its entry whole',
    broken: (db) =>
      words(
        db,
        sql`select 'ledger entry ' || r.id as words from stock_ledger r left join stock_ledger o on o.id = r.reverses_id
        where r.kind = 'reversal' and (o.id is null or o.quantity <> -r.quantity or o.stock_lot_id <> r.stock_lot_id or o.kind = 'reversal')`,
      ),
  },
  {
    name: 'what was weighed left its container, and what was voided came back',
    broken: (db) =>
      words(
        db,
        sql`select 'weighing ' || w.id || ' of lot ' || t.number as words from weighings w join lots t on t.id = w.lot_id
        where -coalesce((select sum(l.quantity) from stock_ledger l where l.weighing_id = w.id and l.stock_lot_id = w.stock_lot_id), 0) <>
          case when exists (select 1 from log_entries v where v.refers_to_id = w.log_entry_id and v.kind = 'voiding') then 0 else coalesce(w.mass_mg, w.volume_ul) end
          and not exists (select 1 from cost_lines c where c.lot_id = w.lot_id and c.stock_lot_id = w.stock_lot_id and c.correction = 'reversal' and c.late_entry_id is null)`,
      ),
  },
  {
    name: 'what a closed lot had from a container is what its cost says, corrections and all',
    broken: (db) =>
      words(
        db,
        sql`with gone as (select lot_id, stock_lot_id, -sum(quantity) as quantity from stock_ledger where lot_id is not null group by 1, 2),
        costed as (select lot_id, stock_lot_id, sum(quantity) as quantity from cost_lines where stock_lot_id is not null group by 1, 2)
        select distinct 'lot ' || t.number as words from lots t join costed c on c.lot_id = t.id left join gone g on g.lot_id = c.lot_id and g.stock_lot_id = c.stock_lot_id
        where t.finished_at is not null and coalesce(g.quantity, 0) <> c.quantity`,
      ),
  },
  {
    name: 'every stock solution took its powder from its source',
    // 1 % w/v is 10 g/L: mg = µL × ppm / 1 000 000. The strength is kept in whole ppm, the mass in whole mg.
    broken: (db) =>
      words(
        db,
        sql`select 'solution ' || s.code as words from stock_lots s where s.source_stock_lot_id is not null and (
          (select count(*) from stock_ledger l where l.solution_id = s.id and l.kind = 'issue') <> 1
          or abs(-(select sum(l.quantity) from stock_ledger l where l.solution_id = s.id and l.stock_lot_id = s.source_stock_lot_id)
            - s.received_quantity * s.conc_ppm / 1000000.0) > 1.5 + s.received_quantity / 1000000.0)`,
      ),
  },
  {
    name: 'shares of a recipe add to 100 %, and its depths to the total',
    broken: (db) =>
      words(
        db,
        sql`select r.name || ', revision ' || v.number as words from recipe_revisions v join recipes r on r.id = v.recipe_id
        where coalesce((select sum(share_ppm) from recipe_components c where c.revision_id = v.id), 0) <> 1000000
          or (select sum(depth_ppm) from recipe_components c where c.revision_id = v.id) <> v.total_depth_ppm`,
      ),
  },
  {
    name: 'a finished lot has its outcome and its end in the log',
    broken: (db) =>
      words(
        db,
        sql`select 'lot ' || t.number as words from lots t where
          (t.status = 'finished') <> exists (select 1 from lot_outcomes o where o.lot_id = t.id)
          or (t.status = 'finished') <> exists (select 1 from log_entries e where e.lot_id = t.id and e.kind = 'finish')
          or (t.status = 'abandoned') <> exists (select 1 from log_entries e where e.lot_id = t.id and e.kind = 'abandon')`,
      ),
  },
  {
    name: 'the figures that reports take of a closed lot are those of its outcome and its cost lines',
    broken: (db) =>
      words(
        db,
        sql`with costs as (select c.lot_id, sum(iif(c.kind = 'dye', c.cost_minor, 0)) as dye, sum(iif(c.kind = 'auxiliary', c.cost_minor, 0)) as auxiliary,
            sum(iif(c.kind = 'goods', c.cost_minor, 0)) as goods, sum(iif(c.kind = 'labour', c.cost_minor, 0)) as labour,
            sum(iif(c.kind = 'overhead', c.cost_minor, 0)) as overhead, sum(iif(c.kind = 'other', c.cost_minor, 0)) as other,
            sum(c.cost_minor * c.wasted) as wasted from cost_lines c group by c.lot_id)
        select 'lot ' || coalesce(t.number, k.number) as words from (select * from lots where finished_at is not null) t
          full join closed_lots k on k.lot_id = t.id left join lot_closings e on e.lot_id = t.id left join lot_outcomes o on o.lot_id = t.id
          left join costs c on c.lot_id = t.id
        where (k.finished_at, k.status, k.number, k.method_id, k.fibre_id, k.dry_mass_mg, k.closed_on, k.estimate_minor, k.first_quality, k.seconds, k.rework, k.scrap,
            k.seconds_value_minor, k.dye_minor, k.auxiliary_minor, k.goods_minor, k.labour_minor, k.overhead_minor, k.other_minor, k.wasted_minor)
          is not (t.finished_at, t.status, t.number, t.method_id, t.fibre_id, e.dry_mass_mg, e.closed_on, t.estimate_minor, o.first_quality, o.seconds, o.rework, o.scrap,
            o.seconds_value_minor, coalesce(c.dye, 0), coalesce(c.auxiliary, 0), coalesce(c.goods, 0), coalesce(c.labour, 0), coalesce(c.overhead, 0),
            coalesce(c.other, 0), coalesce(c.wasted, 0))`,
      ),
  },
  {
    name: 'a closed lot has kept what its figures rest on: goods as dyed, the day in its zone, every name',
    // Names that an earlier version did not keep stand as at the upgrade; of those there is one for every thing too.
    broken: (db) =>
      words(
        db,
        sql`select 'lot ' || t.number as words from lots t left join lot_closings k on k.lot_id = t.id left join lots_dyed_mass d on d.lot_id = t.id
        where (t.finished_at is null) <> (k.lot_id is null)
          or (k.lot_id is not null and (k.closed_on <> studio_day(t.finished_at, k.zone) or k.dry_mass_mg <> d.dry_mass_mg
            or exists (select 1 from lot_names_now n where n.lot_id = t.id
              and not exists (select 1 from lot_names e where e.lot_id = n.lot_id and e.kind = n.kind and e.ref_id = n.ref_id))
            or (select count(*) from lot_lines x where x.lot_id = t.id) <> (select count(*) from lot_line_closings x where x.lot_id = t.id)))`,
      ),
  },
  {
    name: 'what a closed lot has kept under another name than today’s is known to have been renamed',
    broken: (db) =>
      words(
        db,
        sql`select distinct n.kind || ' ' || n.name as words from lot_names n left join dyes d on n.kind = 'dye' and d.id = n.ref_id
          left join auxiliaries a on n.kind = 'auxiliary' and a.id = n.ref_id left join people p on n.kind = 'person' and p.id = n.ref_id
          left join stock_lots s on n.kind = 'stockLot' and s.id = n.ref_id left join fibres f on n.kind = 'fibre' and f.id = n.ref_id
          left join methods m on n.kind = 'method' and m.id = n.ref_id left join recipes r on n.kind = 'recipe' and r.id = n.ref_id
        where n.kind <> 'swatch' and (n.code <> coalesce(d.code, a.code, s.code, '') collate binary
            or n.name <> coalesce(d.name, a.name, p.name, s.maker_lot, f.name, m.name, r.name) collate binary)
          and not exists (select 1 from renamed_things k where k.kind = n.kind and k.ref_id = n.ref_id)`,
      ),
  },
  {
    name: 'materials in the cost of a closed lot are what was weighed',
    broken: (db) =>
      words(
        db,
        sql`with weighed as (select w.lot_id, w.stock_lot_id,
            exists (select 1 from log_entries d where d.refers_to_id = w.log_entry_id and d.kind = 'discard'
              and not exists (select 1 from log_entries u where u.refers_to_id = d.id and u.kind = 'voiding')) as wasted, sum(coalesce(w.mass_mg, w.volume_ul)) as quantity
          from weighings w join lots t on t.id = w.lot_id where t.finished_at is not null
            and not exists (select 1 from log_entries v where v.refers_to_id = w.log_entry_id and v.kind = 'voiding') group by 1, 2, 3),
        costed as (select lot_id, stock_lot_id, wasted, sum(quantity) as quantity from cost_lines
          where kind in ('dye', 'auxiliary') and ((corrects_id is null and added = 0) or late_entry_id is not null) and stock_lot_id is not null group by 1, 2, 3),
        differing as (select coalesce(w.lot_id, c.lot_id) as lot_id from weighed w full join costed c
          on c.lot_id = w.lot_id and c.stock_lot_id = w.stock_lot_id and c.wasted = w.wasted where coalesce(w.quantity, 0) <> coalesce(c.quantity, 0)
            -- A late voiding of what the owner had corrected before takes away what stood, not what was weighed.
            and not exists (select 1 from cost_lines k join cost_lines v on v.lot_id = k.lot_id and v.stock_lot_id = k.stock_lot_id
              where k.lot_id = coalesce(w.lot_id, c.lot_id) and k.stock_lot_id = coalesce(w.stock_lot_id, c.stock_lot_id)
                and k.correction is not null and k.late_entry_id is null and v.late_entry_id is not null))
        select distinct 'lot ' || t.number as words from differing d join lots t on t.id = d.lot_id`,
      ),
  },
  {
    name: 'labour in the cost of a closed lot is what was logged',
    broken: (db) =>
      words(
        db,
        sql`select 'lot ' || t.number as words from lots t where t.finished_at is not null and
          coalesce((select sum(b.duration_s) from lot_labour b where b.lot_id = t.id
            and not exists (select 1 from log_entries v where v.refers_to_id = b.log_entry_id and v.kind = 'voiding')), 0) <>
          coalesce((select sum(quantity) from cost_lines c where c.lot_id = t.id and c.kind = 'labour' and c.corrects_id is null and c.added = 0), 0)`,
      ),
  },
  {
    name: 'a container’s own price stands in the cost of what was taken from it',
    broken: (db) =>
      words(
        db,
        sql`select 'lot ' || t.number || ', line ' || c.ordinal as words from cost_lines c join lots t on t.id = c.lot_id join stock_lots s on s.id = c.stock_lot_id
        where c.valuation = 'specific' and c.corrects_id is null and (c.price_minor <> s.price_minor + s.freight_minor + coalesce((select sum(m.amount_minor) from stock_money m where m.stock_lot_id = s.id
            and m.recorded_at <= c.written_at and m.at <= t.finished_at), 0) or c.per_quantity <> s.received_quantity)`,
      ),
  },
];

const words = (db: Db, query: Parameters<Db['all']>[0]): string[] =>
  db.all<{ words: string }>(query).map((row) => row.words);

export interface CostLineToCheck {
  id: number;
  lotNumber: string;
  ordinal: number;
  quantity: number;
  priceMinor: number;
  perQuantity: number;
  costMinor: number;
}

/** Cost lines after an id, in pages. */
export const costLinesAfter = (db: Db, after: number, limit: number): CostLineToCheck[] =>
  db.all(sql`select c.id, t.number as "lotNumber", c.ordinal, c.quantity, c.price_minor as "priceMinor", c.per_quantity as "perQuantity", c.cost_minor as "costMinor"
    from cost_lines c join lots t on t.id = c.lot_id where c.id > ${after} order by c.id limit ${limit}`);

export const photoHashes = (db: Db): string[] =>
  db.all<{ sha256: string }>(sql`select sha256 from photos order by id`).map((row) => row.sha256);
export const voiceHashes = (db: Db): string[] =>
  db.all<{ sha256: string }>(sql`select sha256 from voices order by id`).map((row) => row.sha256);

/** Copies the database as it is at one moment to a new file, by SQLite's online backup. `apart`: in a process of its own, so
 *  that nobody waits; a command is one already, and a database in memory has no file that another could read. */
export async function copyOf(sqlite: Sqlite, { to, apart }: { to: string; apart: boolean }): Promise<void> {
  await (apart && !sqlite.memory ? copyApart(sqlite.name, to) : copyHere(sqlite, to));
}
