import { randomUUID } from 'node:crypto';
import { CALCULATIONS } from '../../server/calculators/table.ts';
import type { Sqlite } from '../../server/db/open.ts';
import { ANSWERS } from '../../server/questions/answering.ts';
import { TRADE_ARITHMETIC } from '../reference/tradeArithmetic.ts';

/** A request that fits what the studio holds at this moment, so that the fuzzing gets past the first question of a route. */
export interface Living {
  path: readonly unknown[];
  /** JSON; undefined: none is sent. */
  body?: unknown;
  query?: Readonly<Record<string, unknown>>;
  /** A form with one file in the place of JSON. */
  form?: Form;
}
export interface Form {
  words: Readonly<Record<string, string>>;
  file: { field: string; name: string; type: string; bytes: Buffer };
}
/** Makes one, with a source of chance; null when there is nothing that fits. */
export type LivingMaker = (pick: (n: number) => number) => Living | null;

/** Small true files to send: a picture with a grey card in it, and a sound. */
export interface Samples {
  picture: Buffer;
  sound: Buffer;
}

const CORNERS = [
  { x: 20, y: 20 },
  { x: 90, y: 20 },
  { x: 90, y: 90 },
  { x: 20, y: 90 },
];

/** The published figures, where their inputs are plain numbers, and the examples of the document. */
const calculations: Readonly<Record<string, LivingMaker>> = Object.fromEntries(
  Object.entries(CALCULATIONS).map(([name, { input, example }]) => {
    const rows = TRADE_ARITHMETIC.filter((row) => row.calculation === name && input.safeParse(row.inputs).success);
    const bodies: readonly unknown[] = [example, ...rows.map(({ inputs }) => inputs)];
    return [`POST /api/v1/calc/${name}`, (pick) => ({ path: [], body: bodies[pick(bodies.length)] })];
  }),
);

export function livingRequests(
  sqlite: Sqlite,
  now: () => number,
  samples: Samples,
): Readonly<Record<string, LivingMaker>> {
  const rows = <T>(sql: string, ...values: unknown[]): T[] => sqlite.prepare(sql).all(...values) as T[];
  const one = <T>(pick: (n: number) => number, sql: string, ...values: unknown[]): T | undefined => {
    const found = rows<T>(sql, ...values);
    return found.length === 0 ? undefined : found[pick(found.length)];
  };
  const happened = () => ({ clientId: randomUUID(), at: now() });
  const openLot = (pick: (n: number) => number): number | undefined =>
    one<{ id: number }>(pick, "select id from lots where status in ('planned', 'onBench')")?.id;
  const word = (): string => `fuzz ${randomUUID().slice(0, 13)}`;
  const recipe = (pick: (n: number) => number): unknown => {
    const dyes = rows<{ id: number }>("select id from dyes where class = 'reactive' and archived_at is null");
    if (dyes.length < 2) return null;
    const first = pick(dyes.length);
    return {
      name: word(),
      dyeClass: 'reactive',
      entryStyle: 'ownDepths',
      components: [dyes[first], dyes[(first + 1) % dyes.length]].map((d, i) => ({
        dyeId: d?.id,
        depthPpm: 5000 * (i + 1),
      })),
    };
  };
  const plan = (pick: (n: number) => number): unknown => {
    const fibre = one<{ id: number }>(pick, "select id from fibres where class = 'cellulose' and archived_at is null");
    const method = one<{ id: number }>(
      pick,
      "select id from methods where dye_class = 'reactive' and archived_at is null",
    );
    const revision = one<{ id: number }>(
      pick,
      "select v.id from recipe_revisions v join recipes r on r.id = v.recipe_id where r.dye_class = 'reactive' and r.archived_at is null",
    );
    if (!fibre || !method || !revision) return null;
    return {
      fibreId: fibre.id,
      methodId: method.id,
      goodsText: word(),
      mass: { found: 'weighedDry', massMg: 100_000 + pick(2_000_000) },
      colours: [{ revisionId: revision.id, depthPpm: 1000 + pick(40_000) }],
    };
  };
  const overWeighed = (pick: (n: number) => number) =>
    one<{ lotId: number; componentId: number }>(
      pick,
      `select w.lot_id as lotId, w.component_id as componentId from weighings w join lots l on l.id = w.lot_id
        join lot_components c on c.id = w.component_id where l.status = 'onBench'
          and not exists (select 1 from log_entries v where v.refers_to_id = w.log_entry_id and v.kind = 'voiding')
        group by w.lot_id, w.component_id
        having sum(coalesce(w.mass_mg, w.volume_ul)) > 1.2 * coalesce(c.planned_mass_mg, c.planned_volume_ul)`,
    );
  /** Of the pictures that the fuzzing sends itself. */
  const newestPhoto = (): number | undefined => rows<{ id: number }>('select max(id) as id from photos')[0]?.id;
  const withBody =
    (make: (pick: (n: number) => number) => unknown): LivingMaker =>
    (pick) => {
      const body = make(pick);
      return body === null || body === undefined ? null : { path: [], body };
    };
  const forLot =
    (make: (pick: (n: number) => number, lotId: number) => object | null): LivingMaker =>
    (pick) => {
      const lotId = openLot(pick);
      if (lotId === undefined) return null;
      const body = make(pick, lotId);
      return body && { path: [lotId], body: { ...body, ...happened() } };
    };
  const photo = (words: Form['words'] = {}): Form => ({
    words,
    file: { field: 'photo', name: 'a.png', type: 'image/png', bytes: samples.picture },
  });
  const oneId = (pick: (n: number) => number, sql: string): number | undefined => one<{ id: number }>(pick, sql)?.id;
  /** A maker for `/things/{id}/…` of one of the things that the statement finds. */
  const forOne =
    (sql: string, make: (pick: (n: number) => number, id: number) => Omit<Living, 'path'> | null): LivingMaker =>
    (pick) => {
      const id = oneId(pick, sql);
      const made = id === undefined ? null : make(pick, id);
      return made && { path: [id], ...made };
    };
  const colour = (pick: (n: number) => number) => ({
    l: pick(100),
    a: pick(60) - 30,
    b: pick(60) - 30,
    illuminant: 'D65',
    observer: '10',
  });
  const readings = (pick: (n: number) => number) => ({
    body: {
      readings: [
        pick(2) === 0
          ? { ...colour(pick), source: 'instrument', areaSharePpm: 1 + pick(1_000_000) }
          : { hex: '#3a6b88', source: 'typed' },
      ],
    },
  });
  const reactive = (pick: (n: number) => number): number[] | null => {
    const dyes = rows<{ id: number }>("select id from dyes where class = 'reactive' and archived_at is null");
    const first = pick(dyes.length);
    return dyes.length < 3 ? null : [0, 1, 2].map((i) => dyes[(first + i) % dyes.length]?.id ?? 0);
  };
  const goods = (pick: (n: number) => number) =>
    one<{ fibreId: number; methodId: number }>(
      pick,
      `select f.id as fibreId, m.id as methodId from fibres f, methods m
        where f.class = 'cellulose' and f.archived_at is null and m.dye_class = 'reactive' and m.archived_at is null`,
    );
  const weighing = forLot((pick, lotId) => {
    const line = one<{ componentId: number; stockLotId: number }>(
      pick,
      `select c.id as componentId, s.id as stockLotId from lot_components c
         join stock_lots s on s.dye_id is c.dye_id and s.auxiliary_id is c.auxiliary_id where c.lot_id = ?`,
      lotId,
    );
    if (!line) return null;
    // One in four far over what was planned.
    const planned = one<{ planned: number }>(
      pick,
      'select coalesce(planned_mass_mg, planned_volume_ul) as planned from lot_components where id = ?',
      line.componentId,
    )?.planned;
    const amount = planned && pick(4) === 0 ? planned * 2 + 1000 : 1 + pick(20_000);
    return { ...line, [pick(4) === 0 ? 'volumeUl' : 'massMg']: amount, ...(pick(4) === 0 ? {} : { confirmed: true }) };
  });
  /** From a phone that had no network when its lot was finished. */
  const lateWeighing: LivingMaker = (pick) => {
    const line = one<{ lotId: number; componentId: number; stockLotId: number; at: number }>(
      pick,
      `select l.id as lotId, c.id as componentId, s.id as stockLotId, l.finished_at - 60000 as at from lots l
         join lot_components c on c.lot_id = l.id join stock_lots s on s.dye_id is c.dye_id and s.auxiliary_id is c.auxiliary_id
       where l.status = 'finished' and s.closed_at is null and s.unit = iif(c.planned_mass_mg is null, 'ul', 'mg')`,
    );
    if (!line) return null;
    const { lotId, ...body } = line;
    return {
      path: [lotId],
      body: {
        ...body,
        [pick(4) === 0 ? 'volumeUl' : 'massMg']: 1 + pick(20_000),
        confirmed: true,
        clientId: randomUUID(),
      },
    };
  };
  return {
    'POST /api/v1/photos': () => ({ path: [], form: photo() }),
    'POST /api/v1/photo-readings': (pick) => {
      const swatchId = oneId(pick, 'select id from swatches');
      return {
        path: [],
        form: photo({
          card: 'greyCard',
          greyL: '60',
          corners: JSON.stringify(CORNERS),
          regions: JSON.stringify([{ kind: 'spot', x: 60 + pick(60), y: 60, radiusPx: 8 }]),
          ...(swatchId !== undefined && pick(2) === 0 ? { swatchId: String(swatchId) } : {}),
        }),
      };
    },
    'POST /api/v1/lots/{id}/photos': (pick) => {
      const lotId = openLot(pick);
      return lotId === undefined
        ? null
        : { path: [lotId], form: photo({ text: word(), clientId: randomUUID(), at: String(now()) }) };
    },
    'POST /api/v1/lots/{id}/voices': (pick) => {
      const lotId = openLot(pick);
      return lotId === undefined
        ? null
        : {
            path: [lotId],
            form: {
              words: { text: word(), clientId: randomUUID(), at: String(now()), durationMs: '100' },
              file: { field: 'voice', name: 'note.wav', type: 'audio/wav', bytes: samples.sound },
            },
          };
    },
    ...calculations,
    'GET /api/v1/stock-lots/{id}/on-hand': forOne('select id from stock_lots', (pick) => ({
      query: { on: `2026-0${1 + pick(9)}-1${pick(9)}` },
    })),
    'POST /api/v1/stock-lots/{id}/closing': forOne('select id from stock_lots where closed_at is null', (pick) =>
      pick(8) === 0 ? { body: { how: 'empty', reason: word(), clientId: randomUUID() } } : null,
    ),
    'POST /api/v1/stock-lots/{id}/reopening': forOne(
      'select id from stock_lots where closed_at is not null',
      (pick) => ({
        body: { countedQuantity: pick(100_000), reason: word(), clientId: randomUUID() },
      }),
    ),
    'POST /api/v1/recipes/{id}/revisions': forOne(
      "select id from recipes where dye_class = 'reactive' and archived_at is null",
      (pick) => {
        const dyes = reactive(pick);
        return (
          dyes && {
            body: {
              fromRevision: 1,
              entryStyle: 'ownDepths',
              components: dyes.slice(0, 1 + pick(3)).map((dyeId) => ({ dyeId, depthPpm: 1 + pick(30_000) })),
              why: word(),
            },
          }
        );
      },
    ),
    'POST /api/v1/swatches/{id}/readings': forOne('select id from swatches', readings),
    'POST /api/v1/lots/{id}/readings': forOne('select id from lots', readings),
    'POST /api/v1/order-lines/{id}/readings': forOne('select id from order_lines', readings),
    'GET /api/v1/swatches/near': (pick) => ({
      path: [],
      query: [
        { colour: '#3a6b88', count: 1 + pick(40) },
        { colour: '52.1 -8 -14.2', illuminant: 'D50', observer: '10', under: 'A/10' },
        { lightness: pick(100), chroma: pick(60), hue: pick(360), plusMinus: 10 },
        { swatchId: oneId(pick, 'select swatch_id as id from swatch_colours') ?? 1, formula: 'deltaECmc21' },
      ][pick(4)] as Record<string, unknown>,
    }),
    'POST /api/v1/reference-cards': withBody((pick) => ({
      name: word(),
      columns: 2,
      rows: 2,
      illuminant: 'D50',
      observer: '2',
      patches: [
        { l: 90 + pick(8), a: 0, b: 1 },
        { l: 50 + pick(10), a: 0, b: 0 },
        { l: 20 + pick(10), a: 0, b: 0 },
        { l: pick(100), a: pick(60) - 30, b: pick(60) - 30 },
      ],
    })),
    'GET /api/v1/reference-cards/{id}': forOne('select id from reference_cards', () => ({})),
    'PUT /api/v1/reference-cards/{id}': forOne('select id from reference_cards', (pick) => ({
      body: { archived: pick(2) === 0 },
    })),
    'POST /api/v1/orders/{id}/work': forOne("select id from orders where status = 'open'", () => ({})),
    'POST /api/v1/orders/{id}/readiness': forOne(
      "select id from orders where status in ('open', 'inWork')",
      () => ({}),
    ),
    'POST /api/v1/orders/{id}/delivery': forOne("select id from orders where status = 'ready'", () => ({})),
    'PUT /api/v1/order-lines/{id}': forOne(
      "select l.id from order_lines l join orders o on o.id = l.order_id where o.status in ('open', 'inWork')",
      (pick, id) => ({
        body: {
          description: word(),
          pieces: 1 + pick(50),
          version: one<{ version: number }>(
            pick,
            'select o.version from orders o join order_lines l on l.order_id = o.id where l.id = ?',
            id,
          )?.version,
        },
      }),
    ),
    'POST /api/v1/order-lines/{id}/removal': forOne(
      `select l.id from order_lines l join orders o on o.id = l.order_id where o.status = 'open'
        and (select count(*) from order_lines m where m.order_id = o.id) > 1`,
      () => ({}),
    ),
    'GET /api/v1/lots/{id}/ways-out/{componentId}': (pick) => {
      const line = overWeighed(pick);
      return line ? { path: [line.lotId, line.componentId], query: { stage: ['dry', 'inBath'][pick(2)] } } : null;
    },
    'POST /api/v1/proposals': withBody((pick) => {
      const on = one<{ fibreId: number; methodId: number }>(
        pick,
        'select distinct fibre_id as fibreId, method_id as methodId from swatches',
      );
      return on && { ...on, target: colour(pick), maxDyes: 1 + pick(2), count: 1 + pick(3) };
    }),
    'POST /api/v1/sampling-plans': withBody((pick) => {
      const [on, dyes] = [goods(pick), reactive(pick)];
      if (!on || !dyes) return null;
      const plan = { ...on, name: word(), pieceMassMg: 2000 + pick(8000), liquorMlPerKg: 20_000 };
      const stocks = dyes.map((dyeId) => ({ dyeId, concPpm: 10_000 }));
      return [
        {
          ...plan,
          kind: 'depthLadder',
          stocks: stocks.slice(0, 1),
          ladder: { fromPpm: 1000, toPpm: 40_000, count: 2 + pick(9), spacing: 'ratio' },
        },
        { ...plan, kind: 'blendLadder', stocks: stocks.slice(0, 2), blend: { depthsPpm: [10_000], stepPct: 25 } },
        { ...plan, kind: 'triangle', stocks, blend: { depthsPpm: [10_000, 20_000], stepPct: 50 } },
        {
          ...plan,
          kind: 'recipes',
          stocks: stocks.slice(0, 2),
          recipes: [
            [10_000, 0],
            [5000, 1 + pick(9000)],
          ],
        },
      ][pick(4)];
    }),
    'GET /api/v1/sampling-plans/{id}': forOne('select id from sampling_plans', () => ({})),
    'POST /api/v1/sampling-plans/{id}/results': forOne('select id from sampling_plans', (pick, id) => {
      const piece = one<{ ordinal: number }>(pick, 'select ordinal from sampling_pieces where plan_id = ?', id);
      return piece ? { body: { results: [{ ...piece, ...colour(pick), source: 'instrument' }] } } : null;
    }),
    'POST /api/v1/sampling-plans/{id}/photo-readings': forOne('select id from sampling_plans', (pick) => {
      const photoId = newestPhoto();
      return photoId === undefined
        ? null
        : {
            body: {
              photoId,
              card: 'greyCard',
              greyL: 60,
              cardCorners: CORNERS,
              gridCorners: CORNERS.map(({ x, y }) => ({ x: x + 80 + pick(3), y })),
            },
          };
    }),
    'POST /api/v1/sampling-plans/{id}/swatches': forOne(
      'select p.id from sampling_plans p where exists (select 1 from sampling_pieces c where c.plan_id = p.id and c.l is not null)',
      () => ({ body: { dyedOn: '2026-02-02', cardPlace: word() } }),
    ),
    'PUT /api/v1/exports/saved/{id}': forOne('select id from saved_exports', (pick, id) => ({
      body: {
        export: { name: word(), rows: 'costLine', format: 'csv', span: 'thisYear' },
        version: one<{ version: number }>(pick, 'select version from saved_exports where id = ?', id)?.version,
      },
    })),
    'POST /api/v1/lots/{id}/rework-of': forOne('select id from lots', (pick, id) => {
      const of = one<{ number: string }>(pick, "select number from lots where status = 'finished' and id <> ?", id);
      return { body: { ofNumber: of && pick(4) > 0 ? of.number : '' } };
    }),
    'POST /api/v1/imports/swatches': withBody((pick) => {
      const named = one<{ fibre: string; method: string }>(
        pick,
        "select f.name as fibre, m.name as method from fibres f, methods m where m.dye_class = 'reactive'",
      );
      const dyes = rows<{ code: string }>("select code from dyes where class = 'reactive'");
      const reflectance = Array.from({ length: 31 }, () => 0.05 + pick(90) / 100);
      return (
        named && {
          name: word(),
          duplicates: ['refuse', 'skip', 'rename'][pick(3)],
          swatches: [
            {
              ...named,
              name: word(),
              components: [{ dyeCode: dyes[pick(dyes.length)]?.code, depthPpm: 1 + pick(40_000) }],
              dyedOn: '2026-02-02',
              ...(pick(2) === 0 ? { lab: colour(pick) } : { spectrum: { startNm: 400, stepNm: 10, reflectance } }),
            },
            ...(pick(2) === 0 ? [{ ...named, name: 'undyed', components: [], lab: colour(pick) }] : []),
          ].slice(pick(4) === 0 ? 1 : 0),
        }
      );
    }),
    'POST /api/v1/imports/{id}/undoing': forOne('select id from imports where undone_at is null', () => ({})),
    'POST /api/v1/recipes': withBody(recipe),
    'POST /api/v1/lots': withBody(plan),
    'POST /api/v1/lots/plan': withBody(plan),
    'POST /api/v1/stock-lots': withBody((pick) => {
      const dye = one<{ id: number }>(pick, 'select id from dyes');
      return (
        dye && {
          dyeId: dye.id,
          quantity: 1 + pick(500_000),
          priceMinor: pick(10_000),
          receivedOn: '2026-01-05',
          clientId: randomUUID(),
        }
      );
    }),
    'POST /api/v1/stock-lots/{id}/solutions': (pick) => {
      const jar = one<{ id: number }>(
        pick,
        "select id from stock_lots where dye_id is not null and conc_ppm is null and unit = 'mg' and closed_at is null and recalled_at is null",
      );
      return jar
        ? { path: [jar.id], body: { concPpm: 10_000, massMg: 1000 + pick(3000), clientId: randomUUID() } }
        : null;
    },
    'POST /api/v1/orders': withBody((pick) => {
      const customer = one<{ id: number }>(pick, 'select id from customers where archived_at is null');
      return customer
        ? { customerId: customer.id, orderedOn: '2026-03-01', lines: [{ description: word(), pieces: 1 + pick(20) }] }
        : null;
    }),
    'POST /api/v1/swatches': withBody((pick) => {
      const like = one<Record<string, number>>(
        pick,
        'select revision_id as revisionId, depth_ppm as depthPpm, fibre_id as fibreId, method_id as methodId from swatches',
      );
      return (
        like && {
          ...like,
          name: word(),
          dyedOn: '2026-02-01',
          readings: [
            { l: pick(100), a: pick(60) - 30, b: pick(60) - 30, illuminant: 'D65', observer: '10', source: 'typed' },
          ],
        }
      );
    }),
    'POST /api/v1/predict': withBody((pick) => {
      const like = one<{ fibreId: number; methodId: number; revisionId: number }>(
        pick,
        'select fibre_id as fibreId, method_id as methodId, revision_id as revisionId from swatches',
      );
      return (
        like && {
          fibreId: like.fibreId,
          methodId: like.methodId,
          components: rows(
            'select dye_id as dyeId, depth_ppm as depthPpm from recipe_components where revision_id = ?',
            like.revisionId,
          ),
        }
      );
    }),
    'POST /api/v1/exports/saved': withBody((pick) => ({
      name: word(),
      rows: ['lot', 'costLine'][pick(2)],
      format: ['csv', 'xlsx'][pick(2)],
      span: ['thisMonth', 'lastYear', 'everything'][pick(3)],
    })),
    'POST /api/v1/questions/{id}/answer': forOne(
      "select id from questions where asks = 'owner' and answered_at is null",
      (pick, id) => {
        const kind = one<{ kind: string }>(pick, 'select kind from questions where id = ?', id)?.kind ?? '';
        const answers = ANSWERS[kind] ?? [];
        return { body: { answer: answers[pick(answers.length)]?.answer } };
      },
    ),
    'POST /api/v1/lots/{id}/questions/{questionId}/answer': (pick) => {
      const asked = one<{ id: number; lotId: number }>(
        pick,
        "select id, lot_id as lotId from questions where asks = 'bench' and answered_at is null",
      );
      if (!asked) return null;
      const answer = pick(2) === 0 ? { answer: 'left' } : { answer: 'undone', reason: word() };
      return { path: [asked.lotId, asked.id], body: { ...answer, ...happened() } };
    },
    'POST /api/v1/lots/{id}/weighings': (pick) => (pick(5) === 0 ? lateWeighing(pick) : weighing(pick)),
    'POST /api/v1/lots/{id}/adjustments': (pick) => {
      const weighed = overWeighed(pick);
      return weighed
        ? {
            path: [weighed.lotId],
            body: {
              componentId: weighed.componentId,
              way: ['moreGoods', 'deeper', 'weighAgain', 'addOthersToBath', 'keepAsMade'][pick(5)],
              stage: ['dry', 'inBath'][pick(2)],
              // Of other figures than those that stand: recorded, and asked about.
              confirmed: {
                goodsDryMassMg: 1,
                lines: [],
                goodsFactor: 1,
                depthFactor: 1,
                after: { goodsDryMassMg: 1, lines: [], discarded: [] },
              },
              ...happened(),
            },
          }
        : null;
    },
    'POST /api/v1/lots/{id}/steps': forLot((pick, lotId) => {
      const step = one<{ stepId: number }>(pick, 'select id as stepId from lot_steps where lot_id = ?', lotId);
      return step ? { ...step, kind: ['stepStart', 'stepEnd'][pick(2)] } : null;
    }),
    'POST /api/v1/lots/{id}/log': forLot((pick, lotId) => {
      const step = one<{ stepId: number }>(pick, 'select id as stepId from lot_steps where lot_id = ?', lotId);
      return { kind: ['note', 'deviation'][pick(2)], text: word(), stepId: step?.stepId ?? null };
    }),
    'POST /api/v1/lots/{id}/deviations': forLot((pick, lotId) => {
      const step = one<{ stepId: number }>(pick, 'select id as stepId from lot_steps where lot_id = ?', lotId);
      return step
        ? { instead: `time:${step.stepId}`, did: ['longer', 'shorter', 'other'][pick(3)], text: word() }
        : null;
    }),
    'POST /api/v1/lots/{id}/placements': forLot((pick) => {
      const [columns, rowCount] = [2 + pick(6), 2 + pick(6)];
      return {
        of: ['plan', 'cloth'][pick(2)],
        drawing: { columns, rows: rowCount, cells: Array.from({ length: columns * rowCount }, () => pick(2)) },
      };
    }),
    'POST /api/v1/log/{id}/voiding': (pick) => {
      const entry = one<{ id: number }>(
        pick,
        "select e.id from log_entries e join lots l on l.id = e.lot_id where l.status = 'onBench' and e.kind in ('note', 'weighing', 'stepStart')",
      );
      return entry ? { path: [entry.id], body: { reason: word(), ...happened() } } : null;
    },
    'POST /api/v1/lots/{id}/outcome': forLot((pick) => {
      const person = one<{ id: number }>(pick, 'select id from people');
      return {
        firstQuality: pick(30),
        seconds: pick(3),
        labour: [{ personId: person?.id, durationS: 60 + pick(7200) }],
        unweighedConfirmed: pick(4) > 0,
      };
    }),
    'POST /api/v1/lots/{id}/abandonment': (pick) => (pick(6) === 0 ? forLot(() => ({ reason: word() }))(pick) : null),
  };
}
