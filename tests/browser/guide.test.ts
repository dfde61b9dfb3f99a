import { afterAll, beforeAll, expect, test } from 'vitest';
import { sowSampleStudio } from '../../seed/studio.ts';
import { listLots } from '../../server/lots/queries.ts';
import {
  coveredTexts,
  describeBrowser,
  overflowPx,
  type RunningApp,
  SCREENS,
  startApp,
  visitorOf,
} from '../support/browser.ts';

describeBrowser('the way to the guide', (browser) => {
  let app: RunningApp;
  let paths: string[] = [];
  beforeAll(async () => {
    app = await startApp();
    if (!app.owner) throw new Error('The studio has an owner.');
    await sowSampleStudio(app.deps, app.owner);
    const bench = listLots(app.deps.db, { status: 'onBench', words: '', before: null, limit: 1 })[0]?.id ?? 0;
    paths = [
      '/',
      '/swatches',
      '/swatches/1',
      '/lots/new',
      '/lots/1',
      '/stock',
      '/stock/1',
      '/costing',
      `/lots/${bench}/bench`,
    ];
  }, 600_000);
  afterAll(async () => {
    await app?.close();
  });

  test.each([SCREENS[0], SCREENS[2], { ...SCREENS[0], width: 820, height: 1100 }])(
    'moves no heading, covers nothing and can be tapped: $width px wide',
    { timeout: 300_000 },
    async (screen) => {
      const { page, context } = await visitorOf(browser(), app, screen);
      const found: string[] = [];
      for (const path of paths) {
        await page.goto(path, { waitUntil: 'load' });
        const link = page.locator('.guide-link');
        const box = await link.boundingBox();
        if (!box || box.height < 24 || box.width < 24 || box.x + box.width > screen.width)
          found.push(`${path}: the ? is ${JSON.stringify(box)}`);
        const headings = (): Promise<number[]> =>
          page.locator('main h1, main h2').evaluateAll((all) => all.map((e) => e.getBoundingClientRect().height));
        const lines = await headings();
        const covered = await coveredTexts(page);
        if ((await overflowPx(page)) > 0) found.push(`${path} is wider than the screen`);
        await link.evaluate((e) => e.closest('nav')?.remove());
        const without = await headings();
        const coveredWithout = await coveredTexts(page);
        for (const text of covered.filter((t) => !coveredWithout.includes(t)))
          found.push(`${path}: the ? lies upon “${text}”`);
        if (JSON.stringify(lines) !== JSON.stringify(without))
          found.push(`${path}: headings break otherwise without the ?`);
      }
      await context.close();
      expect(found).toEqual([]);
    },
  );

  test('a form half filled in stays as it is while the guide is read', async () => {
    const { page, context, problems } = await visitorOf(browser(), app, SCREENS[0]);
    await page.goto('/stock/new');
    await page.getByLabel('Supplier').fill('dye merchant, by post');
    const opened = context.waitForEvent('page');
    await page.getByRole('link', { name: 'Guide: Stock' }).click();
    const guide = await opened;
    await guide.getByRole('heading', { level: 1, name: 'Stock' }).waitFor();
    await guide.getByRole('link', { name: 'Shopping list' }).last().click();
    await guide.getByRole('heading', { level: 1, name: 'Shopping list' }).waitFor();
    expect(await page.getByLabel('Supplier').inputValue()).toBe('dye merchant, by post');
    // A second ? opens in the same tab.
    await page.getByRole('link', { name: 'Guide: Stock' }).click();
    await guide.getByRole('heading', { level: 1, name: 'Stock' }).waitFor();
    expect(context.pages()).toHaveLength(2);
    await context.close();
    expect(problems).toEqual([]);
  });
});
