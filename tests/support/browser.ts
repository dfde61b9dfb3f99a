import { type ChildProcess, spawn } from 'node:child_process';
import { randomUUID } from 'node:crypto';
import { existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { type Browser, type BrowserContext, chromium, type Page } from 'playwright-core';
import { afterAll, beforeAll, describe, test } from 'vitest';
import { buildApp } from '../../server/app.ts';
import { readConfig } from '../../server/config.ts';
import { applyMigrations } from '../../server/db/migrate.ts';
import { openDatabase } from '../../server/db/open.ts';
import type { Actor, Deps } from '../../server/deps.ts';
import { browserModules } from '../../server/http/browserModules.ts';
import { setUpStudio } from '../../server/people/firstRun.ts';
import { openSignIn } from '../../server/people/signIn.ts';
import { compiled } from './compiled.ts';

const CANDIDATES = [
  '/usr/bin/chromium',
  '/usr/bin/chromium-browser',
  '/usr/bin/google-chrome',
  '/usr/bin/google-chrome-stable',
  '/usr/lib/chromium/chromium',
  '/snap/bin/chromium',
  '/opt/google/chrome/chrome',
  '/opt/homebrew/bin/chromium',
  '/Applications/Chromium.app/Contents/MacOS/Chromium',
  '/Applications/Google Chrome.app/Contents/MacOS/Google Chrome',
];

/** Where Chromium is: CHROMIUM_PATH, or the usual places; null when there is none. A path that was said and holds
 *  nothing is an error, not a reason to look elsewhere. */
export function findChromium(
  env: Record<string, string | undefined> = process.env,
  exists: (path: string) => boolean = existsSync,
): string | null {
  const said = env['CHROMIUM_PATH'];
  if (said) {
    if (!exists(said)) throw new Error(`CHROMIUM_PATH says ${said}, and there is nothing there.`);
    return said;
  }
  return CANDIDATES.find(exists) ?? null;
}

export type BrowserDecision = 'run' | 'skip' | 'fail';

/** Browser tests run where there is a browser. Without one they are skipped, and fail where they are required. */
export const browserDecision = (
  path: string | null,
  env: Record<string, string | undefined> = process.env,
): BrowserDecision => (path !== null ? 'run' : env['REQUIRE_BROWSER'] === '1' ? 'fail' : 'skip');

const NO_BROWSER =
  'No Chromium was found. Install it (Debian: apt-get install chromium) or say where it is with CHROMIUM_PATH.';

export const launchBrowser = (path: string, more: readonly string[] = []): Promise<Browser> =>
  chromium.launch({
    executablePath: path,
    // The sandbox needs user namespaces, which a container's root has not; only our own loopback pages are opened.
    args: ['--no-sandbox', '--disable-gpu', '--disable-background-networking', ...more],
  });

let shared: Promise<Browser> | undefined;
/** One browser a process; each visitor has a context of its own in it. It ends with the process, which Playwright sees to. */
async function sharedBrowser(path: string): Promise<Browser> {
  const running = await shared;
  if (running?.isConnected()) return running;
  shared = launchBrowser(path);
  return shared;
}

/** A block of tests in a real browser, which is handed to it. */
export function describeBrowser(name: string, body: (browser: () => Browser) => void): void {
  const path = findChromium();
  const decision = browserDecision(path);
  if (decision === 'fail') {
    describe(name, () => {
      test('has a browser to run in', () => {
        throw new Error(`${NO_BROWSER} REQUIRE_BROWSER=1 asks for it.`);
      });
    });
    return;
  }
  if (decision === 'skip' || path === null) {
    console.warn(`SKIPPED in the browser: ${name}. ${NO_BROWSER}`);
    describe.skip(`${name} (skipped: no Chromium found)`, () => {
      body(() => {
        throw new Error(NO_BROWSER);
      });
    });
    return;
  }
  describe(name, () => {
    let browser: Browser | undefined;
    beforeAll(async () => {
      browser = await sharedBrowser(path);
    });
    afterAll(async () => {
      await Promise.all(browser?.contexts().map((context) => context.close()) ?? []);
    });
    body(() => {
      if (!browser) throw new Error('The browser is there once the tests run.');
      return browser;
    });
  });
}

const freshDataDir = (): string => mkdtempSync(join(tmpdir(), 'lot-and-shade-browser-'));

/** How long a page may take for one step on a machine that has other work. Nothing is asserted of it: a test fails by what
 *  it sees, and gives up only when nothing comes. */
export const PATIENCE_MS = 60_000;

export interface RunningApp {
  url: string;
  deps: Deps;
  /** The owner, when the studio was set up. */
  owner: Actor | null;
  close: () => Promise<void>;
}

export const OWNER = { name: 'Inês', passphrase: 'four unrelated words' } as const;

/** The app on a free loopback port over a database file of its own, with the real clock. Set up unless told not to. */
export async function startApp(options: { setUp?: boolean; now?: () => number } = {}): Promise<RunningApp> {
  const dataDir = freshDataDir();
  const config = readConfig({ DATA_DIR: dataDir, HOST: '127.0.0.1', LOG_LEVEL: 'error', TZ: 'Europe/Lisbon' });
  const open = openDatabase(join(dataDir, 'studio.sqlite'));
  await applyMigrations(open, join(config.packageRoot, 'migrations'));
  const now = options.now ?? Date.now;
  const deps: Deps = { config, ...open, now, newId: randomUUID, firstRunCode: '314159' };
  let owner: Actor | null = null;
  if (options.setUp !== false) {
    const personId = await setUpStudio(deps, {
      studioName: 'Test Works',
      currency: 'EUR',
      zone: 'Europe/Lisbon',
      units: 'metric',
      readabilityMg: 10,
      ownerName: OWNER.name,
      passphrase: OWNER.passphrase,
    });
    owner = { personId, name: OWNER.name, role: 'owner' };
  }
  const app = await buildApp(deps);
  // The bench's own modules are compiled with the first page that asks, which is not a page's time.
  await browserModules();
  await app.listen({ host: '127.0.0.1', port: 0 });
  return {
    url: `http://127.0.0.1:${(app.server.address() as AddressInfo).port}`,
    deps,
    owner,
    close: async () => {
      await app.close();
      open.sqlite.close();
      rmSync(dataDir, { recursive: true, force: true });
    },
  };
}

export interface RunningServer {
  url: string;
  dataDir: string;
  /** The code that the terminal shows on a first run; '' afterwards. */
  firstRunCode: string;
  process: ChildProcess;
  /** Ends it as a power cut would; the data folder stays. */
  kill: () => Promise<void>;
  /** Ends it in order. */
  stop: () => Promise<void>;
}

/** The whole service as a process of its own, as `npm start` starts it, on a free loopback port. The caller removes the
 *  data folder, so that a second server can be started on it. */
export async function startServer(options: { dataDir?: string; main?: string } = {}): Promise<RunningServer> {
  const dataDir = options.dataDir ?? freshDataDir();
  const { packageRoot } = readConfig({});
  const child = spawn(process.execPath, [options.main ?? compiled('server/main.ts')], {
    cwd: packageRoot,
    env: { ...process.env, PORT: '0', HOST: '127.0.0.1', DATA_DIR: dataDir, LOG_LEVEL: 'error', TZ: 'Europe/Lisbon' },
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  const ended = new Promise<void>((resolve) => child.once('exit', () => resolve()));
  const end = async (signal: 'SIGKILL' | 'SIGTERM'): Promise<void> => {
    if (child.exitCode === null && child.signalCode === null) child.kill(signal);
    await ended;
  };
  let complaint = '';
  child.stderr.on('data', (chunk: Buffer) => {
    complaint += chunk.toString();
  });
  const said: string[] = [];
  const url = await new Promise<string>((resolve, reject) => {
    createInterface({ input: child.stdout }).on('line', (line) => {
      said.push(line.trim());
      const address = /^http:\/\/127\.0\.0\.1:\d+$/.exec(line.trim())?.[0];
      if (address) resolve(address);
    });
    void ended.then(() => reject(new Error(`The server ended before it opened: ${complaint || said.join('\n')}`)));
  });
  // The code's line follows the addresses in the same breath; a page answered means that everything was said.
  await fetch(`${url}/sign-in`, { redirect: 'manual' });
  return {
    url,
    dataDir,
    firstRunCode: said.find((line) => /^\d{6}$/.test(line)) ?? '',
    process: child,
    kill: () => end('SIGKILL'),
    stop: () => end('SIGTERM'),
  };
}

/** The screens that every page is looked at on. */
export const SCREENS = [
  { name: 'phone, light', width: 390, height: 844, colorScheme: 'light' },
  { name: 'phone, dark', width: 390, height: 844, colorScheme: 'dark' },
  { name: 'desktop, light', width: 1280, height: 900, colorScheme: 'light' },
  { name: 'desktop, dark', width: 1280, height: 900, colorScheme: 'dark' },
] as const;
export type Screen = (typeof SCREENS)[number];
/** What a browser needs to know of a screen. */
export type ScreenSize = Omit<Screen, 'name' | 'width' | 'height'> & { width: number; height: number };

/** A browser of its own on one screen, signed in as the owner when the app is set up. */
export async function visitorOf(
  browser: Browser,
  app: RunningApp,
  screen: ScreenSize = SCREENS[2],
): Promise<{ context: BrowserContext; page: Page; problems: string[] }> {
  const context = await browser.newContext({
    baseURL: app.url,
    viewport: { width: screen.width, height: screen.height },
    colorScheme: screen.colorScheme,
    hasTouch: screen.width < 500,
    locale: 'en-GB',
  });
  context.setDefaultTimeout(PATIENCE_MS);
  if (app.owner) {
    const value = openSignIn(app.deps, app.owner.personId, 'browser test');
    await context.addCookies([{ name: 'studio', value, url: app.url }]);
  }
  const page = await context.newPage();
  return { context, page, problems: problemsOf(page) };
}

/** What the console complains of on a page: refused scripts and styles, failed loads, thrown errors. */
export function problemsOf(page: Page): string[] {
  const problems: string[] = [];
  page.on('console', (message) => {
    if (message.type() === 'error') problems.push(message.text());
  });
  page.on('pageerror', (error) => problems.push(error.message));
  return problems;
}

/** What a wet glove would miss: everything to tap that is lower than 48 px, with its height. Links in a sentence are left out. */
export const smallTargets = (page: Page): Promise<string[]> =>
  page.evaluate(() =>
    [
      ...document.querySelectorAll<HTMLElement>(
        '#bench :is(button, a.button, .tabs a, summary, select, label.tap-choice, input:not([type=hidden], [type=radio]))',
      ),
    ]
      .filter((e) => e.offsetParent !== null && e.getBoundingClientRect().height < 48)
      .map((e) => `${e.textContent?.trim() || e.tagName} ${Math.round(e.getBoundingClientRect().height)} px`),
  );

/** How far the page is wider than its screen, in px; 0 when nothing scrolls sideways. */
export const overflowPx = (page: Page): Promise<number> =>
  page.evaluate(() => Math.max(0, document.documentElement.scrollWidth - window.innerWidth));

/** Texts that something else lies upon, as a finger would find it: at the middle and both ends of each heading, timer and
 *  button that is in view. */
export const coveredTexts = (page: Page): Promise<string[]> =>
  page.evaluate(() =>
    [...document.querySelectorAll('main :is(h1, h2, button, a.button, .timer)')].flatMap((element) => {
      // Words for screen readers alone.
      if (getComputedStyle(element).clipPath !== 'none') return [];
      const range = document.createRange();
      range.selectNodeContents(element);
      const covered = [...range.getClientRects()].some(({ left, right, top, bottom, width }) => {
        const y = (top + bottom) / 2;
        if (width < 4 || y < 0 || y >= innerHeight) return false;
        return [left + 2, (left + right) / 2, right - 2].some((x) => {
          if (x < 0 || x >= innerWidth) return false;
          const there = document.elementFromPoint(x, y);
          // A parent is met where the text is shown cut off; another element is in the way.
          return there !== null && !element.contains(there) && !there.contains(element) && !there.closest('.mast');
        });
      });
      return covered ? [(element.textContent ?? '').trim().slice(0, 40)] : [];
    }),
  );

const axeSource = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

interface AxeResults {
  violations: { id: string; help: string; nodes: { target: unknown[]; failureSummary?: string }[] }[];
}

/** What axe finds against WCAG 2.2 A and AA and its own good practice, a line each. The source is evaluated by the
 *  debugger's way, which the content policy of the page does not govern; a script element would be refused. */
export async function axeViolations(page: Page): Promise<string[]> {
  // Whatever is half under the bar at the top only because of how far the page was scrolled is nobody's fault.
  await page.evaluate(() => scrollTo(0, 0));
  await page.evaluate(axeSource);
  return axeRun(page, ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']);
}

/** After `axeViolations`: the same page's contrasts in the other colour scheme, which changes nothing else. */
export async function contrastsInOtherScheme(page: Page, { colorScheme }: Screen): Promise<string[]> {
  await page.emulateMedia({ colorScheme: colorScheme === 'dark' ? 'light' : 'dark' });
  const found = await axeRun(page, { type: 'rule', values: ['color-contrast'] });
  await page.emulateMedia({ colorScheme });
  return found.map((line) => `in the other scheme: ${line}`);
}

async function axeRun(page: Page, runOnly: string[] | { type: 'rule'; values: string[] }): Promise<string[]> {
  const results = await page.evaluate(
    (only) =>
      (window as unknown as { axe: { run: (root: Document, options: object) => Promise<AxeResults> } }).axe.run(
        document,
        { runOnly: only, resultTypes: ['violations'] },
      ),
    runOnly,
  );
  return results.violations.flatMap((violation) =>
    violation.nodes.map(
      (node) => `${violation.id} at ${node.target.join(' ')}: ${node.failureSummary ?? violation.help}`,
    ),
  );
}
