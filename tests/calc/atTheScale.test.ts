import { describe, expect, test } from 'vitest';
import { molarMassGPerMol } from '../../server/calc/bath.ts';
import { CalcError } from '../../server/calc/calcError.ts';
import { fixationTime, schedule } from '../../server/calc/schedule.ts';
import {
  measureDivisionUl,
  minimumMassMg,
  readingVerdict,
  stockAdvice,
  type WeighUpLine,
  waysOutOfOverWeighing,
} from '../../server/calc/weighing.ts';

/* Where a small slip at the scale would go: powder where a stock solution is needed, a measure that cannot show the volume, a way
 * out that moves lines which it should leave. Worked out by hand. */

const refusalOf = (work: () => unknown): string => {
  try {
    return `read as ${JSON.stringify(work())}`;
  } catch (error) {
    if (!(error instanceof CalcError)) throw error;
    return `${error.code} ${error.field}: ${error.message}`;
  }
};

describe('powder or stock solution', () => {
  const ask = {
    massMg: 50,
    floorMg: 500,
    strengthsPct: [0.1, 1, 5],
    measureCapacitiesMl: [100, 10, 1],
    liquorVolumeMl: 1000,
  };

  test('the strongest that a measure still shows is taken, in the smallest measure that holds it', () => {
    // 50 mg are 1 mL of 5 %: the 1 mL measure, full once.
    expect(stockAdvice(ask)).toEqual({ kind: 'stock', strengthPct: 5, volumeMl: 1, measureCapacityMl: 1, fills: 1 });
    // 4 mg are 0.08 mL of 5 %, under a tenth of the measure; 0.4 mL of 1 %.
    expect(stockAdvice({ ...ask, massMg: 4 })).toMatchObject({ strengthPct: 1, volumeMl: 0.4, measureCapacityMl: 1 });
    // 5 mg are 0.1 mL of 5 %, a tenth of it exactly.
    expect(stockAdvice({ ...ask, massMg: 5 })).toMatchObject({ strengthPct: 5, volumeMl: 0.1 });
    // 250 mg in 0.1 % alone are 250 mL: the 100 mL measure three times.
    expect(stockAdvice({ ...ask, massMg: 250, strengthsPct: [0.1] })).toMatchObject({
      measureCapacityMl: 100,
      fills: 3,
    });
  });

  test('at the floor it is powder, and where no stock fits it says why', () => {
    expect(stockAdvice({ ...ask, massMg: 500 })).toEqual({ kind: 'powder' });
    expect(stockAdvice({ ...ask, massMg: 499 })).toMatchObject({ kind: 'stock' });
    expect(stockAdvice({ ...ask, massMg: 0.01, strengthsPct: [5] })).toEqual({
      kind: 'noStockFits',
      reason: 'tooLittleToMeasure',
    });
    expect(stockAdvice({ ...ask, massMg: 50, strengthsPct: [1], liquorVolumeMl: 4 })).toEqual({
      kind: 'noStockFits',
      reason: 'tooMuchLiquor',
    });
    // 5 mL of 1 % fill a liquor of 5 mL, and no more.
    expect(stockAdvice({ ...ask, massMg: 50, strengthsPct: [1], liquorVolumeMl: 5 })).toMatchObject({ volumeMl: 5 });
  });

  test('without a measure or a stock there is no advice', () => {
    expect(refusalOf(() => stockAdvice({ ...ask, measureCapacitiesMl: [] }))).toBe(
      'missing measureCapacityMl: at least one measure is needed',
    );
    expect(refusalOf(() => stockAdvice({ ...ask, strengthsPct: [] }))).toBe(
      'missing strengthPct: at least one stock strength is needed',
    );
  });

  test('a hundredth of a measure is its division, and ten microlitres the least', () => {
    expect([1, 10, 0.5, 2000].map((capacityMl) => measureDivisionUl({ capacityMl }))).toEqual([10, 100, 10, 20_000]);
  });
});

describe('the least that a scale weighs', () => {
  test('goes by half its digit, or by how it repeats', () => {
    // 0.01 g: half a digit is 5 mg, 1 % of 500 mg; 2 · 0.41 · 10 mg / 1 % = 820 mg; 2 · 6 mg / 1 % = 1200 mg.
    const ask = { readabilityMg: 10, errorPct: 1 };
    expect(minimumMassMg({ ...ask, rule: 'halfDigit' })).toBe(500);
    expect(minimumMassMg({ ...ask, errorPct: 2, rule: 'halfDigit' })).toBe(250);
    expect(minimumMassMg({ ...ask, rule: 'repeatability' })).toBeCloseTo(820, 9);
    expect(minimumMassMg({ ...ask, rule: 'repeatability', sdMg: 6 })).toBeCloseTo(1200, 9);
    expect(refusalOf(() => minimumMassMg({ readabilityMg: 0, errorPct: 1, rule: 'repeatability' }))).toBe(
      "missing readabilityMg: the scale's readability or its measured standard deviation is needed",
    );
    expect(minimumMassMg({ readabilityMg: 0, errorPct: 1, rule: 'repeatability', sdMg: 1 })).toBe(200);
  });
});

describe('a reading', () => {
  test('is within its tolerance to the last milligram, and says by how much it is off', () => {
    const at = (reading: number) => readingVerdict({ target: 500, reading, tolerance: 10 });
    expect([489, 490, 500, 510, 511].map((r) => at(r).verdict)).toEqual([
      'under',
      'within',
      'within',
      'within',
      'over',
    ]);
    expect(at(525)).toEqual({ verdict: 'over', difference: 25, differencePct: 5 });
    expect(at(475)).toEqual({ verdict: 'under', difference: -25, differencePct: -5 });
  });
});

describe('the ways out of an over-weighed line', () => {
  const line = (lineId: string, more: Partial<WeighUpLine>): WeighUpLine => ({
    lineId,
    colourId: null,
    unit: 'mg',
    planned: 1000,
    step: 10,
    scalesWith: 'fixed',
    ...more,
  });
  /** Two colours on one piece; of the rust, blue is over by a tenth; the teal has a blue of its own, over by more. */
  const lines = [
    line('rust yellow', { colourId: 'rust', scalesWith: 'depth', depthPct: 1, planned: 4000 }),
    line('rust blue', { colourId: 'rust', scalesWith: 'depth', depthPct: 0.5, planned: 2000, actual: 2200 }),
    line('teal blue', { colourId: 'teal', scalesWith: 'depth', depthPct: 2, planned: 8000, actual: 9600 }),
    line('alum', { scalesWith: 'goods', planned: 50_000 }),
    line('salt', { scalesWith: 'liquor', planned: 400_000 }),
    line('wetting', { unit: 'ul', planned: 5000, step: 100 }),
  ];
  const ask = {
    lines,
    overLineId: 'rust blue',
    goodsDryMassMg: 400_000,
    stage: 'dry',
    vessel: 'own',
    liquorFollowsGoods: false,
  } as const;
  const targets = (more: Partial<Parameters<typeof waysOutOfOverWeighing>[0]>, kind: string) => {
    const way = waysOutOfOverWeighing({ ...ask, ...more }).find((w) => w.kind === kind);
    return way && ([way, Object.fromEntries(way.lines.map((l) => [l.lineId, l.targetRounded]))] as const);
  };

  test('more goods carry every dye and what goes by goods, and the bath only where it follows the goods', () => {
    // The teal is over by a fifth, so the goods grow by a fifth for both.
    const [way, grown] = targets({}, 'moreGoods') ?? [];
    expect(grown).toEqual({
      'rust yellow': 4800,
      'rust blue': 2400,
      'teal blue': 9600,
      alum: 60_000,
      salt: 400_000,
      wetting: 5000,
    });
    expect(way).toMatchObject({
      goodsFactor: 1.2,
      depthFactor: 1,
      goodsDryMassMg: 480_000,
      extraGoodsMg: 80_000,
      hue: 'asPlanned',
    });
    expect(targets({ liquorFollowsGoods: true }, 'moreGoods')?.[1]).toMatchObject({ salt: 480_000, wetting: 5000 });
  });

  test('a deeper shade moves its own colour and nothing else', () => {
    const [way, grown] = targets({}, 'deeper') ?? [];
    expect(grown).toEqual({
      'rust yellow': 4400,
      'rust blue': 2200,
      'teal blue': 8000,
      alum: 50_000,
      salt: 400_000,
      wetting: 5000,
    });
    expect(way).toMatchObject({ goodsFactor: 1, extraGoodsMg: 0, discarded: [] });
    expect(way?.depthFactor).toBeCloseTo(1.1, 12);
    expect(way?.colourDepthPct).toBeCloseTo(1.65, 12);
    expect(way?.colourSharesPct?.map((s) => Math.round(s * 100) / 100)).toEqual([66.67, 33.33]);
  });

  test('weighing again throws one cup away, or all that is in it', () => {
    const discarded = (vessel: 'own' | 'shared') =>
      waysOutOfOverWeighing({
        ...ask,
        vessel,
        lines: lines.map((l) => (l.lineId === 'rust yellow' ? { ...l, actual: 4000 } : l)),
      }).find((w) => w.kind === 'weighAgain')?.discarded;
    expect(discarded('own')).toEqual([{ lineId: 'rust blue', unit: 'mg', amount: 2200 }]);
    expect(discarded('shared')).toEqual([
      { lineId: 'rust yellow', unit: 'mg', amount: 4000 },
      { lineId: 'rust blue', unit: 'mg', amount: 2200 },
    ]);
  });

  test('kept as made, the hue moves and the depth with it', () => {
    const [way, grown] = targets({ stage: 'inBath' }, 'keepAsMade') ?? [];
    expect(grown).toMatchObject({ 'rust yellow': 4000, 'rust blue': 2200, 'teal blue': 8000 });
    expect(way).toMatchObject({ hue: 'changed', goodsFactor: 1 });
    // (1 + 0.55) % where 1.5 % were planned.
    expect(way?.depthFactor).toBeCloseTo(1.55 / 1.5, 12);
    expect(way?.colourSharesPct?.map((s) => Math.round(s * 100) / 100)).toEqual([64.52, 35.48]);
  });

  test('an auxiliary that is over moves no colour', () => {
    const more = { overLineId: 'alum', lines: lines.map((l) => (l.lineId === 'alum' ? { ...l, actual: 55_000 } : l)) };
    expect(waysOutOfOverWeighing({ ...ask, ...more }).map((w) => w.kind)).toEqual(['moreGoods', 'weighAgain']);
    expect(
      waysOutOfOverWeighing({ ...ask, ...more, stage: 'inBath' }).map((w) => [w.kind, w.hue, w.depthFactor]),
    ).toEqual([['keepAsMade', 'asPlanned', 1]]);
    const fixed = {
      overLineId: 'wetting',
      lines: lines.map((l) => (l.lineId === 'wetting' ? { ...l, actual: 6000 } : l)),
    };
    expect(waysOutOfOverWeighing({ ...ask, ...fixed }).map((w) => w.kind)).toEqual(['weighAgain']);
  });

  test('there are none for a line that is not over, or not there', () => {
    const exact = lines.map((l) => (l.lineId === 'rust blue' ? { ...l, actual: 2000 } : l));
    expect(refusalOf(() => waysOutOfOverWeighing({ ...ask, lines: exact }))).toBe(
      'mismatch overLineId: this line is not over its target',
    );
    expect(refusalOf(() => waysOutOfOverWeighing({ ...ask, overLineId: 'rust yellow' }))).toMatch(/^mismatch/);
    expect(refusalOf(() => waysOutOfOverWeighing({ ...ask, overLineId: 'pink' }))).toBe(
      'missing overLineId: the over-weighed line is not one of the weigh-up',
    );
  });
});

describe('a step', () => {
  const of = (step: Partial<Parameters<typeof schedule>[0]['steps'][number]>, nowMs: number) =>
    schedule({
      startAtMs: 0,
      nowMs,
      steps: [
        { stepId: '1', plannedDurationS: 60, ...step },
        { stepId: '2', plannedDurationS: 10 },
      ],
    });

  test('is overdue a moment after its time, and not at it; what follows waits for now', () => {
    expect(of({ actualStartAtMs: 1000 }, 61_000).steps[0]).toMatchObject({ state: 'running', remainingS: 0 });
    expect(of({ actualStartAtMs: 1000 }, 61_001).steps[0]).toMatchObject({ state: 'overdue', expectedEndAtMs: 61_001 });
    expect(of({ actualStartAtMs: 1000 }, 90_000).expectedReadyAtMs).toBe(100_000);
    expect(of({ actualStartAtMs: 1000 }, 5000).expectedReadyAtMs).toBe(71_000);
  });
  test('whose end alone was noted began its planned time before; one that ends when it is done has no time left', () => {
    expect(of({ actualEndAtMs: 90_000 }, 95_000).steps[0]).toMatchObject({ expectedStartAtMs: 30_000, state: 'done' });
    expect(of({ actualEndAtMs: 90_000, plannedDurationS: null }, 95_000).steps[0]).toMatchObject({
      expectedStartAtMs: 90_000,
    });
    expect(of({ actualStartAtMs: 0, plannedDurationS: null }, 95_000)).toMatchObject({
      expectedReadyAtMs: null,
      plannedReadyAtMs: null,
      steps: [{ state: 'running', remainingS: null, expectedEndAtMs: null }, { expectedStartAtMs: null }],
    });
    expect(of({ actualStartAtMs: 5, actualEndAtMs: 5 }, 5).steps[0]?.state).toBe('done');
  });
  test('has the published time between the printed temperatures and by that procedure only', () => {
    const time = (tempC: number, procedure: 'immersion' | 'steaming' = 'immersion') =>
      fixationTime({ dyeClass: 'reactive', procedure, tempC }).kind;
    expect([38, 42].map((t) => time(t))).toEqual(['published', 'published']);
    expect([37.9, 42.1].map((t) => time(t))).toEqual(['notKnown', 'notKnown']);
    expect(time(40, 'steaming')).toBe('notKnown');
  });
});

describe('a formula', () => {
  // Molar masses by the standard atomic masses (IUPAC, 2021, abridged), in g/mol.
  test.each([
    ['Na2CO3', 105.988],
    ['Na2CO3 . 10 H2O', 286.138],
    ['Na₂CO₃·10H₂O', 286.138],
    ['CaSO4.1/2H2O', 145.143],
    ['KAl(SO4)2.12OH2', 474.371],
    ['[Cu(NH3)4]SO4', 227.726],
    ['C12H22O11', 342.297],
  ])('%s is %d g/mol', (formula, molarMass) => {
    expect(molarMassGPerMol({ formula })).toBeCloseTo(molarMass, 1);
  });
  test.each(['Xx2', 'Na2CO3)', '(Na2CO3', 'na2co3', '2', '0H2O', '1/0H2O', 'Na2-CO3', '', 'Na2CO3.', 'Na(2)'])(
    '“%s” is none',
    (formula) => {
      expect(refusalOf(() => molarMassGPerMol({ formula }))).toBe(
        `unreadable formula: "${formula}" is not a formula I can read: try Na2CO3 or Na2CO3.10H2O`,
      );
    },
  );
});
