import type { Response } from 'supertest';
import { expect } from 'vitest';
import { freshStudio, type TestStudio } from './app.ts';
import { makeWorld, type World } from './world.ts';

interface Line {
  componentId: number;
  code: string;
  planned: number;
  target: number;
}

/** A lot at the bench, worked by the API as a device would: 1.2 kg of the studio's linen at 2 % (12.00 g blue, 7.20 g yellow,
 *  4.80 g red, 1200 g salt, 360 g soda) unless said otherwise. */
export interface BenchLot {
  studio: TestStudio;
  w: World;
  lotId: number;
  /** The lot as the API shows it. */
  shown: () => Promise<Record<string, never> & { lines: Line[]; steps: { stepId: number }[]; log: unknown[] }>;
  send: (path: string, body?: Record<string, unknown>) => Promise<Response>;
  /** A reading of the scale, in mg, by the code of the line. */
  weigh: (code: string, amount: number, more?: Record<string, unknown>) => Promise<Response>;
  /** The plan's mass of every line that has no reading yet. */
  weighTheRest: () => Promise<void>;
  /** Takes a way out of an over-weighed line, with the figures that the bench offers. */
  takeWayOut: (code: string, way: string) => Promise<Response>;
  finish: (more?: Record<string, unknown>) => Promise<Response>;
}

let sent = 0;

export async function benchLot(
  plan: Record<string, unknown> = {},
  of?: { studio: TestStudio; w: World },
): Promise<BenchLot> {
  const studio = of?.studio ?? (await freshStudio());
  const w = of?.w ?? makeWorld(studio);
  const planned = await studio.api.post('/lots', {
    fibreId: w.linenId,
    methodId: w.methodId,
    goodsText: '24 napkins',
    pieces: 24,
    mass: { found: 'weighedDry', massMg: 1_200_000 },
    colours: [{ revisionId: w.revisionId, depthPpm: 20_000 }],
    ...plan,
  });
  expect(planned.status, planned.text).toBe(201);
  const lotId = planned.body.lotId as number;
  const jars: Record<string, number> = {
    RB: w.stock.blue.id,
    RY: w.stock.yellow.id,
    RR: w.stock.red.id,
    SODA: w.stock.soda.id,
    SALT: w.stock.salt.id,
  };
  const shown = async () => (await studio.api.get(`/lots/${lotId}`)).body;
  const send: BenchLot['send'] = (path, body = {}) =>
    studio.api.post(`/lots/${lotId}${path}`, { clientId: `device-${String(++sent).padStart(6, '0')}`, ...body });
  const weigh: BenchLot['weigh'] = async (code, amount, more = {}) =>
    send('/weighings', {
      componentId: (await shown()).lines.find((l: Line) => l.code === code)?.componentId,
      stockLotId: jars[code],
      massMg: amount,
      ...more,
    });
  const takeWayOut: BenchLot['takeWayOut'] = async (code, way) => {
    const componentId = (await shown()).lines.find((l: Line) => l.code === code)?.componentId;
    const { body } = await studio.api.get(`/lots/${lotId}/ways-out/${componentId}`);
    const offered = (body.waysOut as { way: string; vessel: string; confirmed: object }[]).find((o) => o.way === way);
    expect(offered, JSON.stringify(body)).toBeDefined();
    return send('/adjustments', { componentId, way, vessel: offered?.vessel, confirmed: offered?.confirmed });
  };
  return {
    studio,
    w,
    lotId,
    takeWayOut,
    shown,
    send,
    weigh,
    weighTheRest: async () => {
      for (const l of (await shown()).lines)
        if (l.actual === null) expect((await weigh(l.code, l.target)).status).toBe(201);
    },
    finish: (more = {}) => send('/outcome', { firstQuality: 24, ...more }),
  };
}
