import { describe, expect, test } from 'vitest';
import { customers, orderLines, orders } from '../../server/db/tables/orders.ts';
import { cancelledWords } from '../../server/lots/ordersServed.ts';
import { planLot } from '../../server/lots/planLot.ts';
import { computePlan } from '../../server/plans/computePlan.ts';
import type { PlanContext } from '../../server/plans/planContext.ts';
import { planOf } from '../../server/plans/planOf.ts';
import { planContext, previewPlan } from '../../server/plans/previewPlan.ts';
import type { Plan, PlanInput, PlanLine } from '../../server/plans/schemas.ts';
import { updateStudio } from '../../server/settings/queries.ts';
import { receiveContainer } from '../../server/stock/containers.ts';
import { addStockMoney } from '../../server/stock/money.ts';
import type { StockLotOverview } from '../../server/stock/queries.ts';
import { found, freshDeps, MONDAY } from '../support/app.ts';
import { planInput, TEN_KILOS_RECEIVED } from '../support/lotInputs.ts';
import { calcError, refused } from '../support/refused.ts';
import { makeWorld } from '../support/world.ts';

/* What a studio would lose if one small thing in its plans went wrong. 1.2 kg of its linen at 2 %, 50/30/20: 12.00 g blue, 7.20 g
 * yellow, 4.80 g red; 24 L of bath with 50 g/L salt and 15 g/L soda. Blue is 40.00 for 500 g, yellow 35.00, red 30.00 for 250 g, soda
 * 15.00 for 5 kg, salt 10.00 for 10 kg, linen 26.00 a kilogram; hands at 24.00 an hour with 9.00 of overhead. */

async function house() {
  const { deps, clock } = await freshDeps();
  const owner = found(deps);
  const w = makeWorld({ deps, owner });
  const input = (more: Partial<PlanInput> = {}): PlanInput => planInput(w, more);
  const context = planContext(deps.db, input(), MONDAY);
  /** The plan of these goods in a studio that is otherwise in one thing. */
  const plan = (more: Partial<PlanInput> = {}, other: (c: PlanContext) => Partial<PlanContext> = () => ({})): Plan =>
    computePlan(input(more), { ...context, ...other(context) });
  const line = (p: Plan, code: string): PlanLine => {
    const l = p.lines.find((x) => x.code === code);
    if (!l) throw new Error(`no ${code}`);
    return l;
  };
  return { deps, clock, owner, w, input, context, plan, line };
}
type House = Awaited<ReturnType<typeof house>>;
const masses = (p: Plan) => p.lines.map((l) => [l.code, l.plannedMassMg ?? `${l.plannedVolumeUl} µL`]);
const grams = (massMg: number): Partial<PlanInput> => ({ mass: { found: 'weighedDry', massMg } });

describe('a plan is what will be weighed', () => {
  test('dyes by the goods, auxiliaries by the water, the estimate by what the containers cost', async () => {
    const { plan, w } = await house();
    const p = plan();
    expect(masses(p)).toEqual([
      ['RB', 12_000],
      ['RY', 7_200],
      ['RR', 4_800],
      ['SALT', 1_200_000],
      ['SODA', 360_000],
    ]);
    expect(p.lines.map((l) => [l.ordinal, l.kind, l.basisText, l.step, l.stockLotCode, l.exactUg])).toEqual([
      [1, 'dye', '1 % owg', 10, 'B-1', 12_000_000],
      [2, 'dye', '0.6 % owg', 10, 'Y-1', 7_200_000],
      [3, 'dye', '0.4 % owg', 10, 'R-1', 4_800_000],
      // An auxiliary to a thousandth at best: 1.2 kg to the gram, 360 g to a tenth.
      [4, 'auxiliary', '50 g/L of bath', 1_000, 'SA-1', 1_200_000_000],
      [5, 'auxiliary', '15 g/L of bath', 100, 'SO-1', 360_000_000],
    ]);
    // 12 × 40/500 = 0.96; 7.2 × 35/500 = 0.504; 4.8 × 30/250 = 0.576; 1.2; 0.36 × 3 = 1.08; 1.2 × 26; 22 min at 24.00 and at 9.00.
    expect(p.estimate.map((e) => [e.kind, e.quantity, e.quantityUnit, e.costMinor])).toEqual([
      ['dye', 12_000, 'mg', 96],
      ['dye', 7_200, 'mg', 50],
      ['dye', 4_800, 'mg', 58],
      ['auxiliary', 1_200_000, 'mg', 120],
      ['auxiliary', 360_000, 'mg', 108],
      ['goods', 1_200_000, 'mg', 3_120],
      ['labour', 1_320, 's', 880],
      ['overhead', 1_320, 's', 330],
    ]);
    expect(p.estimate.map((e) => e.description)).toEqual([
      'RB Tide blue',
      'RY Gorse yellow',
      'RR Hip red',
      'SALT Salt',
      'SODA Soda ash',
      'Linen, plain',
      'Hands-on time of the steps',
      'Overhead by labour hours',
    ]);
    expect(p).toMatchObject({
      fibreId: w.linenId,
      fibreName: 'Linen, plain',
      methodId: w.methodId,
      methodName: 'Immersion, reactive',
      goodsText: '24 napkins',
      pieces: 24,
      goodsOwner: 'studio',
      dryMassMg: 1_200_000,
      bathUl: 24_000_000,
      soakUl: null,
      makeUpWaterUl: 24_000_000,
      bathOverUl: 0,
      lossPpm: 0,
      lossMassUg: 0,
      uptakePpm: 1_000_000,
      depthOverAllPct: 2,
      readabilityMg: 10,
      liquorFollowsGoods: true,
      valuation: 'specific',
      estimateMinor: 4_762,
      warnings: [],
      fields: [{ label: 'Pick-up', kind: 'number', unit: '%', choices: '' }],
    });
    expect(p.steps[1]).toEqual({ ordinal: 2, name: 'Dye', durationS: 3000, tempC: 40, handsOnS: 900, note: '' });
    expect(p.cautions).toContain('Salt and alkali out cold before any hot water.');
    expect(p.cautions.join(' ')).not.toContain('steam');
    // Half of the last digit, 5 mg, on 12 g; and nothing was rounded.
    expect(p.lines[0]?.halfDigitErrorPct).toBeCloseTo(100 / 2400, 9);
    expect(p.lines[4]?.halfDigitErrorPct).toBeCloseTo((50 * 100) / 360_000, 9);
    expect(p.lines[0]?.roundingErrorPct).toBe(0);
  });

  test('loss, uptake and a weak jar each ask for more dye, and are told', async () => {
    const { plan, line, context } = await house();
    // 5 % lost: 12 × 1.05.
    const lost = plan({ lossPpm: 50_000 });
    expect([line(lost, 'RB').plannedMassMg, lost.lossPpm]).toEqual([12_600, 50_000]);
    // 24 g on the goods, 1.2 g lost.
    expect(lost.lossMassUg).toBe(1_200_000);
    const half = plan({}, (c) => ({ fibre: { ...c.fibre, uptakePpm: 1_500_000 } }));
    expect([line(half, 'RB').plannedMassMg, half.uptakePpm]).toEqual([18_000, 1_500_000]);
    const key = `dye:${context.revisions[0]?.components[0]?.dye.id}`;
    const weak = plan({}, (c) => ({
      stockLots: new Map(
        [...c.stockLots].map(([k, l]) => [k, k === key ? l.map((s) => ({ ...s, strengthPpm: 800_000 })) : l]),
      ),
    }));
    expect([line(weak, 'RB').plannedMassMg, line(weak, 'RB').strengthPpm]).toEqual([15_000, 800_000]);
    const byMethod = plan({}, (c) => ({ method: { ...c.method, lossPpm: 100_000 } }));
    expect(line(byMethod, 'RB').plannedMassMg).toBe(13_200);
  });

  test('a volume that was typed stands, and does not grow with the goods', async () => {
    const { plan, line } = await house();
    const p = plan({ bathUl: 10_000_000 });
    expect([p.bathUl, p.liquorFollowsGoods, line(p, 'SALT').plannedMassMg]).toEqual([10_000_000, false, 500_000]);
    const soaked = plan({ soakUl: 5_000_000 });
    expect([soaked.soakUl, soaked.liquorFollowsGoods]).toEqual([5_000_000, false]);
    const byMethod = plan({}, (c) => ({ method: { ...c.method, soakMlPerKg: 8_000 } }));
    // 1.2 kg × 8 L/kg.
    expect([byMethod.soakUl, byMethod.liquorFollowsGoods]).toEqual([9_600_000, true]);
  });

  test('a dye whose share rounds to nothing is not weighed, and the lines stay in their order', async () => {
    const { plan } = await house();
    const p = plan({}, (c) => ({
      revisions: c.revisions.map((r) => ({
        ...r,
        components: r.components.map((x, i) => ({ ...x, sharePpm: [1_000_000, 0, 0][i] ?? 0 })),
      })),
    }));
    expect(p.lines.map((l) => [l.ordinal, l.code])).toEqual([
      [1, 'RB'],
      [2, 'SALT'],
      [3, 'SODA'],
    ]);
  });

  test('lines of one colour are rounded so that they add to their rounded total', async () => {
    const { plan, line } = await house();
    // 1234.567 g: 12.34567, 7.40740 and 4.93827 g are 24.69134; to 0.01 g 24.69, so the two largest rests go up and blue goes down.
    const p = plan(grams(1_234_567));
    expect(masses(p).slice(0, 3)).toEqual([
      ['RB', 12_340],
      ['RY', 7_410],
      ['RR', 4_940],
    ]);
    expect(line(p, 'RB').roundingErrorPct).toBeCloseTo((100 * (12.34 - 12.34567)) / 12.34567, 4);
  });

  test('two colours that take from one jar take it one after the other', async () => {
    const { plan, input, context, w } = await house();
    const [colour] = input().colours;
    const key = `dye:${w.dyeIds.blue}`;
    const p = plan({ colours: [colour!, colour!] }, (c) => ({
      revisions: [context.revisions[0]!, context.revisions[0]!],
      stockLots: new Map(c.stockLots).set(key, [{ ...c.stockLots.get(key)![0]!, onHandQuantity: 15_000 }]),
    }));
    expect(p.lines.filter((l) => l.code === 'RB').map((l) => l.short)).toEqual([0, 9_000]);
    expect(p.warnings).toEqual(['Tide blue: container B-1 is short by 9.00 g.']);
  });

  test('late freight and bills are in what a container costs, and so is the average of several where that is the rule', async () => {
    const { deps, owner, input, w } = await house();
    addStockMoney(
      deps,
      { stockLotId: w.stock.blue.id, kind: 'bill', amountMinor: 500, on: null, reason: 'bill 17', clientId: null },
      owner,
    );
    const blue = () => previewPlan(deps, input()).estimate[0]?.costMinor;
    // 12 g of 500 g at 45.00.
    expect(blue()).toBe(108);
    receiveContainer(
      deps,
      {
        ...TEN_KILOS_RECEIVED,
        item: { kind: 'dye', id: w.dyeIds.blue },
        code: 'B-2',
        quantity: 100_000,
        priceMinor: 1_500,
      },
      owner,
    );
    expect(blue()).toBe(108);
    updateStudio(deps.db, { costing: 'movingAverage' }, 2);
    // 600 g for 60.00.
    expect(blue()).toBe(120);
    expect(previewPlan(deps, input()).valuation).toBe('movingAverage');
  });

  test('two colours over the piece are two sets of lines; over their shares each has its part', async () => {
    const { plan, input, context } = await house();
    const [colour] = input().colours;
    const two = [400_000, 400_000].map((sharePpm, i) => ({ ...colour!, sharePpm, placement: ['left', 'right'][i]! }));
    const revisions = [context.revisions[0]!, context.revisions[0]!];
    const all = plan({ colours: two }, () => ({ revisions }));
    expect(all.lines.map((l) => [l.ordinal, l.colourOrdinal, l.plannedMassMg]).slice(0, 6)).toEqual([
      [1, 1, 12_000],
      [2, 1, 7_200],
      [3, 1, 4_800],
      [4, 2, 12_000],
      [5, 2, 7_200],
      [6, 2, 4_800],
    ]);
    expect(all.warnings).toEqual([]);
    const parts = plan({ colours: two, coverage: 'eachOverItsShare' }, () => ({ revisions }));
    // 40 % of 12 g.
    expect(parts.lines[0]?.plannedMassMg).toBe(4_800);
    expect(parts.colours.map((c) => [c.ordinal, c.placement, c.sharePpm, c.recipeName, c.revisionNumber])).toEqual([
      [1, 'left', 400_000, 'Estuary', 1],
      [2, 'right', 400_000, 'Estuary', 1],
    ]);
    expect(parts.colours.map((c) => c.depthOverAllPct.toFixed(4))).toEqual(['0.8000', '0.8000']);
    expect(parts.warnings).toEqual(['The shares add to 80 %: the rest of the cloth stays undyed.']);
    const whole = two.map((c) => ({ ...c, sharePpm: 499_750 }));
    expect(plan({ colours: whole, coverage: 'eachOverItsShare' }, () => ({ revisions })).warnings).toEqual([]);
  });

  test('goods of the customer cost nothing, goods from a roll what the roll cost, and none of unknown price', async () => {
    const { plan, context } = await house();
    const kinds = (p: Plan) => p.estimate.map((e) => e.kind);
    expect(kinds(plan({ goodsOwner: 'customer' }))).not.toContain('goods');
    expect(kinds(plan({}, (c) => ({ fibre: { ...c.fibre, costMinorPerKg: null } })))).not.toContain('goods');
    const roll = {
      ...[...context.stockLots.values()][0]![0]!,
      id: 99,
      code: 'ROLL-1',
      priceMinor: 9_000,
      freightMinor: 1_000,
      receivedQuantity: 10_000_000,
      onHandQuantity: 10_000_000,
    };
    // 1.2 kg of 10 kg at 100.00.
    expect(plan({}, () => ({ goodsStockLot: roll })).estimate.find((e) => e.kind === 'goods')?.costMinor).toBe(1_200);
  });

  test('hands that cost nothing, or have nothing to do, are not in the estimate', async () => {
    const { plan } = await house();
    const kinds = (other: Parameters<typeof plan>[1]) =>
      plan({}, other)
        .estimate.map((e) => e.kind)
        .slice(6);
    expect(kinds((c) => ({ studio: { ...c.studio, labourRateMinorPerHour: 0 } }))).toEqual(['overhead']);
    expect(kinds((c) => ({ studio: { ...c.studio, overheadRateMinorPerHour: 0 } }))).toEqual(['labour']);
    expect(kinds((c) => ({ steps: c.steps.map((s) => ({ ...s, handsOnS: 0 })) }))).toEqual([]);
  });

  test('what no plan can be made from is told by its field', async () => {
    const { plan } = await house();
    expect(calcError(() => plan(grams(1_000_000_001)))).toEqual({
      field: 'mass',
      words: 'That is more than a tonne of goods.',
    });
    expect(plan(grams(1_000_000_000)).dryMassMg).toBe(1_000_000_000);
    expect(calcError(() => plan({}, () => ({ scales: [] })))).toMatchObject({ field: 'scale' });
    expect(calcError(() => plan({ colours: [] }))).toMatchObject({ field: 'colours', words: /one colour/ });
    expect(calcError(() => plan({}, () => ({ revisions: [] })))).toMatchObject({ field: 'colours', words: /recipe/ });
  });
});

describe('what is weighed on which scale', () => {
  const scale = (id: number, readabilityMg: number, capacityMg: number | null) => ({
    id,
    name: `${id}`,
    readabilityMg,
    capacityMg,
    isDefault: id === 1 ? 1 : 0,
  });
  test('the dye scale as far as it goes, then a coarser one that holds it, else the coarsest', async () => {
    const { plan, line } = await house();
    const scales = [scale(1, 10, 200_000), scale(2, 100, 300_000), scale(3, 1_000, 1_000_000)];
    // 30 kg at 2 %: 300 g blue, 180 g yellow, 120 g red.
    const p = plan({ ...grams(30_000_000), bathUl: 1_000_000 }, () => ({ scales }));
    expect(['RB', 'RY', 'RR'].map((code) => line(p, code).step)).toEqual([100, 10, 10]);
    const exact = plan({ ...grams(20_000_000), bathUl: 1_000_000 }, () => ({ scales }));
    expect(line(exact, 'RB').step).toBe(10);
    const heavy = plan({ ...grams(500_000_000), bathUl: 1_000_000 }, () => ({ scales }));
    expect(line(heavy, 'RB')).toMatchObject({ plannedMassMg: 5_000_000, step: 1_000 });
    // Salt goes by the same scales: 50 g.
    expect(line(heavy, 'SALT').step).toBe(10);
  });
});

describe('too little to weigh goes by solution', () => {
  // 20 g at 2 %: 200 mg blue, 120 mg yellow, 80 mg red. Half a digit of 0.01 g is 1 % of 500 mg: below that, 1 % solution.
  const small = grams(20_000);

  test('of the strongest stock that a measure holds, with the powder’s price until it is made', async () => {
    const { plan, line } = await house();
    const p = plan(small);
    expect(masses(p).slice(0, 3)).toEqual([
      ['RB', '20000 µL'],
      ['RY', '12000 µL'],
      ['RR', '8000 µL'],
    ]);
    // A cylinder of 25 mL reads to a quarter, one of 10 mL to a tenth.
    expect(p.lines.slice(0, 3).map((l) => [l.concPpm, l.step, l.short, l.stockLotId, l.estimateMinor])).toEqual([
      [10_000, 250, 20_000, null, 2],
      [10_000, 250, 12_000, null, 1],
      [10_000, 100, 8_000, null, 1],
    ]);
    expect(line(p, 'RB')).toMatchObject({
      advice: 'Too little to weigh: make 1 % stock solution first.',
      roundingErrorPct: 0,
      halfDigitErrorPct: null,
      onHand: null,
    });
    expect(p.warnings).toContain('Tide blue: Too little to weigh: make 1 % stock solution first.');
    expect(p.warnings.join(' ')).not.toContain('No container');
    // 400 mL of bath less 20 + 12 + 8 of solution.
    expect([p.bathUl, p.makeUpWaterUl]).toEqual([400_000, 360_000]);
    expect(p.estimate[0]).toMatchObject({ quantity: 200, quantityUnit: 'mg', costMinor: 2 });
  });

  test('beside powder that is enough to weigh, each as measured as its cylinder can', async () => {
    const { plan, line, w } = await house();
    // 60 g: 600 mg blue are weighed, 360 mg yellow and 240 mg red are not.
    expect(masses(plan(grams(60_000))).slice(0, 3)).toEqual([
      ['RB', 600],
      ['RY', '36000 µL'],
      ['RR', '24000 µL'],
    ]);
    // 20.1 g: 20.1 mL in quarters are 20.0.
    expect(line(plan(grams(20_100)), 'RB').roundingErrorPct).toBeCloseTo(-100 / 201, 6);
    const key = `dye:${w.dyeIds.blue}`;
    const weak = plan(small, (c) => ({
      stockLots: new Map(c.stockLots).set(key, [{ ...c.stockLots.get(key)![0]!, strengthPpm: 800_000 }]),
    }));
    expect(line(weak, 'RB')).toMatchObject({ plannedVolumeUl: 25_000, strengthPpm: 800_000 });
  });

  test('where there is no bath the solution is held by the soak, or by what the goods hold, and no water is made up', async () => {
    const { plan, line } = await house();
    const dry = (soakMlPerKg: number | null) =>
      plan(small, (c) => ({ method: { ...c.method, bathMlPerKg: null, soakMlPerKg }, auxiliaries: [] }));
    // 20 g at 1 L/kg hold 20 mL of soak, all that blue needs; at half of that they do not.
    expect(line(dry(1_000), 'RB').plannedVolumeUl).toBe(20_000);
    expect(line(dry(500), 'RB')).toMatchObject({
      plannedMassMg: 200,
      advice: expect.stringContaining('more than the liquor'),
    });
    // Without either, twice the goods: 40 mL.
    expect(dry(null)).toMatchObject({ bathUl: null, soakUl: null, makeUpWaterUl: null, bathOverUl: 0 });
    expect(line(dry(null), 'RB').plannedVolumeUl).toBe(20_000);
    expect(
      masses(plan(grams(48_000), (c) => ({ method: { ...c.method, bathMlPerKg: null }, auxiliaries: [] })))[0],
    ).toEqual(['RB', '48000 µL']);
  });

  test('from a bottle of that strength which is fresh and holds enough', async () => {
    const { plan, line, context, w } = await house();
    const key = `dye:${w.dyeIds.blue}`;
    const jar = context.stockLots.get(key)![0]!;
    const bottle = (more: Partial<StockLotOverview>): StockLotOverview => ({
      ...jar,
      id: 77,
      code: 'S-1',
      unit: 'ul',
      concPpm: 10_000,
      onHandQuantity: 20_000,
      bestBeforeOn: context.todayOn,
      ...more,
    });
    const from = (more: Partial<StockLotOverview>) =>
      plan(small, (c) => ({
        stockLots: new Map(c.stockLots).set(key, [bottle(more), jar]),
        rates: new Map(c.rates).set(77, { priceMinor: 400, perQuantity: 500_000 }),
      }));
    const p = from({});
    expect(line(p, 'RB')).toMatchObject({
      stockLotId: 77,
      stockLotCode: 'S-1',
      onHand: 20_000,
      short: 0,
      advice: null,
    });
    // 20 mL of 500 at 4.00.
    expect(p.estimate[0]).toMatchObject({ quantity: 20_000, quantityUnit: 'ul', costMinor: 16 });
    expect(p.warnings.filter((words) => /blue|S-1/.test(words))).toEqual([]);
    for (const none of [{ onHandQuantity: 19_999 }, { concPpm: 1_000 }, { bestBeforeOn: '2026-03-15' }])
      expect(line(from(none), 'RB').stockLotId, JSON.stringify(none)).toBeNull();
    expect(line(from({ bestBeforeOn: null }), 'RB').stockLotId).toBe(77);
  });

  test('unless the person wants powder, or the liquor does not hold the solution', async () => {
    const { plan, line } = await house();
    const powder = plan({ ...small, solutions: 'never' });
    expect(masses(powder).slice(0, 3)).toEqual([
      ['RB', 200],
      ['RY', 120],
      ['RR', 80],
    ]);
    expect(powder.lines.map((l) => l.advice)).toEqual([null, null, null, null, null]);
    const tight = plan({ ...small, bathUl: 15_000 });
    expect(line(tight, 'RB')).toMatchObject({
      plannedMassMg: 200,
      advice: 'Below the scale’s floor, but the solution would be more than the liquor holds.',
    });
    expect(line(tight, 'RY').plannedVolumeUl).toBe(12_000);
    const nothing = plan({ ...grams(100), solutions: 'never' });
    expect(line(nothing, 'RB')).toMatchObject({
      plannedMassMg: 0,
      advice: 'This scale cannot show so little: use stock solution.',
    });
  });
});

describe('a line is planned from the container that should serve it', () => {
  const jars = (h: House, more: Partial<StockLotOverview>[]) => {
    const key = `dye:${h.w.dyeIds.blue}`;
    const jar = h.context.stockLots.get(key)![0]!;
    const all = more.map((m, i) => ({ ...jar, id: 100 + i, code: `J-${i}`, onHandQuantity: 50_000, ...m }));
    return (input: Partial<PlanInput> = {}) =>
      h.plan(input, (c) => ({
        stockLots: new Map(c.stockLots).set(key, all),
        rates: new Map(c.rates).set(100, { priceMinor: 1, perQuantity: 1_000 }),
      }));
  };
  test.each([
    ['the oldest', [{}, {}], 'J-0'],
    ['that holds anything', [{ onHandQuantity: 0 }, {}], 'J-1'],
    ['within its best-before', [{ bestBeforeOn: '2026-03-15' }, { bestBeforeOn: '2026-03-16' }], 'J-1'],
    ['else the oldest that holds anything', [{ onHandQuantity: 0 }, { bestBeforeOn: '2026-03-15' }], 'J-1'],
    ['else the oldest', [{ onHandQuantity: 0 }, { onHandQuantity: -1 }], 'J-0'],
    ['and no solution', [{ concPpm: 10_000 }, {}], 'J-1'],
  ])('%s', async (_, more, code) => {
    const h = await house();
    expect(h.line(jars(h, more)(), 'RB').stockLotCode).toBe(code);
  });

  test('or the one that was chosen; and none where there is none, with a warning', async () => {
    const h = await house();
    const { w } = h;
    const chosen = jars(h, [{}, {}])({ stockLotChoices: { [`dye:${w.dyeIds.blue}`]: 101 } });
    expect(h.line(chosen, 'RB')).toMatchObject({ stockLotCode: 'J-1', rate: null, estimateMinor: 0 });
    expect(chosen.estimate[0]?.description).toBe('RY Gorse yellow');
    const none = jars(h, [])();
    expect(h.line(none, 'RB')).toMatchObject({ stockLotId: null, strengthPpm: 1_000_000, short: 12_000, onHand: null });
    expect(none.warnings).toEqual(['No container of Tide blue in stock.']);
    const old = jars(h, [{ bestBeforeOn: '2026-03-15' }])();
    expect(old.warnings).toEqual(['Container J-0 (Tide blue) is past its best-before day.']);
    expect(jars(h, [{ bestBeforeOn: '2026-03-16' }])().warnings).toEqual([]);
  });
});

describe('auxiliaries on their own bases', () => {
  const aux = async (
    line: Partial<PlanContext['auxiliaries'][number]['line']>,
    auxiliary: Partial<PlanContext['auxiliaries'][number]['auxiliary']> = {},
    more: Partial<PlanInput> = {},
    stock: Partial<StockLotOverview> | null = null,
  ) => {
    const h = await house();
    const [first] = h.context.auxiliaries;
    const key = `auxiliary:${first!.auxiliary.id}`;
    const p = h.plan({ soakUl: 10_000_000, ...more }, (c) => ({
      auxiliaries: [{ line: { ...first!.line, ...line }, auxiliary: { ...first!.auxiliary, ...auxiliary } }],
      ...(stock ? { stockLots: new Map(c.stockLots).set(key, [{ ...c.stockLots.get(key)![0]!, ...stock }]) } : {}),
    }));
    return { p, l: h.line(p, auxiliary.code ?? 'SALT') };
  };
  const L = 1_000_000;
  test.each([
    // 50 % of 1.2 kg; 40 g in each of 10 L of soak; 24 L of bath; as stated.
    [{ basis: 'owg', amountMilli: 50_000 }, '50 % owg', { plannedMassMg: 600_000, step: 100 }],
    [{ basis: 'gPerL', vessel: 'soak', amountMilli: 40_000 }, '40 g/L of soak', { plannedMassMg: 400_000, step: 100 }],
    [{ basis: 'fixedMass', amountMilli: 7_504 }, '7.504 g, as stated', { plannedMassMg: 7_500, step: 10 }],
    [{ basis: 'mlPerL', amountMilli: 2_000 }, '2 mL/L of bath', { plannedVolumeUl: 48_000, step: 500 }],
    [{ basis: 'mlPerL', vessel: 'soak', amountMilli: 2_000 }, '2 mL/L of soak', { plannedVolumeUl: 20_000, step: 250 }],
    [{ basis: 'fixedVolume', amountMilli: 50_000 }, '50 mL, as stated', { plannedVolumeUl: 50_000, step: 500 }],
    // More than the largest cylinder: read to a hundredth of that, 20 mL.
    [
      { basis: 'fixedVolume', amountMilli: 2_405_000 },
      '2405 mL, as stated',
      { plannedVolumeUl: 2_400_000, step: 20_000 },
    ],
  ] as const)('%j', async (of, basisText, expected) => {
    const { l } = await aux(of);
    expect(l).toMatchObject({ basisText, ...expected });
    if ('plannedVolumeUl' in expected) expect(l.plannedMassMg).toBeNull();
  });

  test('rounding is told in percent of what was meant', async () => {
    const { l: solid } = await aux({ basis: 'fixedMass', amountMilli: 7_504 });
    // 7.50 for 7.504; half of 0.01 g on 7.504.
    expect(solid.roundingErrorPct).toBeCloseTo((-100 * 0.004) / 7.504, 9);
    expect(solid.halfDigitErrorPct).toBeCloseTo((100 * 0.005) / 7.504, 9);
    const { l: liquid } = await aux({ basis: 'fixedVolume', amountMilli: 2_405_000 });
    expect(liquid.roundingErrorPct).toBeCloseTo((-100 * 5) / 2405, 9);
    const { l: none } = await aux({ basis: 'fixedMass', amountMilli: 0 });
    expect([none.plannedMassMg, none.roundingErrorPct, none.halfDigitErrorPct]).toEqual([0, null, null]);
    const { l: dry } = await aux({ basis: 'fixedVolume', amountMilli: 0 });
    expect([dry.plannedVolumeUl, dry.roundingErrorPct]).toEqual([0, null]);
  });

  test('kept in solution it is measured, from a bottle of that strength where there is one', async () => {
    const tenGrams = { basis: 'fixedMass', amountMilli: 10_000 } as const;
    const kept = { solutionConcPpm: 200_000 };
    const { l, p } = await aux(tenGrams, kept);
    // 10 g in 20 % w/v are 50 mL, at the price of the salt: 10 g at 1.00 a kilogram.
    expect(l).toMatchObject({
      plannedVolumeUl: 50_000,
      concPpm: 200_000,
      stockLotId: null,
      short: 50_000,
      exactUg: 10_000_000,
      advice: 'Kept as 20 % solution: make some first.',
      estimateMinor: 1,
    });
    expect(p.makeUpWaterUl).toBe(24 * L - 50_000);
    const bottle = { unit: 'ul', concPpm: 200_000, onHandQuantity: 60_000 } as const;
    const { l: poured } = await aux(tenGrams, kept, {}, bottle);
    expect(poured).toMatchObject({ stockLotCode: 'SA-1', onHand: 60_000, short: 0, advice: null, estimateMinor: 5 });
    const { l: weak } = await aux(tenGrams, kept, {}, { ...bottle, concPpm: 100_000 });
    expect(weak.stockLotId).toBeNull();
  });

  test('a liquid as bought is poured from its bottle, and never from a jar of powder', async () => {
    const vinegar = { basis: 'fixedVolume', amountMilli: 50_000 } as const;
    const { l } = await aux(vinegar, {}, {}, { unit: 'ul', onHandQuantity: 30_000 });
    expect(l).toMatchObject({ stockLotCode: 'SA-1', onHand: 30_000, short: 20_000, advice: null });
    const { l: none, p } = await aux(vinegar);
    expect(none).toMatchObject({ stockLotId: null, short: 50_000, advice: null });
    expect(p.warnings).toEqual(['No container of Salt in stock.']);
  });

  test('what is poured into the soak leaves the bath its water', async () => {
    const { p } = await aux({ basis: 'fixedVolume', vessel: 'soak', amountMilli: 50_000 });
    expect(p.makeUpWaterUl).toBe(24 * L);
    const { p: over } = await aux({ basis: 'fixedVolume', amountMilli: 150_000 }, {}, { bathUl: 100_000 });
    expect([over.makeUpWaterUl, over.bathOverUl]).toEqual([0, 50_000]);
    expect(over.warnings[0]).toBe(
      'The solutions alone are 50.0 mL more than the bath: use stronger stock or a larger bath.',
    );
  });
});

describe('what does not go together is said before anything is weighed', () => {
  test('dye and fibre, method and dye, dye and recipe, each once', async () => {
    const { plan, context } = await house();
    const revision = context.revisions[0]!;
    const other = { ...revision, recipe: { ...revision.recipe, dyeClass: 'metalComplex' as const } };
    const [colour] = [{ revisionId: 1, swatchId: null, depthPpm: 10_000, sharePpm: 1_000_000, placement: '' }];
    const { warnings } = plan({ colours: [colour, colour] }, () => ({ revisions: [other, other] }));
    expect(warnings.slice(0, 5)).toEqual([
      // What it does to linen.
      expect.stringMatching(/^Metal-complex dye/),
      'The method “Immersion, reactive” is for fibre-reactive dye, and a recipe here is for metal-complex dye.',
      'RB is fibre-reactive dye, and its recipe is for metal-complex dye.',
      'RY is fibre-reactive dye, and its recipe is for metal-complex dye.',
      'RR is fibre-reactive dye, and its recipe is for metal-complex dye.',
    ]);
    const anyDye = plan({}, (c) => ({ method: { ...c.method, dyeClass: null } }));
    expect(anyDye.warnings).toEqual([]);
  });

  test('the hottest of the steps says whether there is steam', async () => {
    const { plan } = await house();
    const steam = (temps: (number | null)[]) =>
      plan({}, (c) => ({ steps: c.steps.map((s, i) => ({ ...s, tempC: temps[i] ?? null })) })).cautions.some((w) =>
        w.includes('steam'),
      );
    expect([steam([null, 95, 20]), steam([20, 59, null]), steam([null, null, null])]).toEqual([true, false, false]);
  });
});

describe('a lot is planned for what is there', () => {
  test('a choice that is missing is asked for beside its field', async () => {
    const { deps, owner, input, w } = await house();
    const said = (more: Partial<PlanInput>) => refused(() => planLot(deps, input(more), owner));
    const colour = input().colours[0]!;
    expect(said({ fibreId: 999 })).toMatchObject({ said: { fibreId: 'Choose the goods.' } });
    expect(said({ methodId: 999 })).toMatchObject({ said: { methodId: 'Choose a method.' } });
    expect(said({ colours: [colour, { ...colour, revisionId: 999 }] })).toMatchObject({
      said: { 'revisionId.1': 'Choose a recipe.' },
    });
    for (const goodsStockLotId of [999, w.stock.blue.id])
      expect(said({ goodsStockLotId })).toMatchObject({
        said: { goodsStockLotId: 'That container does not hold these goods.' },
      });
    expect(said({ repeatsLotId: 999 })).toMatchObject({ code: 'notFound' });
    const tooLittle = said({ ...grams(100), solutions: 'never' });
    expect(tooLittle).toEqual({
      code: 'invalidInput',
      said: {
        mass: 'Tide blue: This scale cannot show so little: use stock solution. More goods, a deeper shade or stock solution would do.',
      },
    });
    deps.sqlite
      .prepare("update method_auxiliaries set basis = 'fixedVolume', amount_milli = 1 where ordinal = 1")
      .run();
    expect(said({})).toMatchObject({
      said: { mass: 'Salt: so little cannot be measured. More goods, a deeper shade or stock solution would do.' },
    });
    expect(deps.sqlite.prepare('select count(*) from lots').pluck().get()).toBe(0);
  });

  test('from a roll of these goods it is planned at what the roll cost, with the bills that came for it', async () => {
    const { deps, owner, input, w } = await house();
    const roll = receiveContainer(
      deps,
      {
        ...TEN_KILOS_RECEIVED,
        item: { kind: 'fibre', id: w.linenId },
        code: 'ROLL-1',
        quantity: 12_000_000,
        priceMinor: 30_000,
      },
      owner,
    );
    const of = { goodsStockLotId: roll.id };
    const cost = () => previewPlan(deps, input(of)).estimate.find((e) => e.kind === 'goods')?.costMinor;
    // 1.2 kg of 12 kg at 300.00, and at 360.00.
    expect(cost()).toBe(3_000);
    addStockMoney(
      deps,
      { stockLotId: roll.id, kind: 'freight', amountMinor: 6_000, on: null, reason: 'late freight', clientId: null },
      owner,
    );
    expect(cost()).toBe(3_600);
    expect(planLot(deps, input(of), owner).goodsStockLotId).toBe(roll.id);
  });

  test('the lot is written as the plan says, and the plan is kept with it', async () => {
    const { deps, owner, input, clock } = await house();
    const first = planLot(deps, input(), owner);
    clock.now += 1;
    const lot = planLot(deps, input({ plannedForOn: '2026-03-20', repeatsLotId: first.id, bathUl: 10_000_000 }), owner);
    expect([first.number, lot.number]).toEqual(['26-0001', '26-0002']);
    expect(lot).toMatchObject({
      status: 'planned',
      goodsText: '24 napkins',
      pieces: 24,
      dryMassMg: 1_200_000,
      goodsOwner: 'studio',
      massFound: 'weighedDry',
      bathUl: 10_000_000,
      soakUl: null,
      readabilityMg: 10,
      plannedAt: MONDAY + 1,
      plannedBy: owner.personId,
      plannedForOn: '2026-03-20',
      repeatsLotId: first.id,
    });
    // 47.62 with 500 g of salt and 150 g of soda for 1200 and 360: less 0.70 and 0.63.
    expect([first.estimateMinor, lot.estimateMinor]).toEqual([4_762, 4_629]);
    expect(planOf(lot)).toEqual(JSON.parse(JSON.stringify(previewPlan(deps, input({ bathUl: 10_000_000 })))));
    const all = (query: string) => deps.sqlite.prepare(query).all(lot.id);
    expect(
      all(
        'select ordinal, kind, vessel, basis, exact_ug, planned_mass_mg as mg, strength_ppm, step, lot_colour_id is not null as coloured from lot_components where lot_id = ? order by ordinal',
      ),
    ).toEqual([
      {
        ordinal: 1,
        kind: 'dye',
        vessel: null,
        basis: 'owg',
        exact_ug: 12e6,
        mg: 12_000,
        strength_ppm: 1e6,
        step: 10,
        coloured: 1,
      },
      {
        ordinal: 2,
        kind: 'dye',
        vessel: null,
        basis: 'owg',
        exact_ug: 72e5,
        mg: 7_200,
        strength_ppm: 1e6,
        step: 10,
        coloured: 1,
      },
      {
        ordinal: 3,
        kind: 'dye',
        vessel: null,
        basis: 'owg',
        exact_ug: 48e5,
        mg: 4_800,
        strength_ppm: 1e6,
        step: 10,
        coloured: 1,
      },
      {
        ordinal: 4,
        kind: 'auxiliary',
        vessel: 'bath',
        basis: 'gPerL',
        exact_ug: 5e8,
        mg: 500_000,
        strength_ppm: 1e6,
        step: 100,
        coloured: 0,
      },
      {
        ordinal: 5,
        kind: 'auxiliary',
        vessel: 'bath',
        basis: 'gPerL',
        exact_ug: 15e7,
        mg: 150_000,
        strength_ppm: 1e6,
        step: 100,
        coloured: 0,
      },
    ]);
    expect(
      all(
        'select ordinal, name, planned_duration_s as s, planned_temp_c as c, planned_hands_on_s as h from lot_steps where lot_id = ? order by ordinal',
      ),
    ).toEqual([
      { ordinal: 1, name: 'Soda soak', s: 1200, c: null, h: 300 },
      { ordinal: 2, name: 'Dye', s: 3000, c: 40, h: 900 },
      { ordinal: 3, name: 'Batching', s: 21_600, c: 22, h: 120 },
    ]);
  });

  test('what other lots want is told to the next', async () => {
    const { deps, owner, input } = await house();
    planLot(deps, input(grams(30_000_000)), owner);
    // 30 kg want 300 g of the 500 g of blue and 120 g of the 250 g of red; twice that is 100 g too much of blue.
    expect(previewPlan(deps, input(grams(30_000_000))).warnings).toContain(
      'Tide blue: other lots in hand still want 300.00 g; with theirs container B-1 is short by 100.00 g.',
    );
  });
});

describe('for whom a lot is', () => {
  let ordering = 0;
  async function ordered(h: House, pieces: number | null = 24, status: 'open' | 'cancelled' | 'delivered' = 'open') {
    const { db } = h.deps;
    const customer = db
      .insert(customers)
      .values({ name: `Customer ${++ordering}` })
      .returning()
      .get();
    const order = db
      .insert(orders)
      .values({ number: `26-${customer.id}`, customerId: customer.id, orderedOn: '2026-03-01', status })
      .returning()
      .get();
    const line = db
      .insert(orderLines)
      .values({ orderId: order.id, ordinal: 1, description: 'napkins', pieces })
      .returning()
      .get();
    return { orderLineId: line.id, orderId: order.id, number: order.number, customerName: customer.name };
  }
  const forLines = (h: House, lines: [number, number | null][], more: Partial<PlanInput> = {}) =>
    h.input({ orderLines: lines.map(([orderLineId, pieces]) => ({ orderLineId, pieces })), ...more });
  const orderStatus = (h: House, orderId: number) =>
    h.deps.sqlite.prepare('select status from orders where id = ?').pluck().get(orderId);

  test('an order that is over, or is not there, is not planned for', async () => {
    const h = await house();
    for (const status of ['cancelled', 'delivered'] as const) {
      const o = await ordered(h, 24, status);
      expect(refused(() => planLot(h.deps, forLines(h, [[o.orderLineId, null]]), h.owner))).toMatchObject({
        said: {
          orderLineId: `Order ${o.number} is ${status}: open it again on its page before you plan for it.`,
        },
      });
    }
    expect(refused(() => planLot(h.deps, forLines(h, [[999, null]]), h.owner))).toMatchObject({
      said: { orderLineId: 'That order line is not there.' },
    });
  });

  test('more pieces than a line wants are planned when somebody says so', async () => {
    const h = await house();
    const o = await ordered(h, 30);
    planLot(h.deps, forLines(h, [[o.orderLineId, null]]), h.owner);
    expect(orderStatus(h, o.orderId)).toBe('inWork');
    const again = forLines(h, [[o.orderLineId, null]]);
    expect(refused(() => planLot(h.deps, again, h.owner))).toMatchObject({
      said: {
        morePiecesConfirmed:
          '“napkins” wants 30 pieces; with these 24 there would be 48. Change the pieces, or tick that more are meant.',
      },
    });
    // Six more are what is wanted.
    planLot(h.deps, forLines(h, [[o.orderLineId, 6]]), h.owner);
    planLot(h.deps, { ...again, morePiecesConfirmed: true }, h.owner);
    const one = await ordered(h, 1);
    expect(refused(() => planLot(h.deps, forLines(h, [[one.orderLineId, 2]]), h.owner))).toMatchObject({
      said: { morePiecesConfirmed: expect.stringContaining('wants 1 piece; with these 2 there would be 2.') },
    });
  });

  test('of a lot for several lines each counts what was said of it, and none where nothing was', async () => {
    const h = await house();
    const [a, b] = [await ordered(h, 10), await ordered(h, 10)];
    // 24 pieces in all, 10 and 10 of them wanted: how many are for whom nobody has said.
    planLot(
      h.deps,
      forLines(h, [
        [a.orderLineId, null],
        [b.orderLineId, null],
      ]),
      h.owner,
    );
    const [c, d] = [await ordered(h, 10), await ordered(h, 10)];
    expect(
      refused(() =>
        planLot(
          h.deps,
          forLines(h, [
            [c.orderLineId, 10],
            [d.orderLineId, 11],
          ]),
          h.owner,
        ),
      ),
    ).toMatchObject({
      said: { morePiecesConfirmed: expect.stringContaining('with these 11 there would be 11') },
    });
    const free = await ordered(h, null);
    planLot(h.deps, forLines(h, [[free.orderLineId, 1_000]]), h.owner);
    planLot(h.deps, forLines(h, [[(await ordered(h, 10)).orderLineId, null]], { pieces: null }), h.owner);
  });

  test('whoever has a lot in hand is told which of its orders have been cancelled', async () => {
    const h = await house();
    const { sqlite, db } = h.deps;
    const [a, b, c] = [await ordered(h), await ordered(h), await ordered(h)];
    const lot = planLot(
      h.deps,
      forLines(h, [
        [a.orderLineId, 1],
        [b.orderLineId, 1],
        [c.orderLineId, 1],
      ]),
      h.owner,
    );
    const cancel = (id: number) => sqlite.prepare("update orders set status = 'cancelled' where id = ?").run(id);
    expect(cancelledWords(db, lot.id)).toBe('');
    cancel(a.orderId);
    const first = `${a.number} (${a.customerName})`;
    expect(cancelledWords(db, lot.id)).toBe(
      `Order ${first} has been cancelled; the lot is for others too. Ask before you go on.`,
    );
    cancel(b.orderId);
    cancel(c.orderId);
    expect(cancelledWords(db, lot.id)).toBe(
      `Orders ${[a, b, c].map((o) => `${o.number} (${o.customerName})`).join(' and ')} have been cancelled. Ask before you go on.`,
    );
  });
});
