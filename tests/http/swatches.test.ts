import { readdirSync } from 'node:fs';
import { join } from 'node:path';
import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import { type SwatchRow, swatches } from '../../server/db/tables/swatches.ts';
import { createRecipe } from '../../server/recipes/revisions.ts';
import { freshStudio, type TestStudio } from '../support/app.ts';
import { type Library, oneSwatch, smallLibrary } from '../support/library.ts';
import { statementsOf } from '../support/statements.ts';

const lab = (l: number, a: number, b: number) => ({
  colour: { l, a, b, illuminant: 'D65' as const, observer: '2' as const },
  source: 'instrument' as const,
  asTyped: '',
  areaSharePpm: null,
  uncertaintyMilli: null,
  note: '',
});

const names = (body: { swatches: { name: string }[] }): string[] => body.swatches.map((s) => s.name);

/** Five swatches that differ in every way the wall can tell. */
function shelf(studio: TestStudio): Library & { ids: Record<string, number> } {
  const library = smallLibrary(studio);
  const red = { revisionId: library.redRevisionId };
  const yellowOnly = { revisionId: library.greenRevisionId };
  const add = (name: string, more: Parameters<typeof oneSwatch>[2]): SwatchRow =>
    oneSwatch(studio, library, { name, ...more });
  const ids = {
    straw: add('Straw', { ...yellowOnly, depthPpm: 5_000, readings: [lab(85, 0, 40)], dyedOn: '2026-01-10' }).id,
    reed: add('Reed', { ...yellowOnly, readings: [lab(60, -20, 30)], rating: 3, note: 'patchy at the fold' }).id,
    brick: add('Brick', { ...red, depthPpm: 20_000, readings: [lab(45, 45, 30)], rating: 5, fibreId: library.silkId })
      .id,
    ink: add('Ink', { ...red, depthPpm: 60_000, readings: [lab(20, 8, -30)], cardPlace: 'ring 9' }).id,
    unread: add('Unread', { ...red, dyedOn: '2026-03-10' }).id,
  };
  return { ...library, ids };
}

describe('the wall', () => {
  test('stands in the order asked for; what has no colour comes last', async () => {
    const studio = await freshStudio();
    shelf(studio);
    const order = async (sort: string) => names((await studio.api.get(`/swatches?sort=${sort}`)).body);
    expect(await order('hue')).toEqual(['Straw', 'Brick', 'Ink', 'Reed', 'Unread']);
    expect(await order('lightness')).toEqual(['Straw', 'Reed', 'Brick', 'Ink', 'Unread']);
    expect((await order('depth')).slice(0, 1)).toEqual(['Straw']);
    expect((await order('depth')).at(-1)).toBe('Ink');
    expect((await order('newest')).slice(0, 1)).toEqual(['Unread']);
    expect((await order('rating')).slice(0, 2)).toEqual(['Brick', 'Reed']);
  });

  test.each([
    ['words=patchy', ['Reed']],
    ['words=ring+9', ['Ink']],
    ['words=madder', ['Brick', 'Ink', 'Unread']],
    ['words=b1+reed', ['Straw', 'Reed']],
    ['words=100%25', []],
    ['hue=red', ['Brick']],
    ['depth=pale', ['Straw']],
    ['depth=medium', ['Brick', 'Reed', 'Unread']],
    ['depth=deep', ['Ink']],
    ['inStock=yes', []],
    ['archived=yes', []],
    ['words=&hue=&fibreId=', ['Straw', 'Brick', 'Ink', 'Reed', 'Unread']],
  ])('%s leaves %j', async (query, expected) => {
    const studio = await freshStudio();
    shelf(studio);
    const { body } = await studio.api.get(`/swatches?${query}`);
    expect(names(body).sort()).toEqual([...expected].sort());
    expect(body.total).toBe(expected.length);
  });

  test('is narrowed by goods, method and dye, and by what is really on the shelf', async () => {
    const studio = await freshStudio();
    const library = shelf(studio);
    const of = async (query: string) => names((await studio.api.get(`/swatches?${query}`)).body);
    expect(await of(`fibreId=${library.silkId}`)).toEqual(['Brick']);
    expect(await of(`dyeId=${library.yellowId}`)).toEqual(['Straw', 'Reed']);
    expect(await of(`methodId=${library.methodId}&dyeId=${library.redId}&hue=red`)).toEqual(['Brick']);
    // Yellow alone is in stock: a recipe of yellow only can be dyed, one with blue in it cannot.
    const { db } = studio.deps;
    const { revision } = createRecipe(
      db,
      {
        name: 'Sun',
        dyeClass: 'reactive',
        note: '',
        entryStyle: 'ownDepths',
        components: [{ dyeId: library.yellowId, depthPpm: 20_000 }],
        why: '',
      },
      studio.owner,
      studio.clock.now,
    );
    oneSwatch(studio, library, { name: 'Sun', revisionId: revision.id, stockLotIds: [library.yellowStockLotId] });
    expect(await of('inStock=yes')).toEqual(['Sun']);
    studio.deps.sqlite
      .prepare('update stock_lots set recalled_at = 1, recall_reason = ? where id = ?')
      .run('test', library.yellowStockLotId);
    expect(await of('inStock=yes')).toEqual([]);
  });

  test('a filter that cannot be read is named, not guessed at', async () => {
    const studio = await freshStudio();
    expect((await studio.api.get('/swatches?depth=murky')).body).toMatchObject({
      code: 'invalidInput',
      fields: { depth: 'pale, medium or deep' },
    });
    const page = await studio.page.get('/swatches?fibreId=x');
    expect(page.status).toBe(422);
    expect(page.text).toContain('Choose one from the list.');
  });

  test('the page, its part and the rest of a long wall', async () => {
    const studio = await freshStudio();
    const library = smallLibrary(studio);
    const bare = await studio.page.get('/swatches');
    expect(bare.text).toContain('The wall is bare');
    for (let i = 0; i < 61; i++) oneSwatch(studio, library, { name: `Card ${i}`, readings: [lab(20 + i, 10, 10)] });
    const page = await studio.page.get('/swatches?size=dense&words=');
    expect(page.text).toContain('61 swatches');
    expect(page.text.match(/<li class="tag">/g)).toHaveLength(60);
    expect(page.text).toContain('href="/swatches?from=60&amp;size=dense"');
    const part = await studio.page.part('get', '/swatches?words=card+7&sort=hue&fibreId=');
    expect(part.text.startsWith('<div id="wall"')).toBe(true);
    expect(part.text).not.toContain('<html');
    expect(part.headers['hx-push-url']).toBe('/swatches?words=card+7');
    const more = await studio.page.part('get', '/swatches?from=60');
    expect(more.text.trim().startsWith('<li class="tag">')).toBe(true);
    expect(more.text).not.toContain('Show more');
    const none = await studio.page.get('/swatches?words=nothing+of+the+kind');
    expect(none.text).toContain('No swatch fits that');
  });

  test('asks the database as often for twenty swatches as for ten', async () => {
    const studio = await freshStudio();
    const library = smallLibrary(studio);
    const fill = (n: number) => {
      for (let i = 0; i < n; i++) oneSwatch(studio, library, { readings: [lab(50, i, i)] });
    };
    const count = async (url: string) => {
      let status = 0;
      // The first look after a change brings the colours in memory up to date.
      await studio.page.get('/swatches/1');
      const n = await statementsOf(studio.deps, async () => {
        status = (await studio.page.get(url)).status;
      });
      expect(status).toBe(200);
      expect(n).toBeGreaterThan(0);
      return n;
    };
    fill(10);
    const [wall10, list10, one10] = [
      await count('/swatches'),
      await count('/api/v1/swatches'),
      await count('/swatches/1'),
    ];
    fill(10);
    expect([await count('/swatches'), await count('/api/v1/swatches'), await count('/swatches/1')]).toEqual([
      wall10,
      list10,
      one10,
    ]);
  });
});

describe('one swatch', () => {
  test('is added by the API and told whole; its own depths follow its depth, not the recipe’s', async () => {
    const studio = await freshStudio();
    const library = smallLibrary(studio);
    const { body, status } = await studio.api.post('/swatches', {
      name: 'Reed, deep',
      revisionId: library.greenRevisionId,
      depthPpm: 45_000,
      fibreId: library.linenId,
      methodId: library.methodId,
      dyedOn: '2026-03-14',
      stockLotIds: [library.yellowStockLotId],
      readings: [{ l: 40, a: -12, b: 18, illuminant: 'D50', observer: '10', source: 'instrument' }],
    });
    expect(status).toBe(201);
    expect(body).toMatchObject({
      code: 'S-0001',
      dyes: 'Y1 60 · B1 40',
      recipeName: 'Reed',
      components: [
        { code: 'Y1', sharePpm: 600_000, ownDepthPpm: 27_000 },
        { code: 'B1', sharePpm: 400_000, ownDepthPpm: 18_000 },
      ],
      stockLots: [{ code: 'D-0001' }],
      readings: [{ illuminant: 'D50', observer: '10', adapted: true }],
      madeBy: { name: 'Inês' },
    });
    const page = await studio.page.get(`/swatches/${body.swatchId}`);
    expect(page.status).toBe(200);
    expect(page.text).toContain('Reed, deep');
    expect(page.text).toContain('L* 40.0  a* −12.0  b* 18.0, D50/10°');
    expect(page.text).toContain(`/lots/new?swatchId=${body.swatchId}`);
  });

  test('what it refers to must be there, and its containers be of its own dyes', async () => {
    const studio = await freshStudio();
    const library = smallLibrary(studio);
    const body = {
      name: 'X',
      revisionId: library.redRevisionId,
      depthPpm: 10_000,
      fibreId: library.linenId,
      methodId: library.methodId,
      dyedOn: '2026-03-14',
    };
    const fields = async (more: object) => {
      const answer = await studio.api.post('/swatches', { ...body, ...more });
      expect(answer.status).toBe(422);
      return Object.keys(answer.body.fields);
    };
    expect(await fields({ revisionId: 99, fibreId: 98, methodId: 97, photoId: 96, lotId: 95 })).toEqual([
      'revisionId',
      'fibreId',
      'methodId',
      'photoId',
      'lotId',
    ]);
    expect(await fields({ stockLotIds: [library.yellowStockLotId] })).toEqual(['stockLotIds']);
    expect(await fields({ dyedOn: '2026-03-17' })).toEqual(['dyedOn']);
    expect(await fields({ dyedOn: '2026-02-30' })).toEqual(['dyedOn']);
    await studio.api.post('/swatches', { ...body, code: 'A1' });
    expect(await fields({ code: 'a1' })).toEqual(['code']);
    expect(studio.deps.db.select().from(swatches).all()).toHaveLength(1);
  });

  test('card numbers go on from the highest', async () => {
    const studio = await freshStudio();
    const library = smallLibrary(studio);
    expect(oneSwatch(studio, library).code).toBe('S-0001');
    oneSwatch(studio, library, { code: 'S-0041' });
    oneSwatch(studio, library, { code: 'S-9x' });
    oneSwatch(studio, library, { code: 'OLD 7' });
    expect(oneSwatch(studio, library).code).toBe('S-0042');
  });

  test('a refused sample leaves nothing behind', async () => {
    const studio = await freshStudio();
    const library = smallLibrary(studio);
    const half = { ...lab(50, 0, 0), areaSharePpm: 600_000 };
    expect(() => oneSwatch(studio, library, { readings: [half, half] })).toThrow();
    expect(studio.deps.db.select().from(swatches).all()).toEqual([]);
  });

  test('is typed into the form, with a photo; what is wrong stands beside its field and what was typed stays', async () => {
    const studio = await freshStudio();
    const library = smallLibrary(studio);
    const form = (fields: Record<string, string>) => {
      const request = studio.page.send('post', '/swatches');
      for (const [name, value] of Object.entries(fields)) request.field(name, value);
      return request;
    };
    const typed = {
      name: 'Reed',
      code: 'S-0001',
      revisionId: String(library.greenRevisionId),
      depth: '2,5 %',
      fibreId: String(library.linenId),
      methodId: String(library.methodId),
      dryMass: '10 g',
      dyedOn: '2026-03-15',
      cardPlace: 'ring 2',
      note: 'even',
      rating: '4',
      'colour.0': '#6f8f5a',
      'share.0': '',
      readingSource: 'typed',
      illuminant: 'D65',
      observer: '10',
      'stockLot.0': String(library.yellowStockLotId),
      'stockLot.1': '',
    };
    const refused = await form({ ...typed, depth: 'some', 'colour.0': 'greenish' }).attach(
      'photo',
      Buffer.from('x'),
      'x.jpg',
    );
    expect(refused.status).toBe(422);
    expect(refused.text).toContain('value="some"');
    expect(refused.text).toContain('value="greenish"');
    expect(refused.text).toContain('id="f-depth-error"');
    const colour = await form({ ...typed, 'colour.0': 'greenish' });
    expect(colour.status).toBe(422);
    expect(colour.text).toContain('id="f-colour-0-error"');
    const notPicture = await form(typed).attach('photo', Buffer.from('x'), 'x.jpg');
    expect(notPicture.status).toBe(415);
    expect(notPicture.text).toContain('id="f-photo-error"');
    expect(studio.deps.db.select().from(swatches).all()).toEqual([]);

    const picture = await sharp({ create: { width: 60, height: 40, channels: 3, background: '#6f8f5a' } })
      .jpeg()
      .toBuffer();
    const saved = await form(typed).attach('photo', picture, 'card.jpg');
    expect(saved.status).toBe(303);
    expect(saved.headers['location']).toBe('/swatches/1');
    const { body } = await studio.api.get('/swatches/1');
    expect(body).toMatchObject({
      depthPpm: 25_000,
      dryMassMg: 10_000,
      rating: 4,
      hex: '#6f8f5a',
      stockLots: [{ stockLotId: library.yellowStockLotId }],
    });
    expect((await studio.page.get(`/photos/${body.photoId}/640`)).status).toBe(200);
    expect((await studio.page.get('/swatches?show=photo')).text).toContain(`/photos/${body.photoId}/640`);
  });

  test('refused after its photo was read, it leaves no photo behind; one that was there before stays', async () => {
    const studio = await freshStudio();
    const { id } = oneSwatch(studio, smallLibrary(studio), { readings: [lab(60, -20, 30)] });
    const picture = (background: string) =>
      sharp({ create: { width: 60, height: 40, channels: 3, background } })
        .png()
        .toBuffer();
    const save = async (background: string, version: string) =>
      studio.page
        .send('post', `/swatches/${id}`)
        .field('name', 'Reed bed')
        .field('version', version)
        .attach('photo', await picture(background), 'card.png');
    const kept = () => ({
      rows: studio.deps.sqlite.prepare('select count(*) from photos').pluck().get(),
      files: readdirSync(join(studio.deps.config.dataDir, 'photos'), { recursive: true }).filter((name) =>
        String(name).endsWith('.webp'),
      ).length,
    });
    expect((await save('#6f8f5a', '1')).status).toBe(303);
    expect(kept()).toEqual({ rows: 1, files: 2 });
    expect((await save('#a03040', '1')).status).toBe(409);
    expect(kept()).toEqual({ rows: 1, files: 2 });
    expect((await save('#6f8f5a', '1')).status).toBe(409);
    expect(kept()).toEqual({ rows: 1, files: 2 });
  });

  test('of a card only name, place, rating, note and photo change, against the version read', async () => {
    const studio = await freshStudio();
    const { id } = oneSwatch(studio, smallLibrary(studio), { readings: [lab(60, -20, 30)] });
    const edit = { name: 'Reed bed', cardPlace: 'ring 1', note: 'n', rating: 2, photoId: null, version: 1 };
    expect((await studio.api.put(`/swatches/${id}`, edit)).body).toMatchObject({
      name: 'Reed bed',
      rating: 2,
      version: 2,
    });
    const stale = await studio.api.put(`/swatches/${id}`, edit);
    expect(stale.status).toBe(409);
    expect(stale.body.code).toBe('staleEdit');
    const form = await studio.page.post(`/swatches/${id}`, { name: 'Mine', version: '1' });
    expect(form.status).toBe(409);
    expect(form.text).toContain('value="Mine"');
    const away = await studio.page.post(`/swatches/${id}`, { name: 'Reed bed', archived: 'yes', version: '2' });
    expect(away.status).toBe(303);
    expect((await studio.api.get('/swatches')).body.total).toBe(0);
    expect((await studio.api.get('/swatches?archived=yes')).body.total).toBe(1);
    for (const column of ['revision_id', 'depth_ppm', 'fibre_id', 'method_id']) {
      expect(() => studio.deps.sqlite.prepare(`update swatches set ${column} = ${column} + 1`).run()).toThrow(
        'a swatch keeps the formula it was dyed by',
      );
    }
  });

  test('neighbours: the same recipe by depth, and what is near by CIEDE2000', async () => {
    const studio = await freshStudio();
    const library = smallLibrary(studio);
    // Pair 1 and pair 7 of the published CIEDE2000 test data (Sharma, Wu and Dalal 2005): 2.0425 and 0.0000 apart from itself.
    const base = oneSwatch(studio, library, { readings: [lab(50, 2.6772, -79.7751)] });
    const pair = oneSwatch(studio, library, {
      name: 'Near',
      revisionId: library.redRevisionId,
      readings: [lab(50, 0, -82.7485)],
    });
    oneSwatch(studio, library, { name: 'Pale reed', depthPpm: 5_000, readings: [lab(90, 0, 10)] });
    const { body } = await studio.api.get(`/swatches/${base.id}/neighbours`);
    expect(body.sameRecipe.map((s: { name: string }) => s.name)).toEqual(['Pale reed']);
    expect(body.near[0].swatch.swatchId).toBe(pair.id);
    expect(body.near[0].deltaE2000).toBeCloseTo(2.0425, 4);
  });

  test('is not there: 404 on every door', async () => {
    const studio = await freshStudio();
    for (const url of ['/swatches/9', '/swatches/9/edit', '/swatches/9/card', '/swatches/9/weigh-up?mass=1']) {
      expect((await studio.page.get(url)).status).toBe(404);
    }
    expect((await studio.api.get('/swatches/9')).status).toBe(404);
    expect(
      (
        await studio.api.put('/swatches/9', {
          name: 'x',
          cardPlace: '',
          note: '',
          rating: null,
          photoId: null,
          version: 1,
        })
      ).status,
    ).toBe(404);
    expect((await studio.page.post('/swatches/9', { name: 'x', version: '1' })).status).toBe(404);
  });

  test('its card is one page with a QR code of its address', async () => {
    const studio = await freshStudio();
    const { id } = oneSwatch(studio, smallLibrary(studio), { readings: [lab(60, -20, 30)] });
    const { text, status } = await studio.page.get(`/swatches/${id}/card`);
    expect(status).toBe(200);
    expect(text).toContain(`http://studio.test/swatches/${id}`);
    expect(text).toContain('<svg xmlns="http://www.w3.org/2000/svg"');
    expect(text).toContain('S-0001');
  });
});

describe('repeat on n g of …', () => {
  test('each dye is goods × depth × share × uptake, rounded so that the lines add up', async () => {
    const studio = await freshStudio();
    const library = smallLibrary(studio);
    const { id } = oneSwatch(studio, library);
    // 1 kg at 2 %, 60/40: 12 g and 8 g; the silk asks for a fifth more.
    const linen = await studio.api.get(`/swatches/${id}/weigh-up?massMg=1000000`);
    expect(linen.body).toMatchObject({
      lines: [
        { code: 'Y1', exactMg: 12_000, roundedMg: 12_000, stock: null, container: { code: 'D-0001' }, shortMg: 0 },
        { code: 'B1', exactMg: 8_000, roundedMg: 8_000, stock: null, container: null },
      ],
      roundedTotalMg: 20_000,
      bathUl: 10_000_000,
    });
    expect(linen.body.warnings).toContain('No container of Deep blue in stock.');
    const silk = await studio.api.get(
      `/swatches/${id}/weigh-up?massMg=1000000&fibreId=${library.silkId}&depthPpm=30000`,
    );
    expect(silk.body.lines.map((l: { exactMg: number }) => Math.round(l.exactMg))).toEqual([21_600, 14_400]);
    expect(silk.body.uptakePpm).toBe(1_200_000);
    expect(silk.body.warnings[0]).toContain('protein');
    const odd = await studio.api.get(`/swatches/${id}/weigh-up?massMg=333333`);
    const { lines, roundedTotalMg } = odd.body as { lines: { roundedMg: number }[]; roundedTotalMg: number };
    expect(lines.reduce((sum, l) => sum + l.roundedMg, 0)).toBe(roundedTotalMg);
    expect(roundedTotalMg).toBe(6_670);
  });

  test('below the scale’s floor it says which stock solution, and how much', async () => {
    const studio = await freshStudio();
    const { id } = oneSwatch(studio, smallLibrary(studio));
    const { body } = await studio.api.get(`/swatches/${id}/weigh-up?massMg=10000`);
    // 10 g at 2 %: 0.12 g of yellow and 0.08 g of blue; as 1 % solution 12 mL and 8 mL.
    expect(body.lines).toMatchObject([
      { stock: { strengthPpm: 10_000, volumeUl: 12_000, fills: 1 } },
      { stock: { strengthPpm: 10_000, volumeUl: 8_000, fills: 1 } },
    ]);
    const page = await studio.page.get(`/swatches/${id}/weigh-up?mass=10+g&fibreId=1&depth=2`);
    expect(page.text).toContain('stock solution');
  });

  test('is answered as one types, and says what cannot be read', async () => {
    const studio = await freshStudio();
    const { id, fibreId } = oneSwatch(studio, smallLibrary(studio));
    const at = `/swatches/${id}/weigh-up?fibreId=${fibreId}&depth=2&mass=`;
    const good = await studio.page.part('get', `${at}2+lb`);
    expect(good.status).toBe(200);
    expect(good.text.startsWith('<div id="weigh-up"')).toBe(true);
    expect(good.text).toContain('/lots/new?swatchId=1&amp;depth=2&amp;fibreId=1&amp;mass=2+lb');
    // 2 lb = 907.184 74 g; at 2 % 18.14 g in all.
    expect(good.text).toContain('18.14 g');
    const bad = await studio.page.part('get', `${at}a+lot`);
    expect(bad.status).toBe(422);
    expect(bad.text.startsWith('<div id="weigh-up"')).toBe(true);
    expect(bad.text).toContain('notice bad');
    const whole = await studio.page.get(`${at}a+lot`);
    expect(whole.text).toContain('id="f-mass-error"');
    expect((await studio.api.get(`/swatches/${id}/weigh-up?massMg=0`)).status).toBe(422);
  });
});

test('a bench sign-in may look at the library and not add to it', async () => {
  const studio = await freshStudio();
  const library = smallLibrary(studio);
  studio.deps.sqlite.prepare("update people set role = 'bench'").run();
  expect((await studio.page.get('/swatches')).text).not.toContain('/swatches/new');
  expect((await studio.page.get('/swatches/new')).status).toBe(403);
  expect((await studio.api.post('/swatches', {})).status).toBe(403);
  oneSwatch(studio, library, { readings: [lab(60, -20, 30)] });
  const page = await studio.page.get('/swatches/1');
  expect(page.status).toBe(200);
  expect(page.text).not.toContain('/swatches/1/edit');
  expect(page.text).not.toContain('/withdrawal');
});
