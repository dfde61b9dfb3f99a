import { mkdirSync, readdirSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { answerAtBench } from '../../server/bench/answerAtBench.ts';
import { recordDeviation } from '../../server/bench/deviations.ts';
import { parkedWords } from '../../server/bench/parkedWay.ts';
import { recordEntry } from '../../server/bench/recordEntry.ts';
import { recordPlacement } from '../../server/bench/recordPlacement.ts';
import { recordStep, recordStepChange } from '../../server/bench/recordStep.ts';
import { recordVoice } from '../../server/bench/recordVoice.ts';
import { recordWeighing } from '../../server/bench/recordWeighing.ts';
import { takeWayOut } from '../../server/bench/takeWayOut.ts';
import { voidEntry } from '../../server/bench/voidEntry.ts';
import { confirmedNow, waysOut, weighUpOf } from '../../server/bench/waysOut.ts';
import type { WayOutKind } from '../../server/calc/weighing.ts';
import { abandonLot } from '../../server/lots/abandonLot.ts';
import { type Bench, type BenchLine, benchOf } from '../../server/lots/benchState.ts';
import { finishLot, type OutcomeInput } from '../../server/lots/finishLot.ts';
import { sentBefore } from '../../server/lots/occurrence.ts';
import { drawingWords, emptyDrawing } from '../../server/lots/placements.ts';
import { planLot } from '../../server/lots/planLot.ts';
import { insertEntry, labourOf, logOf } from '../../server/lots/queries.ts';
import type { Drawing } from '../../server/lots/schemas.ts';
import { insertPerson } from '../../server/people/queries.ts';
import type { Plan, PlanInput } from '../../server/plans/schemas.ts';
import { updateStudio } from '../../server/settings/queries.ts';
import { closeContainer, makeStockSolution, recallContainer, receiveContainer } from '../../server/stock/containers.ts';
import { addStockMoney } from '../../server/stock/money.ts';
import { storeVoice, voiceFile } from '../../server/voices/store.ts';
import { found, freshDeps, MONDAY } from '../support/app.ts';
import { outcomeInput, planInput, TEN_KILOS_RECEIVED } from '../support/lotInputs.ts';
import { calcError, refused } from '../support/refused.ts';
import { makeWorld } from '../support/world.ts';

/* What a studio would lose if one small thing at the bench or at the closing of a lot went wrong. 1.2 kg of linen at 2 %: 12.00 g blue
 * (B-1), 7.20 g yellow (Y-1), 4.80 g red, 1200 g salt, 360 g soda; 24 napkins, planned on Monday at nine. */

const MINUTE = 60_000;
const HOUR = 60 * MINUTE;

async function house(more: Partial<PlanInput> = {}) {
  const { deps, clock } = await freshDeps();
  const owner = found(deps);
  const w = makeWorld({ deps, owner });
  const planned = (of: Partial<PlanInput> = {}) => planLot(deps, planInput(w, of), owner);
  const lotId = planned(more).id;
  let ids = 0;
  const sent = () => ({ clientId: `tablet-${++ids}-0000`, at: clock.now });
  const bench = () => benchOf(deps.db, lotId, clock.now);
  const lineOf = (code: string): BenchLine => {
    const line = bench().lines.find((l) => l.component.code === code);
    if (!line) throw new Error(`no ${code}`);
    return line;
  };
  const jars: Record<string, number> = {
    RB: w.stock.blue.id,
    RY: w.stock.yellow.id,
    RR: w.stock.red.id,
    SODA: w.stock.soda.id,
    SALT: w.stock.salt.id,
  };
  const weigh = (code: string, amount: number, of: Partial<Parameters<typeof recordWeighing>[1]> = {}) =>
    recordWeighing(
      deps,
      {
        lotId,
        componentId: lineOf(code).component.id,
        stockLotId: jars[code] ?? 0,
        amount,
        confirmed: true,
        ...sent(),
        ...of,
      },
      owner,
    );
  const note = (text: string, of: Partial<Parameters<typeof recordEntry>[1]> = {}) =>
    recordEntry(deps, { lotId, kind: 'note', text, stepId: null, photoId: null, ...sent(), ...of }, owner);
  const step = (n: number, kind: 'stepStart' | 'stepEnd', of: Partial<{ at: number; lotId: number }> = {}) =>
    recordStep(deps, { lotId, stepId: bench().steps[n]?.stepId ?? 0, kind, ...sent(), ...of }, owner);
  const wayOut = (code: string, way: WayOutKind, stage: 'dry' | 'inBath' = 'dry', vessel: 'own' | 'shared' = 'own') => {
    const chosen = { componentId: lineOf(code).component.id, way, stage, vessel };
    const confirmed = confirmedNow(bench(), chosen) ?? null;
    return takeWayOut(deps, { lotId, ...chosen, confirmed, ...sent() }, owner);
  };
  const undo = (entryId: number, reason = 'misread', of: Partial<{ at: number }> = {}) =>
    voidEntry(deps, { entryId, reason, ...sent(), ...of }, owner);
  const finish = (of: Partial<OutcomeInput> = {}) => finishLot(deps, outcomeInput({ lotId, ...sent(), ...of }), owner);
  const all = (query: string, ...of: unknown[]) => deps.sqlite.prepare(query).all(...of) as Record<string, unknown>[];
  const onHand = (id: number) =>
    deps.sqlite.prepare('select sum(quantity) from stock_ledger where stock_lot_id = ?').pluck().get(id) as number;
  const hand = (name: string, labourRateMinorPerHour: number | null): number =>
    insertPerson(deps.db, {
      name,
      role: 'dyer',
      passphraseHash: null,
      labourRateMinorPerHour,
      active: 1,
      createdAt: MONDAY,
    }).id;
  const costs = (kind?: string) =>
    all('select * from cost_lines where lot_id = ? order by ordinal', lotId).filter((l) => !kind || l['kind'] === kind);
  return {
    deps,
    db: deps.db,
    clock,
    owner,
    w,
    lotId,
    planned,
    sent,
    bench,
    lineOf,
    jars,
    weigh,
    note,
    step,
    wayOut,
    undo,
    finish,
    all,
    onHand,
    hand,
    costs,
  };
}
const beside = (fields: Record<string, unknown>) => ({ code: 'invalidInput', said: fields });

describe('a reading is of what is in the cup', () => {
  test.each([0, -1, 1.5, Number.NaN, 2 ** 53])('%s mg is no reading', async (amount) => {
    const { weigh, bench } = await house();
    expect(refused(() => weigh('RB', amount))).toEqual(beside({ amount: 'The reading must be more than nothing.' }));
    expect(bench().lot.status).toBe('planned');
  });

  test('from a container of the line, in its unit, which nobody has recalled', async () => {
    const { weigh, jars, deps, owner, sent, lotId, clock, w } = await house();
    expect(refused(() => weigh('RB', 1_000, { stockLotId: jars['RY'] ?? 0 }))).toEqual(
      beside({ stockLotId: 'Choose a container of Tide blue.' }),
    );
    expect(refused(() => weigh('RB', 1_000, { stockLotId: 999 }))).toEqual(
      beside({ stockLotId: 'Choose a container of Tide blue.' }),
    );
    expect(refused(() => weigh('SALT', 1_000, { stockLotId: jars['SODA'] ?? 0 }))).toEqual(
      beside({ stockLotId: 'Choose a container of Salt.' }),
    );
    expect(refused(() => weigh('RB', 1_000, { unit: 'ul' }))).toEqual(
      beside({ amount: 'Container B-1 is weighed, in mg: the amount is in the other unit.' }),
    );
    weigh('RB', 1_000, { unit: 'mg' });
    expect(
      refused(() =>
        recordWeighing(deps, { lotId, componentId: 999, stockLotId: jars['RB'] ?? 0, amount: 1, ...sent() }, owner),
      ),
    ).toMatchObject({ code: 'notFound' });
    recallContainer(deps, { stockLotId: w.stock.blue.id, reason: 'damp' }, owner);
    clock.now += 1;
    expect(refused(() => weigh('RB', 1_000))).toEqual(beside({ stockLotId: 'Container B-1 is recalled: damp' }));
  });

  test('the log keeps what was read, from which jar and towards which target, and the jar is drawn down by it', async () => {
    const { weigh, lineOf, onHand, w, all, note, bench } = await house();
    note('begun');
    const entry = weigh('RB', 12_500);
    expect(JSON.parse(entry.valueJson)).toEqual({
      componentId: lineOf('RB').component.id,
      name: 'Tide blue',
      stockLotCode: 'B-1',
      massMg: 12_500,
      target: 12_000,
    });
    expect(all('select mass_mg, volume_ul, strength_ppm, conc_ppm, log_entry_id from weighings')).toEqual([
      { mass_mg: 12_500, volume_ul: null, strength_ppm: 1_000_000, conc_ppm: null, log_entry_id: entry.id },
    ]);
    expect(onHand(w.stock.blue.id)).toBe(487_500);
    expect(lineOf('RB')).toMatchObject({ actual: 12_500, state: 'over', unit: 'mg', planned: 12_000, step: 10 });
    expect(lineOf('RY')).toMatchObject({ actual: undefined, state: 'waiting', verdict: null });
    expect(bench()).toMatchObject({ dryMassMg: 1_200_000, tolerancePct: 2 });
  });

  test('what is measured is not weighed, and what is weighed is not poured', async () => {
    const { weigh, db, deps, owner, w, planned, clock, sent } = await house();
    const bottle = (id: number, code: string) =>
      receiveContainer(
        deps,
        { ...TEN_KILOS_RECEIVED, item: { kind: 'auxiliary', id }, code, quantity: 1_000_000, priceMinor: 500 },
        owner,
      );
    deps.sqlite.prepare("update auxiliaries set form = 'liquid' where code = 'SALT'").run();
    const brine = bottle(w.auxiliaryIds.salt, 'SA-2');
    expect(refused(() => weigh('SALT', 1_000, { stockLotId: brine.id }))).toEqual(
      beside({ stockLotId: 'Salt is weighed here.' }),
    );
    deps.sqlite
      .prepare("update method_auxiliaries set basis = 'fixedVolume', amount_milli = 50000 where ordinal = 1")
      .run();
    const other = planned();
    const salt = benchOf(db, other.id, clock.now).lines.find((l) => l.component.code === 'SALT');
    const pour = (stockLotId: number, amount: number, of: { unit?: 'mg' | 'ul' } = {}) =>
      recordWeighing(
        deps,
        {
          lotId: other.id,
          componentId: salt?.component.id ?? 0,
          stockLotId,
          amount,
          confirmed: true,
          ...sent(),
          ...of,
        },
        owner,
      );
    expect(refused(() => pour(w.stock.salt.id, 1_000))).toEqual(
      beside({ stockLotId: 'Salt is measured by volume here.' }),
    );
    expect(refused(() => pour(brine.id, 1_000, { unit: 'mg' }))).toEqual(
      beside({ amount: 'Container SA-2 is measured by volume, in µL: the amount is in the other unit.' }),
    );
    const entry = pour(brine.id, 50_000, { unit: 'ul' });
    expect(JSON.parse(entry.valueJson)).toMatchObject({ volumeUl: 50_000, target: 50_000 });
    expect(JSON.parse(entry.valueJson)).not.toHaveProperty('massMg');
    finishLot(deps, outcomeInput({ lotId: other.id, ...sent() }), owner);
    // 50 mL of a litre at 5.00.
    expect(
      deps.sqlite
        .prepare("select quantity, quantity_unit as unit, cost_minor as cost from cost_lines where kind = 'auxiliary'")
        .all(),
    ).toEqual([{ quantity: 50_000, unit: 'ul', cost: 25 }]);
  });

  test('too little to weigh is poured as solution, and powder of it counts for what it holds', async () => {
    const { weigh, lineOf, w, deps, owner } = await house({ mass: { found: 'weighedDry', massMg: 20_000 } });
    // 20 g at 2 %: 200 mg blue are 20 mL at 1 %.
    expect(lineOf('RB')).toMatchObject({ unit: 'ul', target: 20_000, step: 250 });
    weigh('RB', 150);
    expect(lineOf('RB')).toMatchObject({ actual: 15_000, state: 'under' });
    const made = makeStockSolution(
      deps,
      w.stock.blue.id,
      {
        concPpm: 10_000,
        massMg: 5_000,
        madeUpUl: null,
        wantedUl: null,
        code: 'S-1',
        madeOn: null,
        bestBeforeOn: undefined,
        note: '',
        clientId: null,
      },
      owner,
    );
    weigh('RB', 5_000, { stockLotId: made.id });
    expect(lineOf('RB')).toMatchObject({ actual: 20_000, state: 'within' });
  });

  test('one that is hard to believe is asked about, and booked once it is confirmed', async () => {
    const { weigh, onHand, w } = await house();
    const doubt = refused(() => weigh('RB', 120_000, { confirmed: undefined }));
    expect(doubt).toMatchObject({ code: 'needsConfirming' });
    expect(onHand(w.stock.blue.id)).toBe(500_000);
    weigh('RB', 120_000);
    expect(onHand(w.stock.blue.id)).toBe(380_000);
  });
});

describe('what is written down belongs to its lot and its step', () => {
  test('an entry says something, and no more than a page of it', async () => {
    const { note, bench } = await house();
    expect(refused(() => note('  '))).toEqual(beside({ text: 'Nothing was written.' }));
    expect(refused(() => note('x'.repeat(4_001)))).toEqual(beside({ text: 'At most 4000 characters.' }));
    expect(note(` ${'x'.repeat(4_000)} `).text).toHaveLength(4_000);
    expect(note('', { kind: 'field', value: { label: 'Pick-up', number: 80 } })).toMatchObject({
      text: '',
      valueJson: '{"label":"Pick-up","number":80}',
    });
    expect(bench().log.map((e) => e.kind)).toEqual(['start', 'note', 'field']);
  });

  test('a note and a photo reach a closed lot, a temperature does not', async () => {
    const { note, finish, clock } = await house();
    note('begun');
    clock.now += 10 * MINUTE;
    finish();
    clock.now += 1;
    expect(note('a fold shows')).toMatchObject({ kind: 'note', late: 0 });
    expect(refused(() => note('40 °C', { kind: 'temperature' }))).toMatchObject({
      code: 'lotFinished',
      said: 'Lot 26-0001 is finished; its record stands as it is.',
    });
  });

  test('a step is begun and ended once, in that order, and is of this lot', async () => {
    const { step, planned, deps, owner, sent, lotId, bench, clock } = await house();
    const other = planned();
    const stepId = benchOf(deps.db, other.id, clock.now).steps[0]?.stepId ?? 0;
    expect(refused(() => recordStep(deps, { lotId, stepId, kind: 'stepStart', ...sent() }, owner))).toMatchObject({
      code: 'notFound',
    });
    expect(refused(() => step(0, 'stepEnd'))).toMatchObject({ said: '“Soda soak” has not been started.' });
    step(0, 'stepStart');
    expect(refused(() => step(0, 'stepStart'))).toMatchObject({ said: '“Soda soak” is under way already.' });
    clock.now += 20 * MINUTE;
    const end = step(0, 'stepEnd');
    expect([end.text, end.stepId, end.valueJson]).toEqual(['Soda soak', bench().steps[0]?.stepId, '{}']);
    expect(refused(() => step(0, 'stepEnd'))).toMatchObject({ said: '“Soda soak” has ended already.' });
    expect(bench().steps[0]).toMatchObject({ state: 'done', startedAt: MONDAY, endedAt: MONDAY + 20 * MINUTE });
    expect(bench().steps[1]).toMatchObject({ state: 'waiting', startedAt: null, endedAt: null });
  });

  test('one tap ends a step and begins the next, or does neither', async () => {
    const { step, bench, deps, lotId, owner, sent, clock } = await house();
    step(0, 'stepStart');
    clock.now += 20 * MINUTE;
    const [one, two] = bench().steps.map((s) => s.stepId) as [number, number];
    const change = (of: { clientId?: string; thenStepId?: number } = {}) =>
      recordStepChange(deps, { lotId, stepId: one, thenStepId: two, ...sent(), ...of }, owner);
    expect(refused(() => change({ clientId: 'x'.repeat(60) }))).toEqual(
      beside({ clientId: 'An id for two entries has at most 59 characters.' }),
    );
    expect(refused(() => change({ thenStepId: 999 }))).toMatchObject({ code: 'notFound' });
    expect(bench().steps[0]?.state).toBe('running');
    const ended = change({ clientId: 'y'.repeat(59) });
    expect([ended.kind, ended.stepId]).toEqual(['stepEnd', one]);
    expect(bench().steps.map((s) => s.state)).toEqual(['done', 'running', 'waiting']);
    expect(change({ clientId: 'y'.repeat(59) }).id).toBe(ended.id);
    expect(bench().log.filter((e) => e.kind === 'stepStart')).toHaveLength(2);
  });

  test('a step that runs past its time is overdue, and the lot is ready when the last is', async () => {
    const { step, bench, clock } = await house();
    step(0, 'stepStart');
    clock.now += 21 * MINUTE;
    expect(bench().steps[0]).toMatchObject({ state: 'overdue', remainingS: -60, expectedEndAt: MONDAY + 21 * MINUTE });
    // 20 min of soak that have become 21, 50 min of dyeing, 6 h of batching.
    expect(bench().readyAt).toBe(MONDAY + (21 + 50 + 360) * MINUTE);
  });
});

describe('what was sent twice is one thing', () => {
  test('of an entry that an earlier version wrote, what can be compared is compared', async () => {
    const { db, lotId, owner, note, clock, bench } = await house();
    note('begun');
    const stepId = bench().steps[1]?.stepId ?? 0;
    let n = 0;
    const same = (
      kind: Parameters<typeof insertEntry>[1]['kind'],
      had: { text?: string; value?: object; refersToId?: number; stepId?: number },
      sent: object,
    ): string => {
      const clientId = `old-${++n}-000000`;
      const { value = {}, ...rest } = had;
      insertEntry(db, {
        lotId,
        clientId,
        kind,
        at: clock.now,
        recordedAt: clock.now,
        byPersonId: owner.personId,
        valueJson: JSON.stringify(value),
        ...rest,
      });
      const answer = refused(() => sentBefore(db, lotId, { clientId, at: clock.now, ...sent }, kind));
      return answer === 'let through' ? 'same' : answer.code;
    };
    expect(same('note', { text: 'folded' }, { text: ' folded ' })).toBe('same');
    expect(same('note', { text: 'folded' }, {})).toBe('same');
    expect(same('note', { text: 'folded' }, { text: 'unfolded' })).toBe('idReused');
    for (const kind of ['temperature', 'field', 'photo', 'voice', 'placement'] as const) {
      expect(same(kind, { text: '40' }, { text: '40' }), kind).toBe('same');
      expect(same(kind, { text: '40' }, { text: '41' }), kind).toBe('idReused');
    }
    expect(same('weighing', { value: { componentId: 1, massMg: 5 } }, { componentId: 1, amount: 5 })).toBe('same');
    expect(same('weighing', { value: { componentId: 1, volumeUl: 5 } }, { componentId: 1, amount: 5 })).toBe('same');
    expect(same('weighing', { value: { componentId: 1, massMg: 5 } }, { componentId: 1, amount: 6 })).toBe('idReused');
    expect(same('weighing', { value: { componentId: 1, massMg: 5 } }, { componentId: 2, amount: 5 })).toBe('idReused');
    const way = { componentId: 1, way: 'deeper', stage: 'dry', vessel: 'own' };
    expect(same('adjustment', { value: way }, way)).toBe('same');
    for (const other of [{ componentId: 2 }, { way: 'keepAsMade' }, { stage: 'inBath' }, { vessel: 'shared' }])
      expect(same('adjustment', { value: way }, { ...way, ...other }), JSON.stringify(other)).toBe('idReused');
    expect(same('voice', { value: { voiceId: 1 } }, { voiceId: 2 })).toBe('idReused');
    expect(same('placement', { value: { of: 'plan' } }, { of: 'cloth' })).toBe('idReused');
    expect(same('placement', { value: { drawing: { columns: 2 } } }, { drawing: { columns: 3 } })).toBe('idReused');
    expect(
      same('deviation', { value: { instead: 'placement', did: 'folded' } }, { instead: 'placement', did: 'folded' }),
    ).toBe('same');
    expect(
      same('deviation', { value: { instead: 'placement', did: 'folded' } }, { instead: 'placement', did: 'other' }),
    ).toBe('idReused');
    expect(
      same('deviation', { value: { instead: 'placement', did: 'folded' } }, { instead: 'time:1', did: 'folded' }),
    ).toBe('idReused');
    expect(same('abandon', { text: 'no water' }, { reason: 'no water' })).toBe('same');
    expect(same('abandon', { text: 'no water' }, { reason: 'no heat' })).toBe('idReused');
    const { id } = note('mistaken');
    expect(same('voiding', { text: 'misread', refersToId: id }, { reason: 'misread', entryId: id })).toBe('same');
    const again = note('mistaken too').id;
    expect(same('voiding', { text: 'misread', refersToId: again }, { reason: 'misread', entryId: id })).toBe(
      'idReused',
    );
    const third = note('mistaken again').id;
    expect(same('voiding', { text: 'misread', refersToId: third }, { reason: 'spilt', entryId: third })).toBe(
      'idReused',
    );
    // Of a step nothing was written that could differ.
    expect(same('stepStart', { text: 'Dye', stepId }, { stepId: stepId + 1 })).toBe('same');
  });

  test('but not where the id was used for another kind of thing, or in another lot', async () => {
    const { note, planned, deps, owner, lotId, step } = await house();
    const { clientId } = note('folded');
    const again = { kind: 'note', text: 'folded', stepId: null, photoId: null, clientId, at: MONDAY } as const;
    expect(recordEntry(deps, { lotId, ...again }, owner).text).toBe('folded');
    const reused = { code: 'idReused' };
    expect(refused(() => recordEntry(deps, { lotId, ...again, kind: 'temperature' }, owner))).toMatchObject(reused);
    expect(refused(() => recordEntry(deps, { lotId: planned().id, ...again }, owner))).toMatchObject(reused);
    expect(refused(() => step(0, 'stepStart', { at: MONDAY }))).toBe('let through');
  });
});

describe('a way out is what was chosen', () => {
  test('with every target that moves, and only those; undone they are as before', async () => {
    const h = await house();
    h.weigh('RB', 12_600);
    // 5 % too much: the others 5 % more.
    const chosen = h.wayOut('RB', 'deeper');
    expect(chosen.text).toBe(
      'Tide blue over-weighed: the other dyes of the colour × 1.050, a deeper shade of the same hue',
    );
    expect(JSON.parse(chosen.valueJson)).toEqual({
      componentId: h.lineOf('RB').component.id,
      way: 'deeper',
      stage: 'dry',
      vessel: 'own',
      goodsFactor: 1,
      depthFactor: 1.05,
    });
    const targets = () => h.bench().lines.map((l) => [l.component.code, l.target]);
    expect(targets()).toEqual([
      ['RB', 12_600],
      ['RY', 7_560],
      ['RR', 5_040],
      ['SALT', 1_200_000],
      ['SODA', 360_000],
    ]);
    expect(h.all('select way, factor_ppm, dry_mass_mg from lot_adjustments')).toEqual([
      { way: 'deeper', factor_ppm: 1_050_000, dry_mass_mg: 1_200_000 },
    ]);
    expect(h.all('select count(*) as n from lot_targets')).toEqual([{ n: 3 }]);
    h.undo(chosen.id);
    expect(targets().slice(0, 3)).toEqual([
      ['RB', 12_000],
      ['RY', 7_200],
      ['RR', 4_800],
    ]);
  });

  test.each([
    ['moreGoods', 'dry', 'Tide blue over-weighed: more goods, × 1.050, to 1260 g at the same depth'],
    ['weighAgain', 'dry', 'Tide blue over-weighed: discarded, to be weighed again'],
    ['addOthersToBath', 'inBath', 'Tide blue over-weighed and already in the bath: the other dyes added × 1.050'],
    ['keepAsMade', 'inBath', 'Tide blue over-weighed and kept as made: the hue moves'],
  ] as const)('%s is told in the log', async (way, stage, words) => {
    const h = await house();
    h.weigh('RB', 12_600);
    expect(h.wayOut('RB', way, stage).text).toBe(words);
  });

  test('a cup that others share is thrown away whole', async () => {
    const h = await house();
    h.weigh('RY', 7_200);
    h.weigh('RB', 12_600);
    const chosen = h.wayOut('RB', 'weighAgain', 'dry', 'shared');
    expect(chosen.text).toBe('Tide blue over-weighed: discarded with all in its cup, to be weighed again');
    expect(
      h
        .bench()
        .log.filter((e) => e.kind === 'discard')
        .map((e) => e.text),
    ).toEqual(['Discarded, to be weighed again', 'Discarded, to be weighed again']);
    expect(
      h
        .bench()
        .lines.slice(0, 2)
        .map((l) => l.actual),
    ).toEqual([undefined, undefined]);
    h.undo(chosen.id, 'kept it after all');
    expect(
      h
        .bench()
        .lines.slice(0, 2)
        .map((l) => l.actual),
    ).toEqual([12_600, 7_200]);
  });

  test.each([
    ['owg', 'goods'],
    ['gPerL', 'liquor'],
    ['mlPerL', 'liquor'],
    ['fixedMass', 'fixed'],
    ['fixedVolume', 'fixed'],
  ])('more goods want more of what goes by them: an auxiliary by %s goes by %s', async (basis, by) => {
    const h = await house();
    h.deps.sqlite.prepare('update method_auxiliaries set basis = ?, amount_milli = 2000 where ordinal = 1').run(basis);
    const lines = weighUpOf(benchOf(h.db, h.planned().id, h.clock.now)).lines;
    expect(lines.map((l) => l.scalesWith)).toEqual(['depth', 'depth', 'depth', by, 'liquor']);
    expect(lines.map((l) => l.plannedDepthPct)).toEqual([1, 0.6, 0.4, undefined, undefined]);
  });

  test('one that came without its figures, or after the closing, is written down and changes nothing', async () => {
    const h = await house();
    h.weigh('RB', 12_600);
    const chosen = { componentId: h.lineOf('RB').component.id, way: 'deeper', stage: 'dry', vessel: 'own' } as const;
    const late = h.clock.now + 1;
    const entry = takeWayOut(h.deps, { lotId: h.lotId, ...chosen, confirmed: null, ...h.sent() }, h.owner);
    expect(entry.text).toBe('Tide blue: ‘let it be deeper’ was not done: it was chosen on other figures');
    expect(JSON.parse(entry.valueJson)).toEqual({ ...chosen, parked: true, confirmed: null });
    expect(h.all('select kind, asks, log_entry_id, details_json from questions')).toEqual([
      {
        kind: 'wayOutParked',
        asks: 'bench',
        log_entry_id: entry.id,
        details_json: JSON.stringify({ componentId: chosen.componentId, entryId: entry.id }),
      },
    ]);
    expect(h.lineOf('RY').target).toBe(7_200);
    // Taken with the figures of now it is done, and the question is answered by that.
    const done = h.wayOut('RB', 'deeper');
    expect(h.all('select answer, answer_words from questions')).toEqual([
      { answer: 'chosenAgain', answer_words: done.text },
    ]);
    h.clock.now += HOUR;
    h.finish();
    h.clock.now += HOUR;
    const after = takeWayOut(
      h.deps,
      { lotId: h.lotId, ...chosen, way: 'keepAsMade', confirmed: null, ...h.sent(), at: late },
      h.owner,
    );
    expect([after.text, after.late]).toEqual([
      'Tide blue: ‘keep it as made’ was not done: it reached the record after the lot was closed',
      1,
    ]);
    expect(h.all('select count(*) as n from questions')).toEqual([{ n: 1 }]);
  });

  test('there is none of a line that is not over, and no line of another lot', async () => {
    const h = await house();
    h.weigh('RB', 12_000);
    expect(waysOut(h.bench(), h.lineOf('RB').component.id, 'dry')).toEqual([]);
    expect(refused(() => waysOut(h.bench(), 999, 'dry'))).toMatchObject({ code: 'notFound' });
    expect(
      refused(() =>
        takeWayOut(
          h.deps,
          {
            lotId: h.lotId,
            componentId: 999,
            way: 'deeper',
            stage: 'dry',
            vessel: 'own',
            confirmed: null,
            ...h.sent(),
          },
          h.owner,
        ),
      ),
    ).toMatchObject({ code: 'notFound' });
  });

  test('the newest is undone first, and says which stands in the way', async () => {
    const h = await house();
    h.weigh('RB', 12_600);
    const first = h.wayOut('RB', 'deeper');
    h.clock.now += 1;
    h.weigh('RY', 7_938);
    const second = h.wayOut('RY', 'deeper');
    expect(refused(() => h.undo(first.id))).toEqual({
      code: 'conflict',
      said: `A later choice was built upon this one. Undo that first: ${second.text}.`,
    });
    h.undo(second.id);
    expect(refused(() => h.undo(first.id))).toBe('let through');
  });

  test('a reading behind it that is voided asks the bench, which leaves the choice or undoes it', async () => {
    for (const answer of ['left', 'undone'] as const) {
      const h = await house();
      const reading = h.weigh('RB', 12_600);
      const chosen = h.wayOut('RB', 'deeper');
      h.undo(h.weigh('RY', 1_000).id);
      expect(h.all('select kind from questions')).toEqual([]);
      h.undo(reading.id);
      const [question] = h.all('select id, kind, asks, log_entry_id, words, details_json from questions');
      expect(question).toMatchObject({
        kind: 'wayOutCause',
        asks: 'bench',
        log_entry_id: reading.id,
        words: `The reading behind this choice has been voided: “${chosen.text}”. Undo the choice too? Goods and targets then go back to what they were.`,
        details_json: JSON.stringify({ entryId: chosen.id }),
      });
      const questionId = Number(question?.['id']);
      const say = (lotId: number) =>
        answerAtBench(h.deps, { lotId, questionId, answer, reason: 'as the reading', ...h.sent() }, h.owner);
      expect(refused(() => say(h.planned().id))).toMatchObject({ code: 'notFound' });
      say(h.lotId);
      say(h.lotId);
      expect(h.lineOf('RY').target).toBe(answer === 'left' ? 7_560 : 7_200);
      expect(h.all('select answer from questions')).toEqual([{ answer }]);
    }
  });
});

describe('a mistake is struck out, not forgotten', () => {
  test('with a reason, once, and of those kinds that can be mistaken', async () => {
    const h = await house();
    const entry = h.weigh('RB', 12_000);
    const start = h.bench().log.find((e) => e.kind === 'start');
    expect(refused(() => h.undo(entry.id, ' '))).toEqual(beside({ reason: 'Say why, for the log.' }));
    expect(refused(() => h.undo(999))).toMatchObject({ code: 'notFound' });
    expect(refused(() => h.undo(start?.id ?? 0))).toEqual({
      code: 'conflict',
      said: 'An entry of this kind cannot be voided.',
    });
    const voiding = h.undo(entry.id, ' wrong cup ');
    expect(voiding).toMatchObject({ kind: 'voiding', text: 'wrong cup', refersToId: entry.id });
    expect(h.onHand(h.w.stock.blue.id)).toBe(500_000);
    expect(refused(() => h.undo(entry.id))).toEqual({ code: 'conflict', said: 'That entry is voided already.' });
    expect(refused(() => h.undo(voiding.id))).toMatchObject({ said: 'An entry of this kind cannot be voided.' });
    expect(h.lineOf('RB')).toMatchObject({ actual: undefined, state: 'waiting' });
  });

  test.each(['note', 'temperature', 'field', 'photo'] as const)('a %s can be', async (kind) => {
    const h = await house();
    expect(h.undo(h.note('x', { kind }).id).kind).toBe('voiding');
  });

  test('a step is taken back from its end', async () => {
    const h = await house();
    const begun = h.step(0, 'stepStart');
    const ended = h.step(0, 'stepEnd');
    expect(refused(() => h.undo(begun.id))).toEqual({ code: 'conflict', said: 'Void the end of the step first.' });
    h.undo(ended.id);
    h.undo(begun.id);
    expect(h.bench().steps[0]?.state).toBe('waiting');
  });
});

describe('a lot is closed by what came of it', () => {
  test('pieces, seconds and steps are asked about where they do not fit', async () => {
    const h = await house();
    h.note('begun');
    expect(refused(() => h.finish({ firstQuality: 0 }))).toEqual(
      beside({ firstQuality: 'How many pieces came out, and how good?' }),
    );
    expect(refused(() => h.finish({ secondsValueMinor: 1 }))).toEqual(
      beside({ secondsValue: 'There are no seconds that could bring it. How many are seconds?' }),
    );
    for (const counts of [{ firstQuality: 23 }, { firstQuality: 20, seconds: 1, rework: 1, scrap: 1 }])
      expect(refused(() => h.finish(counts))).toEqual(
        beside({
          note: '24 pieces were planned and these add to 23. Correct the counts, or say here what happened to the rest.',
        }),
      );
    h.step(0, 'stepStart');
    expect(refused(() => h.finish())).toEqual(beside({ '': '“Soda soak” is still running. End it first.' }));
    h.clock.now += HOUR;
    expect(refused(() => h.finish())).toEqual(beside({ '': '“Soda soak” is still running. End it first.' }));
    h.step(0, 'stepEnd');
    expect(refused(() => h.finish({ unweighedConfirmed: false }))).toEqual(
      beside({
        unweighedConfirmed:
          'No reading of Tide blue, Gorse yellow, Hip red, Salt, Soda ash. Weigh it, or tick that the lot was dyed without a record of it.',
      }),
    );
    const done = h.finish({
      firstQuality: 20,
      seconds: 1,
      rework: 1,
      scrap: 1,
      secondsValueMinor: 250,
      note: ' one is lost ',
      doDifferently: ' more salt ',
    });
    expect(done).toMatchObject({ status: 'finished', finishedAt: MONDAY + HOUR });
    expect(h.all('select * from lot_outcomes')).toEqual([
      {
        lot_id: h.lotId,
        first_quality: 20,
        seconds: 1,
        rework: 1,
        scrap: 1,
        seconds_value_minor: 250,
        note: 'one is lost',
        do_differently: 'more salt',
        judged_at: MONDAY + HOUR,
        judged_by: h.owner.personId,
      },
    ]);
    expect(logOf(h.db, h.lotId).at(-1)).toMatchObject({
      kind: 'finish',
      text: '20 first quality, 1 seconds, 1 rework, 1 scrap',
    });
  });

  test('sent again it is closed once, and a lot whose every line was weighed is asked nothing', async () => {
    const h = await house();
    for (const [code, amount] of [
      ['RB', 12_000],
      ['RY', 7_200],
      ['RR', 4_800],
      ['SALT', 1_200_000],
    ] as const)
      h.weigh(code, amount);
    const sent = { clientId: 'finish-000001', at: h.clock.now, unweighedConfirmed: false, firstQuality: 24 };
    expect(refused(() => h.finish(sent))).toEqual(
      beside({ unweighedConfirmed: expect.stringMatching(/^No reading of Soda ash\./) }),
    );
    h.weigh('SODA', 360_000);
    // Blanks are no word about what happened to the rest.
    expect(refused(() => h.finish({ ...sent, firstQuality: 23, note: ' ' }))).toEqual(
      beside({ note: expect.any(String) }),
    );
    expect(h.finish(sent).status).toBe('finished');
    expect(h.finish(sent).finishedAt).toBe(MONDAY);
    expect(refused(() => h.finish({ ...sent, firstQuality: 23 }))).toMatchObject({ code: 'idReused' });
    expect(h.all('select count(*) as n from lot_outcomes')).toEqual([{ n: 1 }]);
  });

  test('a lot that was given up pays for its powder, not for goods or from a roll', async () => {
    const h = await house();
    h.weigh('RB', 12_000);
    abandonLot(h.deps, { lotId: h.lotId, reason: 'no heat', ...h.sent() }, h.owner);
    expect(h.costs().map((c) => [c['kind'], c['cost_minor']])).toEqual([['dye', 96]]);
  });

  test('of a lot whose pieces nobody counted any number is right; one on which nothing happened is not finished', async () => {
    const h = await house({ pieces: null });
    expect(refused(() => h.finish({ firstQuality: 7 }))).toMatchObject({ code: 'conflict' });
    h.note('begun');
    expect(h.finish({ firstQuality: 7 }).status).toBe('finished');
    expect(refused(() => h.finish({ firstQuality: 7 }))).toMatchObject({ code: 'lotFinished' });
  });

  test('a lot that was given up says why, and may never have been begun', async () => {
    const h = await house();
    const abandon = (reason: string, of: Partial<{ clientId: string; at: number }> = {}) =>
      abandonLot(h.deps, { lotId: h.lotId, reason, ...h.sent(), ...of }, h.owner);
    expect(refused(() => abandon(' '))).toEqual(beside({ reason: 'Say why, for the log.' }));
    h.clock.now += HOUR;
    // Clocks of two devices may differ by ten minutes.
    expect(calcError(() => abandon('no water', { at: MONDAY - 10 * MINUTE - 1 }))).toEqual({
      field: 'at',
      words: 'That is before work on the lot began: look at the day, or at the device’s clock.',
    });
    const given = { clientId: 'given-up-0001', at: MONDAY - 10 * MINUTE };
    expect(abandon(' no water ', given)).toMatchObject({ status: 'abandoned', finishedAt: MONDAY - 10 * MINUTE });
    expect(abandon(' no water ', given).status).toBe('abandoned');
    expect(logOf(h.db, h.lotId).at(-1)).toMatchObject({ kind: 'abandon', text: 'no water' });
    expect(refused(() => abandon('again'))).toMatchObject({ code: 'lotFinished' });
    expect(h.costs()).toEqual([]);
  });

  test('hands are paid by the hour at their own rate or the studio’s, for a step or the whole lot', async () => {
    const h = await house({ goodsOwner: 'customer' });
    h.note('begun');
    const [rui, ana] = [h.hand('Rui', 3_000), h.hand('Ana', null)];
    const stepId = h.bench().steps[1]?.stepId ?? 0;
    const unknown = { code: 'notFound' };
    expect(refused(() => h.finish({ labour: [{ stepId: null, personId: 999, durationS: 60 }] }))).toMatchObject(
      unknown,
    );
    expect(refused(() => h.finish({ labour: [{ stepId: 999, personId: rui, durationS: 60 }] }))).toMatchObject(unknown);
    h.finish({
      labour: [
        { stepId, personId: rui, durationS: 3_600 },
        { stepId: null, personId: ana, durationS: 1_800 },
        { stepId: null, personId: 999, durationS: 0 },
      ],
    });
    expect(labourOf(h.db, h.lotId).map((l) => [l.personName, l.stepName, l.durationS, l.rateMinorPerHour])).toEqual([
      ['Rui', 'Dye', 3_600, 3_000],
      ['Ana', null, 1_800, 2_400],
    ]);
    expect(
      h
        .bench()
        .log.filter((e) => e.kind === 'labour')
        .map((e) => [e.text, e.valueJson]),
    ).toEqual([
      ['Rui: Dye', '{"durationS":3600}'],
      ['Ana: the whole lot', '{"durationS":1800}'],
    ]);
    // 1 h at 30.00, half an hour at 24.00, and an hour and a half of overhead at 9.00.
    expect(
      h
        .costs()
        .map((c) => [c['ordinal'], c['kind'], c['description'], c['quantity'], c['quantity_unit'], c['cost_minor']]),
    ).toEqual([
      [1, 'labour', 'Rui, Dye', 3_600, 's', 3_000],
      [2, 'labour', 'Ana, the whole lot', 1_800, 's', 1_200],
      [3, 'overhead', 'Overhead by labour hours', 5_400, 's', 1_350],
    ]);
  });

  test('without an overhead rate there is none', async () => {
    const h = await house({ goodsOwner: 'customer' });
    updateStudio(h.db, { overheadRateMinorPerHour: 0 }, 2);
    h.note('begun');
    h.finish({ labour: [{ stepId: null, personId: h.owner.personId, durationS: 3_600 }] });
    expect(h.costs().map((c) => c['kind'])).toEqual(['labour']);
  });

  test('each jar that was drawn from is a line of its own, what was thrown away apart from what was used', async () => {
    const h = await house();
    const second = receiveContainer(
      h.deps,
      {
        ...TEN_KILOS_RECEIVED,
        item: { kind: 'dye', id: h.w.dyeIds.blue },
        code: 'B-2',
        quantity: 100_000,
        priceMinor: 2_000,
      },
      h.owner,
    );
    h.weigh('RB', 12_600);
    h.wayOut('RB', 'weighAgain');
    h.clock.now += 1;
    h.weigh('RB', 5_000);
    h.weigh('RB', 2_000);
    h.weigh('RB', 5_000, { stockLotId: second.id });
    h.undo(h.weigh('RY', 7_200).id);
    h.finish();
    // 8.00 a kilogram of B-1, so 0.008 a gram in cents: 12.6 g 1.008, 7 g 0.56; B-2 at 20.00 for 100 g: 5 g 1.00; linen at 26.00.
    expect(
      h
        .costs()
        .map((c) => [
          c['kind'],
          c['description'],
          c['quantity'],
          c['wasted'],
          c['cost_minor'],
          c['valuation'],
          c['stock_lot_id'],
        ]),
    ).toEqual([
      ['dye', 'RB Tide blue, container B-1, discarded', 12_600, 1, 101, 'specific', h.w.stock.blue.id],
      ['dye', 'RB Tide blue, container B-1', 7_000, 0, 56, 'specific', h.w.stock.blue.id],
      ['dye', 'RB Tide blue, container B-2', 5_000, 0, 100, 'specific', second.id],
      ['goods', 'Linen, plain: 24 napkins', 1_200_000, 0, 3_120, null, null],
    ]);
    expect(h.costs('dye')[0]).toMatchObject({
      dye_id: h.w.dyeIds.blue,
      auxiliary_id: null,
      quantity_unit: 'mg',
      written_at: h.clock.now,
    });
  });

  test('with the bills that came for a container before the closing', async () => {
    const h = await house({ goodsOwner: 'customer' });
    const bill = { kind: 'bill', on: null, reason: 'bill 17', clientId: null } as const;
    addStockMoney(h.deps, { ...bill, stockLotId: h.w.stock.blue.id, amountMinor: 500 }, h.owner);
    h.weigh('RB', 12_000);
    h.finish();
    // 12 g of 500 g at 45.00.
    expect(h.costs().map((c) => c['cost_minor'])).toEqual([108]);
  });

  test('at the moving average of the day of the closing, where the studio values its stock so', async () => {
    const h = await house({ goodsOwner: 'customer' });
    const { salt } = h.w.auxiliaryIds;
    const second = receiveContainer(
      h.deps,
      { ...TEN_KILOS_RECEIVED, item: { kind: 'auxiliary', id: salt }, code: 'SA-2', priceMinor: 3_000 },
      h.owner,
    );
    updateStudio(h.db, { costing: 'movingAverage' }, 2);
    h.weigh('SALT', 1_200_000);
    h.finish();
    // 10 kg at 10.00 and 10 kg at 30.00 are 2.00 a kilogram, whichever is opened.
    expect(second.code).toBe('SA-2');
    expect(h.costs().map((c) => [c['cost_minor'], c['valuation'], c['auxiliary_id']])).toEqual([
      [240, 'movingAverage', salt],
    ]);
  });

  test('a closing that lies before weighings which came meanwhile asks about them, unless it was our clock', async () => {
    for (const isSetBack of [false, true]) {
      const h = await house({ goodsOwner: 'customer' });
      h.note('begun');
      h.clock.now += 2 * HOUR;
      const reading = h.weigh('RB', 12_000);
      h.undo(h.weigh('RY', 7_200).id);
      if (isSetBack) h.clock.now -= HOUR;
      h.finish({ at: MONDAY + 30 * MINUTE });
      const questions = h.all(
        'select kind, asks, lot_id, stock_lot_id, log_entry_id, words, details_json from questions',
      );
      if (isSetBack) expect(questions).toEqual([]);
      else
        expect(questions).toEqual([
          {
            kind: 'lateWeighing',
            asks: 'owner',
            lot_id: h.lotId,
            stock_lot_id: h.w.stock.blue.id,
            log_entry_id: reading.id,
            words:
              'Inês weighed 12 g of Tide blue from B-1 on 16 Mar 2026, 11:00, after lot 26-0001 had been closed on 16 Mar 2026, 09:30. Stock and the cost of the lot count it already. Was it weighed into this lot?',
            details_json: '{"amount":12000,"unit":"mg"}',
          },
        ]);
    }
  });

  test('a roll is drawn by what was dyed: not by a lot that was given up, and at no cost where it is the customer’s', async () => {
    for (const [goodsOwner, isGivenUp, left, costs] of [
      ['studio', false, 8_800_000, ['goods']],
      ['studio', true, 10_000_000, []],
      ['customer', false, 8_800_000, []],
    ] as const) {
      const h = await house();
      const roll = receiveContainer(
        h.deps,
        { ...TEN_KILOS_RECEIVED, item: { kind: 'fibre', id: h.w.linenId }, code: 'ROLL-1' },
        h.owner,
      );
      const { id: lotId } = h.planned({ goodsStockLotId: roll.id, goodsOwner });
      h.note('cut', { lotId });
      if (isGivenUp) abandonLot(h.deps, { lotId, reason: 'no heat', ...h.sent() }, h.owner);
      else h.finish({ lotId });
      expect([h.onHand(roll.id), h.all('select kind from cost_lines').map((c) => c['kind'])]).toEqual([left, costs]);
    }
  });

  test('goods leave their roll at the closing, or before it was closed as empty', async () => {
    const { deps, owner, w, planned, clock, sent, all } = await house();
    const roll = receiveContainer(
      deps,
      {
        ...TEN_KILOS_RECEIVED,
        item: { kind: 'fibre', id: w.linenId },
        code: 'ROLL-1',
        quantity: 1_200_000,
        priceMinor: 3_600,
      },
      owner,
    );
    const lot = planned({ goodsStockLotId: roll.id });
    recordEntry(deps, { lotId: lot.id, kind: 'note', text: 'cut', stepId: null, photoId: null, ...sent() }, owner);
    clock.now += HOUR;
    closeContainer(deps, { stockLotId: roll.id, how: 'empty', reason: '' } as never, owner);
    const closedAt = clock.now;
    clock.now += HOUR;
    finishLot(deps, outcomeInput({ lotId: lot.id, ...sent() }), owner);
    const moved = all(
      "select quantity, at, reason from stock_ledger where stock_lot_id = ? and kind = 'issue'",
      roll.id,
    );
    expect(moved).toEqual([{ quantity: -1_200_000, at: closedAt - 1, reason: 'goods of the lot' }]);
    expect(all('select kind, cost_minor, valuation, stock_lot_id from cost_lines where lot_id = ?', lot.id)).toEqual([
      { kind: 'goods', cost_minor: 3_600, valuation: 'specific', stock_lot_id: roll.id },
    ]);
  });
});

describe('what was done otherwise than planned', () => {
  test('is told beside what the plan said, in the units of the studio', async () => {
    const h = await house();
    const dye = h.bench().steps[1]?.stepId ?? 0;
    const soda = h.lineOf('SODA').component.id;
    type Did = Parameters<typeof recordDeviation>[1]['did'];
    const deviate = (instead: string, did: Did, text = '', stepId: number | null = null) =>
      recordDeviation(h.deps, { lotId: h.lotId, instead, did, text, stepId, ...h.sent() }, h.owner);
    expect(deviate(`time:${dye}`, 'longer').text).toBe('instead of Dye, 50 min: longer');
    expect(deviate(`temp:${dye}`, 'hotter', ' by far ').text).toBe('instead of Dye, 40 °C: hotter, by far');
    expect(deviate(`line:${soda}`, 'less').text).toMatch(/^instead of Soda ash, 360(\.0)? g: less of it$/);
    expect(deviate(`line:${soda}`, 'skipped').text).toMatch(/: skipped it$/);
    const placed = deviate('placement', 'other', 'crumpled', dye);
    expect([placed.text, placed.stepId]).toEqual(['instead of Placement: crumpled', dye]);
    expect(JSON.parse(deviate(`time:${dye}`, 'shorter').valueJson)).toEqual({
      instead: `time:${dye}`,
      planned: '50 min',
      did: 'shorter',
    });
    // The soak has no temperature of its own.
    expect(refused(() => deviate(`temp:${h.bench().steps[0]?.stepId}`, 'hotter'))).toEqual(
      beside({ instead: 'Choose what of the plan it was instead of.' }),
    );
    expect(refused(() => deviate('placement', 'longer'))).toEqual(
      beside({ did: '“longer” does not go with Placement.' }),
    );
    expect(refused(() => deviate('placement', 'other', ' '))).toEqual(beside({ text: 'Say what you did instead.' }));
    expect(refused(() => deviate('placement', 'folded', 'x'.repeat(1_001)))).toEqual(
      beside({ text: 'At most 1000 characters.' }),
    );
    expect(deviate('placement', 'folded', 'x'.repeat(1_000)).text).toContain('folded another way, x');
    updateStudio(h.db, { units: 'us' }, 2);
    // 40 °C = 104 °F; 360 g by 28.349523125 g an ounce are 12.69863.
    expect(deviate(`temp:${dye}`, 'cooler').text).toBe('instead of Dye, 104 °F: cooler');
    expect(deviate(`line:${soda}`, 'more').text).toMatch(/^instead of Soda ash, 12\.69863 oz: more of it$/);
  });
});

describe('how the goods lie', () => {
  const drawing = (more: Partial<Drawing> = {}): Drawing => ({
    columns: 2,
    rows: 5,
    cells: [1, 1, 1, 2, 2, 0, 0, 0, 0, 0],
    ice: [],
    clamps: [],
    lines: [],
    ...more,
  });
  const fold = { kind: 'fold', x1: 0, y1: 0, x2: 1, y2: 1 } as const;

  test.each([
    [drawing(), '1 Kelp on 30 %, 2 Sloe on 20 %, bare 50 %'],
    [drawing({ cells: Array(10).fill(2) }), '2 Sloe on 100 %'],
    [drawing({ cells: Array(10).fill(0) }), 'nothing drawn'],
    [
      drawing({ cells: Array(10).fill(0), ice: [1, 2, 3], clamps: [0], lines: [fold, { ...fold, kind: 'binding' }] }),
      '1 fold, 1 binding, 1 clamp or block, ice on 30 %',
    ],
    [
      drawing({
        cells: Array(10).fill(0),
        clamps: [0, 1],
        lines: [fold, fold, { ...fold, kind: 'binding' }, { ...fold, kind: 'binding' }],
      }),
      '2 folds, 2 bindings, 2 clamps or blocks',
    ],
  ])('is said in words: %#', (d, words) => {
    expect(drawingWords(d, ['Kelp', 'Sloe'])).toBe(words);
  });

  test.each([
    // 8 columns wide; 2000 by 1400 mm are 11.4 rows, a runner at most 24 and a band at least 4.
    [{ found: 'fromArea', lengthMm: 2_000, widthMm: 1_400, pieces: 1 }, null, 11],
    [{ found: 'fromArea', lengthMm: 2_000, widthMm: null, pieces: 1 }, 1_000, 16],
    [{ found: 'fromArea', lengthMm: 2_000, widthMm: null, pieces: 1 }, null, 8],
    [{ found: 'fromArea', lengthMm: 9_000, widthMm: 1_400, pieces: 1 }, null, 24],
    [{ found: 'fromArea', lengthMm: 100, widthMm: 1_400, pieces: 1 }, null, 4],
    [{ found: 'weighedDry', massMg: 1 }, 1_400, 8],
  ] as const)('an empty grid has the shape of the goods: %#', (massFound, fibreWidthMm, rows) => {
    const empty = emptyDrawing({ massFound } as unknown as Plan, fibreWidthMm);
    expect([empty.columns, empty.rows, empty.cells.length]).toEqual([8, rows, 8 * rows]);
    expect(new Set(empty.cells)).toEqual(new Set([0]));
    expect([...empty.ice, ...empty.clamps, ...empty.lines]).toEqual([]);
  });

  test('is drawn or said, in colours that the lot has, before work as meant and afterwards as it is', async () => {
    const h = await house();
    const place = (of: 'plan' | 'cloth', d: Drawing, text = '', more: Partial<{ clientId: string; at: number }> = {}) =>
      recordPlacement(h.deps, { lotId: h.lotId, of, drawing: d, text, stepId: null, ...h.sent(), ...more }, h.owner);
    const blank = drawing({ cells: Array(10).fill(0) });
    const one = drawing({ cells: [1, ...Array(9).fill(0)] });
    expect(refused(() => place('plan', blank, ' '))).toEqual(beside({ drawing: 'Nothing is drawn or said yet.' }));
    expect(refused(() => place('plan', drawing()))).toEqual(beside({ drawing: 'This lot has 1 colour.' }));
    expect(refused(() => place('plan', one, 'x'.repeat(1_001)))).toEqual(beside({ text: 'At most 1000 characters.' }));
    for (const some of [{ ice: [0] }, { clamps: [0] }, { lines: [fold] }])
      expect(place('plan', drawing({ cells: Array(10).fill(0), ...some })).kind).toBe('placement');
    const first = place('plan', one, ' as said ', { clientId: 'plan-000001' });
    expect([first.text, first.stepId]).toEqual(['as said', null]);
    expect(place('plan', one, ' as said ', { clientId: 'plan-000001' }).id).toBe(first.id);
    expect(h.bench().lot.status).toBe('planned');
    place('cloth', blank, 'x'.repeat(1_000));
    expect(h.bench().lot.status).toBe('onBench');
    expect(refused(() => place('plan', one))).toEqual({
      code: 'conflict',
      said: 'Work on the lot has begun: draw how it lies now. The plan stays as it was.',
    });
    expect(
      refused(() =>
        recordPlacement(h.deps, { lotId: 999, of: 'plan', drawing: one, text: '', stepId: null, ...h.sent() }, h.owner),
      ),
    ).toMatchObject({ code: 'notFound' });
  });
});

describe('a parked choice is told so that it can be made again', () => {
  type Words = Parameters<typeof parkedWords>[0];
  const line = (more: Partial<BenchLine> & { id?: number; name?: string } = {}): BenchLine =>
    ({
      component: { id: more.id ?? 1, name: more.name ?? 'Tide blue' },
      unit: 'mg',
      step: 10,
      target: 12_000,
      actual: 12_600,
      weighings: [],
      ...more,
    }) as unknown as BenchLine;
  const weighing = (personName: string, massMg: number, more: object = {}) =>
    ({ personName, massMg, volumeUl: null, voided: false, discarded: false, ...more }) as never;
  const ask = (of: {
    over?: BenchLine;
    others?: BenchLine[];
    way?: Words['way'];
    offered?: boolean;
    seen?: { lineId: string; target: number; actual: number | null }[] | null;
    goods?: number;
    factors?: [number, number];
  }): string => {
    const over = of.over ?? line();
    const { seen = [{ lineId: '1', target: 12_000, actual: 12_600 }] } = of;
    return parkedWords({
      bench: { lines: [over, ...(of.others ?? [])], dryMassMg: 1_200_000 } as unknown as Bench,
      over,
      way: of.way ?? 'deeper',
      offered: (of.offered === false ? undefined : {}) as Words['offered'],
      confirmed:
        seen === null
          ? null
          : ({
              goodsDryMassMg: of.goods ?? 1_200_000,
              lines: seen,
              goodsFactor: of.factors?.[0] ?? 1,
              depthFactor: of.factors?.[1] ?? 1.05,
            } as never),
      by: { personId: 1, name: 'Rui', role: 'dyer' },
      countOf: (w) => w.massMg ?? w.volumeUl ?? 0,
    });
  };
  const again = 'Nothing has been changed. Choose again?';

  test.each([
    ['moreGoods', [1.05, 1], '‘dye more goods’ (× 1.050)'],
    ['deeper', [1, 1.05], '‘let it be deeper’ (× 1.050)'],
    ['weighAgain', [1, 1], '‘discard and weigh again’'],
    ['addOthersToBath', [1, 1.1], '‘add the others to the bath’ (× 1.100)'],
    ['keepAsMade', [1, 1], '‘keep it as made’'],
  ] as const)('by its name: %s', (way, factors, words) => {
    expect(ask({ way, factors: [...factors] })).toContain(`Rui chose ${words} when Tide blue stood at 12.60 g.`);
  });

  test('on an older page there were no figures', () => {
    expect(ask({ seen: null })).toBe(
      `Rui chose ‘let it be deeper’ for Tide blue without the figures it was chosen on: the page was an older one. Tide blue stands at 12.60 g now. ${again}`,
    );
    expect(ask({ seen: null, over: line({ actual: undefined }) })).toContain('stands at nothing in its cup now');
  });

  test('somebody else has weighed, whose reading it was, or a reading has gone', () => {
    const seen = [{ lineId: '1', target: 12_000, actual: 12_600 }];
    const begin = 'Rui chose ‘let it be deeper’ (× 1.050) when Tide blue stood at 12.60 g.';
    const mine = weighing('Rui', 12_600);
    const hers = weighing('Ana', 400);
    expect(ask({ seen, over: line({ actual: 13_000, weighings: [mine, hers] }) })).toBe(
      `${begin} It stands at 13.00 g now, since Ana has weighed 0.4 g too. ${again}`,
    );
    // A late reading of one's own stands after what another sent.
    expect(ask({ seen, over: line({ actual: 13_000, weighings: [hers, mine] }) })).toContain('since Ana has weighed');
    expect(ask({ seen, over: line({ actual: 13_000, weighings: [mine, weighing('Rui', 400)] }) })).toContain(
      'since Rui has weighed',
    );
    const two = [mine, weighing('Ana', 150), weighing('Leo', 250)];
    expect(ask({ seen, over: line({ actual: 13_000, weighings: two }) })).toMatch(
      /since Ana has weighed .* too and Leo has weighed .* too\. Nothing/,
    );
    // None of them adds up to what was not seen.
    expect(ask({ seen, over: line({ actual: 13_000, weighings: [mine, weighing('Ana', 300)] }) })).toBe(
      `${begin} It stands at 13.00 g now. ${again}`,
    );
    for (const gone of [{ voided: true }, { discarded: true }])
      expect(ask({ seen, over: line({ actual: 13_000, weighings: [mine, weighing('Ana', 400, gone)] }) })).toBe(
        `${begin} It stands at 13.00 g now. ${again}`,
      );
    expect(ask({ seen, over: line({ actual: 12_000 }) })).toBe(
      `${begin} It stands at 12.00 g now, since a reading was voided or discarded. ${again}`,
    );
    expect(
      ask({ seen: [{ lineId: '1', target: 12_000, actual: null }], over: line({ actual: 400, weighings: [hers] }) }),
    ).toContain('stood at nothing in its cup. It stands at 0.40 g now, since Ana');
    expect(ask({ seen, over: line({ actual: undefined }) })).toContain(
      'stands at nothing in its cup now, since a reading',
    );
    const poured = [weighing('Ana', 0, { massMg: null, volumeUl: 400_000 })];
    expect(
      ask({
        seen: [{ lineId: '1', target: 12_000, actual: null }],
        over: line({ unit: 'ul', actual: 400_000, step: 1_000, weighings: poured }),
      }),
    ).toMatch(/It stands at 400 mL now, since Ana has weighed 400(\.0)? mL too/);
  });

  test('another target, other goods, another line, or other figures', () => {
    expect(ask({ seen: [{ lineId: '1', target: 11_000, actual: 12_600 }] })).toContain(
      '11.00 g of it was wanted then; 12.00 g is wanted now, since another choice has been made meanwhile.',
    );
    expect(ask({ goods: 1_000_000 })).toMatch(/The goods were 1(\.00+)? kg then and are 1\.20* kg now\./);
    const red = line({ id: 2, name: 'Hip red', target: 4_800, actual: undefined });
    const seen = (target: number, actual: number | null) => [
      { lineId: '1', target: 12_000, actual: 12_600 },
      { lineId: '2', target, actual },
    ];
    const changed = 'Hip red has changed since: nothing in its cup, 4.80 g wanted.';
    expect(ask({ others: [red], seen: seen(5_000, null) })).toContain(changed);
    expect(ask({ others: [red], seen: seen(4_800, 1_000) })).toContain(changed);
    expect(ask({ others: [{ ...red, actual: 4_000 }], seen: seen(4_800, null) })).toContain(
      'Hip red has changed since: 4.00 g in the cup, 4.80 g wanted.',
    );
    const otherwise = `It would make other targets of the lines now than were shown then. ${again}`;
    expect(ask({ others: [red], seen: seen(4_800, null) })).toContain(otherwise);
    expect(ask({ others: [red], seen: seen(5_000, null), offered: false })).toContain(otherwise);
  });

  test('in as many figures as the scale shows', () => {
    for (const [step, words] of [
      [1, '12.600 g'],
      [10, '12.60 g'],
      [100, '12.6 g'],
      [1_000, '13 g'],
      [250, '12.6 g'],
    ] as const)
      expect(ask({ over: line({ step }) }), String(step)).toContain(`stood at ${words}.`);
  });
});

describe('a recording is kept as it came', () => {
  const ogg = Buffer.concat([Buffer.from('OggS'), Buffer.alloc(60)]);
  test('under its own sum, whole, once; its length as the recorder said, as far as that can be', async () => {
    const h = await house();
    const keep = (content: Buffer, durationMs: number | null = null) =>
      storeVoice(h.deps, { content, durationMs }, h.owner);
    const row = await keep(ogg, 1_234.4);
    expect(row).toMatchObject({
      mediaType: 'audio/ogg',
      byteSize: 64,
      durationMs: 1_234,
      storedAt: MONDAY,
      storedBy: h.owner.personId,
    });
    const file = voiceFile(h.deps.config.dataDir, row);
    expect(file).toBe(join(h.deps.config.dataDir, 'voices', row.sha256.slice(0, 2), `${row.sha256}.ogg`));
    expect(statSync(file).size).toBe(64);
    // A file that was cut short is written anew; the row is the same.
    writeFileSync(file, 'Ogg');
    expect((await keep(ogg)).id).toBe(row.id);
    expect(statSync(file).size).toBe(64);
    expect(readdirSync(dirname(file))).toEqual([`${row.sha256}.ogg`]);
    const other = Buffer.concat([ogg, Buffer.from('x')]);
    expect((await keep(other, 0)).durationMs).toBeNull();
  });

  test('or not at all: what cannot be written leaves no half of it', async () => {
    const h = await house();
    const row = await storeVoice(h.deps, { content: ogg, durationMs: null }, h.owner);
    const file = voiceFile(h.deps.config.dataDir, row);
    rmSync(file);
    // A folder stands where the file belongs.
    mkdirSync(join(file, 'in the way'), { recursive: true });
    await expect(storeVoice(h.deps, { content: ogg, durationMs: null }, h.owner)).rejects.toThrow();
    expect(readdirSync(dirname(file))).toEqual([`${row.sha256}.ogg`]);
  });

  test('what is too large, too long or no sound is refused beside its field', async () => {
    const h = await house();
    const said = async (content: Buffer, durationMs: number | null) => {
      try {
        await storeVoice(h.deps, { content, durationMs }, h.owner);
      } catch (error) {
        return [(error as { code: string }).code, (error as { fields: object }).fields];
      }
      return 'kept';
    };
    const large = Buffer.alloc(8_000_000);
    ogg.copy(large);
    expect(await said(large, null)).toBe('kept');
    expect(await said(Buffer.concat([large, Buffer.from('x')]), null)).toEqual([
      'tooLarge',
      { voice: 'A voice note has at most 8 MB.' },
    ]);
    // Five minutes, and two seconds that a recorder may be out.
    expect(await said(ogg, 302_000)).toBe('kept');
    expect(await said(ogg, 302_001)).toEqual(['tooLarge', { voice: 'A voice note lasts at most 5 minutes.' }]);
    expect(await said(Buffer.alloc(64), null)).toEqual([
      'notASound',
      { voice: 'That is not a sound recording that can be kept. Send WebM, Ogg, M4A or WAV.' },
    ]);
  });

  test('in the log of its lot, with at most a thousand characters of text', async () => {
    const h = await house();
    const { id } = await storeVoice(h.deps, { content: ogg, durationMs: null }, h.owner);
    const say = (voiceId: number, text: string) =>
      recordVoice(h.deps, { lotId: h.lotId, voiceId, text, stepId: null, ...h.sent() }, h.owner);
    expect(refused(() => say(999, ''))).toEqual(beside({ voice: 'That recording is not here.' }));
    expect(refused(() => say(id, 'x'.repeat(1_001)))).toEqual(beside({ text: 'At most 1000 characters.' }));
    expect(say(id, ` ${'x'.repeat(1_000)} `)).toMatchObject({
      kind: 'voice',
      text: 'x'.repeat(1_000),
      valueJson: `{"voiceId":${id}}`,
    });
  });
});
