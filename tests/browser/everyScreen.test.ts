import { afterAll, beforeAll, expect, test } from 'vitest';
import { sowSampleStudio } from '../../seed/studio.ts';
import { listLots } from '../../server/lots/queries.ts';
import {
  axeViolations,
  contrastsInOtherScheme,
  coveredTexts,
  describeBrowser,
  overflowPx,
  PATIENCE_MS,
  type RunningApp,
  SCREENS,
  smallTargets,
  startApp,
  visitorOf,
} from '../support/browser.ts';

describeBrowser('every screen of a lived-in studio', (browser) => {
  let app: RunningApp;
  let paths: string[] = [];

  beforeAll(async () => {
    app = await startApp();
    if (!app.owner) throw new Error('The studio has an owner.');
    await sowSampleStudio(app.deps, app.owner);
    const lot = (status: 'planned' | 'onBench' | 'finished'): number =>
      listLots(app.deps.db, { status, words: '', before: null, limit: 1 })[0]?.id ?? 0;
    paths = [
      '/',
      '/swatches',
      '/swatches/1',
      '/swatches/new',
      '/swatches/1/edit',
      '/swatches/1/card',
      '/lots',
      '/lots/new?swatchId=1&mass=1.2+kg',
      `/lots/${lot('planned')}`,
      `/lots/${lot('finished')}`,
      `/lots/${lot('onBench')}/bench`,
      `/lots/${lot('onBench')}/outcome`,
      `/lots/${lot('finished')}/sheet`,
      `/lots/${lot('finished')}/label`,
      `/lots/${lot('finished')}/swatch`,
      '/orders',
      '/orders/1',
      '/orders/new',
      '/customers',
      '/customers/1',
      '/recipes',
      '/recipes/1',
      '/recipes/new',
      '/recipes/1/revisions/new',
      '/methods',
      '/methods/1',
      '/methods/new',
      '/fibres',
      '/fibres/1',
      '/fibres/new',
      '/dyes',
      '/dyes/1',
      '/dyes/new',
      '/auxiliaries',
      '/auxiliaries/1',
      '/stock',
      '/stock/1',
      '/stock/new',
      '/stock/1/recall/new',
      '/stock/1/touched',
      '/history',
      '/settings',
      '/settings/tokens',
      '/people',
      '/account',
      '/account/second-step',
      '/guide',
      '/guide/bench',
      '/guide/scripts',
    ];
  }, 600_000);
  afterAll(async () => {
    await app?.close();
  });

  test.each([SCREENS[1], SCREENS[2]])(
    'has nothing that axe objects to, nothing sideways and no complaint: $name',
    { timeout: 300_000 },
    async (screen) => {
      const { page, problems, context } = await visitorOf(browser(), app, screen);
      const found: string[] = [];
      for (const path of paths) {
        const answer = await page.goto(path, { waitUntil: 'load' });
        if (answer?.status() !== 200) found.push(`${path} answered ${answer?.status()}`);
        for (const line of [...(await axeViolations(page)), ...(await contrastsInOtherScheme(page, screen))]) {
          found.push(`${path}: ${line}`);
        }
        const wide = await overflowPx(page);
        if (wide > 0) found.push(`${path} is ${wide} px wider than the screen`);
        for (const target of await smallTargets(page)) found.push(`${path}: too small to tap: ${target}`);
        for (const text of await coveredTexts(page)) found.push(`${path}: something lies upon “${text}”`);
      }
      await context.close();
      expect(found).toEqual([]);
      expect(problems).toEqual([]);
    },
  );

  test('is read without script too: every page has its content and its forms', { timeout: 600_000 }, async () => {
    const context = await browser().newContext({
      baseURL: app.url,
      javaScriptEnabled: false,
      storageState: await (await visitorOf(browser(), app)).context.storageState(),
    });
    context.setDefaultTimeout(PATIENCE_MS);
    const page = await context.newPage();
    for (const path of paths) {
      await page.goto(path);
      expect(await page.locator('h1').count(), path).toBeGreaterThanOrEqual(path.includes('/bench') ? 0 : 1);
    }
    await context.close();
  });
});
