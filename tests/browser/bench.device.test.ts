import { cpSync, rmSync } from 'node:fs';
import { eq } from 'drizzle-orm';
import type { BrowserContext, Page } from 'playwright-core';
import sharp from 'sharp';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { weighings } from '../../server/db/tables/lots.ts';
import { openSignIn } from '../../server/people/signIn.ts';
import { current, log, PHONE, plan, state, unsent, weigh } from '../support/benchByHand.ts';
import {
  axeViolations,
  describeBrowser,
  overflowPx,
  PATIENCE_MS,
  type RunningApp,
  SCREENS,
  startApp,
  startServer,
  visitorOf,
} from '../support/browser.ts';
import { makeWorld, type World } from '../support/world.ts';

const kinds = (app: RunningApp, lotId: number): string[] => log(app, lotId).map((e) => e.kind);
const readings = (app: RunningApp, lotId: number): (number | null)[] =>
  app.deps.db
    .select({ massMg: weighings.massMg })
    .from(weighings)
    .where(eq(weighings.lotId, lotId))
    .orderBy(weighings.id)
    .all()
    .map((x) => x.massMg);
const picture = (): Promise<Buffer> =>
  sharp({ create: { width: 320, height: 200, channels: 3, background: '#456' } })
    .jpeg()
    .toBuffer();

describeBrowser('a bench on a device that refuses', (browser) => {
  let app: RunningApp;
  let w: World;
  beforeAll(async () => {
    app = await startApp();
    if (!app.owner) throw new Error('The studio has an owner.');
    w = makeWorld({ deps: app.deps, owner: app.owner });
  });
  afterAll(() => app.close());

  /** A bench on a phone whose browser has the fault from its first script on. */
  async function benchWith(fault: () => void, screen: (typeof SCREENS)[number] = PHONE) {
    const visitor = await visitorOf(browser(), app, screen);
    const lotId = await plan(visitor.context, app, w);
    await visitor.context.addInitScript(fault);
    await visitor.page.goto(`/lots/${lotId}/bench`);
    await state(visitor.page).filter({ hasText: 'Connected' }).waitFor();
    return { ...visitor, lotId };
  }
  const goAway = async (context: BrowserContext, page: Page): Promise<void> => {
    await context.setOffline(true);
    await page.getByText('No connection since').waitFor();
  };
  const keepNote = async (page: Page, words: string): Promise<void> => {
    await page.getByLabel('Note', { exact: true }).fill(words);
    await page.getByRole('button', { name: 'Keep the note' }).click();
  };
  const keepPhoto = async (page: Page, name = 'vat.jpg', buffer?: Buffer): Promise<void> => {
    const file = { name, mimeType: 'image/jpeg', buffer: buffer ?? (await picture()) };
    await page.getByLabel('Photo', { exact: true }).setInputFiles(file);
    await page.getByLabel('Caption').fill('the vat');
    await page.getByRole('button', { name: 'Keep the photo' }).click();
  };

  /** How devices refuse: every entry, at once; at the end of the transaction, as most browsers do; without an answer. */
  const REFUSALS: Record<string, () => void> = {
    'every entry, its room being full': () => {
      for (const way of ['add', 'put'] as const)
        IDBObjectStore.prototype[way] = () => {
          throw new DOMException('The quota has been exceeded.', 'QuotaExceededError');
        };
    },
    'when the transaction ends': () => {
      const begin = IDBDatabase.prototype.transaction;
      IDBDatabase.prototype.transaction = function (this: IDBDatabase, ...args: Parameters<typeof begin>) {
        const transaction = begin.apply(this, args);
        if (args[1] === 'readwrite') setTimeout(() => transaction.abort());
        return transaction;
      };
    },
    'to open its database': () => {
      IDBFactory.prototype.open = () => {
        throw new DOMException('A mutation operation was attempted on a database.', 'InvalidStateError');
      };
    },
    'to answer at all': () => {
      IDBFactory.prototype.open = () => new EventTarget() as unknown as IDBOpenDBRequest;
    },
  };

  test.each(Object.entries(REFUSALS))(
    '%s: what is put in stands in the open page, in words, and goes out once',
    async (_, fault) => {
      const { context, page, lotId } = await benchWith(fault);
      await goAway(context, page);
      await keepNote(page, 'wool smells of the sea');
      await page.getByText('It could not be stored on this device and stands in this open page alone').waitFor();
      expect(await page.getByLabel('Note', { exact: true }).inputValue()).toBe('');
      await keepPhoto(page);
      await page.getByText('2 entries not sent, held in this open page').waitFor();
      await page.getByText('keep it open until everything is sent').waitFor();
      await weigh(page, '12.02');
      await current(page).filter({ hasText: 'Gorse yellow' }).waitFor();
      await page.getByText('Not sent: 3').click();
      expect(await unsent(page).allInnerTexts()).toEqual([
        expect.stringContaining('wool smells of the sea'),
        expect.stringContaining('Photo: the vat'),
        expect.stringContaining('Tide blue: 12.02 g'),
      ]);
      expect(await page.locator('.log mark.kept').first().textContent()).toBe('held in this open page');
      expect(await axeViolations(page)).toEqual([]);
      expect(await overflowPx(page)).toBe(0);
      // Closing asks first.
      const asked = page.waitForEvent('dialog');
      const closing = page.close({ runBeforeUnload: true });
      const dialog = await asked;
      expect(dialog.type()).toBe('beforeunload');
      await dialog.dismiss();
      await closing;
      await context.setOffline(false);
      await state(page).filter({ hasText: 'Connected' }).waitFor();
      await expect.poll(() => kinds(app, lotId)).toEqual(['start', 'note', 'photo', 'weighing']);
      await expect.poll(() => page.locator('mark.kept').count()).toBe(0);
      await context.close();
    },
    600_000,
  );

  test('a device that is truly full: the bench promises no more than it holds', async () => {
    const { context, page } = await visitorOf(browser(), app, PHONE);
    const lotId = await plan(context, app, w);
    const cdp = await context.newCDPSession(page);
    await cdp.send('Storage.overrideQuotaForOrigin', { origin: app.url, quotaSize: 1 });
    await page.goto(`/lots/${lotId}/bench`);
    await page.getByText('Goes on without network as long as this page stays open').waitFor();
    await goAway(context, page);
    await keepNote(page, 'wool smells of the sea');
    await page.getByText('It could not be stored on this device and stands in this open page alone').waitFor();
    await context.setOffline(false);
    await expect.poll(() => kinds(app, lotId)).toEqual(['start', 'note']);
    await context.close();
  }, 600_000);

  test('files alone, as in some private windows: the photo stands in the open page, the note on the device', async () => {
    const { context, page, lotId } = await benchWith(() => {
      for (const way of ['add', 'put'] as const) {
        const does = IDBObjectStore.prototype[way];
        IDBObjectStore.prototype[way] = function (this: IDBObjectStore, entry: { fields: [string, unknown][] }) {
          if (entry.fields.some(([, value]) => value instanceof Blob))
            throw new DOMException('BlobURLs are not yet supported', 'DataCloneError');
          return does.call(this, entry);
        };
      }
    });
    await page.getByText('closed and opened again too').waitFor();
    await goAway(context, page);
    await keepNote(page, 'wool smells of the sea');
    await page.getByText('1 entry not sent, kept on this device').waitFor();
    await keepPhoto(page);
    await page.getByText('1 of them could not be stored on this device and stands in this open page alone').waitFor();
    await page.getByText('Photos and voice notes only as long as this page stays open').waitFor();
    await page.locator('.log img').waitFor();
    await context.setOffline(false);
    await state(page).filter({ hasText: 'Connected' }).waitFor();
    await expect.poll(() => kinds(app, lotId)).toEqual(['start', 'note', 'photo']);
    await context.close();
  }, 600_000);

  test('with the connection there, what the device refuses is sent at once', async () => {
    const { context, page, lotId, problems } = await benchWith(
      REFUSALS['every entry, its room being full'] as () => void,
    );
    await keepPhoto(page);
    await expect.poll(() => kinds(app, lotId)).toEqual(['start', 'photo']);
    await keepNote(page, 'smells of the sea');
    await expect.poll(() => kinds(app, lotId)).toEqual(['start', 'photo', 'note']);
    await state(page).filter({ hasText: 'Connected' }).waitFor();
    await page.getByText('This device stores nothing for this page').waitFor();
    expect(problems).toEqual([]);
    await context.close();
  }, 600_000);

  test('a file that the device gives no more stays asked for, with what was written to it', async () => {
    const { context, page, lotId } = await benchWith(() => {
      for (const way of ['add', 'put'] as const)
        IDBObjectStore.prototype[way] = () => {
          throw new DOMException('The file could not be read.', 'NotReadableError');
        };
      Blob.prototype.arrayBuffer = () => Promise.reject(new DOMException('gone', 'NotReadableError'));
    });
    await keepPhoto(page);
    await page.getByText('Not kept: this device does not give the file any more').waitFor();
    expect(await page.getByLabel('Caption').inputValue()).toBe('the vat');
    expect(await page.getByRole('button', { name: 'Keep the photo' }).isEnabled()).toBe(true);
    expect(kinds(app, lotId)).toEqual([]);
    await context.close();
  }, 600_000);

  test('a photo that the studio refuses stays on the device, with its file to save', async () => {
    const { context, page, lotId } = await benchWith(() => undefined);
    await keepPhoto(page, 'scan.jpg', Buffer.from('no picture at all'));
    await page.locator('.unsent-list li.is-refused').waitFor();
    const download = page.waitForEvent('download');
    await page.getByRole('link', { name: 'Save the file' }).click();
    expect((await download).suggestedFilename()).toBe('scan.jpg');
    await page.getByText('Drop it', { exact: true }).click();
    await page.getByRole('button', { name: 'Yes, drop it' }).click();
    await state(page).filter({ hasText: 'Connected' }).waitFor();
    expect(kinds(app, lotId)).toEqual([]);
    await context.close();
  }, 600_000);

  test('a note refused while the next one is being written is not lost under it', async () => {
    const { context, page, lotId } = await benchWith(() => undefined);
    let answered = 0;
    await page.route(`**/lots/${lotId}/log`, async (route) => {
      // The page's own check is passed by: only the server refuses an empty temperature.
      const answer = await route.fetch({ postData: 'kind=temperature&temp=hot&clientId=a-temperature-1&order=plan' });
      await expect.poll(() => page.getByLabel('Temperature').inputValue()).toBe('42');
      answered += 1;
      await route.fulfill({ response: answer });
    });
    await page.getByLabel('Temperature').fill('41');
    await page.getByRole('button', { name: 'Keep the temperature' }).click();
    await expect.poll(() => page.getByLabel('Temperature').inputValue()).toBe('');
    await page.getByLabel('Temperature').fill('42');
    await expect.poll(() => answered).toBe(1);
    await page.getByText('1 entry not sent: one was refused').waitFor();
    expect(await unsent(page).textContent()).toContain('Temperature 41 °C');
    expect(await page.getByLabel('Temperature').inputValue()).toBe('42');
    await context.close();
  }, 600_000);

  test('the browser is asked to keep what is stored; one that has no such question is asked nothing', async () => {
    const asked = await benchWith(() => {
      StorageManager.prototype.persist = () => {
        document.documentElement.dataset['asked'] = 'yes';
        return Promise.resolve(false);
      };
    });
    await expect.poll(() => asked.page.evaluate(() => document.documentElement.dataset['asked'])).toBe('yes');
    await asked.context.close();
    const bare = await benchWith(() => Object.defineProperty(Navigator.prototype, 'storage', { value: undefined }));
    await goAway(bare.context, bare.page);
    await keepNote(bare.page, 'smells of the sea');
    await bare.page.getByText('1 entry not sent, kept on this device').waitFor();
    expect(bare.problems.filter((p) => !p.includes('ERR_INTERNET_DISCONNECTED'))).toEqual([]);
    await bare.context.close();
  }, 600_000);

  describe('in a browser from before the pressed button went along', () => {
    /** Chrome to 111, Firefox to 110, Safari to 16.3: the second argument of FormData is passed over. */
    const withoutSubmitter = (): void => {
      const Real = window.FormData;
      window.FormData = class extends Real {
        constructor(form?: HTMLFormElement) {
          super(form);
        }
      };
    };
    /** Safari to 15.3 besides: the event does not say either, and a script cannot ask a form to be sent. */
    const older = (): void => {
      const Real = window.FormData;
      window.FormData = class extends Real {
        constructor(form?: HTMLFormElement) {
          super(form);
        }
      };
      Reflect.deleteProperty(SubmitEvent.prototype, 'submitter');
      Reflect.deleteProperty(HTMLFormElement.prototype, 'requestSubmit');
    };
    test.each([
      ['Safari 16.3', withoutSubmitter],
      ['Safari 15.3', older],
    ])(
      '%s: “Next” ends a step and starts the next, notes and changes are kept as what they are',
      async (_, fault) => {
        const { context, page, lotId } = await benchWith(fault);
        await page.getByRole('button', { name: 'Start Soda soak' }).click();
        // A second tap so soon on the same place would be taken for the first one's shake.
        await page.getByRole('button', { name: /^Next:/ }).waitFor();
        await page.waitForTimeout(700);
        await page.getByRole('button', { name: /^Next:/ }).click();
        await expect.poll(() => kinds(app, lotId)).toEqual(['start', 'stepStart', 'stepEnd', 'stepStart']);
        await keepNote(page, 'smells of the sea');
        await expect.poll(() => kinds(app, lotId).at(-1)).toBe('note');
        await page.getByLabel('Note', { exact: true }).fill('turned twice');
        await page.getByRole('button', { name: 'It is a change of plan' }).click();
        await expect.poll(() => log(app, lotId).at(-1)).toMatchObject({ kind: 'deviation', text: 'turned twice' });
        await page.getByRole('button', { name: 'More water' }).click();
        await expect.poll(() => log(app, lotId).at(-1)).toMatchObject({ kind: 'deviation', text: 'More water' });
        await page.getByLabel('Note', { exact: true }).fill('by the Enter of another field');
        await page.getByLabel('Temperature').fill('41');
        await page.getByLabel('Temperature').press('Enter');
        await expect.poll(() => kinds(app, lotId).at(-1)).toBe('temperature');
        await context.close();
      },
      600_000,
    );

    test('a drawing says which of the two it is', async () => {
      const { context, page, lotId } = await benchWith(older);
      await page.goto(`/lots/${lotId}/placement`);
      await page.locator('.placement-cell').first().click();
      await page.locator('button[name=of][value=plan]').click();
      await page.waitForURL(`**/lots/${lotId}#placement`);
      await context.close();
    }, 600_000);
  });
});

describeBrowser('a scale that types', (browser) => {
  let app: RunningApp;
  let w: World;
  beforeAll(async () => {
    app = await startApp();
    if (!app.owner) throw new Error('The studio has an owner.');
    w = makeWorld({ deps: app.deps, owner: app.owner });
  });
  afterAll(() => app.close());
  const SCREEN = SCREENS[2];

  async function atBench() {
    const visitor = await visitorOf(browser(), app, SCREEN);
    const lotId = await plan(visitor.context, app, w);
    await visitor.page.goto(`/lots/${lotId}/bench`);
    await state(visitor.page).filter({ hasText: 'Connected' }).waitFor();
    return { ...visitor, lotId };
  }
  const types = async (page: Page, reading: string): Promise<void> => {
    await page.keyboard.type(reading);
    await page.keyboard.press('Enter');
  };
  const focused = (page: Page) => page.evaluate(() => document.activeElement?.id ?? '');

  test('one reading after the other comes to the next line, whoever has the focus', async () => {
    const { context, page, lotId } = await atBench();
    // Nobody has tapped into the field.
    expect(await focused(page)).not.toBe('reading');
    await types(page, '12.02');
    await current(page).filter({ hasText: 'Gorse yellow' }).waitFor();
    await expect.poll(() => focused(page)).toBe('reading');
    await types(page, '7.2');
    await current(page).filter({ hasText: 'Hip red' }).waitFor();
    // Under, and the rest of it: the line stays.
    await types(page, '3');
    await page.getByLabel('Added now').waitFor();
    await types(page, '1.8');
    await current(page).filter({ hasText: 'Salt' }).waitFor();
    await expect.poll(() => focused(page)).toBe('reading');
    await expect.poll(() => readings(app, lotId)).toEqual([12_020, 7_200, 3_000, 1_800]);
    await context.close();
  }, 600_000);

  test('the second reading does not wait for the answer to the first', async () => {
    const { context, page, lotId } = await atBench();
    const held: (() => void)[] = [];
    await page.route('**/weighings', async (route) => {
      await new Promise<void>((resolve) => held.push(resolve));
      await route.continue();
    });
    await page.getByLabel('Reading').focus();
    await types(page, '12.02');
    await expect.poll(() => held.length).toBe(1);
    await types(page, '7.2');
    await page.getByText('2 entries').waitFor();
    await current(page).filter({ hasText: 'Hip red' }).waitFor();
    held[0]?.();
    await expect.poll(() => held.length).toBe(2);
    held[1]?.();
    await expect.poll(() => readings(app, lotId)).toEqual([12_020, 7_200]);
    await context.close();
  }, 600_000);

  test('after too much the reading that comes next is not swallowed, and its Enter chooses nothing', async () => {
    const { context, page, lotId } = await atBench();
    await types(page, '12.48');
    await page.locator('.ways-out').waitFor();
    await page.getByRole('button', { name: 'Let it be deeper' }).focus();
    await types(page, '7.2');
    await page.getByText('“7.2” was not taken down').waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await expect.poll(() => kinds(app, lotId)).toEqual(['start', 'weighing']);
    await page.getByRole('button', { name: 'Let it be deeper' }).focus();
    await page.waitForTimeout(1600);
    await page.keyboard.press('Enter');
    await current(page).filter({ hasText: 'Gorse yellow' }).waitFor();
    await expect.poll(() => focused(page)).toBe('reading');
    await types(page, '7.49');
    await current(page).filter({ hasText: 'Hip red' }).waitFor();
    await expect.poll(() => readings(app, lotId)).toEqual([12_480, 7_490]);
    await context.close();
  }, 600_000);

  test('who has gone on to a note is not called back to the scale, by the answer or by somebody else’s entry', async () => {
    const { context, page, lotId } = await atBench();
    let answer: (() => void) | undefined;
    await page.route('**/weighings', async (route) => {
      await new Promise<void>((resolve) => {
        answer = resolve;
      });
      await route.continue();
    });
    await page.getByLabel('Reading').focus();
    await types(page, '12.02');
    await expect.poll(() => answer).toBeDefined();
    await page.getByLabel('Note', { exact: true }).pressSequentially('lumps: 2');
    answer?.();
    await current(page).filter({ hasText: 'Gorse yellow' }).waitFor();
    const other = await visitorOf(browser(), app, SCREEN);
    await other.page.goto(`/lots/${lotId}/bench`);
    await weigh(other.page, '7.2');
    await current(page).filter({ hasText: 'Hip red' }).waitFor();
    expect(await focused(page)).toBe('note-text');
    await page.keyboard.type('3');
    expect(await page.getByLabel('Note', { exact: true }).inputValue()).toBe('lumps: 23');
    await other.context.close();
    await context.close();
  }, 600_000);
});

describeBrowser('a studio’s computer that goes away', (browser) => {
  /** A studio as a process of its own, with a planned lot, and a phone at its bench. */
  async function served() {
    const seeded = await startApp();
    if (!seeded.owner) throw new Error('The studio has an owner.');
    const w = makeWorld({ deps: seeded.deps, owner: seeded.owner });
    const planner = await visitorOf(browser(), seeded);
    const lotId = await plan(planner.context, seeded, w);
    await planner.context.close();
    const dataDir = `${seeded.deps.config.dataDir}-served`;
    const cookie = openSignIn(seeded.deps, seeded.owner.personId, 'browser test');
    seeded.deps.sqlite.pragma('wal_checkpoint(TRUNCATE)');
    cpSync(seeded.deps.config.dataDir, dataDir, { recursive: true });
    await seeded.close();
    const server = await startServer({ dataDir });
    const context = await browser().newContext({ baseURL: server.url, viewport: PHONE, hasTouch: true });
    context.setDefaultTimeout(PATIENCE_MS);
    await context.addCookies([{ name: 'studio', value: cookie, url: server.url }]);
    const page = await context.newPage();
    await page.clock.install();
    const end = async () => {
      await context.close();
      await server.kill();
      rmSync(dataDir, { recursive: true, force: true });
    };
    return { server, context, page, lotId, end };
  }

  test.each([
    ['killed', 'SIGKILL', 200],
    ['hung, its sockets open and dead', 'SIGSTOP', 200],
    ['killed when it had too many listeners', 'SIGKILL', 429],
    ['hung when it had too many listeners', 'SIGSTOP', 429],
  ] as const)(
    '%s: the bench says so within five seconds of its own clock',
    async (_, signal, live) => {
      const { server, page, lotId, end } = await served();
      try {
        if (live === 429) await page.route('**/live', (route) => route.fulfill({ status: live }));
        await page.goto(`/lots/${lotId}/bench`);
        await page.getByText('closed and opened again too').waitFor();
        await state(page).filter({ hasText: 'Connected' }).waitFor();
        // By the page's own clock, which stands while this machine is busy with something else.
        await page.clock.pauseAt((await page.evaluate(() => Date.now())) + 1000);
        expect(await state(page).textContent()).toContain('Connected');
        server.process.kill(signal);
        for (let ms = 0; ms < 5000; ms += 250) {
          await page.clock.runFor(250);
          // What the network has refused meanwhile comes to the page.
          await fetch(`${server.url}/healthz`, { signal: AbortSignal.timeout(50) }).catch(() => undefined);
        }
        expect(await state(page).textContent()).toContain('No connection since');
        await page.clock.resume();
        await page.getByLabel('Note', { exact: true }).fill('smells of the sea');
        await page.getByRole('button', { name: 'Keep the note' }).click();
        await page.getByText('1 entry not sent, kept on this device').waitFor();
        if (signal === 'SIGSTOP') {
          server.process.kill('SIGCONT');
          await state(page).filter({ hasText: 'Connected' }).waitFor();
          await page.locator('.log li').filter({ hasText: 'smells of the sea' }).waitFor();
          await expect.poll(() => page.locator('mark.kept').count()).toBe(0);
        }
      } finally {
        await end();
      }
    },
    600_000,
  );

  test('while a lot is planned or finished: what was put in stands in the form, and is sent when it is back', async () => {
    const { server, page, lotId, end } = await served();
    try {
      await page.goto(`/lots/${lotId}/bench`);
      await page.getByLabel('Note', { exact: true }).fill('begun');
      await page.getByRole('button', { name: 'Keep the note' }).click();
      await expect.poll(() => page.locator('.log li').filter({ hasText: 'begun' }).count()).toBe(1);
      await page.goto(`/lots/${lotId}/outcome`);
      await page.getByLabel('First quality').fill('22');
      await page.getByLabel('How it came out').fill('even, a shade deep');
      await page.getByLabel('There is no reading of').check();
      server.process.kill('SIGSTOP');
      await page.getByRole('button', { name: 'Finish the lot' }).click();
      await page.getByText('Not sent: the studio’s computer cannot be reached').waitFor();
      expect(await page.getByLabel('How it came out').inputValue()).toBe('even, a shade deep');
      expect(await axeViolations(page)).toEqual([]);
      server.process.kill('SIGCONT');
      await page.getByLabel('Seconds', { exact: true }).fill('2');
      await page.getByRole('button', { name: 'Finish the lot' }).click();
      await page.waitForURL(`**/lots/${lotId}`);
      await page.getByText('even, a shade deep').first().waitFor();

      await page.goto('/lots/new');
      await page.getByLabel('What it is').fill('12 scarves');
      await page.getByRole('button', { name: 'Add a colour' }).click();
      await server.kill();
      await page.locator('form.plan button.primary').click();
      await page.getByText('Not sent: the studio’s computer cannot be reached').waitFor();
      expect(await page.getByLabel('What it is').inputValue()).toBe('12 scarves');
    } finally {
      await end();
    }
  }, 600_000);
});
