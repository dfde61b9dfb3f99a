import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { BrowserContext, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test, vi } from 'vitest';
import { deltaE2000 } from '../../server/calc/colour/deltaE.ts';
import { openSignIn } from '../../server/people/signIn.ts';
import { readingsOf } from '../../server/readings/queries.ts';
import { recordReadings } from '../../server/readings/recordReadings.ts';
import { addSwatch } from '../../server/swatches/addSwatch.ts';
import { CHART_24 } from '../reference/chart24.ts';
import {
  axeViolations,
  describeBrowser,
  overflowPx,
  PATIENCE_MS,
  problemsOf,
  type RunningApp,
  SCREENS,
  startApp,
  visitorOf,
} from '../support/browser.ts';
import { jpegOf, type LabTriple, render } from '../support/renderedCard.ts';
import { makeWorld, type World } from '../support/world.ts';

const VIOLET: LabTriple = [45, 20, -30];
const OCHRE: LabTriple = [65, 18, 50];
const BASE = {
  widthPx: 600,
  heightPx: 800,
  columns: 6,
  rows: 4,
  labs: CHART_24.map((p) => p.labAfter2014),
  stepPx: 63,
  noise: 1.5,
  phone: 1,
  turnDeg: -7,
  middle: [0.5, 0.38] as const,
  goods: [
    { x: -1.2, y: 3.8, width: 2, height: 2, lab: VIOLET },
    { x: 1.4, y: 3.8, width: 2, height: 2, lab: OCHRE },
  ],
};
const scene = render(BASE);

// Each photo is read for real, several times a test; a busy machine takes its time.
vi.setConfig({ testTimeout: 600_000 });

describeBrowser('a colour from a photo, on a phone', (browser) => {
  let app: RunningApp;
  let folder: string;
  let photo: string;
  let withoutCard: string;
  let swatchId: number;
  let lotId: number;
  let lotNumber: string;

  beforeAll(async () => {
    app = await startApp();
    if (!app.owner) throw new Error('the studio was to be set up');
    const world = makeWorld({ deps: app.deps, owner: app.owner });
    swatchId = addSwatch(
      app.deps.db,
      {
        code: null,
        name: 'Heather',
        revisionId: world.revisionId,
        depthPpm: 20_000,
        fibreId: world.linenId,
        methodId: world.methodId,
        lotId: null,
        dryMassMg: null,
        dyedOn: '2026-03-01',
        cardPlace: '',
        photoId: null,
        rating: null,
        note: '',
        stockLotIds: [],
        readings: [],
      },
      app.owner,
      app.deps.now(),
    ).id;
    ({ lotId, lotNumber } = await finishedLot(world));
    recordReadings(
      app.deps.db,
      { swatchId },
      [
        {
          colour: { l: 46, a: 21, b: -29, illuminant: 'D50', observer: '2' },
          source: 'instrument',
          asTyped: '',
          areaSharePpm: null,
          uncertaintyMilli: null,
          note: '',
        },
      ],
      app.owner,
      app.deps.now() - 60_000,
    );
    folder = mkdtempSync(join(tmpdir(), 'lot-and-shade-photo-'));
    photo = join(folder, 'card.jpg');
    withoutCard = join(folder, 'table.jpg');
    writeFileSync(photo, await jpegOf(scene));
    writeFileSync(withoutCard, await jpegOf(render({ ...BASE, withoutCard: true, paper: false, table: 'plain' })));
  });
  afterAll(async () => {
    await app.close();
    rmSync(folder, { recursive: true, force: true });
  });

  const cookie = (): string => openSignIn(app.deps, app.owner?.personId ?? 0, 'browser test');

  /** A lot that went through the rules, so that its page is whole. */
  async function finishedLot(world: World): Promise<{ lotId: number; lotNumber: string }> {
    const ask = async (path: string, body: unknown): Promise<Record<string, unknown>> => {
      const answer = await fetch(`${app.url}/api/v1${path}`, {
        method: 'POST',
        headers: { cookie: `studio=${cookie()}`, origin: app.url, 'content-type': 'application/json' },
        body: JSON.stringify(body),
      });
      const told = (await answer.json()) as Record<string, unknown>;
      if (!answer.ok) throw new Error(`${path}: ${JSON.stringify(told)}`);
      return told;
    };
    const lot = await ask('/lots', {
      fibreId: world.linenId,
      methodId: world.methodId,
      goodsText: 'one length',
      mass: { found: 'weighedDry', massMg: 500_000 },
      colours: [{ revisionId: world.revisionId, depthPpm: 20_000 }],
    });
    const id = Number(lot['lotId']);
    await ask(`/lots/${id}/log`, { kind: 'note', text: 'dyed without a record', clientId: 'note-00001' });
    await ask(`/lots/${id}/outcome`, { firstQuality: 1, unweighedConfirmed: true, clientId: 'finish-0001' });
    return { lotId: id, lotNumber: String(lot['number']) };
  }

  /** A phone with a finger and no keyboard: a key pressed anywhere is a fault. */
  async function phone(): Promise<{ context: BrowserContext; page: Page; problems: string[] }> {
    const context = await browser().newContext({
      baseURL: app.url,
      viewport: { width: 390, height: 844 },
      hasTouch: true,
      isMobile: true,
      deviceScaleFactor: 2,
      locale: 'en-GB',
    });
    context.setDefaultTimeout(PATIENCE_MS);
    await context.addCookies([{ name: 'studio', value: cookie(), url: app.url }]);
    const page = await context.newPage();
    return { context, page, problems: problemsOf(page) };
  }

  /** Where a place on the table of the scene lies on the screen. */
  async function onScreen(page: Page, x: number, y: number): Promise<{ x: number; y: number }> {
    const box = await page.locator('[data-photo]').boundingBox();
    if (!box) throw new Error('the photo is on the page');
    const p = scene.at(x, y);
    return {
      x: box.x + ((p.x + 0.5) / BASE.widthPx) * box.width,
      y: box.y + ((p.y + 0.5) / BASE.heightPx) * box.height,
    };
  }
  async function tapGoods(page: Page, x: number, y: number): Promise<void> {
    await page.locator('[data-photo]').scrollIntoViewIfNeeded();
    const p = await onScreen(page, x, y);
    await page.touchscreen.tap(p.x, p.y);
  }
  const outcome = (page: Page, is: string) => page.locator(`#photo-result[data-outcome="${is}"]`).waitFor();

  test('photograph, tap the goods, find what is near: without a key', async () => {
    const { context, page, problems } = await phone();
    await page.goto('/swatches');
    await page.getByRole('link', { name: 'Near a colour' }).tap();
    await page.getByRole('link', { name: 'Take or choose a photo' }).tap();
    await page.waitForURL('**/photo-readings/new');
    expect(await axeViolations(page)).toEqual([]);
    expect(await overflowPx(page)).toBe(0);
    await page.getByLabel('Take a photo').setInputFiles(photo);
    await page.waitForURL(/\/photo-readings\/\d+/);
    await outcome(page, 'read');
    await tapGoods(page, -1.2, 3.8);
    await page.getByText('Colour of the goods').waitFor();
    expect(await axeViolations(page)).toEqual([]);
    expect(await overflowPx(page)).toBe(0);
    await page.getByRole('link', { name: 'Find near it' }).tap();
    await page.waitForURL(/\/swatches\/near\?/);
    const first = page.locator('.near-tile').first();
    expect(await first.locator('a').getAttribute('href')).toBe(`/swatches/${swatchId}`);
    expect(await page.locator('.near-standard').textContent()).toContain('from a photo');
    expect(await axeViolations(page)).toEqual([]);
    expect(await overflowPx(page)).toBe(0);
    expect(problems).toEqual([]);
    await context.close();
  });

  test('a photo that was chosen before the page had its script is read all the same', async () => {
    const { context, page, problems } = await phone();
    let goOn: () => void = () => undefined;
    const chosen = new Promise<void>((resolve) => {
      goOn = resolve;
    });
    await page.route('**/static/photoReading.js', async (route) => {
      await chosen;
      await route.continue();
    });
    await page.goto('/photo-readings/new', { waitUntil: 'commit' });
    await page.getByLabel('Choose a photo').setInputFiles(photo);
    goOn();
    await page.waitForURL(/\/photo-readings\/\d+/);
    await outcome(page, 'read');
    expect(problems).toEqual([]);
    await context.close();
  });

  test('on a lot: several spots, one taken out, kept with its photo', async () => {
    const { context, page, problems } = await phone();
    await page.goto(`/lots/${lotId}`);
    await page.getByRole('link', { name: 'Read it from a photo' }).tap();
    await page.getByLabel('Choose a photo').setInputFiles(photo);
    await page.waitForURL(/\/photo-readings\/\d+/);
    await outcome(page, 'read');
    await tapGoods(page, 0.8, 3.3);
    await page.getByText('Colour of the goods').waitFor();
    await tapGoods(page, 1.9, 4.1);
    await page.getByText('Spot 2:').waitFor();
    await tapGoods(page, -1.2, 3.8);
    await page.getByText('Spot 3:').waitFor();
    expect(await page.getByText('are they of the same goods?').isVisible()).toBe(true);
    await page.getByRole('button', { name: 'Take out spot 3' }).tap();
    await page.getByText('Spot 3:').waitFor({ state: 'detached' });
    await page.getByRole('button', { name: `Keep it on lot ${lotNumber}` }).tap();
    await page.waitForURL(`**/lots/${lotId}#colour`);
    const [row] = readingsOf(app.deps.db, { lotId });
    if (!row) throw new Error('a reading was to be kept');
    const [L, a, b] = OCHRE;
    const off = deltaE2000({ standard: { L, a, b }, sample: { L: row.l, a: row.a, b: row.b } });
    expect(off).toBeLessThan((1.5 * (row.uncertaintyMilli ?? 0)) / 1000);
    expect(row.note).toContain('mean of 2 places');
    expect(row.photoId).not.toBeNull();
    expect(problems).toEqual([]);
    await context.close();
  });

  test('an area drawn by finger holds several colours', async () => {
    const { context, page, problems } = await phone();
    await page.goto('/photo-readings/new');
    await page.getByLabel('Choose a photo').setInputFiles(photo);
    await page.waitForURL(/\/photo-readings\/\d+/);
    await outcome(page, 'read');
    await page.getByRole('radio', { name: 'Area' }).tap();
    await page.locator('[data-photo]').scrollIntoViewIfNeeded();
    const corners = await Promise.all(
      [
        [-2, 3],
        [2.2, 3],
        [2.2, 4.6],
        [-2, 4.6],
      ].map(([x = 0, y = 0]) => onScreen(page, x, y)),
    );
    const [start] = corners;
    if (!start) throw new Error('four corners');
    await page.mouse.move(start.x, start.y);
    await page.mouse.down();
    for (const p of corners.slice(1)) await page.mouse.move(p.x, p.y, { steps: 8 });
    await page.mouse.up();
    await page.getByText('Colour of the goods').waitFor();
    await page.getByLabel('Goods of').selectOption('auto');
    await page.getByText(/\d colours of the goods/).waitFor();
    expect(await page.locator('.read-list li').count()).toBeGreaterThanOrEqual(3);
    expect(await axeViolations(page)).toEqual([]);
    expect(problems).toEqual([]);
    await context.close();
  });

  test('without a card the photo asks for the corners; rings of 44 px, by finger or arrow keys', async () => {
    const { context, page, problems } = await phone();
    await page.goto('/photo-readings/new');
    await page.getByLabel('Choose a photo').setInputFiles(withoutCard);
    await page.waitForURL(/\/photo-readings\/\d+/);
    await outcome(page, 'cornersNeeded');
    expect(await page.getByText('No card was found in this photo').isVisible()).toBe(true);
    const ring = page.getByRole('button', { name: 'Corner 1 of the card: dark skin' });
    const before = await ring.boundingBox();
    if (!before) throw new Error('the ring is on the page');
    expect([before.width, before.height]).toEqual([44, 44]);
    const middle = { x: before.x + 22, y: before.y + 22 };
    await page.mouse.move(middle.x, middle.y);
    await page.mouse.down();
    await page.mouse.move(middle.x + 40, middle.y + 30, { steps: 4 });
    expect(await page.locator('.loupe').isVisible()).toBe(true);
    await page.mouse.up();
    await outcome(page, 'read');
    const after = await ring.boundingBox();
    expect(Math.round((after?.x ?? 0) - before.x)).toBe(40);
    expect(await page.getByText('Do not trust this reading').isVisible()).toBe(true);
    expect(await axeViolations(page)).toEqual([]);
    const address = page.url();
    await ring.press('ArrowRight');
    await page.waitForURL((url) => url.href !== address);
    expect(problems).toEqual([]);
    await context.close();
  });

  test('a photo is read again when its page is opened again', async () => {
    const { context, page } = await phone();
    await page.goto('/photo-readings/new');
    await page.getByLabel('Choose a photo').setInputFiles(photo);
    await page.waitForURL(/\/photo-readings\/\d+/);
    await outcome(page, 'read');
    await tapGoods(page, -1.2, 3.8);
    await page.getByText('Colour of the goods').waitFor();
    await page.reload();
    await page.getByText('Colour of the goods').waitFor();
    expect(await page.getByRole('button', { name: /^Spot 1 on the goods/ }).isVisible()).toBe(true);
    await context.close();
  });

  test('a colour is picked by finger', async () => {
    const { context, page, problems } = await phone();
    await page.goto('/swatches/near');
    const plane = page.locator('[data-plane]');
    const box = await plane.boundingBox();
    if (!box) throw new Error('the plane is on the page');
    await page.touchscreen.tap(box.x + 0.85 * box.width, box.y + 0.7 * box.height);
    expect(Number(await page.getByLabel('Hue').inputValue())).toBe(305);
    await page.getByRole('button', { name: 'Find near this' }).tap();
    await page.waitForURL(/lightness=55&chroma=\d+&hue=305/);
    expect(await page.locator('.near-tile').count()).toBeGreaterThan(0);
    expect(problems).toEqual([]);
    await context.close();
  });

  // Contrast hangs on the scheme, room on the width: each is met once, as in everyScreen; the tests above see a light phone.
  test.each([SCREENS[1], SCREENS[2]])('pages are in order on a $name', async (screen) => {
    const { context, page, problems } = await visitorOf(browser(), app, screen);
    for (const url of [
      '/swatches/near',
      `/swatches/near?swatchId=${swatchId}`,
      '/swatches/near?colour=%23705090&fibreId=1',
      '/photo-readings/new',
      '/reference-cards',
      '/reference-cards/new',
    ]) {
      await page.goto(url);
      await page.evaluate(() => {
        for (const details of document.querySelectorAll('main details')) (details as HTMLDetailsElement).open = true;
      });
      expect(await axeViolations(page), url).toEqual([]);
      expect(await overflowPx(page), url).toBe(0);
    }
    expect(problems).toEqual([]);
    await context.close();
  });
});
