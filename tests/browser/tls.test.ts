import { spawn } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { expect, test } from 'vitest';
import { readConfig } from '../../server/config.ts';
import { studioAuthority } from '../../server/http/studioCertificate.ts';
import { axeViolations, describeBrowser, overflowPx, PATIENCE_MS, problemsOf, SCREENS } from '../support/browser.ts';
import { compiled } from '../support/compiled.ts';

/** The whole service with TLS=studio, as a process of its own; answers what its terminal says until it is open. */
async function startSecurely(dataDir: string): Promise<{ said: string[]; stop: () => Promise<void> }> {
  const child = spawn(process.execPath, [compiled('server/main.ts')], {
    cwd: readConfig({}).packageRoot,
    env: { ...process.env, PORT: '0', HOST: '127.0.0.1', DATA_DIR: dataDir, LOG_LEVEL: 'error', TLS: 'studio' },
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  const ended = new Promise<void>((resolve) => child.once('exit', () => resolve()));
  const said: string[] = [];
  await new Promise<void>((resolve, reject) => {
    createInterface({ input: child.stdout }).on('line', (line) => {
      said.push(line.trim());
      // The first-run code is the last that a new studio's terminal says.
      if (/^\d{6}$/.test(line.trim())) resolve();
    });
    void ended.then(() => reject(new Error(`The server ended before it opened: ${said.join('\n')}`)));
  });
  return {
    said,
    stop: async () => {
      child.kill('SIGTERM');
      await ended;
    },
  };
}

describeBrowser('a studio with a certificate of its own', (browser) => {
  test('prints https addresses, opens in a browser, and explains itself on a phone', async () => {
    const dataDir = mkdtempSync(join(tmpdir(), 'lot-and-shade-browser-'));
    const server = await startSecurely(dataDir);
    const context = await browser().newContext({
      ignoreHTTPSErrors: true,
      viewport: { width: SCREENS[0].width, height: SCREENS[0].height },
      locale: 'en-GB',
    });
    context.setDefaultTimeout(PATIENCE_MS);
    try {
      const url = server.said.find((line) => /^https:\/\/127\.0\.0\.1:\d+$/.test(line)) ?? '';
      expect(url).not.toBe('');
      expect(server.said.some((line) => line.startsWith('http://'))).toBe(false);
      const fingerprint = studioAuthority(dataDir)?.fingerprint ?? '';
      expect(server.said.join('\n')).toContain(fingerprint);

      const page = await context.newPage();
      const problems = problemsOf(page);
      // An old plain address, as a printed label has it.
      await page.goto(`${url.replace('https:', 'http:')}/first-run`);
      expect(page.url()).toBe(`${url}/first-run`);
      expect(await page.evaluate(() => window.isSecureContext)).toBe(true);
      await page.goto(`${url}/trust`);
      expect(await page.locator('code.token').textContent()).toBe(fingerprint);
      const download = page.waitForEvent('download');
      await page.getByRole('link', { name: 'Download the studio’s certificate' }).click();
      expect((await download).suggestedFilename()).toBe('studio-authority.crt');
      expect(await axeViolations(page)).toEqual([]);
      expect(await overflowPx(page)).toBe(0);
      expect(problems).toEqual([]);
    } finally {
      await context.close();
      await server.stop();
      rmSync(dataDir, { recursive: true, force: true });
    }
  }, 600_000);
});
