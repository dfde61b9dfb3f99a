import { eq } from 'drizzle-orm';
import type { BrowserContext, Page } from 'playwright-core';
import { expect } from 'vitest';
import { logEntries, lots } from '../../server/db/tables/lots.ts';
import { type RunningApp, SCREENS } from './browser.ts';
import type { World } from './world.ts';

/* What tests do at a bench by hand, and what they read there. */

export const PHONE = SCREENS[0];

/** Plans a lot of 1.2 kg at 2 %: 12.00 g blue, 7.20 g yellow, 4.80 g red. */
export async function plan(context: BrowserContext, app: RunningApp, w: World): Promise<number> {
  const before = app.deps.db.select().from(lots).all().length;
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
      mass: '1.2 kg',
      'revisionId.0': String(w.revisionId),
      'depth.0': '2',
    },
  });
  expect(answer.status(), await answer.text()).toBe(303);
  expect(app.deps.db.select().from(lots).all()).toHaveLength(before + 1);
  return Number(answer.headers()['location']?.split('/').at(-1));
}

export const state = (page: Page) => page.locator('#unsent [role=status]');
export const unsent = (page: Page) => page.locator('#unsent .unsent-list li');
export const current = (page: Page) => page.locator('.now-what');
export const log = (app: RunningApp, lotId: number) =>
  app.deps.db.select().from(logEntries).where(eq(logEntries.lotId, lotId)).orderBy(logEntries.id).all();

export async function weigh(page: Page, reading: string): Promise<void> {
  await page.getByLabel(/^(Reading|Added now)$/).fill(reading);
  await page.locator('.weigh-form button.primary').click();
}
