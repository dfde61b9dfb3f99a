import { describe, expect, test } from 'vitest';
import { type AdditionInput, addForgottenCost, type ForgottenCost } from '../../server/costing/additions.ts';
import { correctCostLine } from '../../server/costing/corrections.ts';
import { costLineRowsOf } from '../../server/costing/queries.ts';
import { jobOf, noteRework } from '../../server/costing/rework.ts';
import { changeBetween, shadeSeries } from '../../server/costing/shade.ts';
import { lineWeights, sharedOut } from '../../server/costing/split.ts';
import { materialProof, stockContradictions, stockProof } from '../../server/costing/stockProof.ts';
import { changeExport, daysOfSpan, forgetExport, saveExport } from '../../server/exports/savedExports.ts';
import type { SavedExportInput } from '../../server/exports/schemas.ts';
import { updateStudio } from '../../server/settings/queries.ts';
import { closeContainer, recallContainer } from '../../server/stock/containers.ts';
import { itemsEverReceived } from '../../server/stock/queries.ts';
import { bareStudio } from '../support/app.ts';
import { lotWorld, writeLot } from '../support/finishedLots.ts';
import { refused } from '../support/refused.ts';

/* What the books would lose if one small thing went wrong: a cost written twice, a line corrected that stands no more, a fault of
 * the record that nobody is told. The lot was closed on Tuesday: yellow 1.07, blue 0.66, soda ash 0.10, labour 27.00, overhead 9.00. */

const DAY = 86_400_000;

async function books() {
  const studio = await bareStudio();
  const { deps, owner, clock } = studio;
  const world = lotWorld(deps, owner);
  clock.now += DAY;
  const lotId = writeLot(world, { number: '26-0001', finishedAt: clock.now, outcome: { rework: 2 } });
  const openId = writeLot(world, { number: '26-0002', finishedAt: clock.now }, true);
  clock.now += 3 * DAY;
  const add = (cost: ForgottenCost, more: Partial<AdditionInput> = {}) =>
    addForgottenCost(deps, { lotId, cost, reason: 'forgotten', clientId: null, ...more }, owner);
  const lines = () => costLineRowsOf(deps.db, lotId);
  return { ...studio, world, lotId, openId, add, lines };
}
const beside = (fields: Record<string, string>) => ({ code: 'invalidInput', said: fields });
const conflict = (said: string) => ({ code: 'conflict', said });
const noSuch = (what: string) => ({ code: 'notFound', said: `There is no such ${what}.` });

describe('a forgotten cost', () => {
  const bus: ForgottenCost = { what: 'other', description: ' bus ', costMinor: 500 };

  test('has a reason, words, an amount and a time', async () => {
    const { add, openId, lines } = await books();
    expect(refused(() => add(bus, { reason: ' ' }))).toEqual(beside({ reason: 'Say why, for the books.' }));
    expect(refused(() => add(bus, { lotId: 999 }))).toEqual(noSuch('lot'));
    expect(refused(() => add(bus, { lotId: openId }))).toEqual(
      conflict('The lot is not closed yet: record it at the bench instead.'),
    );
    const nameless = beside({ description: 'Say what it was for.' });
    expect(refused(() => add({ ...bus, description: ' ' }))).toEqual(nameless);
    const credit = { what: 'credit', to: 'studio', description: ' powder back ', amountMinor: 300 } as const;
    expect(refused(() => add({ ...credit, description: ' ' }))).toEqual(nameless);
    for (const amountMinor of [0, -1])
      expect(refused(() => add({ ...credit, amountMinor }))).toEqual(
        beside({ amount: 'More than nothing; who gets it says which way it goes.' }),
      );
    const hands = { what: 'labour', personId: 1, durationS: 0, rateMinorPerHour: 1200, withOverhead: false } as const;
    expect(refused(() => add(hands))).toEqual(beside({ duration: 'More than no time.' }));
    expect(refused(() => add({ what: 'overhead', durationS: -1, rateMinorPerHour: 1200 }))).toEqual(
      beside({ duration: 'More than no time.' }),
    );
    expect(refused(() => add({ ...hands, durationS: 60, personId: 999 }))).toEqual(noSuch('person'));
    const before = lines().length;
    add(bus, { reason: ' found later ' });
    add(credit);
    add({ ...credit, to: 'customer', description: 'a stain' });
    expect(
      lines()
        .slice(before)
        .map((l) => [l.ordinal, l.description, l.quantity, l.costMinor, l.reason]),
    ).toEqual([
      [before + 1, 'bus', 1, 500, 'found later'],
      [before + 2, 'Credit received: powder back', -1, -300, 'forgotten'],
      [before + 3, 'Credit to the customer: a stain', 1, 300, 'forgotten'],
    ]);
  });

  test('of hands goes at the rate that was given, else at their own, else at the studio’s; overhead comes where there is one', async () => {
    const { add, deps, owner, world } = await books();
    const rui = world.helper.personId;
    const hour = {
      what: 'labour',
      personId: rui,
      durationS: 3_600,
      rateMinorPerHour: null,
      withOverhead: true,
    } as const;
    const said = (cost: ForgottenCost) => add(cost).map((l) => [l.kind, l.description, l.costMinor, l.personId]);
    expect(said(hour)).toEqual([['labour', 'Rui, the whole lot', 1_800, rui]]);
    updateStudio(deps.db, { labourRateMinorPerHour: 2_400, overheadRateMinorPerHour: 900 }, 1);
    expect(said({ ...hour, rateMinorPerHour: 1_000 })).toEqual([
      ['labour', 'Rui, the whole lot', 1_000, rui],
      ['overhead', 'Overhead by labour hours', 900, null],
    ]);
    expect(said({ ...hour, personId: owner.personId, withOverhead: false })).toEqual([
      ['labour', 'Inês, the whole lot', 2_400, owner.personId],
    ]);
    expect(said({ what: 'overhead', durationS: 1_800, rateMinorPerHour: null })).toEqual([
      ['overhead', 'Overhead by labour hours', 450, null],
    ]);
  });

  test('of a material is of a jar that was there, open, and not the customer’s', async () => {
    const { add, world, deps, owner, lotId } = await books();
    const { yellow, blue, soda } = world.stockLotIds;
    const of = (stockLotId: number): ForgottenCost => ({
      what: 'material',
      stockLotId,
      quantity: 1_000,
      wasted: false,
    });
    expect(refused(() => add(of(999)))).toEqual(noSuch('container'));
    closeContainer(deps, { stockLotId: soda, how: 'empty', reason: '' }, owner);
    expect(refused(() => add(of(soda)))).toEqual(
      beside({ stockLotId: 'Container SODA-A is closed: open it again on its page first.' }),
    );
    recallContainer(deps, { stockLotId: blue, reason: 'mislabelled' }, owner);
    expect(refused(() => add(of(blue)))).toEqual(
      beside({
        recalledConfirmed:
          'Container B1-A is recalled (mislabelled). Tick this only if something of it really is in these goods: the recall then names this lot.',
      }),
    );
    const wasted = { what: 'material', stockLotId: yellow, quantity: 2_000, wasted: true } as const;
    expect(add(wasted).map((l) => [l.kind, l.description, l.costMinor, l.wasted, l.valuation])).toEqual([
      ['dye', 'Y1 Yellow, container Y1-A, discarded', 17, 1, 'specific'],
    ]);
    const booked = deps.sqlite.prepare('select lot_id, quantity, reason from stock_ledger order by id desc').get();
    expect(booked).toEqual({
      lot_id: lotId,
      quantity: -2_000,
      reason: 'forgotten in the cost of lot 26-0001: forgotten',
    });
  });

  test('is written once however often it is sent, and an id that names one cost takes no other', async () => {
    const { add, lines, deps } = await books();
    updateStudio(deps.db, { overheadRateMinorPerHour: 900 }, 1);
    const clientId = 'page-0000001';
    const hour = {
      what: 'labour',
      personId: 1,
      durationS: 3_600,
      rateMinorPerHour: 1_000,
      withOverhead: true,
    } as const;
    const first = add(hour, { clientId });
    expect(add(hour, { clientId }).map((l) => l.id)).toEqual(first.map((l) => l.id));
    expect(first.map((l) => l.clientId)).toEqual([clientId, `${clientId}.1`]);
    const before = lines().length;
    for (const other of [{ ...hour, durationS: 60 }, bus, { ...hour, personId: 2 }])
      expect(refused(() => add(other, { clientId }))).toMatchObject({ code: 'idReused' });
    expect(refused(() => add(hour, { clientId, reason: 'another' }))).toMatchObject({ code: 'idReused' });
    expect(lines()).toHaveLength(before);
  });
});

describe('a correction', () => {
  test('is of a line that stands, in a closed lot, with a reason and more than nothing in its place', async () => {
    const { deps, owner, lines, openId } = await books();
    const [dye] = lines();
    const correct = (replacement: { quantity: number; priceMinor: number; perQuantity: number } | null, more = {}) =>
      correctCostLine(deps, { costLineId: dye?.id ?? 0, reason: ' misread ', replacement, ...more }, owner);
    const right = { quantity: 10_000, priceMinor: 4_250, perQuantity: 500_000 };
    expect(refused(() => correct(right, { reason: ' ' }))).toEqual(beside({ reason: 'Say why, for the books.' }));
    expect(refused(() => correct(right, { costLineId: 999 }))).toEqual(noSuch('cost line'));
    const nothing = beside({ quantity: 'More than nothing; or choose that nothing stands instead.' });
    for (const none of [{ quantity: 0 }, { quantity: -1 }, { perQuantity: 0 }, { perQuantity: -1 }])
      expect(refused(() => correct({ ...right, ...none }))).toEqual(nothing);
    const before = lines().length;
    // 10 g at 42.50 for 500 g are 0.85.
    expect(correct(right).map((l) => [l.ordinal, l.correction, l.quantity, l.costMinor, l.reason])).toEqual([
      [before + 1, 'reversal', -12_600, -107, 'misread'],
      [before + 2, 'replacement', 10_000, 85, 'misread'],
    ]);
    expect(refused(() => correct(right))).toEqual(
      conflict('That line was corrected before. Correct the line that stands instead of it.'),
    );
    deps.sqlite.exec(`insert into cost_lines (lot_id, ordinal, kind, description, quantity, quantity_unit, price_minor, per_quantity, cost_minor, written_at)
      values (${openId}, 90, 'other', 'bus', 1, 'piece', 5, 1, 5, 1)`);
    const [open] = costLineRowsOf(deps.db, openId);
    expect(refused(() => correct(null, { costLineId: open?.id }))).toEqual(
      conflict('The lot is not closed yet: correct what happened at the bench instead.'),
    );
  });
});

describe('rework', () => {
  test('is of another lot that is finished and left pieces to dye again, and never in a circle', async () => {
    const { deps, owner, world, lotId, openId, clock } = await books();
    const again = writeLot(world, { number: '26-0003', finishedAt: clock.now });
    const clean = writeLot(world, { number: '26-0004', finishedAt: clock.now, outcome: { rework: 0 } });
    const note = (ofNumber: string, id = again) => refused(() => noteRework(deps, { lotId: id, ofNumber }, owner));
    expect(note('26-0001', 999)).toEqual(noSuch('lot'));
    expect(note('26-9999')).toEqual(beside({ ofNumber: 'There is no lot 26-9999.' }));
    expect(note('26-0003')).toEqual(beside({ ofNumber: 'A lot does not dye its own pieces again.' }));
    expect(note('26-0002')).toEqual(beside({ ofNumber: 'Lot 26-0002 is not finished yet.' }));
    expect(note('26-0004')).toEqual(
      beside({ ofNumber: 'By its outcome lot 26-0004 left no pieces to be dyed again.' }),
    );
    expect(note(' 26-0001 ')).toBe('let through');
    expect(note('26-0003', lotId)).toEqual(beside({ ofNumber: 'Lot 26-0003 is itself rework of this one.' }));
    const job = jobOf(deps.db, lotId);
    expect(job.reworks.map((r) => r.lotId)).toEqual([again]);
    expect([job.ownMinor, job.reworkMinor]).toEqual([3_783, 3_783]);
    expect(note('')).toBe('let through');
    expect(jobOf(deps.db, lotId).reworks).toEqual([]);
    expect(refused(() => jobOf(deps.db, openId))).toEqual(noSuch('closed lot'));
    expect(jobOf(deps.db, clean).reworkMinor).toBe(0);
  });

  test('of a lot without a good piece says no cost of one', async () => {
    const { deps, world, clock } = await books();
    const none = { firstQuality: 0, seconds: 0, rework: 0, scrap: 24 };
    const spoilt = jobOf(deps.db, writeLot(world, { number: '26-0003', finishedAt: clock.now, outcome: none }));
    expect([spoilt.unitCostMinor, spoilt.stockUnitCostMinor, spoilt.yieldPct]).toEqual([null, null, 0]);
    const uncounted = { ...none, scrap: 0 };
    const empty = jobOf(deps.db, writeLot(world, { number: '26-0004', finishedAt: clock.now, outcome: uncounted }));
    expect([empty.yieldPct, empty.rightFirstTimePct]).toEqual([null, null]);
  });
});

describe('a lot for several lines', () => {
  test('is shared by mass where every line says it, else by pieces, else equally', () => {
    const line = (pieces: number | null, lineDryMassMg: number | null) => ({ pieces, lineDryMassMg });
    expect(lineWeights([line(1, 100), line(2, 300)])).toEqual({ by: 'mass', weights: [100, 300] });
    expect(lineWeights([line(1, 100), line(2, null)])).toEqual({ by: 'pieces', weights: [1, 2] });
    expect(lineWeights([line(1, 100), line(null, null)])).toEqual({ by: 'equally', weights: [1, 1] });
    expect(sharedOut(100, [0, 0])).toEqual([50, 50]);
    expect(sharedOut(100, [1, 3])).toEqual([25, 75]);
    expect(sharedOut(101, [0])).toEqual([101]);
  });
});

describe('a saved export', () => {
  const month: SavedExportInput = {
    name: 'month',
    rows: 'lot',
    format: 'csv',
    span: 'lastMonth',
    from: '2026-01-01',
    to: '2026-01-31',
    order: '',
    customerId: null,
    methodId: null,
    fibreId: null,
    columns: [],
  };

  test('keeps days only where they are fixed, and an order only that is there', async () => {
    const { deps, owner, world } = await books();
    const save = (more: Partial<SavedExportInput> = {}) => saveExport(deps, { ...month, ...more }, owner);
    expect(save()).toMatchObject({ fromOn: null, toOn: null, orderId: null, version: 1 });
    const fixed = save({ name: 'January', span: 'fixed', order: 'O-1' });
    expect(fixed).toMatchObject({ fromOn: '2026-01-01', toOn: '2026-01-31', orderId: world.orderId });
    expect(daysOfSpan(fixed, '2026-03-16')).toEqual({ from: '2026-01-01', to: '2026-01-31' });
    const days = (span: SavedExportInput['span']) => daysOfSpan({ ...fixed, span }, '2026-03-16');
    expect(days('lastMonth')).toEqual({ from: '2026-02-01', to: '2026-02-28' });
    expect(days('lastYear')).toEqual({ from: '2025-01-01', to: '2025-12-31' });
    expect(days('everything')).toEqual({ from: null, to: null });
    expect(refused(() => save({ order: 'O-9' }))).toEqual(beside({ order: 'There is no order O-9.' }));
    for (const rows of ['lot', 'costLine'] as const)
      expect(refused(() => save({ rows, columns: ['nothing'] }))).toMatchObject({ code: 'invalidInput' });
    expect(refused(() => changeExport(deps, 999, month, 1))).toEqual(noSuch('saved export'));
    expect(changeExport(deps, fixed.id, { ...month, name: 'year' }, 1)).toMatchObject({ name: 'year', fromOn: null });
    expect(refused(() => changeExport(deps, fixed.id, month, 1))).toEqual({
      code: 'staleEdit',
      said: 'Somebody saved this export meanwhile. What you typed is below.',
    });
    forgetExport(deps, fixed.id);
    expect(refused(() => forgetExport(deps, fixed.id))).toEqual(noSuch('saved export'));
  });
});

describe('a shade', () => {
  test('is told apart between two of its own lots only', async () => {
    const { deps, world, clock, lotId } = await books();
    const later = writeLot(world, { number: '26-0003', finishedAt: clock.now });
    const recipeId = deps.sqlite.prepare('select id from recipes').pluck().get() as number;
    const { name, lots } = shadeSeries(deps.db, recipeId);
    // 37.83 for 840 g.
    expect([name, lots.map((l) => [l.lotId, l.totalMinor, Math.round(l.perKg)])]).toEqual([
      'Leaf',
      expect.arrayContaining([
        [lotId, 3_783, 4_504],
        [later, 3_783, 4_504],
      ]),
    ]);
    expect(lots[0]?.perKgByKind.labour).toBeCloseTo(2_700 / 0.84, 9);
    expect(refused(() => changeBetween(deps.db, lots, 999, later))).toEqual(
      beside({ earlier: 'Choose a lot of this shade.' }),
    );
    expect(refused(() => changeBetween(deps.db, lots, lotId, 999))).toEqual(
      beside({ later: 'Choose a lot of this shade.' }),
    );
    const change = changeBetween(deps.db, lots, lotId, later);
    expect([change.differenceMinor, change.earlierMinorPerKg]).toEqual([0, 4_504]);
    expect(change.lines.map((l) => [l.kind, l.label])).toContainEqual(['dye', 'Y1 Yellow']);
    expect(refused(() => shadeSeries(deps.db, 999))).toEqual(noSuch('recipe'));
  });
});

describe('the proof of stock', () => {
  /** Yellow: 500 g for 42.50; 12.60 g to each of two lots, one of them open. */
  const yellowOf = async (spoil = '') => {
    const { deps, world, clock } = await books();
    if (spoil !== '') deps.sqlite.exec(spoil);
    const item = itemsEverReceived(deps.db).find((i) => i.dyeId === world.dyeIds[0]);
    if (!item) throw new Error('yellow was received');
    return { deps, proof: materialProof(deps.db, item, clock.now) };
  };

  test('of a whole record has nothing to say, and adds up', async () => {
    const { deps, proof } = await yellowOf();
    expect(proof).toMatchObject({
      paidMinor: 4_250,
      issuedMinor: 107,
      writtenOffMinor: 0,
      differenceMinor: 0,
      wrong: [],
    });
    expect(proof.inStockMinor).toBe(4_250 - 107);
    expect(proof.onBenchMinor).toBe(107);
    expect(stockContradictions(deps.db)).toEqual([]);
    const { total, materials } = await stockProof(deps.db, Number.MAX_SAFE_INTEGER);
    // 42.50 and 39.00 and 12.00; 1.07 and 0.66 and 0.10.
    expect([materials.length, total.paidMinor, total.issuedMinor, total.differenceMinor]).toEqual([3, 9_350, 183, 0]);
    expect(total.inStockMinor).toBe(9_350 - 183);
    expect([total.writtenOffMinor, total.roundingMinor]).toEqual([0, 0]);
    expect(total.onBenchMinor).toBe(materials.reduce((sum, m) => sum + m.onBenchMinor, 0));
  });
});
