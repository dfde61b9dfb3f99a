import { expect } from 'vitest';
import type { TestStudio } from './app.ts';
import type { World } from './world.ts';

export interface LineOnBench {
  componentId: number;
  code: string;
  unit: 'mg' | 'ul';
  planned: number;
  target: number;
  state: string;
  actual: number | null;
}

/** Plans a lot of 24 napkins by the page: 1.2 kg at 2 % unless said otherwise, which is 12.00 g blue, 7.20 g yellow, 4.80 g red. */
export async function plannedLot(studio: TestStudio, w: World, more: Record<string, string> = {}) {
  const saved = await studio.page.post('/lots', {
    fibreId: String(w.linenId),
    methodId: String(w.methodId),
    goodsText: '24 napkins',
    pieces: '24',
    goodsOwner: 'studio',
    massFound: 'weighedDry',
    mass: '1.2 kg',
    'revisionId.0': String(w.revisionId),
    'depth.0': '2',
    ...more,
  });
  expect(saved.status, saved.text).toBe(303);
  const lotId = Number(saved.headers['location']?.split('/').at(-1));
  const lot = (await studio.api.get(`/lots/${lotId}`)).body as {
    lines: LineOnBench[];
    steps: { stepId: number }[];
  };
  const lineIn = (of: { lines: LineOnBench[] }, code: string): LineOnBench => {
    const line = of.lines.find((l) => l.code === code);
    if (!line) throw new Error(`The lot has no ${code}.`);
    return line;
  };
  return { lotId, steps: lot.steps, lineOf: (code: string) => lineIn(lot, code), lineIn };
}
