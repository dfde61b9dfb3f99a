import sharp from 'sharp';
import { afterAll, describe, expect, test } from 'vitest';
import { deltaE2000 } from '../../server/calc/colour/deltaE.ts';
import { closeMatching } from '../../server/matching/models.ts';
import { pieceRegions } from '../../server/sampling/sheetPhoto.ts';
import { CHART_24 } from '../reference/chart24.ts';
import { freshStudio, type TestStudio } from '../support/app.ts';
import { type LabTriple, render } from '../support/renderedCard.ts';
import { makeWorld, type World } from '../support/world.ts';

afterAll(async () => {
  await closeMatching();
});

const COLUMNS = 11;
const triangleOf = (world: World) => ({
  name: 'Blue, yellow, red',
  kind: 'triangle',
  fibreId: world.linenId,
  methodId: world.methodId,
  stocks: [
    { dyeId: world.dyeIds.blue, concPpm: 10_000 },
    { dyeId: world.dyeIds.yellow, concPpm: 10_000 },
    { dyeId: world.dyeIds.red, concPpm: 5_000 },
  ],
  blend: { depthsPpm: [20_000], stepPct: 10 },
  pieceMassMg: 5000,
  liquorMlPerKg: 20_000,
});

/** Colours that no two pieces share, within what the chart spans. */
const pieceLab = (shares: readonly number[]): LabTriple => {
  const [blue = 0, yellow = 0, red = 0] = shares.map((s) => s / 1e6);
  return [34 * blue + 76 * yellow + 44 * red, 2 * blue + 4 * yellow + 46 * red, -36 * blue + 62 * yellow + 20 * red];
};

/** A photo of a sheet: pieces in rows above a reference card, seen from a little aside in warm light. */
function sheetPhoto(pieces: readonly { sharesPpm: number[] }[]) {
  const step = 0.62;
  const at = (i: number) => ({
    x: ((i % COLUMNS) - (COLUMNS - 1) / 2) * step,
    y: -5.6 + Math.floor(i / COLUMNS) * step,
  });
  const scene = render({
    widthPx: 1500,
    heightPx: 1500,
    columns: 6,
    rows: 4,
    labs: CHART_24.map((p) => p.labAfter2014 as LabTriple),
    stepPx: 165,
    middle: [0.5, 0.74],
    turnDeg: 2,
    tiltDeg: 6,
    swingDeg: -4,
    table: 'plain',
    paper: false,
    cast: [1.1, 1, 0.86],
    noise: 1.5,
    goods: pieces.map((p, i) => ({ ...at(i), width: 0.5, height: 0.5, lab: pieceLab(p.sharesPpm) })),
  });
  const corner = (i: number) => scene.at(at(i).x, at(i).y);
  const last = pieces.length - 1;
  return { scene, gridCorners: [corner(0), corner(COLUMNS - 1), corner(last), corner(last - COLUMNS + 1)] };
}

const png = ({ image }: ReturnType<typeof render>): Promise<Buffer> =>
  sharp(Buffer.from(image.data.buffer, image.data.byteOffset, image.data.byteLength), {
    raw: { width: image.width, height: image.height, channels: 3 },
  })
    .png()
    .toBuffer();

async function planTriangle(studio: TestStudio): Promise<{ world: World; plan: PlanBody }> {
  const world = makeWorld(studio);
  const { body } = await studio.api.post('/sampling-plans', triangleOf(world)).expect(201);
  return { world, plan: body as PlanBody };
}
interface PlanBody {
  planId: number;
  gridColumns: number;
  stocks: { usedUl: number; makeUl: number; powderMg: number }[];
  pieces: {
    ordinal: number;
    depthPpm: number;
    sharesPpm: number[];
    stockUl: number[];
    waterUl: number | null;
    lab: { l: number; a: number; b: number } | null;
    swatchId: number | null;
  }[];
}

describe('a triangle of 66 samples', () => {
  test('tells the stock for every cup, the water beside it, and how much of each stock to make', async () => {
    const studio = await freshStudio();
    const { plan } = await planTriangle(studio);
    expect(plan.pieces).toHaveLength(66);
    expect(plan.gridColumns).toBe(COLUMNS);
    // 5 g to 2 % is 100 mg of dye: of a 1 % stock 10 mL, of a 0.5 % stock 20 mL; 5 g at 20 L/kg is a cup of 100 mL.
    const pure = (i: number) => plan.pieces.find((p) => p.sharesPpm[i] === 1_000_000);
    expect(pure(0)?.stockUl).toEqual([10_000, 0, 0]);
    expect(pure(0)?.waterUl).toBeCloseTo(90_000, 6);
    expect(pure(2)?.stockUl).toEqual([0, 0, 20_000]);
    // Over a whole triangle each dye has a third of all: 66 × 100 mg / 3 = 2.2 g, and a tenth more to make.
    expect(plan.stocks.map((s) => s.usedUl)).toEqual([220_000, 220_000, 440_000]);
    expect(plan.stocks.map((s) => s.powderMg)).toEqual([2420, 2420, 2420]);
    for (const p of plan.pieces) expect(p.sharesPpm.reduce((sum, s) => sum + s, 0)).toBe(1_000_000);
  });

  test('has its bench page and a label for every piece', async () => {
    const studio = await freshStudio();
    const { plan } = await planTriangle(studio);
    const sheet = await studio.page.get(`/sampling/${plan.planId}/sheet`).expect(200);
    expect(sheet.text).toContain('242.0 mL');
    expect(sheet.text).toContain('484.0 mL');
    const labels = await studio.page.get(`/sampling/${plan.planId}/labels`).expect(200);
    expect(labels.text.match(/<li><b>\d+<\/b>/g)).toHaveLength(66);
  });

  test('is read from one photo with a card, and every piece becomes a swatch', { timeout: 600_000 }, async () => {
    const studio = await freshStudio();
    const { plan } = await planTriangle(studio);
    const { scene, gridCorners } = sheetPhoto(plan.pieces);
    const upload = await studio.page
      .send('post', `/sampling/${plan.planId}/photo`)
      .field('card', 'chart24Since2014')
      .attach('photo', await png(scene), 'sheet.png')
      .expect(303);
    const photoPage = upload.headers['location'] as string;
    await studio.page.get(photoPage).expect(200);
    const typed = Object.fromEntries(gridCorners.map((c, i) => [`grid${i}`, `${c.x.toFixed(1)} ${c.y.toFixed(1)}`]));
    const read = await studio.page.post(photoPage.split('?')[0] ?? '', {
      card: 'chart24Since2014',
      cardBy: 'find',
      ...typed,
    });
    expect([200, 303]).toContain(read.status);
    const { body } = await studio.api.get(`/sampling-plans/${plan.planId}`).expect(200);
    const after = body as PlanBody;
    const off = after.pieces.map(({ lab, sharesPpm }) => {
      const [L, a, b] = pieceLab(sharesPpm);
      return lab === null
        ? Number.NaN
        : deltaE2000({ standard: { L, a, b }, sample: { L: lab.l, a: lab.a, b: lab.b } });
    });
    off.sort((x, y) => x - y);
    expect(off.every(Number.isFinite)).toBe(true);
    expect(off[33]).toBeLessThan(2);
    expect(off[65]).toBeLessThan(5);

    await studio.page.post(`/sampling/${plan.planId}/swatches`, { cardPlace: 'Drawer 9', dyedOn: '' }).expect(303);
    const kept = (await studio.api.get(`/sampling-plans/${plan.planId}`)).body as PlanBody;
    expect(kept.pieces.every((p) => p.swatchId !== null)).toBe(true);
    const one = await studio.api.get(`/swatches/${kept.pieces[1]?.swatchId}`).expect(200);
    expect(one.body).toMatchObject({ depthPpm: 20_000, cardPlace: 'Drawer 9', dryMassMg: 5000 });
    expect(one.body.readings[0]).toMatchObject({ source: 'photoWithCard', illuminant: 'D50', observer: '2' });
    expect(one.body.components.map((c: { sharePpm: number }) => c.sharePpm)).toEqual([900_000, 100_000]);

    // Kept once: nothing is left to keep, and what became a swatch is read no more.
    await studio.page.post(`/sampling/${plan.planId}/swatches`, {}).expect(409);
    await studio.api
      .post(`/sampling-plans/${plan.planId}/results`, {
        results: [{ ordinal: 1, l: 50, a: 0, b: 0, illuminant: 'D65', observer: '10', source: 'typed' }],
      })
      .expect(409);
  });

  test('without a card in the photo it asks for the corners, and nothing is kept', { timeout: 240_000 }, async () => {
    const studio = await freshStudio();
    const { plan } = await planTriangle(studio);
    const { data } = { data: Buffer.alloc(600 * 400 * 3, 140) };
    const blank = await sharp(data, { raw: { width: 600, height: 400, channels: 3 } })
      .png()
      .toBuffer();
    const upload = await studio.page.send('post', `/sampling/${plan.planId}/photo`).attach('photo', blank, 'blank.png');
    const answer = await studio.page.post((upload.headers['location'] as string).split('?')[0] ?? '', {
      card: 'chart24Since2014',
      cardBy: 'find',
      grid0: '50 50',
      grid1: '550 50',
      grid2: '550 350',
      grid3: '50 350',
    });
    expect(answer.status).toBe(422);
    expect(answer.text).toContain('No card was found');
    const { body } = await studio.api.get(`/sampling-plans/${plan.planId}`);
    expect((body as PlanBody).pieces.every((p) => p.lab === null)).toBe(true);
  });
});

describe('other sets', () => {
  test('a ladder is typed in, and its depths stand on one recipe', async () => {
    const studio = await freshStudio();
    const world = makeWorld(studio);
    const made = await studio.page.post('/sampling', {
      kind: 'depthLadder',
      name: 'Blue ladder',
      fibreId: String(world.linenId),
      methodId: String(world.methodId),
      'dyeId.0': String(world.dyeIds.blue),
      'conc.0': '1',
      from: '0.25',
      to: '4',
      count: '5',
      spacing: 'ratio',
      pieceMass: '10 g',
      ratio: '20',
      reserve: '10',
    });
    expect(made.status).toBe(303);
    const planId = Number(/\d+$/.exec(made.headers['location'] as string)?.[0]);
    const { body } = await studio.api.get(`/sampling-plans/${planId}`);
    expect((body as PlanBody).pieces.map((p) => p.depthPpm)).toEqual([2500, 5000, 10_000, 20_000, 40_000]);
    const refused = await studio.page.post(`/sampling/${planId}/results`, { 'colour.1': 'sky' });
    expect(refused.status).toBe(422);
    expect(refused.text).toContain('three numbers');
    await studio.page
      .post(`/sampling/${planId}/results`, {
        'colour.1': '78 -6 -14',
        'colour.3': '52 -4 -30',
        observer: '10',
        source: 'instrument',
      })
      .expect(303);
    const kept = await studio.api.post(`/sampling-plans/${planId}/swatches`, {}).expect(201);
    const ids = (kept.body as { swatchIds: number[] }).swatchIds;
    expect(ids).toHaveLength(2);
    const [one, other] = await Promise.all(ids.map((id) => studio.api.get(`/swatches/${id}`)));
    expect(one?.body.revisionId).toBe(other?.body.revisionId);
    expect(other?.body).toMatchObject({ depthPpm: 10_000, lab: { l: expect.closeTo(52, 0) } });
  });

  test('a cup that cannot hold its solutions is refused with the way out', async () => {
    const studio = await freshStudio();
    const world = makeWorld(studio);
    const { blend: _blend, ...rest } = triangleOf(world);
    const answer = await studio.api.post('/sampling-plans', {
      ...rest,
      kind: 'triangle',
      blend: { depthsPpm: [60_000], stepPct: 10 },
      liquorMlPerKg: 5000,
    });
    expect(answer.status).toBe(422);
    expect(JSON.stringify(answer.body)).toContain('stronger stocks');
  });

  test('what is still being typed is answered with volumes, or with what is missing', async () => {
    const studio = await freshStudio();
    const world = makeWorld(studio);
    const typed = new URLSearchParams({
      kind: 'blendLadder',
      fibreId: String(world.linenId),
      methodId: String(world.methodId),
      'dyeId.0': String(world.dyeIds.blue),
      'conc.0': '1',
      'dyeId.1': String(world.dyeIds.red),
      'conc.1': '1',
      depth: '2',
      step: '10',
      pieceMass: '5 g',
      ratio: '20',
      reserve: '0',
    });
    const part = await studio.page.part('get', `/sampling/preview?${typed}`).expect(200);
    expect(part.text).toContain('>11</span> pieces');
    // 11 pieces of 100 mg, half of each dye: 550 mg, 55 mL of a 1 % stock.
    expect(part.text).toContain('55.0 mL');
    typed.set('pieceMass', 'much');
    const again = await studio.page.part('get', `/sampling/preview?${typed}`).expect(200);
    expect(again.text).toContain('field-error');
  });
});

test('regions of a sheet follow its four corners, the last row counting as full', () => {
  const square = [
    { x: 0, y: 0 },
    { x: 100, y: 0 },
    { x: 100, y: 50 },
    { x: 0, y: 50 },
  ] as const;
  const regions = pieceRegions({ corners: [...square], columns: 3, count: 5 });
  const middles = regions.map((r) =>
    r.kind === 'area' ? r.outline.reduce((m, p) => ({ x: m.x + p.x / 4, y: m.y + p.y / 4 }), { x: 0, y: 0 }) : null,
  );
  for (const [i, [x, y]] of [
    [0, 0],
    [50, 0],
    [100, 0],
    [0, 50],
    [50, 50],
  ].entries()) {
    expect(middles[i]?.x).toBeCloseTo(x ?? 0, 6);
    expect(middles[i]?.y).toBeCloseTo(y ?? 0, 6);
  }
  const [a, b, c, d] = square;
  expect(() => pieceRegions({ corners: [a, d, c, b], columns: 3, count: 5 })).toThrow('clockwise');
});
