import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import sharp from 'sharp';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { planLot } from '../../server/lots/planLot.ts';
import { closeMatching } from '../../server/matching/models.ts';
import { storePhoto } from '../../server/photos/store.ts';
import { recordReadings } from '../../server/readings/recordReadings.ts';
import { planSamples } from '../../server/sampling/planSamples.ts';
import { CHART_24 } from '../reference/chart24.ts';
import {
  axeViolations,
  describeBrowser,
  overflowPx,
  type RunningApp,
  SCREENS,
  startApp,
  visitorOf,
} from '../support/browser.ts';
import { type DyedLibrary, dyedLibrary, trueColour } from '../support/dyedLibrary.ts';
import { planInput } from '../support/lotInputs.ts';
import { jpegOf, render } from '../support/renderedCard.ts';

describeBrowser('recipes for a colour', (browser) => {
  let app: RunningApp;
  let library: DyedLibrary;
  let lotId = 0;
  let planId = 0;
  let photoId = 0;

  beforeAll(async () => {
    app = await startApp();
    if (!app.owner) throw new Error('the studio was to be set up');
    const { deps, owner } = { deps: app.deps, owner: app.owner };
    library = dyedLibrary({ deps, owner });
    lotId = planLot(
      deps,
      planInput(library, {
        goodsText: 'Napkins',
        pieces: 12,
        mass: { found: 'weighedDry', massMg: 1_000_000 },
        colours: [
          { revisionId: library.revisionId, swatchId: 17, depthPpm: 20_000, sharePpm: 1_000_000, placement: '' },
        ],
      }),
      owner,
    ).id;
    const { L, a, b } = trueColour({ blue: 0.3, yellow: 0.6, red: 0.4 });
    recordReadings(
      deps.db,
      { lotId },
      [
        {
          colour: { l: L, a, b, illuminant: 'D65', observer: '10' },
          source: 'instrument',
          asTyped: '',
          areaSharePpm: null,
          uncertaintyMilli: null,
          note: '',
        },
      ],
      owner,
      deps.now(),
    );
    planId = planSamples(
      deps.db,
      {
        name: 'Blue, yellow, red',
        kind: 'triangle',
        fibreId: library.linenId,
        methodId: library.methodId,
        stocks: Object.values(library.dyeIds).map((dyeId) => ({ dyeId, concPpm: 10_000 })),
        ladder: null,
        blend: { depthsPpm: [20_000], stepPct: 10 },
        recipes: null,
        pieceMassMg: 5000,
        liquorMlPerKg: 20_000,
        reservePpm: 100_000,
        gridColumns: 11,
        note: '',
      },
      owner,
      deps.now(),
    ).id;
    const grey = sharp({ create: { width: 1200, height: 900, channels: 3, background: '#808080' } });
    photoId = (await storePhoto(deps, await grey.png().toBuffer(), owner)).id;
  }, 600_000);
  afterAll(async () => {
    await closeMatching();
    await app?.close();
  });

  test('on a phone, from a picked colour to a planned trial, without a key', { timeout: 600_000 }, async () => {
    const { page, problems, context } = await visitorOf(browser(), app, SCREENS[0]);
    await page.goto('/swatches/near?lightness=45&chroma=20&hue=220');
    await page.getByRole('link', { name: 'Recipes for this colour' }).click();
    await page.getByRole('heading', { name: 'Proposal 1:' }).waitFor();
    expect(await overflowPx(page)).toBe(0);
    const first = page.locator('.proposal').first();
    await first.getByLabel('Dry mass of the trial piece').selectOption('20 g');
    await first.getByRole('button', { name: 'Plan a trial' }).click();
    await page.waitForURL(/\/lots\/\d+$/);
    expect(await page.textContent('h1')).toContain('planned');
    expect(await page.textContent('main')).toContain('Trial piece');
    expect(problems).toEqual([]);
    await context.close();
  });

  test('on a phone, from a photograph to a planned trial: no keyboard', { timeout: 600_000 }, async () => {
    const wanted = trueColour({ blue: 0.4, yellow: 0.8 });
    const scene = render({
      widthPx: 900,
      heightPx: 1200,
      columns: 6,
      rows: 4,
      labs: CHART_24.map((p) => p.labAfter2014),
      stepPx: 95,
      noise: 1.5,
      phone: 1,
      turnDeg: 5,
      middle: [0.5, 0.38],
      // The renderer paints D50 colours; between the two whites an estimate is near enough for goods.
      goods: [{ x: 0, y: 3.8, width: 2.4, height: 2, lab: [wanted.L, wanted.a, wanted.b] }],
    });
    const { width, height } = scene.image;
    const folder = mkdtempSync(join(tmpdir(), 'lot-and-shade-phone-'));
    const photo = join(folder, 'goods.jpg');
    writeFileSync(photo, await jpegOf(scene));
    const { page, problems, context } = await visitorOf(browser(), app, SCREENS[0]);
    await page.goto('/swatches');
    await page.getByRole('link', { name: 'Near a colour' }).tap();
    await page.getByRole('link', { name: 'Take or choose a photo' }).tap();
    await page.getByLabel('Take a photo').setInputFiles(photo);
    await page.locator('#photo-result[data-outcome="read"]').waitFor();
    await page.locator('[data-photo]').scrollIntoViewIfNeeded();
    const box = await page.locator('[data-photo]').boundingBox();
    if (!box) throw new Error('the photo is on the page');
    const goods = scene.at(0, 3.8);
    await page.touchscreen.tap(box.x + (goods.x / width) * box.width, box.y + (goods.y / height) * box.height);
    await page.getByText('Colour of the goods').waitFor();
    await page.getByRole('link', { name: 'Find near it' }).tap();
    await page.locator('.near-tile').first().waitFor();
    await page.getByRole('link', { name: 'Recipes for this colour' }).tap();
    await page.getByRole('heading', { name: 'Proposal 1:' }).waitFor();
    const first = page.locator('.proposal').first();
    // The goods were dyed with these two, and the library knows both.
    expect(await first.textContent()).toMatch(/yellow/i);
    expect(await first.textContent()).toMatch(/blue/i);
    await first.getByRole('button', { name: 'Plan a trial' }).tap();
    await page.waitForURL(/\/lots\/\d+$/);
    expect(await page.textContent('h1')).toContain('planned');
    expect(problems).toEqual([]);
    await context.close();
    rmSync(folder, { recursive: true, force: true });
  });

  test('on the recipe’s page the colour to expect comes by itself, marked as predicted', {
    timeout: 600_000,
  }, async () => {
    const { page, problems, context } = await visitorOf(browser(), app, SCREENS[0]);
    await page.goto(`/recipes/${library.recipeId}`);
    await page.locator('#predicted .predicted-word').waitFor();
    await page.goto('/swatches/17');
    await page.locator('#weigh-up #predicted').waitFor();
    expect(await overflowPx(page)).toBe(0);
    expect(problems).toEqual([]);
    await context.close();
  });

  test('the corners of a sheet are dragged by finger or moved by keys', { timeout: 600_000 }, async () => {
    const { page, problems, context } = await visitorOf(browser(), app, SCREENS[0]);
    await page.goto(`/sampling/${planId}/photo/${photoId}?card=chart24Since2014`);
    const ring = page.getByRole('button', { name: 'Piece, corner 1' });
    const box = await ring.boundingBox();
    if (!box) throw new Error('the ring is on the page');
    const value = () => page.locator('[name=grid0]').inputValue();
    const before = await value();
    await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
    await page.mouse.down();
    await page.mouse.move(box.x + box.width / 2 + 30, box.y + box.height / 2 + 20, { steps: 4 });
    await page.mouse.up();
    const dragged = await value();
    expect(dragged).not.toBe(before);
    await page.getByRole('button', { name: 'Piece, corner 1' }).press('ArrowRight');
    expect(Number((await value()).split(' ')[0])).toBeGreaterThan(Number(dragged.split(' ')[0]));
    await page.getByLabel('I show its corners').check();
    await page.getByRole('button', { name: 'Card, corner 4' }).waitFor();
    expect(await page.locator('[name=card3]').inputValue()).not.toBe('');
    expect(problems).toEqual([]);
    await context.close();
  });

  test.each([SCREENS[1], SCREENS[2]])(
    'nothing that axe objects to, nothing sideways, no complaint: $name',
    { timeout: 600_000 },
    async (screen) => {
      const { page, problems, context } = await visitorOf(browser(), app, screen);
      const found: string[] = [];
      for (const path of [
        '/colour/proposals',
        '/colour/proposals?colour=45+-12+-10&observer=10&maxDyes=4',
        `/colour/predicted?revisionId=${library.revisionId}`,
        '/colour/knowledge',
        '/colour/map',
        `/lots/${lotId}`,
        `/lots/${lotId}/correction`,
        `/recipes/${library.recipeId}`,
        '/swatches/17',
        '/sampling',
        '/sampling/new',
        '/sampling/new?kind=triangle',
        '/sampling/next?hue=any&maxDyes=3',
        `/sampling/${planId}`,
        `/sampling/${planId}/sheet`,
        `/sampling/${planId}/labels`,
        `/sampling/${planId}/photo/${photoId}?cardBy=hand`,
      ]) {
        const answer = await page.goto(path, { waitUntil: 'networkidle' });
        if (answer?.status() !== 200) found.push(`${path} answered ${answer?.status()}`);
        for (const line of await axeViolations(page)) found.push(`${path}: ${line}`);
        const wide = await overflowPx(page);
        if (wide > 0) found.push(`${path} is ${wide} px wider than the screen`);
      }
      await context.close();
      expect(found).toEqual([]);
      expect(problems).toEqual([]);
    },
  );
});
