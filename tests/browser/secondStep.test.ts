import { mkdtempSync, rmSync } from 'node:fs';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Secret, TOTP } from 'otpauth';
import type { Browser, CDPSession, Page } from 'playwright-core';
import { expect, test } from 'vitest';
import { buildApp } from '../../server/app.ts';
import { readConfig } from '../../server/config.ts';
import { passkeys } from '../../server/db/tables/doors.ts';
import { answerPlainHttp, keyPairOf } from '../../server/http/secureDoor.ts';
import {
  axeViolations,
  describeBrowser,
  findChromium,
  launchBrowser,
  OWNER,
  overflowPx,
  PATIENCE_MS,
  problemsOf,
  type RunningApp,
  SCREENS,
  startApp,
} from '../support/browser.ts';

/** A phone that keeps passkeys and lets its owner’s finger count. */
async function phoneKeys(page: Page): Promise<{ session: CDPSession; count: () => Promise<number> }> {
  const session = await page.context().newCDPSession(page);
  await session.send('WebAuthn.enable');
  const { authenticatorId } = await session.send('WebAuthn.addVirtualAuthenticator', {
    options: {
      protocol: 'ctap2',
      transport: 'internal',
      hasResidentKey: true,
      hasUserVerification: true,
      isUserVerified: true,
      automaticPresenceSimulation: true,
    },
  });
  return {
    session,
    count: async () => (await session.send('WebAuthn.getCredentials', { authenticatorId })).credentials.length,
  };
}

async function phone(browser: Browser, baseURL: string): Promise<{ page: Page; problems: string[] }> {
  const context = await browser.newContext({
    baseURL,
    viewport: { width: SCREENS[0].width, height: SCREENS[0].height },
    hasTouch: true,
    locale: 'en-GB',
    ignoreHTTPSErrors: true,
  });
  context.setDefaultTimeout(PATIENCE_MS);
  const page = await context.newPage();
  return { page, problems: problemsOf(page) };
}

async function signIn(page: Page): Promise<void> {
  await page.goto('/sign-in');
  await page.getByLabel('Your name').fill(OWNER.name);
  await page.getByLabel('Passphrase').fill(OWNER.passphrase);
  await page.getByRole('button', { name: 'Sign in' }).click();
  await page.waitForURL(({ pathname }) => pathname !== '/sign-in');
}

async function toSetUp(page: Page): Promise<void> {
  await page.goto('/account');
  await page.getByRole('link', { name: 'Set it up' }).click();
  await page.getByLabel('Your passphrase').fill(OWNER.passphrase);
  await page.getByRole('button', { name: 'Go on' }).click();
  await page.getByRole('heading', { name: 'Codes from an app' }).waitFor();
}

async function inOrder(page: Page): Promise<void> {
  expect(await axeViolations(page)).toEqual([]);
  expect(await overflowPx(page)).toBe(0);
}

/** The app over https, with the studio’s own certificate, under a name. */
async function overHttps(app: RunningApp): Promise<{ url: string; close: () => Promise<void> }> {
  const dataDir = mkdtempSync(join(tmpdir(), 'lot-and-shade-browser-'));
  const config = readConfig({ DATA_DIR: dataDir, HOST: '127.0.0.1', LOG_LEVEL: 'error', TLS: 'studio' });
  const secure = await buildApp({ ...app.deps, config }, await keyPairOf(config, Date.now()));
  await answerPlainHttp(secure, config);
  await secure.listen({ host: '127.0.0.1', port: 0 });
  return {
    url: `https://studio.local:${(secure.server.address() as AddressInfo).port}`,
    close: async () => {
      await secure.close();
      rmSync(dataDir, { recursive: true, force: true });
    },
  };
}

describeBrowser('the second step on a phone', (browser) => {
  test('a passkey on https: made, asked for after the passphrase, and of no use without it', async () => {
    const app = await startApp();
    const secure = await overHttps(app);
    // A phone that trusts the studio’s authority, which a browser under test cannot be taught.
    const trusting = await launchBrowser(findChromium() ?? '', [
      '--ignore-certificate-errors',
      '--host-resolver-rules=MAP studio.local 127.0.0.1',
    ]);
    try {
      const { page, problems } = await phone(trusting, secure.url);
      const keys = await phoneKeys(page);
      await signIn(page);
      await page.waitForURL(`${secure.url}/`);
      await toSetUp(page);
      await inOrder(page);
      await page.getByLabel('Name of the passkey').fill('my phone');
      await page.getByRole('button', { name: 'Add a passkey' }).click();
      await page.getByRole('heading', { name: /Put these on paper now/ }).waitFor();
      expect(await page.locator('.code-list li').count()).toBe(10);
      await inOrder(page);
      expect(await keys.count()).toBe(1);
      expect(app.deps.db.select().from(passkeys).all()).toMatchObject([{ name: 'my phone', hostName: 'studio.local' }]);

      await page.goto('/');
      await page.getByText('Menu').click();
      await page.getByRole('button', { name: 'Sign out' }).click();
      await page.waitForURL('**/sign-in');
      await signIn(page);
      await page.waitForURL('**/second-step');
      await inOrder(page);
      await page.goto('/fibres');
      expect(page.url()).toContain('/sign-in');
      await page.goto('/second-step');
      await page.getByRole('button', { name: 'Use your passkey' }).click();
      await page.waitForURL(`${secure.url}/`);
      expect(app.deps.db.select().from(passkeys).get()?.lastUsedAt).toBeGreaterThan(0);
      expect(problems).toEqual([]);
    } finally {
      await trusting.close();
      await secure.close();
      await app.close();
    }
  });

  test('another phone’s passkey does not open it, and the words say what to do', async () => {
    const app = await startApp();
    const url = app.url.replace('127.0.0.1', 'localhost');
    try {
      const mine = await phone(browser(), url);
      await phoneKeys(mine.page);
      await signIn(mine.page);
      await toSetUp(mine.page);
      await mine.page.getByLabel('Name of the passkey').fill('my phone');
      await mine.page.getByRole('button', { name: 'Add a passkey' }).click();
      await mine.page.getByRole('heading', { name: /Put these on paper now/ }).waitFor();
      const [paper = ''] = await mine.page.locator('.code-list code').allInnerTexts();

      const theirs = await phone(browser(), url);
      await phoneKeys(theirs.page);
      await signIn(theirs.page);
      await theirs.page.waitForURL('**/second-step');
      await theirs.page.getByRole('button', { name: 'Use your passkey' }).click();
      await theirs.page.getByRole('alert').filter({ hasText: 'passkey' }).waitFor();
      expect(theirs.page.url()).toContain('/second-step');
      // The phone is lost: a code on paper.
      await theirs.page.getByLabel('Code').fill(paper);
      await theirs.page.getByRole('button', { name: 'Come in' }).click();
      await theirs.page.waitForURL(`${url}/`);
      await Promise.all([mine.page.context().close(), theirs.page.context().close()]);
    } finally {
      await app.close();
    }
  });

  test('codes from an app on http, where no passkey is offered', async () => {
    const app = await startApp();
    try {
      const { page, problems } = await phone(browser(), app.url);
      await signIn(page);
      await toSetUp(page);
      expect(await page.getByRole('button', { name: 'Add a passkey' }).count()).toBe(0);
      await page.getByText('Browsers make passkeys only over https').waitFor();
      await page.getByRole('button', { name: 'Set an app up' }).click();
      const secret = ((await page.locator('#app code.token').textContent()) ?? '').replaceAll(' ', '');
      await inOrder(page);
      const shown = (): string => new TOTP({ secret: Secret.fromBase32(secret), digits: 6, period: 30 }).generate();
      await page.getByLabel('Code that the app shows').fill(shown());
      await page.getByRole('button', { name: 'Switch it on' }).click();
      await page.getByRole('heading', { name: /Put these on paper now/ }).waitFor();
      const [first = '', second = ''] = await page.locator('.code-list code').allInnerTexts();

      await page.context().clearCookies();
      await signIn(page);
      await page.waitForURL('**/second-step');
      expect(await page.getByRole('button', { name: 'Use your passkey' }).count()).toBe(0);
      await inOrder(page);
      await page.getByLabel('Code').fill('000 000');
      await page.getByRole('button', { name: 'Come in' }).click();
      await page.getByText('That is no code of yours that is good now.').waitFor();
      // The code that switched it on is used up; the next half minute has another. Paper need not wait.
      await page.getByLabel('Code').fill(first);
      await page.getByRole('button', { name: 'Come in' }).click();
      await page.waitForURL(`${app.url}/`);
      await page.context().clearCookies();
      await signIn(page);
      await page.getByLabel('Code').fill(first);
      await page.getByRole('button', { name: 'Come in' }).click();
      await page.getByText('That is no code of yours that is good now.').waitFor();
      await page.getByLabel('Code').fill(second);
      await page.getByRole('button', { name: 'Come in' }).click();
      await page.waitForURL(`${app.url}/`);
      // The browser notes the two refusals (422) as failed loads, and nothing else.
      expect(problems.filter((words) => !words.includes('422'))).toEqual([]);
      await page.context().close();
    } finally {
      await app.close();
    }
  });
});
