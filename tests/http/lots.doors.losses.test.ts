import { describe, expect, test } from 'vitest';
import { inOrder } from '../../server/bench/present.ts';
import { Refusal } from '../../server/errors.ts';
import type { BenchLine } from '../../server/lots/benchState.ts';
import { lineShown } from '../../server/lots/present/line.ts';
import { doubtOf, entryText, temperaturesOf } from '../../server/lots/present/log.ts';
import type { LogLine } from '../../server/lots/queries.ts';
import { containerLabel } from '../../server/plans/present.ts';
import { planInputOfForm } from '../../server/plans/schemas.ts';
import { showOf } from '../../server/settings/show.ts';
import { found, freshDeps, MONDAY } from '../support/app.ts';
import { benchLot } from '../support/benchLot.ts';

/* What a studio would lose if one small thing went wrong between its forms, its scripts and the rules of its lots. */

const MINUTE = 60_000;
const HOUR = 60 * MINUTE;

describe('the form of a plan says what was meant', () => {
  const typed = (more: Record<string, string> = {}) => ({
    fibreId: '1',
    methodId: '2',
    goodsText: ' 24 napkins ',
    pieces: '24',
    goodsOwner: 'studio',
    massFound: 'weighedDry',
    mass: '1.2 kg',
    'revisionId.0': '3',
    'depth.0': '2',
    ...more,
  });
  const errors = (more: Record<string, string>): unknown => {
    try {
      planInputOfForm(typed(more));
    } catch (error) {
      if (error instanceof Refusal) return error.fields;
      throw error;
    }
    return 'let through';
  };

  test('the least of it, and what is left out is nobody’s', () => {
    expect(planInputOfForm(typed())).toEqual({
      fibreId: 1,
      methodId: 2,
      goodsText: '24 napkins',
      pieces: 24,
      goodsOwner: 'studio',
      goodsStockLotId: null,
      mass: { found: 'weighedDry', massMg: 1_200_000 },
      coverage: 'eachOverAll',
      colours: [{ revisionId: 3, swatchId: null, depthPpm: 20_000, sharePpm: 1_000_000, placement: '' }],
      bathUl: null,
      soakUl: null,
      lossPpm: null,
      solutions: 'auto',
      stockLotChoices: {},
      orderLines: [],
      morePiecesConfirmed: false,
      depthConfirmed: false,
      plannedForOn: null,
      repeatsLotId: null,
    });
  });

  test('all of it', () => {
    expect(
      planInputOfForm(
        typed({
          goodsOwner: 'customer',
          goodsStockLotId: '9',
          coverage: 'eachOverItsShare',
          'swatchId.0': '5',
          'share.0': '60',
          'placement.0': 'left',
          'revisionId.1': '4',
          'depth.1': '0.5 %',
          'share.1': '40',
          'revisionId.2': '',
          'depth.2': '',
          bath: '10 L',
          soak: '5',
          loss: '5',
          solutions: 'never',
          orderLineId: '7',
          morePiecesConfirmed: 'yes',
          plannedForOn: '2026-03-20',
          repeatsLotId: '8',
          'container.dye:11': '21',
          'container.auxiliary:12': '22',
          'container.dye:13': '',
          'container.fibre:14': '24',
          'container.dye:15': '0',
          'xcontainer.dye:16': '26',
          'container.dye:17x': '27',
          'container.dye:18': '28x',
        }),
      ),
    ).toMatchObject({
      goodsOwner: 'customer',
      goodsStockLotId: 9,
      coverage: 'eachOverItsShare',
      colours: [
        { revisionId: 3, swatchId: 5, depthPpm: 20_000, sharePpm: 600_000, placement: 'left' },
        { revisionId: 4, swatchId: null, depthPpm: 5_000, sharePpm: 400_000, placement: '' },
      ],
      bathUl: 10_000_000,
      soakUl: 5_000_000,
      lossPpm: 50_000,
      solutions: 'never',
      orderLines: [{ orderLineId: 7, pieces: 24 }],
      morePiecesConfirmed: true,
      plannedForOn: '2026-03-20',
      repeatsLotId: 8,
      stockLotChoices: { 'dye:11': 21, 'auxiliary:12': 22 },
    });
  });

  test.each([
    [
      { massFound: 'stated', mass: '800 g' },
      { found: 'stated', massMg: 800_000 },
    ],
    [
      { massFound: 'fromArea', length: '2 m', width: '140', areaPieces: '3' },
      { found: 'fromArea', lengthMm: 2_000, widthMm: 1_400, pieces: 3 },
    ],
    [
      { massFound: 'fromArea', length: '2', width: '', areaPieces: '1' },
      { found: 'fromArea', lengthMm: 2_000, widthMm: null, pieces: 1 },
    ],
    [
      { massFound: 'fromPutUps', putUps: '12' },
      { found: 'fromPutUps', count: 12 },
    ],
    [
      { massFound: 'weighedDamp', moistureKind: 'known', dampMass: '1300 g', water: '30' },
      { found: 'weighedDamp', dampMassMg: 1_300_000, moisture: { kind: 'known', waterPpmOfDry: 300_000 } },
    ],
    [
      { massFound: 'weighedDamp', dampMass: '1300 g', sampleDamp: '13 g', sampleDry: '10 g', driedTo: 'ovenDry' },
      {
        found: 'weighedDamp',
        dampMassMg: 1_300_000,
        moisture: { kind: 'sample', dampSampleMg: 13_000, drySampleMg: 10_000, driedTo: 'ovenDry' },
      },
    ],
  ] as [Record<string, string>, object][])('the mass as it was found: %j', (more, mass) => {
    expect(planInputOfForm(typed(more)).mass).toEqual(mass);
  });

  test.each([
    [{ massFound: '', mass: '' }, ['massFound', 'mass']],
    [{ massFound: 'fromArea' }, ['length', 'areaPieces']],
    [{ massFound: 'fromPutUps' }, ['putUps']],
    [{ massFound: 'weighedDamp' }, ['dampMass', 'sampleDamp', 'sampleDry', 'driedTo']],
    [{ massFound: 'weighedDamp', moistureKind: 'known' }, ['dampMass', 'water']],
    [{ fibreId: '', goodsText: '', mass: 'heavy' }, ['fibreId', 'goodsText', 'mass']],
    [{ 'revisionId.0': '', 'depth.0': '' }, ['revisionId.0']],
    [{ 'revisionId.1': '', 'depth.1': '2', coverage: 'eachOverAll' }, ['revisionId.1']],
    [{ 'revisionId.1': '4', 'depth.1': '', coverage: 'eachOverAll' }, ['depth.1']],
    [{ 'revisionId.1': '4', 'depth.1': '2' }, ['coverage']],
    [{ 'revisionId.1': '4', 'depth.1': '2', coverage: 'eachOverItsShare', 'share.0': '60' }, ['share.1']],
    [{ 'revisionId.1': '4', 'depth.1': '2', coverage: 'eachOverItsShare', 'share.1': '60' }, ['share.0']],
  ] as [Record<string, string>, string[]][])('%j is asked for at %j, all at once', (more, fields) => {
    expect(Object.keys(errors(more) as object).sort()).toEqual([...fields].sort());
  });

  test('colours without shares lie in equal parts, and over all of the piece nobody asks for them', () => {
    const two = { 'revisionId.1': '4', 'depth.1': '2' };
    const three = { ...two, 'revisionId.2': '4', 'depth.2': '2' };
    expect(planInputOfForm(typed({ ...three, coverage: 'eachOverItsShare' })).colours.map((c) => c.sharePpm)).toEqual([
      333_333, 333_333, 333_333,
    ]);
    expect(errors({ ...two, coverage: 'eachOverAll', 'share.0': '60' })).toBe('let through');
  });
});

describe('the log says what happened', () => {
  const entry = (more: Partial<Omit<LogLine, 'valueJson'>> & { value?: object } = {}): LogLine => {
    const { value = {}, ...rest } = more;
    return {
      id: 1,
      kind: 'note',
      at: MONDAY,
      recordedAt: MONDAY,
      text: 'folded',
      late: 0,
      clockSaidAt: null,
      voidedAt: null,
      ...rest,
      valueJson: JSON.stringify(value),
    } as LogLine;
  };

  test.each([
    [entry(), 'folded'],
    [entry({ kind: 'start', text: 'Work on the lot began' }), 'Work on the lot began'],
    [entry({ kind: 'stepStart', text: 'Dye' }), 'Began Dye'],
    [entry({ kind: 'stepEnd', text: 'Dye' }), 'Ended Dye'],
    [entry({ kind: 'deviation', text: 'longer' }), 'Otherwise than planned: longer'],
    [entry({ kind: 'temperature', text: '40 °C' }), 'Temperature 40 °C'],
    [entry({ kind: 'finish', text: '24 first quality' }), 'Finished: 24 first quality'],
    [entry({ kind: 'abandon', text: 'no water' }), 'Given up: no water'],
    [entry({ kind: 'labour', text: 'Rui: Dye', value: { durationS: 5_400 } }), 'Rui: Dye, 90 min'],
    [entry({ kind: 'field', text: '80', value: { label: 'Pick-up' } }), 'Pick-up: 80'],
    [entry({ kind: 'voice', text: 'too red' }), 'Voice note: too red'],
    [entry({ kind: 'voice', text: '' }), 'Voice note'],
    [
      entry({ kind: 'weighing', text: '', value: { name: 'Tide blue', stockLotCode: 'B-1', massMg: 12_050 } }),
      'Tide blue: 12.05 g from B-1',
    ],
    [
      entry({ kind: 'weighing', text: '', value: { name: 'Tide blue', stockLotCode: 'S-1', volumeUl: 12_050 } }),
      'Tide blue: 12.05 mL from S-1',
    ],
    [
      entry({
        kind: 'placement',
        text: 'as said',
        value: { of: 'plan', drawing: { columns: 2, rows: 2, cells: [1, 1, 1, 1] } },
      }),
      'Placement as meant: 1 Kelp on 100 %. as said',
    ],
    [
      entry({
        kind: 'placement',
        text: '',
        value: { of: 'cloth', drawing: { columns: 2, rows: 2, cells: [0, 0, 0, 0] } },
      }),
      'Placement as it lies: nothing drawn',
    ],
  ])('%#', (e, words) => {
    expect(entryText(e, ['Kelp'])).toBe(words);
  });

  test('what must be known of a time is told beside it', async () => {
    const { deps } = await freshDeps();
    found(deps);
    const show = showOf(deps.db);
    const doubt = (more: Parameters<typeof entry>[0]) => doubtOf(entry(more), show);
    expect(doubt({})).toBe('');
    expect(doubt({ recordedAt: MONDAY + HOUR })).toBe('');
    // Lisbon has winter time in March until the 29th.
    expect(doubt({ recordedAt: MONDAY + HOUR + 1 })).toMatch(/^reached the record on .*10:00$/);
    expect(doubt({ late: 1 })).toMatch(/^reached the record on .*9:00, after the lot was closed$/);
    expect(doubt({ clockSaidAt: MONDAY + HOUR })).toMatch(
      /^the device’s clock said .*10:00, so the time is that of its arrival$/,
    );
    expect(doubt({ value: { clockWentBack: true, beforeReceiptOn: '2026-03-20' } })).toMatch(
      /^by the clock before the step began: one of the two times is wrong; before the container came, which was on .*20.* by its receipt$/,
    );
  });

  test('temperatures are those that were read and stand', () => {
    expect(
      temperaturesOf([
        entry({ kind: 'temperature', value: { tempC: 40 } }),
        entry({ kind: 'temperature', value: { tempC: 41 }, voidedAt: MONDAY }),
        entry({ kind: 'temperature', value: { tempC: '42' } }),
        entry({ kind: 'note', value: { tempC: 43 } }),
      ]),
    ).toEqual([{ at: MONDAY, tempC: 40 }]);
  });
});

describe('the bench shows each line as it is', () => {
  const jar = { code: 'B-1', concPpm: null, onHandQuantity: 488_000, unit: 'mg', strengthPpm: 1_000_000 } as const;
  test.each([
    [jar, 'B-1 (488.00 g left)'],
    [{ ...jar, strengthPpm: 950_000 }, 'B-1, strength 95 % (488.00 g left)'],
    [{ ...jar, unit: 'ul', concPpm: 10_000 }, 'B-1, 1 % solution (488 mL left)'],
  ] as const)('a container by what is left of it: %#', (s, label) => {
    expect(containerLabel(s)).toBe(label);
  });

  const line = (code: string, kind: 'dye' | 'auxiliary', target: number, unit: 'mg' | 'ul' = 'mg'): BenchLine =>
    ({ component: { code, kind }, target, unit }) as unknown as BenchLine;
  const lines = [
    line('RB', 'dye', 12_000),
    line('RY', 'dye', 7_200),
    line('SALT', 'auxiliary', 100),
    line('RR', 'dye', 400_000, 'ul'),
    line('RB', 'dye', 3_000),
  ];
  test.each([
    ['planned', ['RB 12000', 'RY 7200', 'SALT 100', 'RR 400000', 'RB 3000']],
    // 400 mL of 1 % are 4 g of powder.
    ['smallest', ['RB 3000', 'RR 400000', 'RY 7200', 'RB 12000', 'SALT 100']],
    ['dye', ['RB 12000', 'RB 3000', 'RY 7200', 'RR 400000', 'SALT 100']],
  ] as const)('in the order %s', (order, codes) => {
    expect(inOrder(lines, order as never).map((l) => `${l.component.code} ${l.target}`)).toEqual(codes);
    expect(lines[0]?.target).toBe(12_000);
  });

  test('with its readings and what each counts for', () => {
    const component = {
      id: 1,
      code: 'RB',
      name: 'Tide blue',
      lotColourId: 5,
      vessel: null,
      plannedMassMg: 12_000,
      concPpm: null,
      strengthPpm: 1_000_000,
    };
    const weighing = (more: object) => ({
      logEntryId: 3,
      at: MONDAY,
      massMg: 2_500,
      volumeUl: null,
      stockLotId: 4,
      stockLotCode: 'B-1',
      stockLotStrengthPpm: 900_000,
      stockLotConcPpm: null,
      stockLotRecalledAt: null,
      personName: 'Rui',
      voided: false,
      discarded: false,
      ...more,
    });
    const shown = lineShown(
      {
        component,
        unit: 'mg',
        planned: 12_000,
        target: 12_000,
        step: 10,
        tolerance: 240,
        actual: 2_250,
        corrected: undefined,
        verdict: { verdict: 'under', difference: -9_750, differencePct: -81.25 },
        state: 'under',
        weighings: [
          weighing({}),
          weighing({ voided: true, discarded: true }),
          weighing({ discarded: true, stockLotRecalledAt: 1 }),
        ],
      } as never,
      [{ id: 6 }, { id: 5, ordinal: 2, recipeName: 'Estuary' }] as never,
      [],
    );
    expect(shown).toMatchObject({
      componentId: 1,
      colourOrdinal: 2,
      colourName: 'Estuary',
      form: '',
      concPct: null,
      actual: 2_250,
      corrected: null,
      difference: -9_750,
      differencePct: -81.25,
      state: 'under',
    });
    expect(shown.weighings.map((w) => [w.amount, w.state, w.recalled, w.counts, w.container, w.containerId])).toEqual([
      ['2.5 g', 'counts', false, 2_250, 'B-1', 4],
      ['2.5 g', 'voided', false, 2_250, 'B-1', 4],
      ['2.5 g', 'discarded', true, 2_250, 'B-1', 4],
    ]);
    const solution = lineShown(
      {
        ...{
          component: { ...component, concPpm: 10_000, lotColourId: null },
          unit: 'ul',
          weighings: [],
          verdict: null,
          corrected: 7,
        },
      } as never,
      [],
      [],
    );
    expect(solution).toMatchObject({
      form: ', 1 % solution',
      concPct: 1,
      colourOrdinal: null,
      colourName: null,
      corrected: 7,
      difference: null,
      differencePct: null,
    });
  });
});

describe('a script reads and writes what the bench does', () => {
  test('a lot in hand: its lines, its steps, its log', async () => {
    const b = await benchLot();
    const { studio, w, lotId } = b;
    expect((await b.weigh('RB', 12_600, { at: MONDAY - MINUTE })).body.question).toBeNull();
    studio.clock.now += MINUTE;
    const stepId = (await b.shown()).steps[1]?.stepId;
    await b.send('/steps', { stepId, kind: 'stepStart' });
    await b.send('/log', { kind: 'temperature', text: '40 °C', tempC: 40 });
    await b.send('/log', { kind: 'field', text: '80', label: 'Pick-up' });
    const { body: note } = await b.send('/log', { kind: 'note', text: 'folded', label: 'no field', tempC: 4 });
    await studio.api.post(`/log/${note.entryId}/voiding`, { reason: 'another lot', clientId: 'void-000001' });
    const shown = (await b.shown()) as unknown as Record<string, unknown> & {
      lines: object[];
      steps: object[];
      log: object[];
    };
    expect(shown).toMatchObject({
      lotId,
      number: '26-0001',
      status: 'onBench',
      methodId: w.methodId,
      fibreId: w.linenId,
      goodsText: '24 napkins',
      pieces: 24,
      dryMassMg: 1_200_000,
      plannedDryMassMg: 1_200_000,
      plannedAt: MONDAY,
      plannedBy: studio.owner.personId,
      startedAt: MONDAY - MINUTE,
      finishedAt: null,
      fibreName: 'Linen, plain',
      methodName: 'Immersion, reactive',
      renamed: [],
      closing: null,
      outcome: null,
      costLines: [],
      costMinor: null,
      orderLines: [],
      swatches: [],
      questions: [],
      colours: [
        {
          ordinal: 1,
          revisionId: w.revisionId,
          recipeName: 'Estuary',
          swatchId: null,
          depthPpm: 20_000,
          correctedDepthPpm: null,
          sharePpm: 1_000_000,
          placement: '',
        },
      ],
    });
    expect(shown.lines[0]).toMatchObject({
      code: 'RB',
      name: 'Tide blue',
      kind: 'dye',
      unit: 'mg',
      planned: 12_000,
      target: 12_000,
      step: 10,
      tolerance: 240,
      actual: 12_600,
      corrected: null,
      state: 'over',
      difference: 600,
      stockLotId: w.stock.blue.id,
      weighings: [
        {
          at: MONDAY - MINUTE,
          stockLotId: w.stock.blue.id,
          stockLotCode: 'B-1',
          massMg: 12_600,
          volumeUl: null,
          strengthPpm: 1_000_000,
          concPpm: null,
          strengthKept: 'whenWeighed',
          voided: false,
          discarded: false,
        },
      ],
    });
    expect(shown.lines[1]).toMatchObject({ actual: null, difference: null, state: 'waiting' });
    expect(shown.steps[1]).toEqual({
      stepId,
      ordinal: 2,
      name: 'Dye',
      plannedDurationS: 3_000,
      plannedTempC: 40,
      state: 'running',
      startedAt: MONDAY + MINUTE,
      endedAt: null,
      remainingS: 3_000,
    });
    expect(shown.log.slice(1)).toMatchObject([
      { kind: 'weighing', text: 'Tide blue: 12.6 g from B-1', at: MONDAY - MINUTE, recordedAt: MONDAY, person: 'Inês' },
      { kind: 'stepStart', text: 'Began Dye', stepId, at: MONDAY + MINUTE },
      { kind: 'temperature', text: 'Temperature 40 °C' },
      { kind: 'field', text: 'Pick-up: 80' },
      {
        kind: 'note',
        text: 'folded',
        voidedReason: 'another lot',
        photoId: null,
        voiceId: null,
        late: false,
        clockSaidAt: null,
      },
      { kind: 'voiding', text: 'another lot', refersToId: note.entryId },
    ]);
    const ways = (
      await studio.api.get(`/lots/${lotId}/ways-out/${(shown.lines[0] as { componentId: number }).componentId}`)
    ).body.waysOut as {
      way: string;
      dryMassMg: number;
      hue: string;
      depthFactor: number;
      goodsFactor: number;
      lines: object[];
    }[];
    const more = ways.find((x) => x.way === 'moreGoods');
    expect(more).toMatchObject({ goodsFactor: 1.05, depthFactor: 1, dryMassMg: 1_260_000, hue: 'asPlanned' });
    expect(more?.lines.slice(0, 2)).toMatchObject([
      { unit: 'mg', target: 12_600, kept: 12_600, toAdd: 0, act: 'done' },
      { unit: 'mg', target: 7_560, kept: 0, toAdd: 7_560, act: 'weigh' },
    ]);
  });

  test('a step ends and the next begins by one call, and by nothing else', async () => {
    const b = await benchLot();
    const [one, two] = (await b.shown()).steps.map((s) => s.stepId);
    await b.send('/steps', { stepId: one, kind: 'stepStart', thenStepId: two });
    const states = async () => ((await b.shown()).steps as unknown as { state: string }[]).map((s) => s.state);
    expect(await states()).toEqual(['running', 'waiting', 'waiting']);
    expect((await b.send('/steps', { stepId: one, kind: 'stepEnd', thenStepId: two })).status).toBe(201);
    expect(await states()).toEqual(['done', 'running', 'waiting']);
  });

  test('a finished lot: what came of it and what it cost', async () => {
    const b = await benchLot();
    await b.weighTheRest();
    const done = await b.finish({
      firstQuality: 22,
      seconds: 2,
      secondsValueMinor: 500,
      note: 'n',
      doDifferently: 'd',
    });
    expect(done.body).toMatchObject({
      status: 'finished',
      finishedAt: MONDAY,
      closing: { closedOn: '2026-03-16', zone: 'Europe/Lisbon', kept: 'atClosing' },
      outcome: {
        firstQuality: 22,
        seconds: 2,
        rework: 0,
        scrap: 0,
        secondsValueMinor: 500,
        note: 'n',
        doDifferently: 'd',
      },
      // Materials of the plan and linen: 0.96 + 0.50 + 0.58 + 1.20 + 1.08 + 31.20.
      costMinor: 3_552,
      colours: [{ dyedDepthPpm: 20_000, correctedDepthPpm: null }],
    });
    expect(done.body.costLines[0]).toMatchObject({
      kind: 'dye',
      description: 'RB Tide blue, container B-1',
      stockLotId: b.w.stock.blue.id,
      personId: null,
      quantity: 12_000,
      quantityUnit: 'mg',
      priceMinor: 4_000,
      perQuantity: 500_000,
      wasted: false,
      costMinor: 96,
      correction: null,
      correctsId: null,
      reason: '',
      writtenAt: MONDAY,
    });
    const snapshot = (await b.studio.api.get(`/lots/${b.lotId}/snapshot`)).body;
    expect([snapshot.estimateMinor, snapshot.goodsText]).toEqual([4_762, '24 napkins']);
    expect((await b.studio.api.get('/lots/999/snapshot')).status).toBe(404);
  });

  test('lots are listed with the newest first, page by page, by their words and by how far they are', async () => {
    const one = await benchLot({ goodsText: 'scarves' });
    const two = await benchLot({}, one);
    await two.weigh('RB', 12_000);
    const { api } = one.studio;
    const listed = async (query: string) => {
      const { lots, next } = (await api.get(`/lots${query}`)).body;
      return [lots.map((l: { lotId: number }) => l.lotId), next];
    };
    expect(await listed('')).toEqual([[two.lotId, one.lotId], null]);
    expect(await listed('?limit=1')).toEqual([[two.lotId], String(two.lotId)]);
    expect(await listed(`?limit=1&after=${two.lotId}`)).toEqual([[one.lotId], null]);
    expect(await listed('?status=onBench')).toEqual([[two.lotId], null]);
    expect(await listed('?words=scarv')).toEqual([[one.lotId], null]);
    expect((await api.get('/lots?words=scarv')).body.lots[0]).toEqual({
      lotId: one.lotId,
      number: '26-0001',
      status: 'planned',
      goodsText: 'scarves',
      fibreName: 'Linen, plain',
      methodName: 'Immersion, reactive',
      dryMassMg: 1_200_000,
      pieces: 24,
      colours: expect.stringContaining('Estuary'),
      customers: null,
      plannedAt: MONDAY,
      startedAt: null,
      finishedAt: null,
      costMinor: null,
    });
  });

  test('a photo or a recording without a file, or for no lot, is refused', async () => {
    const { studio, lotId } = await benchLot();
    const send = (path: string) =>
      studio.page
        .send('post', `/api/v1/lots/${path}`)
        .set('authorization', `Bearer ${studio.api.token}`)
        .field('text', 'x');
    for (const [kind, field] of [
      ['photos', 'photo'],
      ['voices', 'voice'],
    ]) {
      const none = await send(`${lotId}/${kind}`);
      expect([none.status, Object.keys(none.body.fields)]).toEqual([422, [field]]);
      expect((await send(`999/${kind}`)).status).toBe(404);
    }
  });
});
