import { rmSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import {
  axeViolations,
  browserDecision,
  describeBrowser,
  findChromium,
  OWNER,
  overflowPx,
  PATIENCE_MS,
  problemsOf,
  type RunningApp,
  SCREENS,
  startApp,
  startServer,
  visitorOf,
} from '../support/browser.ts';
import { lotWorld, writeLot } from '../support/finishedLots.ts';

describe('the browser that tests run in', () => {
  test('is where CHROMIUM_PATH says, or at one of the usual places', () => {
    const at =
      (...paths: string[]) =>
      (path: string): boolean =>
        paths.includes(path);
    expect(findChromium({ CHROMIUM_PATH: '/opt/c' }, at('/opt/c', '/usr/bin/chromium'))).toBe('/opt/c');
    expect(() => findChromium({ CHROMIUM_PATH: '/opt/c' }, at('/usr/bin/chromium'))).toThrow('nothing there');
    expect(findChromium({}, at('/usr/bin/google-chrome', '/usr/bin/chromium'))).toBe('/usr/bin/chromium');
    expect(findChromium({}, at())).toBeNull();
  });

  test('is left out where there is none, unless it is required', () => {
    expect(browserDecision('/usr/bin/chromium', {})).toBe('run');
    expect(browserDecision(null, {})).toBe('skip');
    expect(browserDecision(null, { REQUIRE_BROWSER: '1' })).toBe('fail');
    expect(browserDecision('/usr/bin/chromium', { REQUIRE_BROWSER: '1' })).toBe('run');
  });
});

describeBrowser('the way in', (browser) => {
  test('the first-run page leads to Today, and its owner may leave and come back', async () => {
    const server = await startServer();
    const context = await browser().newContext({ locale: 'en-GB' });
    context.setDefaultTimeout(PATIENCE_MS);
    try {
      expect(server.firstRunCode).toMatch(/^\d{6}$/);
      const page = await context.newPage();
      const problems = problemsOf(page);
      await page.goto(server.url);
      await page.waitForURL('**/first-run');
      // Without the terminal’s code the form asks for it; the printed link holds it.
      expect(await page.getByLabel('One-time code').count()).toBe(1);
      await page.goto(`${server.url}/first-run?code=${server.firstRunCode}`);
      expect(await page.getByLabel('One-time code').count()).toBe(0);
      await page.getByLabel('Name of the studio').fill('Tide Works');
      await page.getByLabel('Your name').fill('Inês');
      await page.getByLabel('Passphrase').fill(OWNER.passphrase);
      expect(await page.getByLabel('Passphrase').getAttribute('type')).toBe('password');
      await page.getByRole('button', { name: 'Show' }).click();
      expect(await page.getByLabel('Passphrase').getAttribute('type')).toBe('text');
      await page.getByLabel('Start with the sample studio').uncheck();
      await page.getByRole('button', { name: 'Open the studio' }).click();
      await page.waitForURL(`${server.url}/`);
      expect(await page.getByRole('heading', { level: 1 }).innerText()).toBe('Today');

      await page.getByRole('button', { name: 'Sign out' }).click();
      await page.waitForURL('**/sign-in');
      await page.goto(`${server.url}/settings`);
      await page.getByLabel('Your name').fill('Inês');
      await page.getByLabel('Passphrase').fill('four unrelated wards');
      await page.getByRole('button', { name: 'Sign in' }).click();
      await page.getByText('Name and passphrase do not match.').first().waitFor();
      expect(await page.getByLabel('Your name').inputValue()).toBe('Inês');
      await page.getByLabel('Passphrase').fill(OWNER.passphrase);
      await page.getByRole('button', { name: 'Sign in' }).click();
      await page.waitForURL('**/settings');
      // The refused sign-in is answered 401, which the console notes; nothing else is complained of.
      expect(problems.filter((p) => !p.includes('401'))).toEqual([]);
    } finally {
      await context.close();
      await server.kill();
      rmSync(server.dataDir, { recursive: true, force: true });
    }
  });

  describe('on every screen', () => {
    let fresh: RunningApp;
    let lived: RunningApp;
    beforeAll(async () => {
      fresh = await startApp({ setUp: false });
      lived = await startApp();
      if (!lived.owner) throw new Error('the studio was to be set up');
      const world = lotWorld(lived.deps, lived.owner);
      const now = lived.deps.now();
      writeLot(world, { number: '26-0001', finishedAt: now - 3_600_000 });
      writeLot(world, { number: '26-0002', finishedAt: now - 3_600_000, status: 'abandoned', outcome: null });
      writeLot(world, { number: '26-0003', finishedAt: now + 3_600_000 }, true);
    });
    afterAll(async () => {
      await fresh.close();
      await lived.close();
    });

    describe.each(SCREENS)('on a $name', (screen) => {
      test('the first-run page and the sign-in are in order', async () => {
        const { context, page, problems } = await visitorOf(browser(), fresh, screen);
        await page.goto('/first-run');
        expect(await axeViolations(page)).toEqual([]);
        expect(await overflowPx(page)).toBe(0);
        await page.goto('/nothing-here');
        expect(await axeViolations(page)).toEqual([]);
        await context.close();
        expect(problems.filter((p) => !p.includes('404'))).toEqual([]);

        const nobody = await visitorOf(browser(), { ...lived, owner: null }, screen);
        await nobody.page.goto('/sign-in');
        expect(await axeViolations(nobody.page)).toEqual([]);
        expect(await overflowPx(nobody.page)).toBe(0);
        expect(nobody.problems).toEqual([]);
        await nobody.context.close();
      });

      test.each(['/', '/history', '/history?from=2026-02-30&to=', '/settings'])('%s is in order', async (url) => {
        const { context, page, problems } = await visitorOf(browser(), lived, screen);
        await page.goto(url);
        for (const summary of await page.locator('main details > summary').all()) await summary.click();
        expect(await axeViolations(page)).toEqual([]);
        expect(await overflowPx(page)).toBe(0);
        expect(problems.filter((p) => !p.includes('422'))).toEqual([]);
        await context.close();
      });
    });
  });

  test('the check itself finds what is wrong', async () => {
    const app = await startApp();
    const { context, page } = await visitorOf(browser(), app);
    await page.goto('/');
    await page.evaluate(() => {
      const main = document.querySelector('main');
      const image = document.createElement('img');
      const wide = document.createElement('div');
      wide.textContent = 'w'.repeat(4000);
      main?.append(image, wide);
    });
    expect((await axeViolations(page)).join('\n')).toContain('image-alt');
    expect(await overflowPx(page)).toBeGreaterThan(0);
    await context.close();
    await app.close();
  });
});
