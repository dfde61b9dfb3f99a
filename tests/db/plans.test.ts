import { randomUUID } from 'node:crypto';
import { describe, expect, test } from 'vitest';
import { groupings } from '../../server/costing/schemas.ts';
import { LIBRARY_QUERIES } from '../../server/imports/queries.ts';
import { declaredRoutes } from '../../server/people/guards.ts';
import { freshStudio, type TestStudio } from '../support/app.ts';
import { dyedLibrary } from '../support/dyedLibrary.ts';
import { type Ran, ranBy } from '../support/statements.ts';
import { makeWorld } from '../support/world.ts';

/** Tables that grow with every year, with what a full scan of them costs after thirty: never on the way of a page. */
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
  'closed_lots',
  'swatches',
  'swatch_colours',
  'colour_readings',
  'swatch_changes',
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
  {
    statement: /^select json_group_array\(c\.swatch_id\) as json from swatch_colours c/,
    table: 'swatch_colours',
    why: 'the map draws an even part of all swatches: their ids are taken from an index, and no row of theirs is read',
  },
  {
    statement: /^select json_group_array\(c\.swatch_id\) as json from swatch_colours c/,
    table: 'swatches',
    why: 'as above: those in the archive are left out by an index that holds only them',
  },
  {
    statement: /^select s\.fibre_id as fibreId, f\.name as fibreName/,
    table: 'swatches',
    why: 'swatches are counted by goods and method in an index that is in that order',
  },
  {
    statement: /^select r\.swatch_id as swatchId, r\.id, r\.l, r\.a, r\.b/,
    table: 'colour_readings',
    why: 'the colours of the wall are taken into memory with the first search, and afterwards only those that changed',
  },
  {
    statement: /^with newest as materialized/,
    table: 'lot_colours',
    why: 'what the studio sells by hue is counted in an index, once after each plan and each change of a colour',
  },
  {
    statement: /^with newest as materialized/,
    table: 'swatches',
    why: 'as above: the newest swatch of each formula, by an index',
  },
];

/** The export of everything reads every table whole, row by row, beside the connection that people write with. */
const WHOLE_TABLE = /^select (?:"\w+", )*"\w+" from "\w+"$/;
/** So do the files of the library that can be imported again, which go with it. */
const WHOLE_LIBRARY: ReadonlySet<string> = new Set(Object.values(LIBRARY_QUERIES));

/** Every statement that a piece of work runs, with the values of its first time. */
async function statementsOf({ deps }: TestStudio, work: () => Promise<unknown>): Promise<Ran[]> {
  const first = new Map<string, Ran>();
  for (const ran of await ranBy(deps, work)) if (!first.has(ran.source)) first.set(ran.source, ran);
  return [...first.values()];
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
      if (new RegExp(`order by "?${name}"?\\."?id"? desc limit`, 'i').test(source)) continue;
      const said = source.replace(/\s+/g, ' ');
      if (WHOLE_TABLE.test(said) || WHOLE_LIBRARY.has(source)) continue;
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
  fibreId: number;
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
  return { studio, lotId: lot.lotId, fibreId: world.linenId, line: { componentId, stockLotId: world.stock.blue.id } };
}

const SPAN = 'from=2020-01-01&to=2030-12-31';
/** Lists and reports with conditions. */
const ASKED = [
  ...['status=finished', 'status=planned&before=2', 'words=nap'].map((q) => `/lots?${q}`),
  ...[
    'from=&to=',
    SPAN,
    `${SPAN}&fibreId=1`,
    `${SPAN}&methodId=1`,
    `${SPAN}&customerId=1`,
    `${SPAN}&after=1.1`,
  ].flatMap((q) => [`/history?${q}`, `/history/export.csv?${q}`, `/history/export.csv?rows=costLine&${q}`]),
  ...groupings.flatMap((by) => [
    `/costing?by=${by}&${SPAN}`,
    `/costing?by=${by}&from=&to=`,
    `/costing?by=${by}&fibreId=1`,
  ]),
  `/costing/lines?by=method&${SPAN}`,
  '/colour/map?fibreId=:fibreId',
  '/sampling/next?hue=any',
  '/colour/proposals?colour=%23336699',
  '/swatches/near?colour=%23336699',
  '/swatches?words=teal&depth=deep&hue=blue&inStock=yes',
  '/audit?person=1',
];

describe('no full scan of a large table', () => {
  test('for what is done at the bench', async () => {
    const { studio, lotId, line } = await workingStudio();
    const happened = () => ({ clientId: randomUUID(), at: studio.deps.now() });
    const ran = await statementsOf(studio, async () => {
      await studio.api.post(`/lots/${lotId}/weighings`, { ...line, massMg: 4000, ...happened() });
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

  test('for any page, nor for any list of the API', { timeout: 600_000 }, async () => {
    const { studio, fibreId } = await workingStudio();
    const ran = await statementsOf(studio, async () => {
      for (const { method, url, may } of declaredRoutes(studio.app)) {
        if (!method.split(',').includes('GET') || may === 'anyone') continue;
        if (/\/live$|\*/.test(url)) continue;
        const path = url.replace(/:\w+/g, '1');
        const answer = path.startsWith('/api/') ? await studio.api.get(path.slice(7)) : await studio.page.get(path);
        expect(answer.status, path).toBeLessThan(500);
      }
      for (const path of ASKED)
        expect((await studio.page.get(path.replace(':fibreId', String(fibreId)))).status, path).toBe(200);
    });
    expect(ran.length).toBeGreaterThan(80);
    expect(walks(studio, ran)).toEqual([]);
  });
});

test('nor for predictions, proposals, corrections, colours near to one, nor for an import of swatches and its undoing', {
  timeout: 600_000,
}, async () => {
  const studio = await freshStudio();
  const library = dyedLibrary(studio);
  const ran = await statementsOf(studio, async () => {
    await studio.api.post('/predict', [library.asked({ yellow: 1, blue: 0.5 })]).expect(200);
    await studio.page.get('/colour/map').expect(200);
    await studio.page.get('/colour/knowledge').expect(200);
    await studio.page.get('/sampling/next').expect(200);
    await studio.page.get('/swatches/near?colour=%23336699').expect(200);
    const { fibreId, methodId } = library.asked({ yellow: 1 });
    await studio.page.get(`/colour/proposals?colour=%23336699&fibreId=${fibreId}&methodId=${methodId}`).expect(200);
    const brought = await studio.api.post('/imports/swatches', {
      swatches: [
        {
          name: 'Sea linen',
          fibre: 'Linen, plain',
          method: 'Immersion, reactive',
          depthPpm: 20_000,
          components: [{ dyeCode: 'RB', depthPpm: 20_000 }],
          dyedOn: '2026-03-09',
          lab: { l: 40, a: 0, b: -20, illuminant: 'D65', observer: '10' },
        },
      ],
    });
    expect(brought.status, brought.text).toBe(201);
    await studio.api.post(`/imports/${brought.body.importId}/undoing`).expect(200);
  });
  expect(ran.length).toBeGreaterThan(40);
  expect(walks(studio, ran)).toEqual([]);
});

test('the walk is seen where there is one', async () => {
  const { studio } = await workingStudio();
  const ran = await statementsOf(studio, async () => {
    studio.deps.sqlite.prepare('select count(*) from log_entries e where e.text = ?').get('x');
  });
  expect(walks(studio, ran)).toHaveLength(1);
});
