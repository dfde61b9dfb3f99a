import { expect, test } from 'vitest';
import { shutRestored } from '../../server/people/afterRestore.ts';
import { addBenchDevice } from '../../server/people/invitations.ts';
import { listPeople } from '../../server/people/queries.ts';
import { axeViolations, describeBrowser, overflowPx, SCREENS, startApp, visitorOf } from '../support/browser.ts';

describeBrowser('a restored studio', (browser) => {
  test('is opened on a phone by the code of the terminal, and shows whose standing differs', async () => {
    const app = await startApp();
    const { deps } = app;
    const tablet = addBenchDevice(deps, 'tablet');
    const now = deps.now();
    const replaced = listPeople(deps.db).map((p) => (p.id === tablet.id ? { ...p, active: 0 } : p));
    shutRestored(deps.db, { now, archive: 'studio.zip', archiveMadeAt: now - 86_400_000, keptIn: '/kept', replaced });
    const { context, page } = await visitorOf(browser(), { ...app, owner: null }, SCREENS[0]);
    try {
      await page.goto('/lots');
      await page.waitForURL('**/after-restore');
      expect(await axeViolations(page)).toEqual([]);
      await page.getByLabel('Code from the terminal').fill(deps.firstRunCode);
      await page.getByLabel('New passphrase').fill('a jar of woad and weld');
      await page.getByRole('button', { name: 'Open the studio' }).click();
      await page.waitForURL('**/people/after-restore');
      expect(await axeViolations(page)).toEqual([]);
      expect(await overflowPx(page)).toBeLessThanOrEqual(0);
      await page.getByRole('button', { name: 'tablet has left' }).click();
      await page.waitForURL('**/people');
      expect(listPeople(deps.db).find((p) => p.id === tablet.id)?.active).toBe(0);
    } finally {
      await context.close();
      await app.close();
    }
  });
});
