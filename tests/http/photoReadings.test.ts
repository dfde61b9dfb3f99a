import { readdirSync, utimesSync } from 'node:fs';
import { join } from 'node:path';
import sharp from 'sharp';
import { beforeAll, describe, expect, test, vi } from 'vitest';
import { deltaE2000 } from '../../server/calc/colour/deltaE.ts';
import { readingsOf } from '../../server/readings/queries.ts';
import { CHART_24 } from '../reference/chart24.ts';
import { freshStudio, type TestStudio } from '../support/app.ts';
import { lotWorld, writeLot } from '../support/finishedLots.ts';
import { oneSwatch, smallLibrary } from '../support/library.ts';
import { cornersOff, jpegOf, type LabTriple, type Rendered, render, type Scene } from '../support/renderedCard.ts';

// Photos are read for real, in a process of their own; a busy machine takes its time.
vi.setConfig({ testTimeout: 600_000 });

const VIOLET: LabTriple = [45, 20, -30];
const OCHRE: LabTriple = [65, 18, 50];
const BASE: Scene = {
  widthPx: 560,
  heightPx: 720,
  columns: 6,
  rows: 4,
  labs: CHART_24.map((p) => p.labAfter2014),
  stepPx: 60,
  noise: 1.5,
  phone: 1,
  turnDeg: 6,
  middle: [0.5, 0.38],
  goods: [
    { x: -1.2, y: 3.6, width: 2, height: 1.6, lab: VIOLET },
    { x: 1.4, y: 3.6, width: 2, height: 1.6, lab: OCHRE },
  ],
};

let scene: Rendered;
let photo: Buffer;
beforeAll(async () => {
  scene = render(BASE);
  photo = await jpegOf(scene);
});

const offOf = (lab: { l: number; a: number; b: number }, [L, a, b]: LabTriple): number =>
  deltaE2000({ standard: { L, a, b }, sample: { L: lab.l, a: lab.a, b: lab.b } });

/** Posts a photo to the API; what is not text is sent as JSON. */
function post(studio: TestStudio, picture: Buffer, fields: Record<string, unknown> = {}) {
  const request = studio.page.send('post', '/api/v1/photo-readings').attach('photo', picture, 'photo.jpg');
  for (const [name, value] of Object.entries(fields)) {
    request.field(name, typeof value === 'object' ? JSON.stringify(value) : String(value));
  }
  return request;
}
const spot = (x: number, y: number) => ({ kind: 'spot', ...scene.at(x, y), radiusPx: 18 });
const round = (p: { x: number; y: number }): [number, number] => [p.x, p.y];
/** An area over both goods: two colours and the paper between them. */
const overBoth = () => [scene.at(-2, 3), scene.at(2.2, 3), scene.at(2.2, 4.2), scene.at(-2, 4.2)].map(round);

describe('the API', () => {
  test('finds the card, reads the goods within what is stated, and tells the patches', async () => {
    const studio = await freshStudio();
    const { body, status } = await post(studio, photo, { regions: [spot(-1.2, 3.6), spot(1.4, 3.6)] });
    expect(status).toBe(200);
    expect(body).toMatchObject({
      outcome: 'read',
      widthPx: 560,
      heightPx: 720,
      card: { card: 'chart24Since2014', columns: 6, rows: 4 },
      conditions: { illuminant: 'D50', observer: '2' },
      cornersFrom: 'found',
      turnedDeg: 0,
      photoId: null,
      readings: [],
    });
    expect(cornersOff(body.corners, scene.corners, 6)).toBeLessThan(0.05);
    expect(body.patches).toHaveLength(24);
    expect(body.patches[18]).toMatchObject({ name: 'white', known: { l: 95.19, a: -1.03, b: 2.93 } });
    expect(body.patches[0].middle.x).toBeCloseTo(body.corners[0].x, 6);
    expect(body.residuals.heldOutMedian).toBeLessThan(body.residuals.uncorrectedMedian);
    const [violet, ochre] = body.regions;
    // The ± holds nine times in ten: of two readings one may lie a little outside.
    expect(offOf(violet.lab, VIOLET)).toBeLessThan(1.5 * violet.plusMinus);
    expect(offOf(ochre.lab, OCHRE)).toBeLessThan(1.5 * ochre.plusMinus);
    // Two unlike places are no one colour: their mean says how little it is worth.
    expect(body.goods.between).toBeGreaterThan(20);
    expect(body.goods.plusMinus).toBeGreaterThan(violet.plusMinus);
    expect(readdirSync(studio.deps.config.dataDir)).not.toContain('photos');
  });

  test('takes corners as objects or pairs, from any patch on and either way round, and a spot without a size', async () => {
    const studio = await freshStudio();
    const regions = [{ kind: 'spot', ...scene.at(-1.2, 3.6) }];
    const [a, b, c, d] = scene.corners;
    const given = await post(studio, photo, { corners: scene.corners, regions });
    expect(given.body).toMatchObject({ outcome: 'read', cornersFrom: 'given', confidence: null, warnings: [] });
    for (const corners of [[c, d, a, b].map(round), [b, a, d, c]]) {
      const { body } = await post(studio, photo, { corners, regions });
      expect(cornersOff(body.corners, scene.corners, 6)).toBeLessThan(0.05);
      expect(body.warnings).toMatchObject([
        { code: 'cornersReordered', message: expect.stringContaining('put in order') },
      ]);
      expect(offOf(body.regions[0].lab, VIOLET)).toBeLessThan(body.regions[0].plusMinus);
    }
  });

  test('a card turned by 90° is read, and said to be turned', async () => {
    const studio = await freshStudio();
    const turned = await jpegOf(render({ ...BASE, turnDeg: 90, stepPx: 50, goods: [] }));
    const { body } = await post(studio, turned);
    expect(body).toMatchObject({ outcome: 'read', turnedDeg: 90 });
    expect(body.warnings).toContainEqual({
      code: 'cardTurned',
      turnedDeg: 90,
      message: 'The card lies turned by 90°. It was read as it lies.',
    });
  });

  test.each<[string, Partial<Scene>, string, string]>([
    ['no card at all', { withoutCard: true, paper: false, table: 'plain' }, 'noGrid', 'No card was found'],
    ['a rough table alone', { withoutCard: true, paper: false }, 'otherColours', 'This card was not found'],
    ['a card cut off', { middle: [0.2, 0.5], turnDeg: 0 }, 'cutOff', 'Part of the card lies outside the photo'],
    [
      'another card',
      { labs: BASE.labs.map((_, i): LabTriple => [20 + i * 3, 5, 5]) },
      'otherColours',
      'has other colours',
    ],
  ])('%s is answered, not guessed at', async (_, change, reason, words) => {
    const studio = await freshStudio();
    const { body, status } = await post(studio, await jpegOf(render({ ...BASE, ...change, goods: [] })), {
      regions: [spot(-1.2, 3.6)],
    });
    expect(status).toBe(200);
    expect(body).toMatchObject({ outcome: 'cornersNeeded', reason, corners: null, regions: [], goods: null });
    expect(body.message).toContain(words);
  });

  test.each<[string, Partial<Scene>, string]>([
    ['too bright', { exposure: 1.6 }, 'Too bright: '],
    ['a shine', { glare: { x: 2.2, y: -1.2, radius: 0.9, strength: 0.5 } }, 'A shine or the edge of a shadow lies on '],
    ['light from one side', { slope: 0.09 }, 'Uneven light: '],
    ['lamp light', { cast: [1.3, 0.9, 0.45] }, 'Coloured light or a wrong white: '],
    ['dark', { exposure: 0.1, noise: 0.8 }, 'Dark: '],
  ])('%s is said in plain words', async (_, change, words) => {
    const studio = await freshStudio();
    const { body } = await post(studio, await jpegOf(render({ ...BASE, ...change })));
    expect(body.outcome).toBe('read');
    expect(body.warnings.map((w: { message: string }) => w.message).join('\n')).toContain(words);
  });

  test('a plain grey card of stated lightness, by its corners', async () => {
    const studio = await freshStudio();
    const grey = render({
      ...BASE,
      columns: 1,
      rows: 1,
      labs: [[49.5, 0, 0]],
      stepPx: 200,
      phone: 0,
      cast: [1.15, 1, 0.8],
      goods: [{ x: 0, y: 1, width: 0.8, height: 0.6, lab: VIOLET }],
    });
    const area = [grey.at(-0.3, -0.3), grey.at(0.3, -0.3), grey.at(0.3, 0.3), grey.at(-0.3, 0.3)];
    const fields = { card: 'greyCard', greyL: 49.5, regions: [{ kind: 'spot', ...grey.at(0, 1), radiusPx: 20 }] };
    const picture = await jpegOf(grey);
    const needed = await post(studio, picture, fields);
    expect(needed.body).toMatchObject({ outcome: 'cornersNeeded', reason: 'tooFewPatches' });
    const { body } = await post(studio, picture, { ...fields, corners: area });
    expect(body.residuals).toMatchObject({ heldOutMedian: null });
    expect(body.warnings.map((w: { code: string }) => w.code)).toContain('greyOnly');
    expect(offOf(body.regions[0].lab, VIOLET)).toBeLessThan(body.regions[0].plusMinus);
  });

  test('keeps photo and reading on a swatch, which then stands in its place on the wall', async () => {
    const studio = await freshStudio();
    const { id } = oneSwatch(studio, smallLibrary(studio));
    const { body } = await post(studio, photo, { swatchId: id, regions: [spot(-1.2, 3.6)] });
    expect(body.readings).toHaveLength(1);
    const [kept] = body.readings;
    expect(kept).toMatchObject({
      swatchId: id,
      source: 'photoWithCard',
      illuminant: 'D50',
      observer: '2',
      areaSharePpm: null,
      photoId: body.photoId,
      uncertaintyMilli: Math.round(1000 * body.goods.plusMinus),
    });
    expect(kept.note).toMatch(
      /^24-patch chart, made from November 2014 on; patches held out: ΔE \d\.\d median; card found; spread/,
    );
    expect(kept.l).toBeCloseTo(body.regions[0].lab.l, 9);
    expect((await studio.page.get(`/photos/${body.photoId}/1600`)).status).toBe(200);
    const near = await studio.api.get('/swatches/near?colour=45+20+-30&illuminant=D50');
    expect(near.body.near).toMatchObject([{ swatchId: id, source: 'photoWithCard', adaptedFrom: null }]);
    expect((await studio.page.get(`/swatches/${id}`)).text).toContain(`href="/photos/${body.photoId}/1600"`);
  });

  test('variegated goods: colours with their shares of the area, kept on a lot as bands', async () => {
    const studio = await freshStudio();
    const world = lotWorld(studio.deps, studio.owner);
    const lotId = writeLot(world, { number: '26-0001', finishedAt: studio.clock.now });
    const { body } = await post(studio, photo, {
      lotId,
      regions: [{ kind: 'area', outline: overBoth(), clusters: 3 }],
    });
    const { clusters } = body.regions[0];
    expect(clusters).toHaveLength(3);
    for (const lab of [VIOLET, OCHRE]) {
      expect(
        Math.min(...clusters.map((c: { lab: { l: number; a: number; b: number } }) => offOf(c.lab, lab))),
      ).toBeLessThan(4);
    }
    const rows = readingsOf(studio.deps.db, { lotId });
    expect(rows).toHaveLength(3);
    expect(rows.reduce((sum, r) => sum + (r.areaSharePpm ?? 0), 0)).toBe(1_000_000);
    expect(new Set(rows.map((r) => r.photoId))).toEqual(new Set([body.photoId]));
    expect((await studio.api.get(`/swatches/near?lotId=${lotId}&band=1`)).body.standard.of).toBe('lot 26-0001');
  });

  test.each<[string, Record<string, unknown>, string]>([
    ['an unknown card', { card: 'studio-7' }, 'card'],
    ['a card that is no choice', { card: 'postcard' }, 'card'],
    ['corners that are no JSON', { corners: 'here' }, 'corners'],
    [
      'three corners',
      {
        corners: [
          [1, 1],
          [2, 2],
          [3, 1],
        ],
      },
      'corners',
    ],
    [
      'crossed corners',
      {
        corners: [
          [10, 10],
          [300, 300],
          [300, 10],
          [10, 300],
        ],
      },
      'corners',
    ],
    [
      'corners outside',
      {
        corners: [
          [10, 10],
          [9000, 10],
          [300, 300],
          [10, 300],
        ],
      },
      'corners.2.x',
    ],
    ['a region of no kind', { regions: [{ kind: 'cloud' }] }, 'regions.0.kind'],
    ['a region outside', { regions: [{ kind: 'spot', x: 9000, y: 10, radiusPx: 5 }] }, 'region'],
    ['a lightness of no grey', { card: 'greyCard', greyL: 4 }, 'greyL'],
  ])('%s is refused beside its field', async (_, fields, name) => {
    const studio = await freshStudio();
    const { status, body } = await post(studio, photo, fields);
    expect(status).toBe(422);
    expect(Object.keys(body.fields)).toContain(name);
  });

  test('what is no photo, and what nobody may', async () => {
    const studio = await freshStudio();
    expect((await post(studio, Buffer.from('dye'))).status).toBe(415);
    const without = await studio.page.send('post', '/api/v1/photo-readings').field('card', 'chart24Since2014');
    expect(without.body.fields).toEqual({ photo: 'Send one file, named photo.' });
    expect((await post(studio, photo, { swatchId: 99 })).status).toBe(404);
    const { id } = oneSwatch(studio, smallLibrary(studio));
    studio.deps.sqlite.prepare("update people set role = 'bench'").run();
    expect((await post(studio, photo, { swatchId: id, regions: [spot(-1.2, 3.6)] })).status).toBe(403);
    expect((await post(studio, photo)).status).toBe(200);
    studio.deps.sqlite.prepare("update people set role = 'viewer'").run();
    expect((await post(studio, photo)).status).toBe(403);
    expect((await studio.page.get('/photo-readings/new')).status).toBe(403);
  });

  test('other requests are answered while a photo is read', async () => {
    const studio = await freshStudio();
    let reading = true;
    // Areas sorted into colours, so that it takes a while.
    const regions = Array.from({ length: 4 }, () => ({ kind: 'area', outline: overBoth(), clusters: 'auto' }));
    const read = post(studio, photo, { regions }).then((answer) => {
      reading = false;
      return answer;
    });
    let answeredMeanwhile = 0;
    while (reading) {
      expect((await studio.api.get('/swatches')).status).toBe(200);
      if (reading) answeredMeanwhile += 1;
    }
    expect((await read).body.outcome).toBe('read');
    // Were it read on the same thread, the first of them would come after it.
    expect(answeredMeanwhile).toBeGreaterThan(3);
  });
});

describe('the pages', () => {
  /** Sends a photo by the form and answers the address of its page. */
  async function sent(studio: TestStudio, fields: Record<string, string>): Promise<string> {
    const request = studio.page.send('post', '/photo-readings').attach('photo', photo, 'photo.jpg');
    for (const [name, value] of Object.entries(fields)) request.field(name, value);
    const { status, headers } = await request;
    expect(status).toBe(303);
    return headers['location'] ?? '';
  }
  const share = (x: number, y: number): string => {
    const p = scene.at(x, y);
    return `${((p.x + 0.5) / 560).toFixed(5)},${((p.y + 0.5) / 720).toFixed(5)}`;
  };
  const part = (studio: TestStudio, address: string, places: Record<string, string> = {}) => {
    const url = new URL(address, 'http://studio.test');
    for (const [name, value] of Object.entries(places)) url.searchParams.set(name, value);
    return studio.page.part('get', `${url.pathname}/result${url.search}`);
  };

  test('photograph, read, point, keep: on a swatch', async () => {
    const studio = await freshStudio();
    const { id } = oneSwatch(studio, smallLibrary(studio));
    const start = await studio.page.get(`/photo-readings/new?swatchId=${id}`);
    expect(start.text).toContain(`name="swatchId" value="${id}"`);
    expect(start.text).toContain('capture="environment"');
    const address = await sent(studio, { card: 'chart24Since2014', greyL: '49.5', swatchId: String(id) });
    expect(address).toMatch(new RegExp(`^/photo-readings/\\d+\\?card=chart24Since2014&swatchId=${id}$`));
    const page = await studio.page.get(address);
    expect(page.text).toContain('data-corner-names="dark skin|bluish green|black|white"');

    const found = await part(studio, address);
    expect(found.text.trim().startsWith('<div id="photo-result"')).toBe(true);
    expect(found.text).toContain('data-outcome="read"');
    expect(found.text).toContain('Now tap the goods');
    expect(found.text).not.toContain('/keeping');
    const read = await part(studio, address, { spots: share(-1.2, 3.6) });
    const { action, fields } = formIn(read.text);
    expect(fields).toMatchObject({ card: 'chart24Since2014', swatchId: String(id), spots: share(-1.2, 3.6) });
    const saved = await studio.page.post(action, fields);
    expect(saved.headers['location']).toBe(`/swatches/${id}#readings`);
    const [row] = readingsOf(studio.deps.db, { swatchId: id });
    if (!row) throw new Error('a reading was to be kept');
    expect(offOf(row, VIOLET)).toBeLessThan((row.uncertaintyMilli ?? 0) / 1000);
    expect(row).toMatchObject({ source: 'photoWithCard', illuminant: 'D50', observer: '2' });
  });

  test('for a search: the reading leads to what is near it, by its own light and ±', async () => {
    const studio = await freshStudio();
    const address = await sent(studio, { card: 'chart24Since2014' });
    const { text } = await part(studio, address, { spots: `${share(-1.2, 3.5)};${share(-1.2, 3.7)}` });
    expect(text).not.toContain('/keeping');
    expect(text).toContain('Mean of 2 spots');
    const href = /class="button primary" href="([^"]+)"/.exec(text)?.[1]?.replaceAll('&amp;', '&') ?? '';
    expect(href).toMatch(/^\/swatches\/near\?colour=.*&illuminant=D50&observer=2&plusMinus=\d/);
    expect((await studio.page.get(href)).text).toContain('from a photo');
  });

  test('an area of several colours; without script the whole page says the same', async () => {
    const studio = await freshStudio();
    const address = await sent(studio, { card: 'chart24Since2014' });
    const area = overBoth()
      .map(([x, y]) => `${(x + 0.5) / 560},${(y + 0.5) / 720}`)
      .join(';');
    const { text } = await part(studio, address, { area, bands: '4' });
    expect(text).toContain('4 colours of the goods');
    expect(text.match(/<b>\d+ %<\/b>/g)).toHaveLength(4);
    const whole = await studio.page.get(`${address.replace('?', '/result?')}&area=${encodeURIComponent(area)}&bands=4`);
    expect(whole.text).toContain('<html');
    expect(whole.text).toContain('4 colours of the goods');
  });

  test('a photo without a card asks for the corners, and takes them', async () => {
    const studio = await freshStudio();
    const address = await sent(studio, { card: 'chart24Since2014' });
    const moved = scene.corners.map((p) => `${(p.x + 4) / 560},${(p.y - 3) / 720}`).join(';');
    const { text } = await part(studio, address, { corners: moved });
    expect(text).toContain('at the given corners');
    const crossed = await part(studio, address, { corners: '0.1,0.1;0.9,0.9;0.9,0.1;0.1,0.9' });
    expect(crossed.status).toBe(422);
    expect(crossed.text).toContain('without crossing');
    const unreadable = await part(studio, address, { corners: '0.1,0.1;x' });
    expect(unreadable.status).toBe(422);
  });

  test('what is refused keeps what was chosen', async () => {
    const studio = await freshStudio();
    const none = await studio.page.send('post', '/photo-readings').field('card', 'greyCard').field('greyL', '60');
    expect(none.status).toBe(422);
    expect(none.text).toContain('Take or choose a photo first.');
    expect(none.text).toContain('value="60"');
    for (const content of [Buffer.from('x'), Buffer.alloc(0)]) {
      const bad = await studio.page
        .send('post', '/photo-readings')
        .attach('photo', content, 'x.jpg')
        .field('card', 'chart24Since2014');
      expect(bad.status).toBe(415);
      expect(bad.text).toContain('not a picture that can be read');
      const byApi = await studio.page.send('post', '/api/v1/photo-readings').attach('photo', content, 'x.jpg');
      expect([byApi.status, byApi.body.code]).toEqual([415, 'notAnImage']);
    }
    expect((await studio.page.get('/photo-readings/77')).status).toBe(404);
  });

  test('after two days the photo is read from the kept picture, and says so', async () => {
    const studio = await freshStudio();
    const address = await sent(studio, { card: 'chart24Since2014' });
    expect((await part(studio, address)).text).not.toContain('not kept any longer');
    const folder = join(studio.deps.config.dataDir, 'photo-readings');
    const [copy] = readdirSync(folder);
    const old = (studio.clock.now - 3 * 86_400_000) / 1000;
    utimesSync(join(folder, copy ?? ''), old, old);
    // The next photo sweeps.
    const other = await sharp({ create: { width: 90, height: 60, channels: 3, background: '#777777' } })
      .png()
      .toBuffer();
    await studio.page
      .send('post', '/photo-readings')
      .attach('photo', other, 'other.png')
      .field('card', 'chart24Since2014');
    expect(readdirSync(folder)).not.toContain(copy);
    const { text } = await part(studio, address, { spots: share(-1.2, 3.6) });
    expect(text).toContain('not kept any longer');
    expect(text).toContain('data-outcome="read"');
  });
});

/** Address and hidden fields of the form that a part holds. */
function formIn(markup: string): { action: string; fields: Record<string, string> } {
  const [, action = ''] = /<form method="post" action="([^"]+)"/.exec(markup) ?? [];
  const fields = Object.fromEntries(
    [...markup.matchAll(/<input type="hidden" name="([^"]+)" value="([^"]*)"/g)].map((m) => [m[1] ?? '', m[2] ?? '']),
  );
  return { action, fields };
}

describe('the studio’s own cards', () => {
  // Felt squares as a studio might measure them; invented, and used for both the picture and the card.
  const FELT: LabTriple[] = [
    [90, 0, 2],
    [70, 1, 0],
    [50, 0, 1],
    [30, 0, 0],
    [45, 50, 25],
    [60, 30, 60],
    [80, 0, 75],
    [50, -40, 20],
    [40, -10, -35],
    [35, 30, -35],
    [65, 20, 10],
    [25, 10, -20],
  ];
  const body = {
    name: 'Felt card',
    columns: 4,
    rows: 3,
    illuminant: 'D50',
    observer: '2',
    patches: FELT.map(([l, a, b]) => ({ l, a, b })),
  };

  test('is found in a photo and read by', async () => {
    const studio = await freshStudio();
    const made = await studio.api.post('/reference-cards', body);
    expect(made.status).toBe(201);
    expect(made.body).toMatchObject({ card: 'studio-1', columns: 4, rows: 3, adaptation: '', archived: false });
    const felt = render({
      ...BASE,
      columns: 4,
      rows: 3,
      labs: FELT,
      stepPx: 80,
      goods: [{ x: 0, y: 3, width: 2, height: 1.2, lab: VIOLET }],
    });
    const read = await post(studio, await jpegOf(felt), {
      card: 'studio-1',
      regions: [{ kind: 'spot', ...felt.at(0, 3), radiusPx: 18 }],
    });
    expect(read.body).toMatchObject({ outcome: 'read', card: { name: 'Felt card' } });
    expect(cornersOff(read.body.corners, felt.corners, 4)).toBeLessThan(0.05);
    expect(offOf(read.body.regions[0].lab, VIOLET)).toBeLessThan(read.body.regions[0].plusMinus);
    expect((await studio.page.get('/photo-readings/new')).text).toContain('Felt card');
  });

  test('by the form: patches one a line, adapted where they were measured under another light', async () => {
    const studio = await freshStudio();
    const typed = {
      name: 'Paint chips',
      columns: '2',
      rows: '2',
      illuminant: 'D65',
      observer: '10',
      patches: 'white; 95,1 -0,2 1,0\n50 0 0\r\n\nblack: 20 0 -1\nred no. 4 45 55 30\n',
      note: '',
    };
    const saved = await studio.page.post('/reference-cards', typed);
    expect(saved.headers['location']).toBe('/reference-cards/1');
    const { body: card } = await studio.api.get('/reference-cards/1');
    expect(card.patches).toEqual([
      { name: 'white', l: 95.1, a: -0.2, b: 1 },
      { name: 'patch 2', l: 50, a: 0, b: 0 },
      { name: 'black', l: 20, a: 0, b: -1 },
      { name: 'red no. 4', l: 45, a: 55, b: 30 },
    ]);
    expect(card.adaptation).toContain('adapted to D50/2° by the Bradford transform');
    const page = await studio.page.get('/reference-cards/1');
    expect(page.text).toContain('L* 95.1');
    expect((await studio.page.get('/reference-cards')).text).toContain('Paint chips');
    await studio.page.post('/reference-cards/1/archiving');
    expect((await studio.page.get('/photo-readings/new')).text).not.toContain('Paint chips');
    expect((await studio.api.get('/reference-cards')).body.cards).toMatchObject([{ archived: true }]);
  });

  test.each([
    [{ patches: 'white 95 0 0' }, 'patches', '1 were given'],
    [{ patches: '95 0 0\n50 0\n20 0 0\n10 0 0' }, 'patches', 'Line 2'],
    [{ patches: '95 0 0\n50 0 0\n20 0 0\n#101010' }, 'patches', 'Line 4'],
    [{ columns: '4', rows: '1' }, 'rows', 'cannot be placed'],
    [{ columns: '0' }, 'columns', '1 to 40'],
    [{ name: ' ' }, 'name', 'A name'],
  ])('%j is refused beside %s', async (change, _, words) => {
    const studio = await freshStudio();
    const typed = {
      name: 'Chips',
      columns: '2',
      rows: '2',
      illuminant: 'D50',
      observer: '2',
      patches: '95 0 0\n50 0 0\n20 0 0\n10 0 0',
      note: '',
    };
    const { status, text } = await studio.page.post('/reference-cards', { ...typed, ...change });
    expect(status).toBe(422);
    expect(text).toContain(words);
    expect((await studio.api.get('/reference-cards')).body.cards).toEqual([]);
  });

  test('a name is given once', async () => {
    const studio = await freshStudio();
    await studio.api.post('/reference-cards', body);
    const again = await studio.api.post('/reference-cards', { ...body, name: 'felt CARD' });
    expect(again.status).toBe(422);
    expect(again.body.fields.name).toContain('already');
  });
});
