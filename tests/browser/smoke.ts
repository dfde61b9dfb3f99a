import { chromium } from 'playwright-core';
import { findChromium } from '../support/browser.ts';

/** The way of a new user, on a service that listens over an empty data folder and printed the link in SMOKE_URL: the first-run page
 *  with the sample studio, the wall, a swatch, a lot planned from it, weighed, stepped through and finished. Ends with 0, or
 *  says where it stopped and ends with 1. */
const url = process.env['SMOKE_URL'];
const path = findChromium();
if (!url || !path) {
  process.stderr.write(
    !url
      ? 'Say which link the service printed: SMOKE_URL=http://127.0.0.1:8420/first-run?code=…\n'
      : 'No Chromium was found.\n',
  );
  process.exit(1);
}

const browser = await chromium.launch({
  executablePath: path,
  args: ['--no-sandbox', '--disable-gpu', '--disable-background-networking'],
});
const page = await (
  await browser.newContext({ baseURL: new URL(url).origin, locale: 'en-GB', viewport: { width: 1280, height: 900 } })
).newPage();
page.setDefaultTimeout(60_000);
const complaints: string[] = [];
page.on('console', (m) => m.type() === 'error' && complaints.push(m.text()));
page.on('pageerror', (e) => complaints.push(e.message));
let doing = 'opening the first-run page';
const now = (what: string): void => {
  doing = what;
  process.stdout.write(`  ${what}\n`);
};

try {
  await page.goto(url);
  now('filling in the one form');
  await page.getByLabel('Name of the studio').fill('Smoke Works');
  await page.getByLabel('Your name').fill('Inês');
  await page.getByLabel('Passphrase').fill('four unrelated words');
  await page.getByRole('checkbox', { name: /sample studio/ }).check();
  await page.getByRole('button', { name: 'Open the studio' }).click();
  await page.waitForURL('**/swatches', { timeout: 120_000 });
  now('a wall of swatches');
  await page
    .getByRole('link', { name: /Rusted stake/ })
    .first()
    .click();
  await page.getByRole('link', { name: 'Plan a lot of this' }).click();
  await page.waitForURL('**/lots/new?**');
  now('planning a lot from a swatch');
  await page.getByLabel('What it is').fill('12 napkins');
  await page.locator('[name="mass"]').fill('600 g');
  await page.locator('#weigh-up .weigh').first().waitFor();
  await page.getByRole('button', { name: 'Plan this lot' }).click();
  await page.waitForURL(/\/lots\/\d+$/);
  now('weighing it at the bench');
  await page.getByRole('link', { name: 'To the bench' }).click();
  for (;;) {
    const target = page.locator('.now-target');
    if ((await target.count()) === 0) break;
    const before = await page.locator('.now-what').first().textContent();
    const amount = /[\d.]+/.exec((await target.first().textContent()) ?? '')?.[0] ?? '';
    await page.locator('input[name="amount"]').first().fill(amount);
    await page.getByRole('button', { name: 'It is weighed' }).first().click();
    await page.waitForFunction((was) => document.querySelector('.now-what')?.textContent !== was, before);
  }
  now('running its steps');
  for (;;) {
    const start = page.getByRole('button', { name: /^Start / });
    if ((await start.count()) === 0) break;
    await start.first().click();
    const end = page.getByRole('button', { name: /^End / });
    await end.first().waitFor();
    // A second tap on the same spot within a moment is a shake of the hand to the bench, so take a moment.
    await page.waitForTimeout(900);
    await end.first().click();
    await end.waitFor({ state: 'detached' });
    await page.waitForTimeout(900);
  }
  now('finishing it');
  await page.getByRole('link', { name: 'Finish' }).click();
  await page.getByLabel('First quality').fill('12');
  await page.getByRole('button', { name: 'Finish the lot' }).click();
  await page.locator('[data-total]').waitFor();
  if (Number(await page.locator('[data-total]').getAttribute('data-total')) <= 0)
    throw new Error('The finished lot cost nothing.');
  if (complaints.length > 0) throw new Error(`The console complained: ${complaints.join(' | ')}`);
  process.stdout.write('A lot was finished in a fresh studio.\n');
} catch (error) {
  process.stderr.write(`Stopped at ${doing}: ${error instanceof Error ? error.message : String(error)}\n`);
  process.exitCode = 1;
} finally {
  await browser.close();
}
