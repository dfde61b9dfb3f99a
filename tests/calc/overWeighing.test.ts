import { describe, expect, test } from 'vitest';
import {
  judgedLine,
  type LineAtScale,
  type WayOutOffer,
  type WeighUpAtScale,
  waysOutAtScale,
  weighUpAfter,
} from '../../server/calc/overWeighing.ts';

/** 400 g at 2 %, 50/30/20: 4.0 / 2.4 / 1.6 g, with 2.52 g of the blue on the scale: k = 2.52 / 2.4 = 1.05. By hand. */
const dye = (lineId: string, planned: number, plannedDepthPct: number, actual?: number): LineAtScale => ({
  lineId,
  colourId: 'rust',
  unit: 'mg',
  planned,
  target: planned,
  exact: planned,
  step: 10,
  actual,
  plannedDepthPct,
  scalesWith: 'depth',
});
const lot: WeighUpAtScale = {
  lines: [
    dye('yellow', 4000, 1, 4000),
    dye('blue', 2400, 0.6, 2520),
    dye('red', 1600, 0.4),
    {
      lineId: 'alum',
      colourId: null,
      unit: 'mg',
      planned: 60_000,
      target: 60_000,
      exact: 60_000,
      step: 1000,
      scalesWith: 'goods',
    },
  ],
  plannedGoodsDryMassMg: 400_000,
  goodsDryMassMg: 400_000,
  liquorFollowsGoods: true,
  tolerancePct: 2,
};
const take = (weighUp: WeighUpAtScale, kind: WayOutOffer['kind'], vessel: 'own' | 'shared' = 'own'): WeighUpAtScale => {
  const way = (['dry', 'inBath'] as const)
    .flatMap((stage) => waysOutAtScale({ weighUp, overLineId: 'blue', stage }))
    .find((w) => w.kind === kind && w.vessel === vessel);
  if (!way) throw new Error(`no way ${kind}`);
  return weighUpAfter({ weighUp, overLineId: 'blue', way });
};
const targets = ({ lines }: WeighUpAtScale): number[] => lines.map((line) => line.target);
const withActual = (weighUp: WeighUpAtScale, lineId: string, actual: number | undefined): WeighUpAtScale => ({
  ...weighUp,
  lines: weighUp.lines.map((line) => (line.lineId === lineId ? { ...line, actual } : line)),
});

describe('the ways out as the scale stands', () => {
  test('are there once the reading is beyond the tolerance, and the whole cup may go where something else is in it', () => {
    const kinds = (weighUp: WeighUpAtScale) =>
      waysOutAtScale({ weighUp, overLineId: 'blue', stage: 'dry' }).map((w) => `${w.kind} ${w.vessel}`);
    expect(kinds(lot)).toEqual(['moreGoods own', 'deeper own', 'weighAgain own', 'weighAgain shared']);
    expect(kinds(withActual(lot, 'yellow', undefined))).toEqual(['moreGoods own', 'deeper own', 'weighAgain own']);
    // 2 % of 2400 mg
    expect(kinds(withActual(lot, 'blue', 2448))).toEqual([]);
    expect(kinds(withActual(lot, 'blue', undefined))).toEqual([]);
  });

  test('a line that is not of the weigh-up is named', () => {
    expect(() => waysOutAtScale({ weighUp: lot, overLineId: 'green', stage: 'dry' })).toThrow(
      expect.objectContaining({ code: 'missing', field: 'overLineId' }),
    );
  });

  test('a line that wants nothing is never over', () => {
    expect(judgedLine({ line: { target: 0, step: 10, actual: 5 }, tolerancePct: 2 })).toEqual({
      tolerance: 10,
      verdict: null,
    });
  });
});

describe('the weigh-up after a way out', () => {
  test('more goods: 420 g, and everything on weight of goods × 1.05', () => {
    const after = take(lot, 'moreGoods');
    expect(after.goodsDryMassMg).toBe(420_000);
    expect(targets(after)).toEqual([4200, 2520, 1680, 63_000]);
  });
  test('deeper: the dyes × 1.05, the alum stays', () => {
    expect(targets(take(lot, 'deeper'))).toEqual([4200, 2520, 1680, 60_000]);
  });
  test('weighed again: its cup is empty, or the whole cup is', () => {
    expect(take(lot, 'weighAgain').lines.map((l) => l.actual)).toEqual([4000, undefined, undefined, undefined]);
    expect(take(lot, 'weighAgain', 'shared').lines.map((l) => l.actual)).toEqual(Array(4).fill(undefined));
  });
  test('kept as made, it is its own target', () => {
    expect(targets(take(lot, 'keepAsMade'))).toEqual([4000, 2520, 1600, 60_000]);
  });
  test('the next one begins from there: the depth is that of the new targets on the new goods', () => {
    // Twice 1.05 on 420 g: 2.646 g of blue makes the colour 2 % · 1.05 = 2.1 % deep on the goods that hold.
    const second = withActual(take(lot, 'moreGoods'), 'blue', 2646);
    const deeper = waysOutAtScale({ weighUp: second, overLineId: 'blue', stage: 'dry' }).find(
      (w) => w.kind === 'deeper',
    );
    expect(deeper?.depthFactor).toBeCloseTo(1.05, 9);
    expect(deeper?.colourDepthPct).toBeCloseTo(2.1, 9);
  });
});
