import { randomUUID } from 'node:crypto';
import type { Sqlite } from '../../server/db/open.ts';

/** A request that fits what the studio holds at this moment, so that the fuzzing gets past the first question of a route. */
export interface Living {
  path: readonly unknown[];
  body: unknown;
}
/** Makes one, with a source of chance; null when there is nothing that fits. */
export type LivingMaker = (pick: (n: number) => number) => Living | null;

export function livingRequests(sqlite: Sqlite, now: () => number): Readonly<Record<string, LivingMaker>> {
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
  const withBody =
    (make: (pick: (n: number) => number) => unknown): LivingMaker =>
    (pick) => {
      const body = make(pick);
      return body === null ? null : { path: [], body };
    };
  const forLot =
    (make: (pick: (n: number) => number, lotId: number) => object | null): LivingMaker =>
    (pick) => {
      const lotId = openLot(pick);
      if (lotId === undefined) return null;
      const body = make(pick, lotId);
      return body && { path: [lotId], body: { ...body, ...happened() } };
    };
  return {
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
    'POST /api/v1/lots/{id}/weighings': forLot((pick, lotId) => {
      const line = one<{ componentId: number; stockLotId: number }>(
        pick,
        `select c.id as componentId, s.id as stockLotId from lot_components c
           join stock_lots s on s.dye_id is c.dye_id and s.auxiliary_id is c.auxiliary_id where c.lot_id = ?`,
        lotId,
      );
      return line ? { ...line, amount: 1 + pick(20_000) } : null;
    }),
    'POST /api/v1/lots/{id}/adjustments': (pick) => {
      const weighed = one<{ lotId: number; componentId: number }>(
        pick,
        "select w.lot_id as lotId, w.component_id as componentId from weighings w join lots l on l.id = w.lot_id where l.status = 'onBench'",
      );
      return weighed
        ? {
            path: [weighed.lotId],
            body: {
              componentId: weighed.componentId,
              way: ['moreGoods', 'deeper', 'weighAgain', 'addOthersToBath', 'keepAsMade'][pick(5)],
              stage: ['dry', 'inBath'][pick(2)],
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
