import { createHash } from 'node:crypto';
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { sowSampleStudio } from '../../seed/studio.ts';
import { buildApp } from '../../server/app.ts';
import { deltaE2000 } from '../../server/calc/colour/deltaE.ts';
import { readConfig } from '../../server/config.ts';
import { applyMigrations } from '../../server/db/migrate.ts';
import { openDatabase } from '../../server/db/open.ts';
import type { Deps } from '../../server/deps.ts';
import { setUpStudio } from '../../server/people/firstRun.ts';
import { openSignIn } from '../../server/people/signIn.ts';
import { photoFile } from '../../server/photos/store.ts';
import { freshDeps, MONDAY } from '../support/app.ts';
import { keptSample } from '../support/sampleStudio.ts';

const SLOW_MS = 180_000;
const dropped: (() => Promise<void> | void)[] = [];
afterAll(async () => {
  for (const drop of dropped.reverse()) await drop();
});

/** A studio set up and sown at an hour, on a database of its own. */
async function sown(at: number, currency = 'EUR'): Promise<{ deps: Deps; ownerId: number }> {
  const dataDir = mkdtempSync(join(tmpdir(), 'sample-studio-'));
  const config = readConfig({ DATA_DIR: dataDir, LOG_LEVEL: 'silent', TZ: 'Europe/Lisbon' });
  const open = openDatabase(':memory:');
  await applyMigrations(open, join(config.packageRoot, 'migrations'));
  let ids = 0;
  const deps: Deps = {
    config,
    ...open,
    now: () => at,
    newId: () => `00000000-0000-4000-8000-${String(++ids).padStart(12, '0')}`,
    firstRunCode: '271828',
  };
  dropped.push(() => {
    open.sqlite.close();
    rmSync(dataDir, { recursive: true, force: true });
  });
  const ownerId = await setUpStudio(deps, {
    studioName: 'Tidewrack Dye Works',
    currency,
    zone: 'Europe/Lisbon',
    units: 'metric',
    readabilityMg: 10,
    ownerName: 'Inês',
    passphrase: 'four unrelated words',
    sample: 'yes',
  });
  await sowSampleStudio(deps, { personId: ownerId, name: 'Inês', role: 'owner' });
  return { deps, ownerId };
}

const TABLES = [
  'fibres',
  'dyes',
  'auxiliaries',
  'methods',
  'method_steps',
  'recipes',
  'recipe_revisions',
  'recipe_components',
  'customers',
  'orders',
  'order_lines',
  'lots',
  'lot_components',
  'log_entries',
  'weighings',
  'lot_targets',
  'lot_labour',
  'lot_outcomes',
  'cost_lines',
  'swatches',
  'colour_readings',
  'swatch_colours',
  'photos',
  'stock_lots',
  'stock_ledger',
];

const all = <T>(deps: Deps, statement: string): T[] => deps.sqlite.prepare(statement).all() as T[];
const count = (deps: Deps, from: string): number =>
  all<{ n: number }>(deps, `select count(*) as n from ${from}`)[0]?.n ?? 0;

function hashOf(deps: Deps): Record<string, string> {
  return Object.fromEntries(
    TABLES.map((table) => [
      table,
      createHash('sha256')
        .update(JSON.stringify(all(deps, `select * from ${table} order by 1, 2`)))
        .digest('hex'),
    ]),
  );
}

describe('the sample studio', () => {
  let deps: Deps;
  let ownerId: number;
  beforeAll(async () => {
    ({ deps, ownerId } = await sown(MONDAY));
  }, SLOW_MS);

  it('is as large as it is said to be', () => {
    expect(count(deps, 'dyes')).toBe(14);
    expect(all<{ n: number }>(deps, 'select count(distinct class) as n from dyes')[0]?.n).toBe(2);
    expect(count(deps, 'auxiliaries')).toBe(8);
    expect(count(deps, 'fibres')).toBe(9);
    expect(count(deps, 'methods')).toBe(8);
    expect(count(deps, 'customers')).toBe(6);
    expect(count(deps, 'recipes')).toBeGreaterThanOrEqual(40);
    expect(count(deps, 'swatches')).toBeGreaterThanOrEqual(115);
    expect(count(deps, 'orders')).toBeGreaterThanOrEqual(30);
    expect(count(deps, 'lots')).toBeGreaterThanOrEqual(60);
    expect(count(deps, 'photos')).toBeGreaterThanOrEqual(20);
    expect(count(deps, "colour_readings where source <> 'invented'")).toBe(0);
    expect(count(deps, 'studio where sample = 1')).toBe(1);
  });

  it('holds what a year brings: rework dyed again, seconds, a lot given up, a recall, a spill, slips at the scale', () => {
    expect(
      all(
        deps,
        `select 1 from lots l join lot_outcomes o on o.lot_id = l.repeats_lot_id where o.rework > 0 and l.status = 'finished'`,
      ),
    ).toHaveLength(1);
    expect(count(deps, 'lot_outcomes where first_quality = 0 and seconds > 0 and seconds_value_minor > 0')).toBe(1);
    expect(count(deps, "lots where status = 'abandoned'")).toBe(1);
    const recalled = all<{ id: number }>(
      deps,
      'select id from stock_lots where recalled_at is not null and conc_ppm is null',
    );
    expect(recalled).toHaveLength(1);
    expect(count(deps, `weighings where stock_lot_id = ${recalled[0]?.id}`)).toBeGreaterThanOrEqual(2);
    expect(count(deps, "stock_ledger where kind = 'waste'")).toBeGreaterThanOrEqual(1);
    expect(count(deps, "stock_ledger where kind = 'stockTake' and quantity <> 0")).toBeGreaterThanOrEqual(1);
    expect(count(deps, "log_entries where kind = 'voiding'")).toBeGreaterThanOrEqual(3);
    expect(count(deps, "log_entries where kind = 'deviation'")).toBeGreaterThanOrEqual(3);
    for (const way of ['moreGoods', 'deeper', 'weighAgain', 'keepAsMade']) {
      expect(count(deps, `lot_adjustments where way = '${way}'`), way).toBeGreaterThanOrEqual(1);
    }
    expect(count(deps, 'recipe_revisions where number > 1')).toBeGreaterThanOrEqual(4);
    expect(count(deps, 'swatches where lot_id is not null')).toBeGreaterThanOrEqual(5);
  });

  it('shows how ice-dyed lengths were meant to lie and how they were laid, drawn before and during the work', async () => {
    const drawn = all<{ lotId: number; meantAt: number; laidAt: number; startedAt: number; finishedAt: number | null }>(
      deps,
      `select l.id as lotId, p.at as meantAt, c.at as laidAt, l.started_at as startedAt, l.finished_at as finishedAt
        from lots l join log_entries p on p.lot_id = l.id and p.kind = 'placement' and p.value_json ->> 'of' = 'plan'
          join log_entries c on c.lot_id = l.id and c.kind = 'placement' and c.value_json ->> 'of' = 'cloth'
        where p.value_json -> 'drawing' <> c.value_json -> 'drawing'`,
    );
    expect(drawn.length).toBeGreaterThanOrEqual(2);
    expect(new Set(drawn.map((d) => d.lotId)).size).toBe(drawn.length);
    for (const d of drawn) {
      expect(d.meantAt).toBeLessThan(d.startedAt);
      expect(d.laidAt).toBeGreaterThan(d.startedAt);
      expect(d.laidAt).toBeLessThan(d.finishedAt ?? MONDAY);
    }
    expect(drawn.some((d) => d.finishedAt === null)).toBe(true);
  });

  it('stands in the middle of a working day: timers run, orders are due and one is overdue', () => {
    const running = all<{ name: string }>(
      deps,
      `select s.name from lot_steps s join lots l on l.id = s.lot_id where l.status = 'onBench'
        and exists (select 1 from log_entries e where e.step_id = s.id and e.kind = 'stepStart')
        and not exists (select 1 from log_entries e where e.step_id = s.id and e.kind = 'stepEnd')`,
    );
    expect(running.length).toBeGreaterThanOrEqual(3);
    expect(count(deps, "lots where status = 'planned'")).toBeGreaterThanOrEqual(2);
    const open = "orders where status in ('open', 'inWork')";
    expect(count(deps, `${open} and due_on < '2026-03-16'`)).toBe(1);
    expect(count(deps, `${open} and due_on between '2026-03-16' and '2026-03-23'`)).toBeGreaterThanOrEqual(2);
    expect(
      count(
        deps,
        `lots l where status = 'finished' and not exists (select 1 from colour_readings r where r.lot_id = l.id)`,
      ),
    ).toBeGreaterThanOrEqual(1);
  });

  it('holds no less than nothing in any container, and nothing in a closed one', () => {
    const containers = all<{ code: string; held: number; closed: number }>(
      deps,
      `select s.code, s.closed_at is not null as closed, (select sum(l.quantity) from stock_ledger l where l.stock_lot_id = s.id) as held from stock_lots s`,
    );
    expect(containers.filter((c) => c.held < 0)).toEqual([]);
    expect(containers.filter((c) => c.closed === 1 && c.held !== 0)).toEqual([]);
  });

  it('costs every finished lot by its lines: quantity × rate, rounded once', () => {
    const lines = all<{ id: number; quantity: number; price_minor: number; per_quantity: number; cost_minor: number }>(
      deps,
      'select * from cost_lines',
    );
    expect(lines.filter((l) => Math.abs((l.quantity * l.price_minor) / l.per_quantity - l.cost_minor) > 0.5)).toEqual(
      [],
    );
    expect(
      all(
        deps,
        `select 1 from lots l where status = 'finished' and (select count(*) from cost_lines c where c.lot_id = l.id) < 3`,
      ),
    ).toEqual([]);
    // What was weighed and not voided is what left the shelf for lots.
    expect(
      all(
        deps,
        `select w.id from weighings w where coalesce(w.mass_mg, w.volume_ul) <> -(select sum(l.quantity) from stock_ledger l where l.weighing_id = w.id)
          and not exists (select 1 from log_entries v where v.refers_to_id = w.log_entry_id and v.kind = 'voiding')`,
      ),
    ).toEqual([]);
  });

  it('adds every formula and every variegated piece to the whole', () => {
    expect(
      all(deps, 'select revision_id from recipe_components group by revision_id having sum(share_ppm) <> 1000000'),
    ).toEqual([]);
    for (const of of ['swatch_id', 'lot_id']) {
      expect(
        all(
          deps,
          `select ${of} from colour_readings where ${of} is not null and area_share_ppm is not null group by ${of} having sum(area_share_ppm) <> 1000000`,
        ),
      ).toEqual([]);
    }
  });

  it('finishes no lot while a step runs, and dates nothing in the future', () => {
    expect(
      all(
        deps,
        `select s.id from lot_steps s join lots l on l.id = s.lot_id where l.status = 'finished'
          and exists (select 1 from log_entries e where e.step_id = s.id and e.kind = 'stepStart')
          and not exists (select 1 from log_entries e where e.step_id = s.id and e.kind = 'stepEnd')`,
      ),
    ).toEqual([]);
    for (const [table, column] of [
      ['log_entries', 'at'],
      ['stock_ledger', 'at'],
      ['lots', 'planned_at'],
      ['lots', 'finished_at'],
      ['colour_readings', 'read_at'],
      ['recipe_revisions', 'made_at'],
      ['photos', 'stored_at'],
    ]) {
      expect(count(deps, `${table} where ${column} > ${MONDAY}`), `${table}.${column}`).toBe(0);
    }
    expect(count(deps, 'lots where started_at < planned_at')).toBe(0);
    expect(
      count(
        deps,
        "lots l join lot_lines ll on ll.lot_id = l.id join order_lines o on o.id = ll.order_line_id join orders r on r.id = o.order_id where date(l.planned_at / 1000, 'unixepoch') < r.ordered_on",
      ),
    ).toBe(0);
  });

  it('spans the hues and the lightnesses, and lots come out near the card they follow', () => {
    const colours = all<{ l: number; hue_families: string; in_gamut: number }>(deps, 'select * from swatch_colours');
    const families = new Set(colours.flatMap((c) => c.hue_families.split(',').filter(Boolean)));
    expect([...families].sort()).toEqual(
      [
        'blue',
        'green',
        'neutral',
        'orange',
        'purple',
        'red',
        'rose',
        'teal',
        'violet',
        'yellow',
        'yellow-green',
      ].sort(),
    );
    expect(Math.min(...colours.map((c) => c.l))).toBeLessThan(24);
    expect(Math.max(...colours.map((c) => c.l))).toBeGreaterThan(80);
    const differences = all<{ l: number; a: number; b: number; cl: number; ca: number; cb: number }>(
      deps,
      `select r.l, r.a, r.b, s.l as cl, s.a as ca, s.b as cb from lot_colours c join colour_readings r on r.lot_id = c.lot_id
        join colour_readings s on s.swatch_id = c.swatch_id where r.area_share_ppm is null and s.area_share_ppm is null`,
    )
      .map((p) => deltaE2000({ standard: { L: p.cl, a: p.ca, b: p.cb }, sample: { L: p.l, a: p.a, b: p.b } }))
      .sort((x, y) => x - y);
    expect(differences.length).toBeGreaterThan(20);
    expect(differences[Math.floor(differences.length / 2)]).toBeLessThan(2);
    expect(differences.at(-1)).toBeGreaterThan(3);
  });

  it('keeps its pictures on the disk', () => {
    for (const { sha256 } of all<{ sha256: string }>(deps, 'select sha256 from photos')) {
      expect(existsSync(photoFile(deps.config.dataDir, sha256, 640))).toBe(true);
    }
  });

  it('opens on every page', async () => {
    const app = await buildApp(deps);
    dropped.push(() => app.close());
    const cookie = `studio=${openSignIn(deps, ownerId, 'test')}`;
    const id = (statement: string): number => all<{ id: number }>(deps, statement)[0]?.id ?? 0;
    const lots = ['planned', 'onBench', 'finished', 'abandoned'].map((s) =>
      id(`select id from lots where status = '${s}'`),
    );
    const urls = [
      ...['/', '/swatches', '/swatches?show=photo', '/lots', '/orders', '/customers', '/recipes', '/methods', '/dyes'],
      ...[
        '/auxiliaries',
        '/fibres',
        '/stock',
        '/stock?closed=yes',
        '/history',
        '/settings',
        '/lots/new',
        '/orders/new',
      ],
      ...lots.map((lot) => `/lots/${lot}`),
      `/lots/${lots[1]}/bench`,
      `/lots/${lots[1]}/outcome`,
      `/lots/${lots[0]}/sheet`,
      `/lots/${lots[2]}/swatch`,
      ...['swatches', 'orders', 'customers', 'recipes', 'methods', 'dyes', 'auxiliaries', 'fibres'].map(
        (t) => `/${t}/1`,
      ),
      `/swatches/${id('select swatch_id as id from colour_readings where swatch_id is not null and area_share_ppm is not null')}`,
      `/stock/${id('select id from stock_lots where recalled_at is not null')}`,
      `/stock/${id('select id from stock_lots where recalled_at is not null')}/touched`,
      `/stock/${id('select id from stock_lots where conc_ppm is not null')}`,
    ];
    for (const url of urls) {
      const { statusCode } = await app.inject({ url, headers: { cookie, host: 'studio.test' } });
      expect(statusCode, url).toBe(200);
    }
  });

  it(
    'is the same studio for the same hour',
    async () => {
      // Another process’s, or an earlier test’s: sown on its own, under other ids of requests.
      const other = await freshDeps(await keptSample());
      expect(hashOf(other.deps)).toEqual(hashOf(deps));
    },
    SLOW_MS,
  );

  it(
    'ends at whatever hour it is sown, a Sunday night in a currency without small coins too',
    async () => {
      const sundayNight = Date.UTC(2026, 7, 2, 22, 40);
      const other = (await sown(sundayNight, 'JPY')).deps;
      expect(count(other, `log_entries where at > ${sundayNight}`)).toBe(0);
      expect(count(other, "lots where status = 'onBench'")).toBeGreaterThanOrEqual(4);
      expect(
        all(other, 'select stock_lot_id from stock_ledger group by stock_lot_id having sum(quantity) < 0'),
      ).toEqual([]);
    },
    SLOW_MS,
  );
});
