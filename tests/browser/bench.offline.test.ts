import { eq } from 'drizzle-orm';
import { chromium, type Page } from 'playwright-core';
import sharp from 'sharp';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { lotAdjustments, weighings } from '../../server/db/tables/lots.ts';
import { people } from '../../server/db/tables/studio.ts';
import { openSignIn } from '../../server/people/signIn.ts';
import { onHand } from '../../server/stock/queries.ts';
import { current, log, PHONE, plan, state, unsent, weigh } from '../support/benchByHand.ts';
import {
  axeViolations,
  describeBrowser,
  findChromium,
  overflowPx,
  type RunningApp,
  startApp,
  visitorOf,
} from '../support/browser.ts';
import { makeWorld, type World } from '../support/world.ts';

/** Any page of the studio tries to send what waits; here it is told that it may not. */
const refusedPost = (page: Page): Promise<unknown> =>
  page.waitForResponse((answer) => answer.request().method() === 'POST' && answer.status() === 401);

describeBrowser('a bench without network', (browser) => {
  let app: RunningApp;
  let w: World;
  beforeAll(async () => {
    app = await startApp();
    if (!app.owner) throw new Error('The studio has an owner.');
    w = makeWorld({ deps: app.deps, owner: app.owner });
  });
  afterAll(() => app.close());

  test('weighs, notes and photographs, is closed and opened again, and tells it all once, at the times it happened', async () => {
    const { context, page } = await visitorOf(browser(), app, PHONE);
    const lotId = await plan(context, app, w);
    await page.goto(`/lots/${lotId}/bench`);
    await page.getByText('closed and opened again too').waitFor();
    expect(await state(page).textContent()).toContain('Connected');

    await context.setOffline(true);
    await page.getByText('No connection since').waitFor();
    const wentAway = Date.now();
    await weigh(page, '12.02');
    await current(page).filter({ hasText: 'Gorse yellow' }).waitFor();
    await weigh(page, '7.2');
    await current(page).filter({ hasText: 'Hip red' }).waitFor();
    // Under, then the rest of it: the page adds up by itself.
    await weigh(page, '3');
    await page.getByText('In the cup 3.00 g').waitFor();
    await weigh(page, '1.8 g');
    await current(page).filter({ hasText: 'Salt' }).waitFor();
    await page.getByLabel('Note', { exact: true }).fill('wool smells of the sea');
    await page.getByRole('button', { name: 'Keep the note' }).click();
    await page.getByRole('button', { name: 'Start Soda soak' }).click();
    await page
      .locator('.step.is-running .timer')
      .filter({ hasText: /^(20:00|19:\d\d)$/ })
      .waitFor();
    const picture = await sharp({ create: { width: 320, height: 200, channels: 3, background: '#456' } })
      .jpeg()
      .toBuffer();
    await page
      .getByLabel('Photo', { exact: true })
      .setInputFiles({ name: 'vat.jpg', mimeType: 'image/jpeg', buffer: picture });
    await page.getByLabel('Caption').fill('the vat');
    await page.getByRole('button', { name: 'Keep the photo' }).click();
    await page.locator('.log img').waitFor();
    await page.getByText('Not sent: 7').click();
    expect(await unsent(page).count()).toBe(7);
    expect(await unsent(page).allInnerTexts()).toEqual(
      expect.arrayContaining([
        expect.stringMatching(/^\d\d:\d\d Tide blue: 12.02 g from B-1/),
        expect.stringMatching(/^\d\d:\d\d Began Soda soak/),
        expect.stringMatching(/^\d\d:\d\d Photo: the vat/),
      ]),
    );
    expect(await page.locator('.log mark.kept').count()).toBe(7);
    expect(await axeViolations(page)).toEqual([]);
    expect(await overflowPx(page)).toBe(0);
    await page.close();
    const closedAt = Date.now();
    expect(log(app, lotId)).toHaveLength(0);

    const again = await context.newPage();
    await again.goto(`/lots/${lotId}/bench`);
    await again.getByText('the device’s own copy').waitFor();
    expect(await unsent(again).count()).toBe(7);
    await current(again).filter({ hasText: 'Salt' }).waitFor();
    await again.locator('.step.is-running .timer').waitFor();

    const backAt = Date.now();
    await context.setOffline(false);
    await state(again).filter({ hasText: 'Connected' }).waitFor();
    await expect.poll(() => unsent(again).count()).toBe(0);
    const entries = log(app, lotId).filter((e) => e.kind !== 'start');
    expect(entries.map((e) => e.kind)).toEqual([
      'weighing',
      'weighing',
      'weighing',
      'weighing',
      'note',
      'stepStart',
      'photo',
    ]);
    for (const e of entries) {
      expect(e.at).toBeGreaterThanOrEqual(wentAway);
      expect(e.at).toBeLessThanOrEqual(closedAt);
      expect(e.recordedAt).toBeGreaterThanOrEqual(backAt);
    }
    expect(entries.map((e) => e.at)).toEqual(entries.map((e) => e.at).toSorted((x, y) => x - y));
    expect(entries.at(-1)).toMatchObject({ text: 'the vat', stepId: entries.at(-2)?.stepId });
    const reds = app.deps.db.select().from(weighings).where(eq(weighings.stockLotId, w.stock.red.id)).all();
    expect(reds.map((x) => x.massMg)).toEqual([3000, 1800]);
    expect(onHand(app.deps.db, w.stock.blue.id)).toBe(500_000 - 12_020);
    expect(await again.locator('.log mark.kept').count()).toBe(0);
    expect(await again.locator('.log img').getAttribute('src')).toMatch(/^\/photos\//);
    await context.close();
  }, 600_000);

  test('an over-weighed line shows its ways out as the server would, and the one chosen is there once it is sent', async () => {
    const { context, page, problems } = await visitorOf(browser(), app, PHONE);
    // The same lot twice: one is weighed with the network, one without.
    const [withId, lotId] = [await plan(context, app, w), await plan(context, app, w)];
    const ways = async () => (await page.locator('.ways-out').allInnerTexts()).join(' ').replace(/\s+/g, ' ');
    await page.goto(`/lots/${withId}/bench`);
    await state(page).filter({ hasText: 'Connected' }).waitFor();
    await page.locator('.line-tab').filter({ hasText: 'Gorse yellow' }).click();
    await weigh(page, '7.2');
    await page.locator('.line-tab.is-within').filter({ hasText: 'Gorse yellow' }).waitFor();
    await weigh(page, '12.48');
    await page.locator('.ways-out').waitFor();
    await expect.poll(() => page.locator('mark.kept').count()).toBe(0);
    const byServer = await ways();

    await page.goto(`/lots/${lotId}/bench`);
    await page.getByText('closed and opened again too').waitFor();
    await context.setOffline(true);
    await page.getByText('No connection since').waitFor();
    await page.locator('.line-tab').filter({ hasText: 'Gorse yellow' }).click();
    await weigh(page, '7.2');
    await page.locator('.line-tab.is-within').filter({ hasText: 'Gorse yellow' }).waitFor();
    await weigh(page, '12.48');
    await page.locator('.ways-out').waitFor();
    expect(await ways()).toBe(byServer);
    // k = 12.48 / 12 = 1.04: 7.2 → 7.49 (0.29 to add), 4.8 → 4.99, 1200 g → 1248 g
    expect(byServer).toContain('Add 48 g of goods, to 1.248 kg.');
    expect(byServer).toMatch(/Let it be deeper .* RY Gorse yellow 7\.49 g add 0\.29 g RR Hip red 4\.99 g weigh/);
    expect(await axeViolations(page)).toEqual([]);
    expect(await overflowPx(page)).toBe(0);
    const module = '/static/shared/server/calc/overWeighing.js';
    expect(await page.evaluate((url) => caches.match(url).then((found) => found?.ok), module)).toBe(true);
    await page.reload();
    await page.getByText('the device’s own copy').waitFor();
    expect(await ways()).toBe(byServer);
    await page.getByRole('button', { name: 'Dye more goods' }).click();
    await page.locator('.goods-now').filter({ hasText: '1.248 kg (planned 1.2 kg)' }).waitFor();
    // The form of the yellow, which was in, is there again for the rest of it.
    await current(page).filter({ hasText: 'Gorse yellow' }).waitFor();
    await page.getByRole('button', { name: 'Add 0.29 g' }).waitFor();
    await weigh(page, '0.29');
    await current(page).filter({ hasText: 'Hip red' }).waitFor();
    expect(log(app, lotId)).toHaveLength(0);

    await context.setOffline(false);
    await state(page).filter({ hasText: 'Connected' }).waitFor();
    await expect.poll(() => page.locator('mark.kept').count()).toBe(0);
    expect(log(app, lotId).map((e) => e.kind)).toEqual(['start', 'weighing', 'weighing', 'adjustment', 'weighing']);
    const [taken] = app.deps.db.select().from(lotAdjustments).where(eq(lotAdjustments.lotId, lotId)).all();
    expect(taken).toMatchObject({ way: 'moreGoods', factorPpm: 1_040_000, dryMassMg: 1_248_000 });
    await page.locator('.line-tab.is-within').filter({ hasText: '7.49 g' }).waitFor();
    expect(problems.filter((p) => !p.includes('ERR_INTERNET_DISCONNECTED'))).toEqual([]);
    await context.close();
  }, 600_000);

  test('closed before it could send, it is sent by the browser itself when the network is back', async () => {
    const { context, page } = await visitorOf(browser(), app, PHONE);
    const lotId = await plan(context, app, w);
    await page.goto(`/lots/${lotId}/bench`);
    await page.getByText('closed and opened again too').waitFor();
    await context.setOffline(true);
    await page.getByText('No connection since').waitFor();
    const before = Date.now();
    await weigh(page, '12.02');
    await current(page).filter({ hasText: 'Gorse yellow' }).waitFor();
    await weigh(page, '7.2');
    await current(page).filter({ hasText: 'Hip red' }).waitFor();
    const tags = () =>
      page.evaluate(async () =>
        ((await navigator.serviceWorker.ready) as unknown as { sync: { getTags(): Promise<string[]> } }).sync.getTags(),
      );
    await expect.poll(tags).toContain('bench-outbox');
    // A page of the studio that sends nothing stays open, to speak to the browser through.
    const other = await context.newPage();
    const cdp = await context.newCDPSession(other);
    let registrationId = '';
    cdp.on('ServiceWorker.workerRegistrationUpdated', ({ registrations }) => {
      registrationId = registrations.find((r) => r.scopeURL.endsWith('/lots/') && !r.isDeleted)?.registrationId ?? '';
    });
    await cdp.send('ServiceWorker.enable');
    await page.close();
    const closedAt = Date.now();
    // From here on the browser sends when it likes, which may be at once.
    expect(log(app, lotId)).toHaveLength(0);
    await context.setOffline(false);
    await expect.poll(() => registrationId).not.toBe('');
    // What the browser does once it finds the network again, and does anew where the worker could not reach it: the worker
    // hears of the network’s return in its own time.
    const sync = { origin: app.url, registrationId, tag: 'bench-outbox', lastChance: false };
    const sent = async () => {
      await cdp.send('ServiceWorker.dispatchSyncEvent', sync);
      return log(app, lotId).filter((e) => e.kind === 'weighing').length;
    };
    await expect.poll(sent, { interval: 1000 }).toBe(2);
    const [blue, yellow] = log(app, lotId).filter((e) => e.kind === 'weighing');
    for (const e of [blue, yellow]) {
      expect(e?.at).toBeGreaterThanOrEqual(before);
      expect(e?.at).toBeLessThanOrEqual(closedAt);
    }
    const again = await context.newPage();
    await again.goto(`/lots/${lotId}/bench`);
    await state(again).filter({ hasText: 'Connected' }).waitFor();
    expect(await unsent(again).count()).toBe(0);
    await current(again).filter({ hasText: 'Hip red' }).waitFor();
    await context.close();
  }, 600_000);

  test('an answer lost on the way records nothing twice', async () => {
    const { context, page } = await visitorOf(browser(), app, PHONE);
    // A browser that does not send by itself: the page alone tries again.
    await page.addInitScript(() => Reflect.deleteProperty(window, 'SyncManager'));
    const lotId = await plan(context, app, w);
    await page.goto(`/lots/${lotId}/bench`);
    await state(page).filter({ hasText: 'Connected' }).waitFor();
    let arrived = 0;
    await page.route('**/weighings', async (route) => {
      await route.fetch();
      arrived += 1;
      if (arrived === 1) await route.abort('connectionreset');
      else await route.continue();
    });
    await weigh(page, '12');
    await current(page).filter({ hasText: 'Gorse yellow' }).waitFor();
    await expect.poll(() => arrived, { timeout: 60_000 }).toBe(2);
    await state(page).filter({ hasText: 'Connected' }).waitFor();
    await expect.poll(() => page.locator('mark.kept').count()).toBe(0);
    expect(log(app, lotId).map((e) => e.kind)).toEqual(['start', 'weighing']);
    await context.close();
  }, 600_000);

  test('stops at a refused entry, says why and what was kept, and goes on when it is dropped', async () => {
    const { context, page } = await visitorOf(browser(), app, PHONE);
    const lotId = await plan(context, app, w);
    await page.goto(`/lots/${lotId}/bench`);
    await state(page).filter({ hasText: 'Connected' }).waitFor();
    await context.setOffline(true);
    await page.getByText('No connection since').waitFor();
    for (const typed of ['lukewarm', '41']) {
      await page.getByLabel('Temperature').fill(typed);
      await page.getByRole('button', { name: 'Keep the temperature' }).click();
      await page.getByText(typed === '41' ? '2 entries not sent' : '1 entry not sent').waitFor();
    }
    await context.setOffline(false);
    await state(page).filter({ hasText: 'one was refused and holds up the rest' }).waitFor();
    await expect
      .poll(() => unsent(page).allInnerTexts())
      .toEqual([expect.stringContaining('Refused: '), expect.stringContaining('Temperature 41 °C')]);
    expect(await axeViolations(page)).toEqual([]);
    await page.getByRole('button', { name: 'Try again' }).click();
    await state(page).filter({ hasText: 'one was refused' }).waitFor();
    await page.getByText('Drop it', { exact: true }).click();
    await page.getByRole('button', { name: 'Yes, drop it' }).click();
    await state(page).filter({ hasText: 'Connected' }).waitFor();
    await expect.poll(() => log(app, lotId).map((e) => e.kind)).toEqual(['start', 'temperature']);
    await context.close();
  }, 600_000);

  test('an entry refused at once stands in its form with what was typed, and is not kept', async () => {
    const { context, page } = await visitorOf(browser(), app, PHONE);
    const lotId = await plan(context, app, w);
    await page.goto(`/lots/${lotId}/bench`);
    await state(page).filter({ hasText: 'Connected' }).waitFor();
    await weigh(page, 'twelve');
    await page.locator('.weigh-form .field-error').waitFor();
    expect(await page.getByLabel('Reading').inputValue()).toBe('twelve');
    expect(await unsent(page).count()).toBe(0);
    await weigh(page, '12');
    await current(page).filter({ hasText: 'Gorse yellow' }).waitFor();
    await expect.poll(() => log(app, lotId).length).toBe(2);
    await context.close();
  }, 600_000);

  test('two browsers on one lot: each sees the other’s entries, and nobody’s half-typed reading is touched', async () => {
    const left = await visitorOf(browser(), app, PHONE);
    const right = await visitorOf(browser(), app);
    const lotId = await plan(left.context, app, w);
    for (const { page } of [left, right]) {
      await page.goto(`/lots/${lotId}/bench`);
      await state(page).filter({ hasText: 'Connected' }).waitFor();
    }
    const reading = left.page.getByLabel('Reading');
    await reading.pressSequentially('12.');
    await right.page.locator('.line-tab').filter({ hasText: 'Gorse yellow' }).click();
    await weigh(right.page, '7.2');
    await left.page.locator('.log li').filter({ hasText: 'Gorse yellow: 7.2 g' }).waitFor();
    await left.page.locator('.line-tab.is-within').filter({ hasText: 'Gorse yellow' }).waitFor();
    expect(await reading.inputValue()).toBe('12.');
    expect(await reading.evaluate((input) => input === document.activeElement)).toBe(true);
    await reading.pressSequentially('01');
    // The same line, by the other: the half-typed reading stays, and the page says what is in the cup.
    await right.page.locator('.line-tab').filter({ hasText: 'Tide blue' }).click();
    await weigh(right.page, '6');
    await left.page.locator('.now-weigh').filter({ hasText: 'in the cup 6.00 g' }).waitFor();
    expect(await left.page.getByLabel('Reading').inputValue()).toBe('12.01');
    await left.page.getByLabel('Reading').fill('6');
    await left.page.locator('.weigh-form button.primary').click();
    await right.page.locator('.line-tab.is-within').filter({ hasText: 'Tide blue' }).waitFor();
    expect(left.problems).toEqual([]);
    expect(right.problems).toEqual([]);
    await left.context.close();
    await right.context.close();
  }, 600_000);

  test('what one person could not send never goes out under another’s name', async () => {
    const { context, page } = await visitorOf(browser(), app, PHONE);
    const lotId = await plan(context, app, w);
    await page.goto(`/lots/${lotId}/bench`);
    await state(page).filter({ hasText: 'Connected' }).waitFor();
    await context.setOffline(true);
    await page.getByText('No connection since').waitFor();
    await weigh(page, '12');
    await page.getByText('1 entry not sent').waitFor();
    // Signed in as somebody else by the time the network is back, with the page still open.
    const rui = app.deps.db
      .insert(people)
      .values({ name: `Rui ${lotId}`, role: 'bench', createdAt: Date.now() })
      .returning()
      .get();
    const signIn = async (personId: number) =>
      context.addCookies([{ name: 'studio', value: openSignIn(app.deps, personId, 'test'), url: app.url }]);
    await signIn(rui.id);
    await context.setOffline(false);
    await state(page).filter({ hasText: 'Signed out' }).waitFor();
    await page.reload();
    await page.getByText(/1 of Inês for lot .* out when Inês signs in here/).waitFor();
    await current(page).filter({ hasText: 'Tide blue' }).waitFor();
    const refused = refusedPost(page);
    await page.goto('/lots');
    await refused;
    expect(log(app, lotId)).toEqual([]);
    await signIn(app.owner?.personId ?? 0);
    await page.goto(`/lots/${lotId}/bench`);
    await expect.poll(() => log(app, lotId).map((e) => e.kind)).toEqual(['start', 'weighing']);
    expect(log(app, lotId).at(-1)?.byPersonId).toBe(app.owner?.personId);
    await context.close();
  }, 600_000);

  test('signing out takes the device’s copies of bench pages with it', async () => {
    const { context, page } = await visitorOf(browser(), app);
    const lotId = await plan(context, app, w);
    await page.goto(`/lots/${lotId}/bench`);
    await page.getByText('closed and opened again too').waitFor();
    const kept = () =>
      page.evaluate(() => caches.keys().then((names) => names.filter((n) => n.startsWith('bench-pages'))));
    expect(await kept()).toHaveLength(1);
    await page.goto('/');
    await page.getByRole('button', { name: 'Sign out' }).click();
    await page.waitForURL('**/sign-in');
    await expect.poll(kept).toEqual([]);
    await context.setOffline(true);
    await page.goto(`/lots/${lotId}/bench`);
    await page.getByText('No bench was opened on this device yet.').waitFor();
    await context.close();
  }, 600_000);

  test('over plain http the page says that it must stay open, keeps what it could not send, and sends it later', async () => {
    const path = findChromium();
    if (path === null) throw new Error('The browser of this block is there.');
    // A name that is not this machine's own loopback: no secure context, hence no worker.
    const insecure = await chromium.launch({
      executablePath: path,
      args: [
        '--no-sandbox',
        '--disable-gpu',
        '--disable-background-networking',
        '--host-resolver-rules=MAP studio.test 127.0.0.1',
      ],
    });
    try {
      const named = { ...app, url: app.url.replace('127.0.0.1', 'studio.test') };
      const signedIn = await visitorOf(browser(), app);
      const lotId = await plan(signedIn.context, app, w);
      await signedIn.context.close();
      const { context, page, problems } = await visitorOf(insecure, named, PHONE);
      await page.goto(`/lots/${lotId}/bench`);
      expect(await page.evaluate(() => window.isSecureContext)).toBe(false);
      await page.getByText('as long as this page stays open').waitFor();
      await state(page).filter({ hasText: 'Connected' }).waitFor();
      expect(problems).toEqual([]);
      await context.setOffline(true);
      await page.getByText('No connection since').waitFor();
      await weigh(page, '12');
      await current(page).filter({ hasText: 'Gorse yellow' }).waitFor();
      await weigh(page, '7.2');
      await page.getByText('2 entries not sent').waitFor();
      await context.setOffline(false);
      await state(page).filter({ hasText: 'Connected' }).waitFor();
      await expect.poll(() => log(app, lotId).map((e) => e.kind)).toEqual(['start', 'weighing', 'weighing']);
      // Closed with an entry waiting: any page of the studio sends it.
      await context.setOffline(true);
      await page.getByText('No connection since').waitFor();
      await weigh(page, '4.8');
      await page.getByText('1 entry not sent').waitFor();
      await page.close();
      await context.setOffline(false);
      const today = await context.newPage();
      await today.goto('/lots');
      await expect.poll(() => log(app, lotId).length).toBe(4);
      await context.close();
    } finally {
      await insecure.close();
    }
  }, 600_000);
});
