import { expect, test } from 'vitest';
import { freshStudio, type TestStudio } from '../support/app.ts';
import { type IceWorld, makeIceWorld } from '../support/iceWorld.ts';
import { makeWorld, type World } from '../support/world.ts';

interface Ground {
  studio: TestStudio;
  w: World;
  ice: IceWorld;
  lotId: number;
}

/** A length of 2 m by 1.4 m in four colours. */
async function ground(): Promise<Ground> {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const ice = makeIceWorld(studio, w);
  const lot = await studio.api.post('/lots', {
    fibreId: w.linenId,
    methodId: ice.methodId,
    goodsText: 'a length of linen',
    mass: { found: 'fromArea', lengthMm: 2000, widthMm: 1400, pieces: 1 },
    coverage: 'eachOverItsShare',
    colours: ice.revisionIds.map((revisionId) => ({ revisionId, depthPpm: 30_000, sharePpm: 250_000 })),
  });
  expect(lot.status, lot.text).toBe(201);
  return { studio, w, ice, lotId: (lot.body as { lotId: number }).lotId };
}

/** 4 × 4, the two upper rows of colour 1, the lower of colour 2. */
const drawing = (more: Record<string, unknown> = {}) => ({
  columns: 4,
  rows: 4,
  cells: [1, 1, 1, 1, 1, 1, 1, 1, 2, 2, 2, 2, 2, 2, 2, 2],
  ice: [],
  clamps: [],
  lines: [],
  ...more,
});

const lotOf = async (g: Ground) =>
  (await g.studio.api.get(`/lots/${g.lotId}`)).body as {
    status: string;
    log: { kind: string; text: string; at: number; stepId: number | null }[];
    steps: { stepId: number; name: string; state: string; startedAt: number | null; endedAt: number | null }[];
    lines: { componentId: number; code: string; kind: string }[];
  };

test('the grid starts in the proportions of the goods, empty', async () => {
  const g = await ground();
  const page = await g.studio.page.get(`/lots/${g.lotId}/placement`);
  expect(page.status).toBe(200);
  // 2000 / 1400 of 8 columns: 11.43 rows
  expect(page.text).toContain('&quot;columns&quot;:8,&quot;rows&quot;:11,');
  expect(page.text).not.toContain('&quot;cells&quot;:[1');
  expect((await g.studio.page.get(`/lots/${g.lotId}/bench`)).text).toContain(`href="/lots/${g.lotId}/placement"`);
});

test('a plan is drawn before work and does not begin it; each version stays with its time, the plan beside', async () => {
  const g = await ground();
  const { studio, lotId } = g;
  const plan = await studio.page.post(`/lots/${lotId}/placements`, {
    of: 'plan',
    drawing: JSON.stringify(drawing()),
    clientId: 'plan-drawing-1',
  });
  expect(plan.status, plan.text).toBe(303);
  expect(plan.headers['location']).toBe(`/lots/${lotId}#placement`);
  expect((await lotOf(g)).status).toBe('planned');

  studio.clock.now += 3_600_000;
  const first = await studio.api.post(`/lots/${lotId}/placements`, {
    drawing: drawing({
      ice: [0, 1],
      clamps: [5],
      lines: [
        { kind: 'fold', x1: 4, y1: 0, x2: 4, y2: 8 },
        { kind: 'binding', x1: 0, y1: 3, x2: 8, y2: 3 },
      ],
    }),
    text: 'scrunched towards the rack',
    clientId: 'cloth-drawing-1',
  });
  expect(first.status, first.text).toBe(201);
  studio.clock.now += 3_600_000;
  const again = drawing({ cells: [4, 1, 1, 1, 1, 1, 1, 1, 2, 2, 2, 2, 2, 2, 2, 3] });
  expect(
    (await studio.api.post(`/lots/${lotId}/placements`, { drawing: again, clientId: 'cloth-drawing-2' })).status,
  ).toBe(201);

  const versions = (await studio.api.get(`/lots/${lotId}/placements`)).body.placements as {
    of: string;
    at: number;
    drawing: { cells: number[]; lines: unknown[] };
    text: string;
  }[];
  expect(versions.map((v) => v.of)).toEqual(['plan', 'cloth', 'cloth']);
  expect(versions.map((v) => v.at - (versions[0]?.at ?? 0))).toEqual([0, 3_600_000, 7_200_000]);
  expect(versions[1]?.drawing.lines).toHaveLength(2);
  expect(versions[2]?.drawing.cells).toEqual(again.cells);

  const body = await lotOf(g);
  expect(body.status).toBe('onBench');
  const words = body.log.filter((e) => e.kind === 'placement').map((e) => e.text);
  expect(words).toEqual([
    'Placement as meant: 1 Kelp on 50 %, 2 Sloe on 50 %',
    'Placement as it lies: 1 Kelp on 50 %, 2 Sloe on 50 %, 1 fold, 1 binding, 1 clamp or block, ice on 13 %. scrunched towards the rack',
    'Placement as it lies: 1 Kelp on 44 %, 2 Sloe on 44 %, 3 Rowan on 6 %, 4 Lichen on 6 %',
  ]);

  // in the timeline: the plan once alone, then each version with the plan beside; large above: plan and newest
  const page = (await studio.page.get(`/lots/${lotId}`)).text;
  expect(page.match(/class="placement placement-small"/g)).toHaveLength(1 + 2 * 2);
  expect(page.match(/class="placement placement-large"/g)).toHaveLength(2);
  expect(page).toContain('3 versions in all');
  // the editor goes on from the newest
  expect((await studio.page.get(`/lots/${lotId}/placement`)).text).toContain('&quot;cells&quot;:[4,1,1,');
});

test('once work has begun the plan stands; a finished lot takes no drawing', async () => {
  const g = await ground();
  const { studio, lotId } = g;
  await studio.api.post(`/lots/${lotId}/log`, { kind: 'note', text: 'wetted out', clientId: 'begun-with-note' });
  const late = await studio.page.post(`/lots/${lotId}/placements`, {
    of: 'plan',
    drawing: JSON.stringify(drawing({ cells: Array(16).fill(3) })),
    clientId: 'late-plan-drawing',
  });
  expect(late.status).toBe(409);
  expect(late.text).toContain('draw how it lies now');
  // what was drawn is still there
  expect(late.text).toContain('&quot;cells&quot;:[3,3,3,3,');
  await studio.api.post(`/lots/${lotId}/abandonment`, { reason: 'torn', clientId: 'given-up-torn' });
  const after = await studio.api.post(`/lots/${lotId}/placements`, {
    drawing: drawing(),
    clientId: 'after-the-end',
  });
  expect(after.status).toBe(409);
  expect((await studio.page.get(`/lots/${lotId}/placement`)).headers['location']).toBe(`/lots/${lotId}#placement`);
});

test('the same drawing sent again is one version; a voided one is struck out and no longer stands', async () => {
  const g = await ground();
  const { studio, lotId } = g;
  const send = () => studio.api.post(`/lots/${lotId}/placements`, { drawing: drawing(), clientId: 'sent-twice-01' });
  const one = await send();
  const two = await send();
  expect(two.body.entryId).toBe(one.body.entryId);
  const voided = await studio.api.post(`/log/${one.body.entryId}/voiding`, {
    reason: 'of another piece',
    clientId: 'void-drawing-1',
  });
  expect(voided.status, voided.text).toBe(201);
  expect((await studio.api.get(`/lots/${lotId}/placements`)).body.placements).toEqual([]);
  const page = (await studio.page.get(`/lots/${lotId}`)).text;
  expect(page).toContain('void: of another piece');
  expect(page).not.toContain('placement-large');
});

test.each<[string, Record<string, unknown>, string]>([
  ['too few cells', { cells: [1, 2] }, 'has 16 cells'],
  ['a colour that the lot has not', { cells: Array(16).fill(5) }, 'This lot has 4 colours'],
  ['ice outside the grid', { ice: [16] }, 'outside the grid'],
  ['a cell named twice', { clamps: [3, 3] }, 'named twice'],
  ['a line that leaves the grid', { lines: [{ kind: 'fold', x1: 0, y1: 0, x2: 9, y2: 0 }] }, 'leaves the grid'],
  ['a line that is a point', { lines: [{ kind: 'fold', x1: 1, y1: 1, x2: 1, y2: 1 }] }, 'joins two points'],
  ['nothing at all', { cells: Array(16).fill(0) }, 'Nothing is drawn'],
])('refused on the page and by the API: %s', async (_, more, words) => {
  const g = await ground();
  const page = await g.studio.page.post(`/lots/${g.lotId}/placements`, {
    drawing: JSON.stringify(drawing(more)),
    clientId: 'refused-drawing',
  });
  expect(page.status).toBe(422);
  expect(page.text).toContain(words);
  const api = await g.studio.api.post(`/lots/${g.lotId}/placements`, {
    drawing: drawing(more),
    clientId: 'refused-drawing',
  });
  expect(api.status).toBe(422);
  expect((await lotOf(g)).log).toEqual([]);
});

test('a drawing that is none is told so, and words alone are a version of their own', async () => {
  const g = await ground();
  const broken = await g.studio.page.post(`/lots/${g.lotId}/placements`, {
    drawing: '{"columns":',
    clientId: 'broken-drawing',
  });
  expect(broken.status).toBe(422);
  expect(broken.text).toContain('The drawing cannot be read.');
  const words = await g.studio.page.post(`/lots/${g.lotId}/placements`, {
    drawing: JSON.stringify(drawing({ cells: Array(16).fill(0) })),
    text: 'rolled from the hem <loosely>',
    clientId: 'words-only-001',
  });
  expect(words.status).toBe(303);
  expect((await g.studio.page.get(`/lots/${g.lotId}`)).text).toContain('rolled from the hem &lt;loosely&gt;');
});

test('instead of … I did …: what the plan said stands in the entry, and a choice that does not fit is refused', async () => {
  const g = await ground();
  const { studio, lotId } = g;
  const { steps, lines } = await lotOf(g);
  const melt = steps.find((s) => s.name === 'Melt');
  const soda = lines.find((l) => l.code === 'SODA');
  const bench = (await studio.page.get(`/lots/${lotId}/bench`)).text;
  for (const value of [`time:${melt?.stepId}`, `temp:${melt?.stepId}`, `line:${soda?.componentId}`, 'placement'])
    expect(bench).toContain(`name="instead" value="${value}"`);
  // dyes are weighed: their deviation is the reading
  for (const l of lines.filter((x) => x.kind === 'dye')) expect(bench).not.toContain(`value="line:${l.componentId}"`);

  const longer = await studio.page.part('post', `/lots/${lotId}/log`, {
    kind: 'deviation',
    instead: `time:${melt?.stepId}`,
    did: 'longer',
    text: '',
    clientId: 'melted-longer-1',
  });
  expect(longer.status, longer.text).toBe(200);
  expect(longer.text).toContain('Otherwise than planned: instead of Melt, 6 h: longer');
  const api = await studio.api.post(`/lots/${lotId}/deviations`, {
    instead: `temp:${melt?.stepId}`,
    did: 'other',
    text: 'in the cold store',
    clientId: 'in-cold-store-1',
  });
  expect(api.status, api.text).toBe(201);
  expect((await lotOf(g)).log.at(-1)).toMatchObject({
    kind: 'deviation',
    stepId: melt?.stepId,
    text: 'Otherwise than planned: instead of Melt, 18 °C: in the cold store',
  });
  for (const [instead, did, text, words] of [
    [`time:${melt?.stepId}`, 'hotter', '', 'does not go with Melt'],
    [`time:${melt?.stepId}`, 'other', '', 'Say what you did instead.'],
    ['time:999999', 'longer', '', 'Choose what of the plan'],
  ] as const) {
    const refused = await studio.page.part('post', `/lots/${lotId}/log`, {
      kind: 'deviation',
      instead,
      did,
      text,
      clientId: 'refused-deviation',
    });
    expect(refused.status).toBe(422);
    expect(refused.text).toContain(words);
  }
});

test('one tap ends a step and starts the next, both or neither', async () => {
  const g = await ground();
  const { studio, lotId } = g;
  const { steps } = await lotOf(g);
  const [soak, fold, powder] = steps;
  await studio.api.post(`/lots/${lotId}/steps`, { stepId: soak?.stepId, kind: 'stepStart', clientId: 'soak-begins' });
  studio.clock.now += 1_500_000;
  const next = await studio.page.part('post', `/lots/${lotId}/steps`, {
    stepId: String(soak?.stepId),
    kind: 'stepEnd',
    next: String(fold?.stepId),
    clientId: 'soak-ends-fold',
  });
  expect(next.status, next.text).toBe(200);
  let now = (await lotOf(g)).steps;
  expect(now[0]).toMatchObject({ state: 'done', endedAt: studio.clock.now });
  expect(now[1]).toMatchObject({ state: 'running', startedAt: studio.clock.now });
  // sent again by a device that heard no answer
  const again = await studio.api.post(`/lots/${lotId}/steps`, {
    stepId: soak?.stepId,
    kind: 'stepEnd',
    thenStepId: fold?.stepId,
    clientId: 'soak-ends-fold',
  });
  expect(again.status).toBe(201);
  expect((await lotOf(g)).log.filter((e) => e.kind === 'stepStart')).toHaveLength(2);
  // a next step that is under way already: the first is not ended either
  await studio.api.post(`/lots/${lotId}/steps`, {
    stepId: powder?.stepId,
    kind: 'stepStart',
    clientId: 'powder-begins',
  });
  const refused = await studio.api.post(`/lots/${lotId}/steps`, {
    stepId: fold?.stepId,
    kind: 'stepEnd',
    thenStepId: powder?.stepId,
    clientId: 'fold-ends-powder',
  });
  expect(refused.status).toBe(409);
  now = (await lotOf(g)).steps;
  expect(now[1]?.state).toBe('running');
});

test('two temperatures are drawn over the steps, one is not', async () => {
  const g = await ground();
  const { studio, lotId } = g;
  const { steps } = await lotOf(g);
  await studio.api.post(`/lots/${lotId}/steps`, {
    stepId: steps[3]?.stepId,
    kind: 'stepStart',
    clientId: 'melt-begins',
  });
  const read = async (tempC: number, id: string) => {
    studio.clock.now += 3_600_000;
    const done = await studio.page.part('post', `/lots/${lotId}/log`, {
      kind: 'temperature',
      temp: String(tempC),
      clientId: id,
    });
    expect(done.status, done.text).toBe(200);
  };
  await read(4, 'temperature-1');
  expect((await studio.page.get(`/lots/${lotId}`)).text).not.toContain('temperature-plot');
  await read(17.5, 'temperature-2');
  const page = (await studio.page.get(`/lots/${lotId}`)).text;
  expect(page).toContain('2 temperatures from 4 °C to 17.5 °C');
  expect(page.match(/<circle cx="[\d.]+" cy="[\d.]+" r="4"/g)).toHaveLength(2);
});

test('from a lot back to its powder containers', async () => {
  const g = await ground();
  const { studio, lotId, w } = g;
  const blue = (await lotOf(g)).lines.find((l) => l.code === 'RB');
  await studio.api.post(`/lots/${lotId}/weighings`, {
    componentId: blue?.componentId,
    stockLotId: w.stock.blue.id,
    massMg: 2390,
    clientId: 'blue-weighed-1',
  });
  expect((await studio.page.get(`/lots/${lotId}`)).text).toContain(`<a href="/stock/${w.stock.blue.id}">B-1</a>`);
});
