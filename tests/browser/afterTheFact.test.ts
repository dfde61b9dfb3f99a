import { afterAll, beforeAll, expect, test } from 'vitest';
import {
  axeViolations,
  coveredTexts,
  describeBrowser,
  overflowPx,
  type RunningApp,
  SCREENS,
  startApp,
  visitorOf,
} from '../support/browser.ts';
import { type LotWorld, lotWorld, writeLot } from '../support/finishedLots.ts';

const DAY = 86_400_000;

describeBrowser('found out later', (browser) => {
  let app: RunningApp;
  let world: LotWorld;
  let lotId = 0;

  beforeAll(async () => {
    app = await startApp();
    if (!app.owner) throw new Error('the studio was to be set up');
    world = lotWorld(app.deps, app.owner);
    lotId = writeLot(world, { number: '26-0001', finishedAt: app.deps.now() - DAY });
  });
  afterAll(() => app.close());

  test('a forgotten cost is added on a phone, from the lot’s page to the line in its books', async () => {
    const { context, page, problems } = await visitorOf(browser(), app, SCREENS[1]);
    const looksWell = async (): Promise<void> => {
      expect(await axeViolations(page)).toEqual([]);
      expect(await overflowPx(page)).toBe(0);
      expect(await coveredTexts(page)).toEqual([]);
    };
    await page.goto(`/lots/${lotId}`);
    await page.getByRole('link', { name: 'Cost in detail' }).click();
    await page.getByRole('link', { name: 'Add a forgotten cost' }).click();
    await looksWell();
    await page.getByLabel('From container').selectOption({ label: 'SODA-A · Soda ash' });
    await page.getByLabel('Quantity').fill('250 g');
    await page.getByLabel('Why').fill('put in by eye');
    await page.getByRole('button', { name: 'Add it' }).click();
    await page.waitForURL(`**/costing/lots/${lotId}#lines`);
    // 37.83 and 250 g of 5 kg for 12.00.
    await page.locator('#lines tfoot').getByText('€38.43').waitFor();
    await page.locator('#lines').getByText('“put in by eye”').waitFor();
    await page.locator('#ledger').getByText('forgotten in the cost of lot 26-0001').waitFor();
    await looksWell();
    await page.getByRole('link', { name: 'Add a forgotten cost' }).click();
    for (const what of ['Hands', 'Overhead', 'Other', 'Credit']) {
      await page.getByRole('link', { name: what, exact: true }).click();
      await page.locator('.tabs a[aria-current]', { hasText: what }).waitFor();
      await looksWell();
    }
    expect(problems).toEqual([]);
    await context.close();
  }, 600_000);

  test('a credit note is written on the page of its jar, and what stock is worth says where the money is', async () => {
    for (const screen of [SCREENS[1], SCREENS[2]]) {
      const { context, page, problems } = await visitorOf(browser(), app, screen);
      context.setDefaultTimeout(10_000);
      const looksWell = async (): Promise<void> => {
        expect(await axeViolations(page)).toEqual([]);
        expect(await overflowPx(page)).toBe(0);
        expect(await coveredTexts(page)).toEqual([]);
      };
      await page.goto(`/stock/${world.stockLotIds.soda}`);
      await page.getByRole('link', { name: 'Late freight, a bill or a credit' }).click();
      await page.getByRole('radio', { name: 'A credit: money back' }).check();
      await page.getByLabel('Amount').fill('0.50');
      await page.getByLabel('What for').fill('note 118');
      await looksWell();
      await page.getByRole('button', { name: 'Write it down' }).click();
      await page.locator('#money').getByText('-€0.50').first().waitFor();
      await looksWell();
      await page.goto('/costing');
      await page.getByRole('link', { name: 'What stock is worth' }).click();
      await page.locator('#stock-worth').getByRole('link', { name: 'SODA Soda ash' }).waitFor();
      await looksWell();
      expect(problems).toEqual([]);
      await context.close();
    }
  }, 90_000);

  test('a jar is closed and opened again, recalled and cleared, and its page tells it', async () => {
    const { context, page, problems } = await visitorOf(browser(), app, SCREENS[0]);
    await page.goto(`/stock/${world.stockLotIds.blue}`);
    await page.getByRole('link', { name: 'Close', exact: true }).click();
    await page.getByRole('button', { name: 'Close the container' }).click();
    await page.getByRole('link', { name: 'Open it again' }).click();
    expect(await page.getByLabel('What is in it').inputValue()).toBe('245.8 g');
    await page.getByLabel('Why').fill('the wrong jar');
    await page.getByRole('button', { name: 'Open it again' }).click();
    await page.getByRole('link', { name: 'Recall', exact: true }).click();
    await page.getByLabel('Why').fill('maker’s notice');
    await page.getByRole('button', { name: 'Recall it' }).click();
    await page.waitForURL('**/touched');
    await page.goto(`/stock/${world.stockLotIds.blue}`);
    await page.getByRole('link', { name: 'Lift the recall' }).click();
    expect(await axeViolations(page)).toEqual([]);
    await page.getByLabel('Why').fill('it was the neighbour’s');
    await page.getByRole('button', { name: 'Lift the recall' }).click();
    await page.getByRole('link', { name: 'Recall', exact: true }).waitFor();
    const story = page.locator('section', { hasText: 'Closed, recalled and taken back' });
    expect(await story.locator('li b').allTextContents()).toEqual([
      'Recall lifted',
      'Recalled',
      'Opened again',
      'Closed',
    ]);
    expect(await page.getByRole('link', { name: 'Recall', exact: true }).isVisible()).toBe(true);
    expect(await axeViolations(page)).toEqual([]);
    expect(await overflowPx(page)).toBe(0);
    expect(problems).toEqual([]);
    await context.close();
  }, 600_000);
});
