import { randomUUID } from 'node:crypto';
import { describe, expect, test } from 'vitest';
import { declaredRoutes } from '../../server/people/guards.ts';
import { freshStudio, type TestStudio } from '../support/app.ts';
import { makeWorld } from '../support/world.ts';

/** Tables that grow with every year, with what a full walk through them costs after thirty: never on the way of a page. */
const LARGE = [
  'log_entries',
  'lots',
  'weighings',
  'cost_lines',
  'stock_ledger',
  'lot_components',
  'lot_steps',
  'lot_labour',
  'lot_colours',
  'lot_lines',
  'lot_targets',
  'lot_outcomes',
  'order_lines',
  'orders',
  'photos',
  'audit_entries',
] as const;

/** Walks that are meant, each with the reason. By the beginning of the statement, spaces made single. */
const MEANT: readonly { statement: RegExp; table: string; why: string }[] = [
  {
    statement: /from lots where number like/,
    table: 'lots',
    why: 'the words of a search are looked for in every number and name, in an index that holds nothing else',
  },
  {
    statement: /^select status, count\(\*\) as count from orders group by status/,
    table: 'orders',
    why: 'orders by state are counted in an index: two words an order',
  },
  { statement: /^select exists \(select 1 from/, table: 'lots', why: 'ends at the first row' },
];

interface Ran {
  source: string;
  values: unknown[];
}

/** Every statement that a piece of work runs, with the values of its first time. */
async function statementsOf({ deps }: TestStudio, work: () => Promise<unknown>): Promise<Ran[]> {
  const { sqlite } = deps;
  const { prepare } = sqlite;
  const ran = new Map<string, unknown[]>();
  sqlite.prepare = ((source: string) => {
    const statement = prepare.call(sqlite, source) as unknown as Record<string, (...a: unknown[]) => unknown>;
    for (const name of ['run', 'get', 'all'] as const) {
      const original = statement[name];
      if (!original) continue;
      statement[name] = (...values) => {
        if (!ran.has(source)) ran.set(source, values);
        return original.apply(statement, values);
      };
    }
    return statement;
  }) as unknown as typeof prepare;
  try {
    await work();
  } finally {
    sqlite.prepare = prepare;
  }
  return [...ran].map(([source, values]) => ({ source, values }));
}

/** Full walks through large tables in the plans of these statements. */
function walks({ deps }: TestStudio, ran: readonly Ran[]): string[] {
  const found: string[] = [];
  for (const { source, values } of ran) {
    // An insert of values walks through nothing; its plan names the table all the same.
    if (!/^\s*(select|with|update|delete)/i.test(source)) continue;
    const aliases = new Map<string, string>();
    for (const m of source.matchAll(/\b(?:from|join|update|into)\s+"?(\w+)"?(?:\s+(?:as\s+)?"?(\w+)"?)?/gi)) {
      aliases.set(m[1] ?? '', m[1] ?? '');
      if (m[2]) aliases.set(m[2], m[1] ?? '');
    }
    const plan = deps.sqlite.prepare(`explain query plan ${source}`).all(...values) as { detail: string }[];
    for (const { detail } of plan) {
      const name = /^SCAN (\w+)/.exec(detail)?.[1];
      const table = name === undefined ? undefined : aliases.get(name);
      if (!table || !(LARGE as readonly string[]).includes(table)) continue;
      // In the order of an index and ended by a limit, a walk is as long as its answer.
      if (/limit/i.test(source) && /USING (COVERING )?INDEX/.test(detail) && !/lots_words/.test(detail)) continue;
      if (new RegExp(`order by ${name}\\.id desc limit`, 'i').test(source)) continue;
      const said = source.replace(/\s+/g, ' ');
      if (MEANT.some((m) => m.table === table && m.statement.test(said))) continue;
      found.push(`${table}: ${detail} — ${said.slice(0, 160)}`);
    }
  }
  return [...new Set(found)];
}

/** A studio with one lot in each state, so that pages have something to ask for. */
async function workingStudio(): Promise<{
  studio: TestStudio;
  lotId: number;
  line: { componentId: number; stockLotId: number };
}> {
  const studio = await freshStudio();
  const world = makeWorld(studio);
  const plan = async (): Promise<{ lotId: number; lines: { componentId: number; code: string }[] }> => {
    const answer = await studio.api.post('/lots', {
      fibreId: world.linenId,
      methodId: world.methodId,
      goodsText: '24 napkins',
      mass: { found: 'weighedDry', massMg: 1_200_000 },
      colours: [{ revisionId: world.revisionId, depthPpm: 20_000 }],
    });
    expect(answer.status, answer.text).toBe(201);
    return answer.body;
  };
  const lot = await plan();
  await plan();
  const componentId = lot.lines.find((l) => l.code === 'RB')?.componentId ?? 0;
  return { studio, lotId: lot.lotId, line: { componentId, stockLotId: world.stock.blue.id } };
}

describe('no full walk through a large table', () => {
  test('for what is done at the bench', async () => {
    const { studio, lotId, line } = await workingStudio();
    const happened = () => ({ clientId: randomUUID(), at: studio.deps.now() });
    const ran = await statementsOf(studio, async () => {
      await studio.api.post(`/lots/${lotId}/weighings`, { ...line, amount: 4000, ...happened() });
      await studio.api.post(`/lots/${lotId}/log`, { kind: 'note', text: 'even so far', ...happened() });
      const entries = (await studio.api.get(`/lots/${lotId}`)).body.log as { entryId: number; kind: string }[];
      const weighing = entries.find((e) => e.kind === 'weighing');
      const voided = await studio.api.post(`/log/${weighing?.entryId}/voiding`, { reason: 'wrong cup', ...happened() });
      expect(voided.status, voided.text).toBe(201);
      await studio.page.get(`/lots/${lotId}/bench`);
      const outcome = await studio.api.post(`/lots/${lotId}/outcome`, {
        firstQuality: 24,
        labour: [{ personId: studio.owner.personId, durationS: 3600 }],
        unweighedConfirmed: true,
        ...happened(),
      });
      expect(outcome.status, outcome.text).toBeLessThan(300);
    });
    expect(ran.length).toBeGreaterThan(20);
    expect(walks(studio, ran)).toEqual([]);
  });

  test('for any page, nor for any list of the API', { timeout: 120_000 }, async () => {
    const { studio } = await workingStudio();
    // Sums over everything, in whatever span was asked for; the span itself is found by an index.
    const REPORTS =
      /^\/(api\/v1\/)?(exports|costing|history|settings\/export|imports|audit|colour|matching|sampling|photo-readings|swatches\/near)/;
    const ran = await statementsOf(studio, async () => {
      for (const { method, url, may } of declaredRoutes(studio.app)) {
        if (!method.split(',').includes('GET') || may === 'anyone' || REPORTS.test(url)) continue;
        if (/\/live$|\*|\.(zip|json|csv|xlsx)$/.test(url)) continue;
        const path = url.replace(/:\w+/g, '1');
        const answer = path.startsWith('/api/') ? await studio.api.get(path.slice(7)) : await studio.page.get(path);
        expect(answer.status, path).toBeLessThan(500);
      }
      for (const query of ['status=finished', 'status=planned&before=2', 'words=nap'])
        expect((await studio.page.get(`/lots?${query}`)).status).toBe(200);
    });
    expect(ran.length).toBeGreaterThan(80);
    expect(walks(studio, ran)).toEqual([]);
  });
});

test('the walk is seen where there is one', async () => {
  const { studio } = await workingStudio();
  const ran = await statementsOf(studio, async () => {
    studio.deps.sqlite.prepare('select count(*) from log_entries e where e.text = ?').get('x');
  });
  expect(walks(studio, ran)).toHaveLength(1);
});
