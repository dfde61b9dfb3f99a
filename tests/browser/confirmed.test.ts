import { eq } from 'drizzle-orm';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { recordEntry } from '../../server/bench/recordEntry.ts';
import { logEntries, lotAdjustments, lots } from '../../server/db/tables/lots.ts';
import { people } from '../../server/db/tables/studio.ts';
import { benchQuestions } from '../../server/lots/benchQuestions.ts';
import { benchOf } from '../../server/lots/benchState.ts';
import { openSignIn } from '../../server/people/signIn.ts';
import { makeStockSolution } from '../../server/stock/containers.ts';
import { onHand } from '../../server/stock/queries.ts';
import {
  axeViolations,
  describeBrowser,
  overflowPx,
  type RunningApp,
  SCREENS,
  startApp,
  visitorOf,
} from '../support/browser.ts';
import { makeWorld, type World } from '../support/world.ts';

const PHONE = SCREENS[0];

/** 1.2 kg at 2 %: 12.00 g blue, 7.20 g yellow, 4.80 g red. 30 g: the same by solutions of 1 %, 30.0, 18.0 and 12.0 mL. */
async function plan(context: BrowserContext, app: RunningApp, w: World, mass = '1.2 kg'): Promise<number> {
  const answer = await context.request.post('/lots', {
    headers: { origin: app.url },
    maxRedirects: 0,
    form: {
      fibreId: String(w.linenId),
      methodId: String(w.methodId),
      goodsText: '24 napkins',
      pieces: '24',
      goodsOwner: 'studio',
      massFound: 'weighedDry',
      mass,
      'revisionId.0': String(w.revisionId),
      'depth.0': '2',
    },
  });
  expect(answer.status(), await answer.text()).toBe(303);
  return Number(answer.headers()['location']?.split('/').at(-1));
}

const state = (page: Page) => page.locator('#unsent [role=status]');
const current = (page: Page) => page.locator('.now-what');
const weigh = async (page: Page, reading: string): Promise<void> => {
  await page.getByLabel(/^(Reading|Added now)$/).fill(reading);
  await page.locator('.weigh-form button.primary').click();
};
const tapLine = (page: Page, name: string) => page.locator('.line-tab').filter({ hasText: name }).click();
const sent = async (page: Page): Promise<void> => {
  await expect.poll(() => page.locator('#unsent .unsent-list li').count(), { timeout: 15_000 }).toBe(0);
  await state(page).filter({ hasText: 'Connected' }).waitFor();
};

describeBrowser('what was confirmed at the bench', (browser) => {
  let app: RunningApp;
  let w: World;
  let anaId: number;
  beforeAll(async () => {
    app = await startApp();
    if (!app.owner) throw new Error('The studio has an owner.');
    w = makeWorld({ deps: app.deps, owner: app.owner });
    anaId = app.deps.db
      .insert(people)
      .values({ name: 'Ana', role: 'dyer', createdAt: Date.now() } as typeof people.$inferInsert)
      .returning()
      .get().id;
  });
  afterAll(() => app.close());

  const anas = async (of: Browser): Promise<{ context: BrowserContext; page: Page }> => {
    const { context, page } = await visitorOf(of, app, PHONE);
    await context.addCookies([{ name: 'studio', value: openSignIn(app.deps, anaId, 'her phone'), url: app.url }]);
    return { context, page };
  };
  const opened = async (page: Page, lotId: number): Promise<void> => {
    page.setDefaultTimeout(10_000);
    await page.goto(`/lots/${lotId}/bench`);
    await page.getByText('closed and opened again too').waitFor();
  };

  for (const first of ['the one who chose', 'the other'] as const)
    test(`two phones without network weigh one line, one takes a way out, and ${first} comes back first: nothing is applied that nobody confirmed`, async () => {
      const ines = await visitorOf(browser(), app, PHONE);
      const ana = await anas(browser());
      const lotId = await plan(ines.context, app, w);
      await opened(ines.page, lotId);
      await opened(ana.page, lotId);
      const before = onHand(app.deps.db, w.stock.red.id);
      for (const { context, page } of [ines, ana]) {
        await context.setOffline(true);
        await page.getByText('No connection since').waitFor();
        await tapLine(page, 'Hip red');
        await current(page).filter({ hasText: 'Hip red' }).waitFor();
      }
      // 5.28 g of 4.80 g is × 1.10: that is what is confirmed.
      await weigh(ines.page, '5.28');
      await ines.page.getByRole('button', { name: 'Dye more goods' }).click();
      await ines.page.locator('.goods-now').filter({ hasText: '1.32 kg' }).waitFor();
      await weigh(ana.page, '4.4');
      const order = first === 'the other' ? [ana, ines] : [ines, ana];
      for (const { context, page } of order) {
        await context.setOffline(false);
        await sent(page);
      }
      const bench = benchOf(app.deps.db, lotId, Date.now());
      const figures = Object.fromEntries(bench.lines.map((l) => [l.component.code, [l.target, l.actual ?? null]]));
      const asked = benchQuestions(app.deps.db, lotId);
      const applied = app.deps.db.select().from(lotAdjustments).where(eq(lotAdjustments.lotId, lotId)).all();
      if (first === 'the other') {
        // Red stood at 4.40 g when it came: 9.68 g together is × 2.017, which nobody confirmed.
        expect(applied).toHaveLength(0);
        expect([bench.dryMassMg, figures['RB'], figures['RR']]).toEqual([1_200_000, [12_000, null], [4800, 9680]]);
        expect(asked.map((q) => q.words)).toEqual([
          'Inês chose ‘dye more goods’ (× 1.100) when Hip red stood at 5.28 g. It stands at 9.68 g now, since Ana has weighed 4.4 g too. Nothing has been changed. Choose again?',
        ]);
        for (const { page } of [ines, ana]) {
          await page.locator('.bench-ask').filter({ hasText: 'It stands at 9.68 g now' }).waitFor();
          expect(await page.getByRole('link', { name: 'Choose again for Hip red' }).count()).toBe(1);
          expect(await overflowPx(page)).toBe(0);
          expect(await axeViolations(page)).toEqual([]);
        }
        // Settled on one phone, it is gone from the other.
        await ana.page.getByRole('link', { name: 'Choose again for Hip red' }).click();
        await ana.page.getByRole('button', { name: 'Dye more goods' }).click();
        await ana.page.locator('.bench-ask').waitFor({ state: 'detached' });
        await ines.page.locator('.bench-ask').waitFor({ state: 'detached' });
        expect(benchOf(app.deps.db, lotId, Date.now()).dryMassMg).toBe(2_420_000);
      } else {
        // Applied as it was confirmed, to the milligram; what the other weighed then makes the red over again, and says so.
        expect(applied.map((a) => [a.way, a.dryMassMg])).toEqual([['moreGoods', 1_320_000]]);
        expect([bench.dryMassMg, figures['RB'], figures['RR']]).toEqual([1_320_000, [13_200, null], [5280, 9680]]);
        expect(asked).toEqual([]);
        expect(bench.lines.find((l) => l.component.code === 'RR')?.state).toBe('over');
        await ines.page.locator('.line-tab.is-over').filter({ hasText: 'Hip red' }).waitFor();
        await ana.page.locator('.line-tab.is-over').filter({ hasText: 'Hip red' }).waitFor();
      }
      const kinds = app.deps.db
        .select()
        .from(logEntries)
        .where(eq(logEntries.lotId, lotId))
        .all()
        .map((e) => e.kind);
      expect(kinds.filter((k) => k === 'weighing')).toHaveLength(2);
      expect(onHand(app.deps.db, w.stock.red.id)).toBe(before - 5280 - 4400);
      await ines.context.close();
      await ana.context.close();
    });

  test('what becomes new while the bench is being asked for is shown too', async () => {
    const { context, page } = await visitorOf(browser(), app, PHONE);
    const lotId = await plan(context, app, w);
    await opened(page, lotId);
    const note = (text: string) =>
      recordEntry(
        app.deps,
        { lotId, kind: 'note', text, stepId: null, photoId: null, clientId: `note-${text}`, at: Date.now() },
        app.owner ?? { personId: 1, name: '', role: 'owner' },
      );
    // Any write through the door tells the open benches; this one leaves the lot alone.
    const tell = () =>
      context.request.post('/lots/plan', { headers: { origin: app.url }, form: { fibreId: String(w.linenId) } });
    let held = 0;
    await page.route(`**/lots/${lotId}/bench?order=*`, async (route) => {
      const answer = await route.fetch();
      held += 1;
      if (held === 1) {
        // The answer was made without what is told while it is on its way.
        note('second thing');
        await tell();
        await page.waitForTimeout(500);
      }
      await route.fulfill({ response: answer });
    });
    note('first thing');
    await tell();
    await page.locator('.log').filter({ hasText: 'first thing' }).waitFor();
    await page.locator('.log').filter({ hasText: 'second thing' }).waitFor();
    await context.close();
  });

  test('the container that is tapped decides unit, target and heading, with network and without', async () => {
    const solution = makeStockSolution(
      app.deps,
      w.stock.red.id,
      {
        concPpm: 10_000,
        massMg: 5000,
        madeUpUl: 500_000,
        wantedUl: 500_000,
        code: 'R-1-A',
        madeOn: null,
        bestBeforeOn: null,
        note: '',
        clientId: null,
      },
      app.owner ?? { personId: 1, name: '', role: 'owner' },
    );
    const { context, page } = await visitorOf(browser(), app, PHONE);
    const lotId = await plan(context, app, w, '30 g');
    await opened(page, lotId);
    await tapLine(page, 'Hip red');
    const shown = async () => ({
      what: (await current(page).innerText()).split('\n').at(-1),
      target: await page.locator('.now-target').innerText(),
      unit: await page.locator('.weigh-form .unit').innerText(),
    });
    const mL = { what: 'RR Hip red, 1 % solution', target: '12.0 mL', unit: 'mL' };
    const g = { what: 'RR Hip red, powder', target: '0.12 g', unit: 'g' };
    const powder = page.locator('label.tap-choice').filter({ hasText: 'R-1 (' });
    expect(await shown()).toEqual(mL);
    await powder.click();
    expect(await shown()).toEqual(g);
    expect(await page.locator('.now-instead').innerText()).toBe('in place of 12.0 mL of 1 % solution');
    const box = await powder.boundingBox();
    expect(box?.height).toBeGreaterThanOrEqual(48);
    await page.locator('label.tap-choice').filter({ hasText: 'R-1-A' }).click();
    expect(await shown()).toEqual(mL);
    expect(await axeViolations(page)).toEqual([]);
    expect(await overflowPx(page)).toBe(0);

    await context.setOffline(true);
    await page.getByText('No connection since').waitFor();
    await powder.click();
    expect(await shown()).toEqual(g);
    const before = onHand(app.deps.db, w.stock.red.id);
    await weigh(page, '0.12');
    await page.locator('.line-tab').filter({ hasText: 'Hip red' }).filter({ hasText: '12.0 mL in' }).waitFor();
    await context.setOffline(false);
    await sent(page);
    expect(onHand(app.deps.db, w.stock.red.id)).toBe(before - 120);
    expect(onHand(app.deps.db, solution.id)).toBe(500_000);
    await context.close();
  });

  test('without script the other container is asked for anew, and nothing is booked in the wrong unit', async () => {
    const visitor = await visitorOf(browser(), app, PHONE);
    const lotId = await plan(visitor.context, app, w, '30 g');
    const context = await browser().newContext({
      baseURL: app.url,
      javaScriptEnabled: false,
      viewport: { width: 390, height: 844 },
    });
    await context.addCookies(await visitor.context.cookies());
    await visitor.context.close();
    const page = await context.newPage();
    page.setDefaultTimeout(10_000);
    const { id } = benchOf(app.deps.db, lotId, Date.now()).lines.find((l) => l.component.code === 'RR')?.component ?? {
      id: 0,
    };
    await page.goto(`/lots/${lotId}/bench?line=${id}`);
    const before = onHand(app.deps.db, w.stock.red.id);
    await page.locator('label.tap-choice').filter({ hasText: 'R-1 (' }).click();
    await weigh(page, '12');
    await page.getByText('R-1 is weighed: type grams').first().waitFor();
    expect(await page.locator('.now-target').innerText()).toBe('0.12 g');
    expect(onHand(app.deps.db, w.stock.red.id)).toBe(before);
    // 12 g of a line that wants 0.12 g: asked once, confirmed or typed anew.
    await weigh(page, '12');
    await page.getByRole('button', { name: 'Yes, it is 12 g' }).waitFor();
    await weigh(page, '0.12');
    await expect.poll(() => onHand(app.deps.db, w.stock.red.id)).toBe(before - 120);
    await context.close();
  });

  test('without network a reading hard to believe is asked about at once, in one tap, and the answer travels with it', async () => {
    const { context, page } = await visitorOf(browser(), app, PHONE);
    const lotId = await plan(context, app, w);
    await opened(page, lotId);
    await context.setOffline(true);
    await page.getByText('No connection since').waitFor();
    const before = onHand(app.deps.db, w.stock.blue.id);
    await weigh(page, '120.2');
    const doubt = page.locator('.reading-doubt');
    await doubt.waitFor();
    expect(await doubt.innerText()).toContain('120.2 g? Tide blue wants 12.00 g. Is the point in the right place?');
    expect(await page.locator('#unsent .unsent-list li').count()).toBe(0);
    expect(await page.getByLabel('Reading').inputValue()).toBe('120.2');
    expect((await doubt.getByRole('button').boundingBox())?.height).toBeGreaterThanOrEqual(48);
    expect(await overflowPx(page)).toBe(0);
    // Enter again confirms nothing; another reading takes the question away.
    await page.getByLabel('Reading').press('Enter');
    expect(await page.locator('#unsent .unsent-list li').count()).toBe(0);
    await page.getByLabel('Reading').fill('12.02');
    await doubt.waitFor({ state: 'detached' });
    await page.locator('.weigh-form button.primary').click();
    await current(page).filter({ hasText: 'Gorse yellow' }).waitFor();
    await weigh(page, '72');
    await page.getByRole('button', { name: 'Yes, it is 72 g' }).click();
    await current(page).filter({ hasText: 'Gorse yellow' }).waitFor();
    await page.getByText('Not sent: 2').click();
    const yellowBefore = onHand(app.deps.db, w.stock.yellow.id);
    await context.setOffline(false);
    await sent(page);
    expect(onHand(app.deps.db, w.stock.blue.id)).toBe(before - 12_020);
    expect(onHand(app.deps.db, w.stock.yellow.id)).toBe(yellowBefore - 72_000);
    await context.close();
  });

  test('a way out is undone from the log, and voiding the reading that it was chosen for offers that in one tap', async () => {
    const { context, page } = await visitorOf(browser(), app, PHONE);
    const lotId = await plan(context, app, w);
    await opened(page, lotId);
    const goods = page.locator('.goods-now');
    const red = page.locator('.line-tab').filter({ hasText: 'Hip red' });
    await tapLine(page, 'Hip red');
    await weigh(page, '9.68');
    await page.getByRole('button', { name: 'Dye more goods' }).click();
    await goods.filter({ hasText: '2.42 kg' }).waitFor();
    const undo = page.locator('.log li').filter({ hasText: 'more goods' }).locator('details');
    await undo.locator('summary', { hasText: 'Undo' }).click();
    await undo.getByLabel('Why it is undone').fill('the cloth is cut');
    await undo.getByRole('button', { name: 'Undo it' }).click();
    await goods.filter({ hasText: /^1\.2 kg$/ }).waitFor();
    await red.click();
    await page.getByRole('button', { name: 'Dye more goods' }).click();
    await goods.filter({ hasText: '2.42 kg' }).waitFor();
    await red.click();
    const reading = page.locator('.weighings li').filter({ hasText: '9.68 g' });
    await reading.locator('summary', { hasText: 'Undo' }).click();
    await reading.getByLabel('Why it is undone').fill('read the tare');
    await reading.getByRole('button', { name: 'Undo it' }).click();
    await page.locator('.bench-ask').filter({ hasText: 'Undo the choice too?' }).waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await page.getByRole('button', { name: 'Undo the choice' }).click();
    await goods.filter({ hasText: /^1\.2 kg$/ }).waitFor();
    await page.locator('.bench-ask').waitFor({ state: 'detached' });
    expect(benchOf(app.deps.db, lotId, Date.now()).lines.map((l) => l.target - l.planned)).toEqual([0, 0, 0, 0, 0]);
    expect(app.deps.db.select().from(lots).where(eq(lots.id, lotId)).get()?.status).toBe('onBench');
    await context.close();
  });
});
