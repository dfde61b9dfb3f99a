import { expect, test } from 'vitest';
import { auxiliaries, dyes } from '../../server/db/tables/materials.ts';
import { methodAuxiliaries, methods } from '../../server/db/tables/recipes.ts';
import { createRecipe } from '../../server/recipes/revisions.ts';
import { receive } from '../../server/stock/ledger.ts';
import { freshStudio, type TestStudio } from '../support/app.ts';
import { makeWorld, type World } from '../support/world.ts';

const planForm = (w: World, more: Record<string, string> = {}): Record<string, string> => ({
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

async function planned(studio: TestStudio, w: World, more: Record<string, string> = {}): Promise<number> {
  const saved = await studio.page.post('/lots', planForm(w, more));
  expect(saved.status, saved.text).toBe(303);
  return Number(saved.headers['location']?.split('/').at(-1));
}

const lot = async (studio: TestStudio, lotId: number) => (await studio.api.get(`/lots/${lotId}`)).body;
const line = (body: { lines: { code: string }[] }, code: string) =>
  body.lines.find((l) => l.code === code) as unknown as {
    componentId: number;
    planned: number;
    target: number;
    state: string;
    actual: number | null;
  };

test('the weigh-up of 1.2 kg at 2 % in 50/30/20 is 12 / 7.2 / 4.8 g, and salt and soda go by the water', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const part = await studio.page.part('post', '/lots/plan', planForm(w));
  expect(part.status).toBe(200);
  // 1200 g · 2 % · 50/30/20 (split of a total depth); 24 L at 50 and 15 g/L (Dyeing with fibre reactive dyes, townhillstudio.co.uk)
  for (const amount of ['12.00 g', '7.20 g', '4.80 g', '24.00 g', '1200 g', '360.0 g'])
    expect(part.text).toContain(amount);
  expect(part.text).not.toContain('<!doctype');
});

test('a published lab-dip bath is reproduced on the plan page to the digit', async () => {
  // "Dyeing calculation in lab dip", textilecalculation.blogspot.com, 2015: 5 g at 1:10, dyes from 1 % stock, auxiliaries from
  // 1 % and 20 % stock; 50 − (2.5 + 10 + 5 + 7.5 + 10 + 2.5) = 12.5 mL of water.
  const studio = await freshStudio();
  const { db } = studio.deps;
  const w = makeWorld(studio);
  const aux = (code: string, solutionConcPpm: number): number =>
    db.insert(auxiliaries).values({ code, name: code, form: 'solid', solutionConcPpm }).returning().get().id;
  const methodId = db
    .insert(methods)
    .values({ name: 'Lab dip', dyeClass: 'reactive', bathMlPerKg: 10_000 })
    .returning()
    .get().id;
  const lines = [
    { code: 'WET', solution: 10_000, gPerL: 0.5 },
    { code: 'LEV', solution: 10_000, gPerL: 2 },
    { code: 'SEQ', solution: 10_000, gPerL: 1 },
    { code: 'SALT20', solution: 200_000, gPerL: 40 },
    { code: 'SODA20', solution: 200_000, gPerL: 10 },
  ];
  db.insert(methodAuxiliaries)
    .values(
      lines.map((l, i) => ({
        methodId,
        ordinal: i + 1,
        auxiliaryId: aux(l.code, l.solution),
        vessel: 'bath' as const,
        basis: 'gPerL' as const,
        amountMilli: l.gPerL * 1000,
      })),
    )
    .run();
  const recipe = createRecipe(
    db,
    {
      name: 'Lab dip',
      dyeClass: 'reactive',
      note: '',
      why: '',
      entryStyle: 'ownDepths',
      components: [{ dyeId: w.dyeIds.blue, depthPpm: 15_000 }],
    },
    studio.owner,
    studio.deps.now(),
  );
  const plan = (
    await studio.api.post('/lots/plan', {
      fibreId: w.linenId,
      methodId,
      goodsText: 'lab dip',
      mass: { found: 'weighedDry', massMg: 5000 },
      colours: [{ revisionId: recipe.revision.id, depthPpm: 15_000 }],
    })
  ).body as {
    bathUl: number;
    makeUpWaterUl: number;
    lines: { code: string; plannedVolumeUl: number; concPpm: number }[];
  };
  expect(plan.bathUl).toBe(50_000);
  expect(plan.lines.map((l) => [l.code, l.plannedVolumeUl / 1000, l.concPpm / 10_000])).toEqual([
    ['RB', 7.5, 1],
    ['WET', 2.5, 1],
    ['LEV', 10, 1],
    ['SEQ', 5, 1],
    ['SALT20', 10, 20],
    ['SODA20', 2.5, 20],
  ]);
  expect(plan.makeUpWaterUl / 1000).toBe(12.5);
  const page = await studio.page.part(
    'post',
    '/lots/plan',
    planForm(w, {
      methodId: String(methodId),
      mass: '5 g',
      'revisionId.0': String(recipe.revision.id),
      'depth.0': '1.5',
    }),
  );
  for (const amount of ['7.5 mL', '2.50 mL', '10.0 mL', '12.5 mL']) expect(page.text).toContain(amount);
});

test('6 L of bath at 50 g/L of salt and 15 g/L of soda ash are 300 g and 90 g; 50 % owg on 10 g of wool is 5 g', async () => {
  // Rates: Dyeing with fibre reactive dyes, townhillstudio.co.uk; J. Cowern, wool dye method.
  const studio = await freshStudio();
  const { db } = studio.deps;
  const w = makeWorld(studio);
  const body = { fibreId: w.linenId, goodsText: 'x', colours: [{ revisionId: w.revisionId, depthPpm: 20_000 }] };
  const bath = (
    await studio.api.post('/lots/plan', {
      ...body,
      methodId: w.methodId,
      mass: { found: 'weighedDry', massMg: 300_000 },
      bathUl: 6_000_000,
    })
  ).body;
  expect(line(bath, 'SALT')).toMatchObject({ plannedMassMg: 300_000 });
  expect(line(bath, 'SODA')).toMatchObject({ plannedMassMg: 90_000 });
  const methodId = db.insert(methods).values({ name: 'Wool' }).returning().get().id;
  db.insert(methodAuxiliaries)
    .values({
      methodId,
      ordinal: 1,
      auxiliaryId: w.auxiliaryIds.salt,
      vessel: 'bath',
      basis: 'owg',
      amountMilli: 50_000,
    })
    .run();
  const wool = (
    await studio.api.post('/lots/plan', { ...body, methodId, mass: { found: 'weighedDry', massMg: 10_000 } })
  ).body;
  expect(line(wool, 'SALT')).toMatchObject({ plannedMassMg: 5000 });
});

test('damp goods count as what they hold dry: 1.62 kg of which a piece dried from 54 to 40 g is 1.2 kg', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const lotId = await planned(studio, w, {
    massFound: 'weighedDamp',
    mass: '',
    dampMass: '1.62 kg',
    moistureKind: 'sample',
    sampleDamp: '54 g',
    sampleDry: '40 g',
    driedTo: 'airDry',
  });
  expect((await lot(studio, lotId)).plannedDryMassMg).toBe(1_200_000);
});

test('several colours must say how they lie, and the total depth that results is shown', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const two = planForm(w, { 'revisionId.1': String(w.revisionId), 'depth.1': '4', 'share.0': '75', 'share.1': '25' });
  const asked = await studio.page.post('/lots', two);
  expect(asked.status).toBe(422);
  expect(asked.text).toContain('say how they lie');
  const total = async (coverage: string) =>
    /Depth over the whole<\/dt><dd class="big-number">([\d.]+)/.exec(
      (await studio.page.part('post', '/lots/plan', { ...two, coverage })).text,
    )?.[1];
  expect(await total('eachOverAll')).toBe('6');
  expect(await total('eachOverItsShare')).toBe('2.5');
});

test('wrong input keeps what was typed, each message beside its field, and nothing is saved', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const refused = await studio.page.post('/lots', planForm(w, { mass: '12 stone', 'depth.0': '900', methodId: '' }));
  expect(refused.status).toBe(422);
  expect(refused.text).toContain('value="12 stone"');
  expect(refused.text).toMatch(/id="f-mass-error">[^<]*12 stone/);
  expect(refused.text).toMatch(/id="f-depth-0-error">/);
  expect(refused.text).toMatch(/id="f-methodId-error">Choose a method/);
  expect((await studio.api.get('/lots')).body.lots).toEqual([]);
});

test('a weighing draws its container down by what the scale said, once, however often it is sent', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const lotId = await planned(studio, w);
  const blue = line(await lot(studio, lotId), 'RB');
  const reading = {
    componentId: blue.componentId,
    stockLotId: w.stock.blue.id,
    massMg: 11_980,
    clientId: 'phone-0001',
  };
  expect((await studio.api.post(`/lots/${lotId}/weighings`, reading)).status).toBe(201);
  expect((await studio.api.post(`/lots/${lotId}/weighings`, reading)).status).toBe(201);
  const after = await lot(studio, lotId);
  expect(after.status).toBe('onBench');
  expect(line(after, 'RB')).toMatchObject({ actual: 11_980, state: 'within', planned: 12_000 });
  expect((await studio.api.get(`/stock-lots/${w.stock.blue.id}`)).body.onHandQuantity).toBe(500_000 - 11_980);
});

test('a blue over-weighed by 4 % offers the ways out; deeper moves the others with it and the plan stays', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const lotId = await planned(studio, w);
  const weigh = (code: string, stockLotId: number, amount: number, id: string) =>
    lot(studio, lotId).then((b) =>
      studio.api.post(`/lots/${lotId}/weighings`, {
        componentId: line(b, code).componentId,
        stockLotId,
        massMg: amount,
        clientId: id,
      }),
    );
  await weigh('RY', w.stock.yellow.id, 7200, 'phone-0001');
  const over = (await weigh('RB', w.stock.blue.id, 12_480, 'phone-0002')).body.lot;
  expect(line(over, 'RB').state).toBe('over');
  const blueId = line(over, 'RB').componentId;
  const ways = (await studio.api.get(`/lots/${lotId}/ways-out/${blueId}`)).body.waysOut as {
    way: string;
    vessel: string;
    depthFactor: number;
    dryMassMg: number;
    lines: { componentId: number; target: number; toAdd: number; act: string }[];
    confirmed: unknown;
  }[];
  expect(ways.map((x) => `${x.way} ${x.vessel}`)).toEqual([
    'moreGoods own',
    'deeper own',
    'weighAgain own',
    'weighAgain shared',
  ]);
  // k = 12.48 / 12 = 1.04 (k = max(actual/plan), all others × k): yellow 7.488, red 4.992
  const deeper = ways.find((x) => x.way === 'deeper');
  expect(deeper?.depthFactor).toBeCloseTo(1.04, 6);
  const yellow = deeper?.lines.find((l) => l.componentId === line(over, 'RY').componentId);
  expect([yellow?.target, yellow?.act]).toEqual([7490, 'addDifference']);
  expect(ways.find((x) => x.way === 'moreGoods')?.dryMassMg).toBe(1_248_000);
  const taken = (
    await studio.api.post(`/lots/${lotId}/adjustments`, {
      componentId: blueId,
      way: 'deeper',
      confirmed: deeper?.confirmed,
      clientId: 'phone-0003',
    })
  ).body.lot;
  expect(line(taken, 'RB')).toMatchObject({ planned: 12_000, target: 12_480, state: 'within' });
  expect(line(taken, 'RY')).toMatchObject({ planned: 7200, target: 7490, state: 'under' });
  expect(line(taken, 'RR')).toMatchObject({ planned: 4800, target: 4990, state: 'waiting' });
  // 7.20 + 0.29 brings the yellow in
  const done = (await weigh('RY', w.stock.yellow.id, 290, 'phone-0004')).body.lot;
  expect(line(done, 'RY')).toMatchObject({ actual: 7490, state: 'within' });
});

test('discarding an over-weighed cup books it as waste and asks for it again', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const lotId = await planned(studio, w);
  const red = line(await lot(studio, lotId), 'RR');
  await studio.api.post(`/lots/${lotId}/weighings`, {
    componentId: red.componentId,
    stockLotId: w.stock.red.id,
    massMg: 6000,
    clientId: 'phone-0001',
  });
  const offered = (await studio.api.get(`/lots/${lotId}/ways-out/${red.componentId}`)).body.waysOut as {
    way: string;
    confirmed: unknown;
  }[];
  const again = (
    await studio.api.post(`/lots/${lotId}/adjustments`, {
      componentId: red.componentId,
      way: 'weighAgain',
      confirmed: offered.find((x) => x.way === 'weighAgain')?.confirmed,
      clientId: 'phone-0002',
    })
  ).body.lot;
  expect(line(again, 'RR')).toMatchObject({ state: 'waiting', actual: null, target: 4800 });
  expect((await studio.api.get(`/stock-lots/${w.stock.red.id}`)).body.onHandQuantity).toBe(250_000 - 6000);
});

test('a weighing voided with a reason is struck out, and stock comes back', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const lotId = await planned(studio, w);
  const blue = line(await lot(studio, lotId), 'RB');
  const { entryId } = (
    await studio.api.post(`/lots/${lotId}/weighings`, {
      componentId: blue.componentId,
      stockLotId: w.stock.blue.id,
      massMg: 1500,
      clientId: 'phone-0001',
    })
  ).body;
  expect((await studio.api.post(`/log/${entryId}/voiding`, { reason: ' ', clientId: 'phone-0002' })).status).toBe(422);
  const voided = (await studio.api.post(`/log/${entryId}/voiding`, { reason: 'wrong line', clientId: 'phone-0003' }))
    .body.lot;
  expect(line(voided, 'RB')).toMatchObject({ state: 'waiting', actual: null });
  expect((await studio.api.get(`/stock-lots/${w.stock.blue.id}`)).body.onHandQuantity).toBe(500_000);
  expect((await studio.page.get(`/lots/${lotId}`)).text).toContain('void: wrong line');
});

test('a step’s timer is right after any delay, since it counts from the entry’s own time', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const lotId = await planned(studio, w);
  const step = (await lot(studio, lotId)).steps[0] as { stepId: number };
  await studio.api.post(`/lots/${lotId}/steps`, { stepId: step.stepId, kind: 'stepStart', clientId: 'phone-0001' });
  studio.clock.now += 15 * 60_000;
  expect((await lot(studio, lotId)).steps[0]).toMatchObject({ state: 'running', remainingS: 300 });
  studio.clock.now += 10 * 60_000;
  expect((await lot(studio, lotId)).steps[0]).toMatchObject({ state: 'overdue', remainingS: -300 });
  expect((await studio.page.get(`/lots/${lotId}/bench`)).text).toContain('over by 5:00');
  expect(
    (await studio.api.post(`/lots/${lotId}/steps`, { stepId: step.stepId, kind: 'stepStart', clientId: 'phone-0002' }))
      .status,
  ).toBe(409);
  await studio.api.post(`/lots/${lotId}/steps`, { stepId: step.stepId, kind: 'stepEnd', clientId: 'phone-0003' });
  expect((await lot(studio, lotId)).steps[0]).toMatchObject({ state: 'done' });
});

test('a bench form sent by htmx gets the bench; sent plainly it goes back to it; refused it keeps the reading', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const lotId = await planned(studio, w);
  const form = {
    componentId: String(line(await lot(studio, lotId), 'RB').componentId),
    stockLotId: String(w.stock.blue.id),
    clientId: 'device-0001',
  };
  const refused = await studio.page.part('post', `/lots/${lotId}/weighings`, { ...form, amount: 'twelve' });
  expect(refused.status).toBe(422);
  expect(refused.text).toContain('value="twelve"');
  const part = await studio.page.part('post', `/lots/${lotId}/weighings`, { ...form, amount: '12.02' });
  expect(part.status).toBe(200);
  expect(part.text).toMatch(/^<div id="bench"/);
  const plain = await studio.page.post(`/lots/${lotId}/log`, {
    kind: 'deviation',
    text: 'Folded another way',
    clientId: 'device-0002',
  });
  expect([plain.status, plain.headers['location']]).toEqual([303, `/lots/${lotId}/bench`]);
  expect((await studio.page.get(`/lots/${lotId}`)).text).toContain('Folded another way');
});

/** Weighs everything to plan and finishes 22 + 2 seconds. */
async function finished(studio: TestStudio, w: World, more: Record<string, unknown> = {}) {
  const lotId = await planned(studio, w);
  const stock: Record<string, number> = {
    RB: w.stock.blue.id,
    RY: w.stock.yellow.id,
    RR: w.stock.red.id,
    SODA: w.stock.soda.id,
    SALT: w.stock.salt.id,
  };
  for (const l of (await lot(studio, lotId)).lines) {
    await studio.api.post(`/lots/${lotId}/weighings`, {
      componentId: l.componentId,
      stockLotId: stock[l.code],
      massMg: l.planned,
      clientId: `weigh-${l.code}-1`,
    });
  }
  const answer = await studio.api.post(`/lots/${lotId}/outcome`, {
    firstQuality: 22,
    seconds: 2,
    labour: [{ personId: studio.owner.personId, durationS: 5400 }],
    clientId: 'finish-0001',
    ...more,
  });
  return { lotId, answer };
}

test('a finished lot costs what its containers, goods, hands and overhead cost', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const { lotId, answer } = await finished(studio, w);
  expect(answer.status, answer.text).toBe(201);
  // blue 12 g of 500 g at 40.00 → 96; yellow 7.2 g of 500 g at 35.00 → 50 (50.4); red 4.8 g of 250 g at 30.00 → 58 (57.6);
  // salt 1200 g of 10 kg at 10.00 → 120; soda 360 g of 5 kg at 15.00 → 108; linen 1.2 kg at 26.00/kg → 3120; 1.5 h at 24.00 → 3600, at 9.00 → 1350
  const costs = Object.fromEntries(
    answer.body.costLines.map((c: { description: string; costMinor: number }) => [
      c.description.split(/[ ,]/)[0],
      c.costMinor,
    ]),
  );
  expect(costs).toEqual({ RB: 96, RY: 50, RR: 58, SALT: 120, SODA: 108, Linen: 3120, Inês: 3600, Overhead: 1350 });
  expect(answer.body.costMinor).toBe(8502);
  const page = await studio.page.get(`/lots/${lotId}`);
  expect(page.text).toContain('data-total="8502"');
  // 85.02 / 22 good pieces
  expect(page.text).toContain('€3.86');
});

test('a finished lot never changes, whatever is sent or saved afterwards', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const { lotId, answer } = await finished(studio, w);
  const before = answer.body;
  const { componentId } = line(before, 'RB');
  const refusals = [
    await studio.api.post(`/lots/${lotId}/weighings`, {
      componentId,
      stockLotId: w.stock.blue.id,
      massMg: 100,
      clientId: 'late-00001',
    }),
    await studio.api.post(`/lots/${lotId}/adjustments`, {
      componentId,
      way: 'deeper',
      confirmed: {
        goodsDryMassMg: 1_200_000,
        lines: [],
        goodsFactor: 1,
        depthFactor: 1,
        after: { goodsDryMassMg: 1_200_000, lines: [], discarded: [] },
      },
      clientId: 'late-00002',
    }),
    await studio.api.post(`/lots/${lotId}/steps`, {
      stepId: before.steps[0].stepId,
      kind: 'stepStart',
      clientId: 'late-00003',
    }),
    await studio.api.post(`/lots/${lotId}/outcome`, { firstQuality: 24, clientId: 'late-00004' }),
    await studio.api.post(`/lots/${lotId}/abandonment`, { reason: 'x', clientId: 'late-00005' }),
    await studio.api.post(`/log/${before.lines[0].weighings[0].entryId}/voiding`, {
      reason: 'late',
      clientId: 'late-00006',
    }),
  ];
  expect(refusals.map((r) => [r.status, r.body.code])).toEqual(refusals.map(() => [409, 'lotFinished']));
  const fibre = (await studio.api.get(`/fibres/${w.linenId}`)).body;
  const { fibreId: _f, archived: _a, ...fibreBody } = fibre;
  expect((await studio.api.put(`/fibres/${w.linenId}`, { ...fibreBody, costMinorPerKg: 99_999 })).status).toBe(200);
  expect(await lot(studio, lotId)).toEqual(before);
  const other = await studio.api.post(`/lots/${lotId}/outcome`, {
    firstQuality: 22,
    seconds: 2,
    clientId: 'finish-0001',
  });
  expect([other.status, other.body.code]).toEqual([409, 'idReused']);
  expect(await lot(studio, lotId)).toEqual(before);
});

test('finishing asks about counts that do not add up, lines never weighed and a step still running', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const lotId = await planned(studio, w);
  const outcome = (more: Record<string, unknown>) =>
    studio.api.post(`/lots/${lotId}/outcome`, { firstQuality: 24, clientId: 'finish-0001', ...more });
  expect((await outcome({})).body.detail).toContain('Nothing has happened');
  const { stepId } = (await lot(studio, lotId)).steps[0];
  await studio.api.post(`/lots/${lotId}/steps`, { stepId, kind: 'stepStart', clientId: 'step-00001' });
  expect((await outcome({})).body.detail).toContain('still running');
  await studio.api.post(`/lots/${lotId}/steps`, { stepId, kind: 'stepEnd', clientId: 'step-00002' });
  expect((await outcome({ firstQuality: 20 })).body.fields.note).toContain(
    '24 pieces were planned and these add to 20',
  );
  expect((await outcome({})).body.fields.unweighedConfirmed).toContain('Tide blue');
  expect((await outcome({ unweighedConfirmed: true })).status).toBe(201);
});

test('a lot becomes a swatch with its formula, containers and the depth that was really weighed', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const { lotId } = await finished(studio, w);
  expect(
    (
      await studio.page.post(`/lots/${lotId}/readings`, {
        'colour.0': '41.2 -8.5 -22.1',
        readingSource: 'instrument',
        illuminant: 'D65',
        observer: '10',
      })
    ).status,
  ).toBe(303);
  const form = /name="code"[^>]*value="([^"]+)"/.exec((await studio.page.get(`/lots/${lotId}/swatch`)).text);
  const { colours } = await lot(studio, lotId);
  const saved = await studio.page.post(`/lots/${lotId}/swatch`, {
    code: form?.[1] ?? '',
    name: 'Estuary on napkins',
    lotColourId: String(colours[0].lotColourId),
    dyedOn: '2026-03-16',
    takeReading: 'yes',
    readingSource: 'typed',
    illuminant: 'D65',
    observer: '10',
  });
  expect(saved.status, saved.text).toBe(303);
  const swatch = (await studio.api.get(saved.headers['location'] as string)).body;
  expect(swatch).toMatchObject({ lotId, depthPpm: 20_000 });
  expect((await lot(studio, lotId)).swatches).toHaveLength(1);
});

test('half a millilitre-sized dye goes by stock solution and draws the solution, which drew its powder when made', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const { db } = studio.deps;
  const recipe = createRecipe(
    db,
    {
      name: 'Tint',
      dyeClass: 'reactive',
      note: '',
      why: '',
      entryStyle: 'ownDepths',
      components: [{ dyeId: w.dyeIds.red, depthPpm: 1000 }],
    },
    studio.owner,
    studio.deps.now(),
  );
  const body = {
    fibreId: w.linenId,
    methodId: w.methodId,
    goodsText: 'tint',
    mass: { found: 'weighedDry', massMg: 100_000 },
    colours: [{ revisionId: recipe.revision.id, depthPpm: 1000 }],
  };
  const before = (await studio.api.post('/lots/plan', body)).body;
  // 100 g at 0.1 % is 0.1 g: half a digit of 0.01 g is 5 %, so 10 mL of 1 % solution (V = W·d/c)
  expect(before.lines[0]).toMatchObject({
    plannedVolumeUl: 10_000,
    concPpm: 10_000,
    plannedMassMg: null,
    stockLotId: null,
  });
  const made = await studio.page.post(`/stock/${w.stock.red.id}/solutions`, {
    code: 'R-1-A',
    volume: '100 mL',
    conc: '1',
    mass: '1 g',
    madeOn: '2026-03-16',
    clientId: 'made-00001',
  });
  expect(made.status, made.text).toBe(303);
  const solution = (await studio.api.get('/stock-lots')).body.stockLots.find(
    (s: { code: string }) => s.code === 'R-1-A',
  );
  expect(solution).toMatchObject({ onHandQuantity: 100_000, concPpm: 10_000 });
  expect((await studio.api.get(`/stock-lots/${w.stock.red.id}`)).body.onHandQuantity).toBe(249_000);
  const lotId = (await studio.api.post('/lots', body)).body.lotId;
  const tint = line(await lot(studio, lotId), 'RR');
  expect(
    (
      await studio.api.post(`/lots/${lotId}/weighings`, {
        componentId: tint.componentId,
        stockLotId: solution.stockLotId,
        volumeUl: 10_000,
        clientId: 'phone-0001',
      })
    ).body.lot.lines[0],
  ).toMatchObject({ actual: 10_000, state: 'within' });
  expect((await studio.api.get(`/stock-lots/${solution.stockLotId}`)).body.onHandQuantity).toBe(90_000);
});

test('a weak container counts for less: 95 % of standard wants 1.0526 times as much', async () => {
  // m = W·d·(std strength / lot strength): 95 % → × 1.0526 (common practice)
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const { db } = studio.deps;
  const weak = receive(
    db,
    {
      code: 'B-W',
      kind: 'dye',
      dyeId: w.dyeIds.blue,
      auxiliaryId: null,
      fibreId: null,
      unit: 'mg',
      supplier: '',
      makerLot: '',
      strengthPpm: 950_000,
      receivedOn: '2026-02-01',
      openedOn: null,
      bestBeforeOn: null,
      priceMinor: 1000,
      freightMinor: 0,
      receivedQuantity: 100_000,
      sourceStockLotId: null,
      concPpm: null,
      note: '',
    },
    studio.owner,
    { at: studio.deps.now(), recordedAt: studio.deps.now() },
  );
  const plan = (
    await studio.api.post('/lots/plan', {
      fibreId: w.linenId,
      methodId: w.methodId,
      goodsText: 'x',
      mass: { found: 'weighedDry', massMg: 1_200_000 },
      colours: [{ revisionId: w.revisionId, depthPpm: 20_000 }],
      stockLotChoices: { [`dye:${w.dyeIds.blue}`]: weak.id },
    })
  ).body;
  expect(plan.lines[0]).toMatchObject({ code: 'RB', strengthPpm: 950_000 });
  expect(plan.lines[0].exactUg / 12_000_000).toBeCloseTo(1.0526, 4);
});

test('acid dye on linen is called out, and so is a dye of another class than its recipe', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const { db } = studio.deps;
  const acid = db.insert(dyes).values({ code: 'AC', name: 'Acid', class: 'acid' }).returning().get().id;
  const recipe = createRecipe(
    db,
    {
      name: 'Acid',
      dyeClass: 'acid',
      note: '',
      why: '',
      entryStyle: 'ownDepths',
      components: [{ dyeId: acid, depthPpm: 10_000 }],
    },
    studio.owner,
    studio.deps.now(),
  );
  const plan = (
    await studio.api.post('/lots/plan', {
      fibreId: w.linenId,
      methodId: w.methodId,
      goodsText: 'x',
      mass: { found: 'weighedDry', massMg: 100_000 },
      colours: [{ revisionId: recipe.revision.id, depthPpm: 10_000 }],
    })
  ).body;
  expect(plan.warnings.join(' ')).toContain('does not bond with cellulose');
  expect(plan.warnings.join(' ')).toContain('No container of Acid');
});

test('unknown lots are not found; a bench order cannot reach into another lot', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  expect((await studio.page.get('/lots/9999')).status).toBe(404);
  expect((await studio.api.get('/lots/9999')).body.code).toBe('notFound');
  const one = await planned(studio, w);
  const two = await planned(studio, w);
  const foreign = line(await lot(studio, one), 'RB').componentId;
  expect(
    (
      await studio.api.post(`/lots/${two}/weighings`, {
        componentId: foreign,
        stockLotId: w.stock.blue.id,
        massMg: 5,
        clientId: 'phone-0001',
      })
    ).status,
  ).toBe(404);
});
