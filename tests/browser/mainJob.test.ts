import { rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parse } from 'csv-parse/sync';
import sharp from 'sharp';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { onHand } from '../../server/stock/queries.ts';
import { addSwatch } from '../../server/swatches/addSwatch.ts';
import {
  describeBrowser,
  OWNER,
  type RunningApp,
  SCREENS,
  startApp,
  startServer,
  visitorOf,
} from '../support/browser.ts';
import { makeWorld, type World } from '../support/world.ts';

describeBrowser('a customer orders napkins like a swatch, a shade deeper', (browser) => {
  let app: RunningApp;
  let world: World;
  const photoFile = join(tmpdir(), `lot-and-shade-photo-${process.pid}.jpg`);

  beforeAll(async () => {
    app = await startApp();
    if (!app.owner) throw new Error('The studio has an owner.');
    world = makeWorld({ deps: app.deps, owner: app.owner });
    addSwatch(
      app.deps.db,
      {
        code: 'S-0001',
        name: 'Estuary',
        revisionId: world.revisionId,
        depthPpm: 20_000,
        fibreId: world.linenId,
        methodId: world.methodId,
        lotId: null,
        dryMassMg: 10_000,
        dyedOn: '2026-02-01',
        cardPlace: 'ring 1',
        photoId: null,
        rating: 5,
        note: '',
        stockLotIds: [world.stock.blue.id],
        readings: [
          {
            colour: { l: 41, a: -9, b: -22, illuminant: 'D65', observer: '10' },
            source: 'instrument',
            asTyped: '',
            areaSharePpm: null,
            uncertaintyMilli: null,
            note: '',
          },
        ],
      },
      app.owner,
      app.deps.now(),
    );
    writeFileSync(
      photoFile,
      await sharp({ create: { width: 900, height: 700, channels: 3, background: '#2f5d78' } })
        .jpeg()
        .toBuffer(),
    );
  });
  afterAll(async () => {
    await app?.close();
    rmSync(photoFile, { force: true });
  });

  test('from the order to the exported month', { timeout: 600_000 }, async () => {
    const { page, problems } = await visitorOf(browser(), app, SCREENS[2]);
    // the order
    await page.goto('/customers/new');
    await page.getByLabel('Name', { exact: false }).first().fill('Guild of the Long Table');
    await page.locator('main form button.primary').click();
    await page.waitForURL(/\/customers\/\d+/);
    await page.goto('/orders/new');
    await page.getByLabel('Customer', { exact: true }).selectOption({ label: 'Guild of the Long Table' });
    await page
      .locator('[name="description"], [name="description.0"]')
      .first()
      .fill('24 napkins, like Estuary, a shade deeper');
    await page.locator('[name="pieces"], [name="pieces.0"]').first().fill('24');
    await page.locator('[name="dryMass"], [name="dryMass.0"]').first().fill('1.2 kg');
    await page.locator('main form button.primary').click();
    await page.waitForURL(/\/orders\/\d+$/);

    // the swatch, from the wall
    await page.goto('/swatches?words=estuary');
    await page
      .getByRole('link', { name: /Estuary/ })
      .first()
      .click();
    await page.waitForURL(/\/swatches\/1$/);

    // the plan: a shade deeper, on damp goods that weigh 1.62 kg
    await page.goto('/lots/new?swatchId=1');
    await page.getByLabel('For the order line').selectOption({ index: 1 });
    await page.getByLabel('What it is').fill('24 napkins');
    await page.getByLabel('Pieces').first().fill('24');
    await page.getByRole('radio', { name: 'weighed damp' }).check();
    await page.getByLabel('The damp goods weigh').fill('1.62 kg');
    await page.getByLabel('The piece, damp').fill('54 g');
    await page.getByLabel('The same piece, dry').fill('40 g');
    await page.locator('[name="depth.0"]').fill('2.3');
    const weighUp = page.locator('#weigh-up');
    // 1200 g · 2.3 % · 50/30/20
    await expect.poll(() => weighUp.textContent()).toContain('13.80 g');
    expect(await weighUp.textContent()).toContain('8.28 g');
    expect(await weighUp.textContent()).toContain('5.52 g');
    await page.getByRole('button', { name: 'Plan this lot' }).click();
    await page.waitForURL(/\/lots\/\d+$/);
    const lotId = Number(page.url().split('/').at(-1));

    // paper
    await page.getByRole('link', { name: 'Bench sheet' }).click();
    await page.waitForURL(/\/sheet$/);
    expect((await page.pdf({ format: 'A4' })).length).toBeGreaterThan(1000);

    // the bench, on a phone
    const phone = await visitorOf(browser(), app, SCREENS[0]);
    await phone.page.goto(`/lots/${lotId}/bench`);
    const weigh = async (code: string, reading: string): Promise<void> => {
      await phone.page.locator('.now-what b', { hasText: new RegExp(`^${code}$`) }).waitFor();
      await phone.page.getByLabel(/^(Reading|Added now)$/).fill(reading);
      const answered = phone.page.waitForResponse((r) => r.url().endsWith('/weighings'));
      await phone.page.getByRole('button', { name: /It is weighed|Add it/ }).click();
      await answered;
    };
    // 4 % over: 13.80 × 1.04
    await weigh('RB', '14.35');
    await phone.page.getByRole('button', { name: 'Let it be deeper' }).click();
    // k = 14.35 / 13.80: yellow 8.28 → 8.61, red 5.52 → 5.74
    await expect.poll(() => phone.page.locator('.now-target').textContent()).toContain('8.61 g');
    await weigh('RY', '8.61');
    await weigh('RR', '5.74');
    await weigh('SALT', '1200');
    await weigh('SODA', '360');
    await phone.page.getByText('Everything is weighed.').waitFor();

    // soak, dye, batching
    for (const step of ['Soda soak', 'Dye', 'Batching']) {
      await phone.page.getByRole('button', { name: `Start ${step}` }).click();
      await phone.page.getByRole('button', { name: `End ${step}` }).waitFor();
      await phone.page.reload();
      expect(await phone.page.locator('.timer').textContent()).toMatch(/^(\d+:)?\d+:\d\d$/);
      await phone.page.getByRole('button', { name: `End ${step}` }).click();
      await phone.page.locator('.step.is-done', { hasText: step }).waitFor();
    }
    await phone.page.getByRole('button', { name: 'Folded another way' }).click();
    await phone.page.locator('.log', { hasText: 'Folded another way' }).waitFor();
    await phone.page.getByLabel('Photo', { exact: true }).setInputFiles(photoFile);
    await phone.page.getByLabel('Caption').fill('after the rinse');
    await phone.page.getByRole('button', { name: 'Keep the photo' }).click();
    await phone.page.locator('.log img').waitFor();
    expect(phone.problems).toEqual([]);
    await phone.context.close();

    // the finish: 2 seconds out of 24
    await page.goto(`/lots/${lotId}/outcome`);
    await page.getByLabel('First quality').fill('22');
    await page.getByLabel('Seconds', { exact: true }).fill('2');
    await page.getByRole('button', { name: 'Finish the lot' }).click();
    await page.waitForURL(new RegExp(`/lots/${lotId}$`));
    const lotTotal = Number(await page.locator('[data-total]').getAttribute('data-total'));
    expect(lotTotal).toBeGreaterThan(0);

    // a swatch of it, at the depth that was really weighed: 2.3 % · 14.35/13.80 = 2.3917 % (28.70 g of 1200 g)
    await page.getByRole('link', { name: 'Make a swatch of it' }).click();
    await page.getByLabel('Name', { exact: false }).first().fill('Estuary, deep');
    await page.getByRole('button', { name: 'Keep the swatch' }).click();
    await page.waitForURL(/\/swatches\/\d+$/);
    expect(await page.locator('main').textContent()).toContain('2.3917 %');

    // the month, exported: its costs add to the lot page's
    const month = new Date(app.deps.now()).toISOString().slice(0, 7);
    const csv = await page.request.get(
      `/history/export.csv?from=${month}-01&to=${month}-28&rows=costLine`.replace(
        '-28',
        `-${new Date(Date.UTC(Number(month.slice(0, 4)), Number(month.slice(5)), 0)).getUTCDate()}`,
      ),
    );
    expect(csv.status()).toBe(200);
    const rows = parse(await csv.text(), { columns: true, bom: true }) as Record<string, string>[];
    const cost = Object.keys(rows[0] ?? {}).find((name) => /^cost/i.test(name)) ?? '';
    expect(Math.round(rows.reduce((sum, row) => sum + Number(row[cost]), 0) * 100)).toBe(lotTotal);

    // stock fell by what was really weighed
    const { db } = app.deps;
    expect(onHand(db, world.stock.blue.id)).toBe(500_000 - 14_350);
    expect(onHand(db, world.stock.yellow.id)).toBe(500_000 - 8610);
    expect(onHand(db, world.stock.red.id)).toBe(250_000 - 5740);
    expect(onHand(db, world.stock.salt.id)).toBe(10_000_000 - 1_200_000);
    expect(problems).toEqual([]);
  });
});

describeBrowser('the power fails in the middle of a weighing', (browser) => {
  test('no acknowledged entry is lost, and the timers are right on restart', { timeout: 600_000 }, async () => {
    const seeded = await startApp();
    const { dataDir } = seeded.deps.config;
    if (!seeded.owner) throw new Error('The studio has an owner.');
    const world = makeWorld({ deps: seeded.deps, owner: seeded.owner });
    const visitor = await visitorOf(browser(), seeded);
    const plan = await visitor.page.request.post('/lots', {
      form: {
        fibreId: String(world.linenId),
        methodId: String(world.methodId),
        goodsText: 'napkins',
        goodsOwner: 'studio',
        massFound: 'weighedDry',
        mass: '1.2 kg',
        'revisionId.0': String(world.revisionId),
        'depth.0': '2',
      },
      headers: { origin: seeded.url },
      maxRedirects: 0,
    });
    const lotPath = plan.headers()['location'] ?? '';
    await visitor.context.close();
    // Two owners of one file, one after the other: the first lets go before the second opens it.
    const keep = `${dataDir}-kept`;
    const { cpSync } = await import('node:fs');
    seeded.deps.sqlite.pragma('wal_checkpoint(TRUNCATE)');
    cpSync(dataDir, keep, { recursive: true });
    await seeded.close();

    let server = await startServer({ dataDir: keep });
    try {
      const signIn = await fetch(`${server.url}/sign-in`, {
        method: 'POST',
        redirect: 'manual',
        headers: { origin: server.url, 'content-type': 'application/x-www-form-urlencoded' },
        body: new URLSearchParams({ name: OWNER.name, passphrase: OWNER.passphrase }),
      });
      const cookie = (signIn.headers.get('set-cookie') ?? '').split(';')[0] ?? '';
      const call = async (path: string, body?: unknown) => {
        const answer = await fetch(`${server.url}/api/v1${path}`, {
          method: body ? 'POST' : 'GET',
          headers: { cookie, origin: server.url, 'content-type': 'application/json' },
          ...(body ? { body: JSON.stringify(body) } : {}),
        });
        return {
          status: answer.status,
          body: (await answer.json()) as {
            lines: { code: string; componentId: number; actual: number | null; weighings: unknown[] }[];
            steps: { stepId: number; state: string; remainingS: number | null }[];
          },
        };
      };
      const before = (await call(lotPath)).body;
      const startedAt = Date.now() - 15 * 60_000;
      expect(
        (
          await call(`${lotPath}/steps`, {
            stepId: before.steps[0]?.stepId,
            kind: 'stepStart',
            clientId: 'step-00001',
            at: startedAt,
          })
        ).status,
      ).toBe(201);
      const blue = before.lines.find((l) => l.code === 'RB');
      let acknowledged = 0;
      let stop = false;
      const writing = (async () => {
        for (let i = 0; i < 5000 && !stop; i++) {
          const answer = await call(`${lotPath}/weighings`, {
            componentId: blue?.componentId,
            stockLotId: world.stock.blue.id,
            massMg: 10,
            clientId: `weigh-${String(i).padStart(5, '0')}`,
          }).catch(() => null);
          if (answer?.status !== 201) break;
          acknowledged += 1;
        }
      })();
      await expect.poll(() => acknowledged, { timeout: 20_000 }).toBeGreaterThan(20);
      await server.kill();
      stop = true;
      await writing;

      server = await startServer({ dataDir: keep });
      const after = (await call(lotPath)).body;
      const kept = after.lines.find((l) => l.code === 'RB');
      // One more may have been written than was acknowledged: its answer died with the server.
      expect(kept?.weighings.length).toBeGreaterThanOrEqual(acknowledged);
      expect(kept?.weighings.length).toBeLessThanOrEqual(acknowledged + 1);
      expect(kept?.actual).toBe(10 * (kept?.weighings.length ?? 0));
      const expected = 1200 - (Date.now() - startedAt) / 1000;
      expect(after.steps[0]?.state).toBe('running');
      expect(Math.abs((after.steps[0]?.remainingS ?? 0) - expected)).toBeLessThan(5);
    } finally {
      await server.kill();
      rmSync(keep, { recursive: true, force: true });
    }
  });
});
