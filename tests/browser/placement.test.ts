import type { Locator, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { placementsIn } from '../../server/lots/placements.ts';
import { logOf } from '../../server/lots/queries.ts';
import { insertCustomer } from '../../server/orders/queries.ts';
import { takeOrder } from '../../server/orders/takeOrder.ts';
import { onHand } from '../../server/stock/queries.ts';
import {
  axeViolations,
  describeBrowser,
  findChromium,
  launchBrowser,
  overflowPx,
  type RunningApp,
  SCREENS,
  startApp,
  visitorOf,
} from '../support/browser.ts';
import { type IceWorld, makeIceWorld } from '../support/iceWorld.ts';
import { makeWorld, type World } from '../support/world.ts';

const PHONE = SCREENS[0];
const HOUR_MS = 3_600_000;
const SHAKE_MS = 650;

interface Ground {
  app: RunningApp;
  world: World;
  ice: IceWorld;
}

async function ground(now?: () => number): Promise<Ground> {
  const app = await startApp(now ? { now } : {});
  if (!app.owner) throw new Error('The studio has an owner.');
  const world = makeWorld({ deps: app.deps, owner: app.owner });
  return { app, world, ice: makeIceWorld({ deps: app.deps, owner: app.owner }, world) };
}

/** An order for a length of linen, as the customer book has it. Answers its page. */
function orderOf({ app, world }: Ground): string {
  const { db } = app.deps;
  const customer = insertCustomer(db, { name: 'House by the Mill', contact: '', note: '' });
  const order = takeOrder(db, {
    customerId: customer.id,
    orderedOn: '2026-03-01',
    dueOn: null,
    note: '',
    lines: [
      {
        description: 'a length of linen, iced',
        fibreId: world.linenId,
        pieces: 1,
        dryMassMg: 600_000,
        wantedSwatchId: null,
        wantedRevisionId: null,
        wantedNote: '',
        toleranceFormula: null,
        toleranceMilli: null,
        priceMinor: null,
      },
    ],
  });
  return `/orders/${order.id}`;
}

/** A hand that counts: taps and strokes on the one side, readings typed on the other. */
function countingHand(page: Page) {
  const done = { taps: 0, readings: 0 };
  return {
    done,
    tap: async (target: Locator): Promise<void> => {
      done.taps += 1;
      await target.click();
    },
    /** A tap after a tap, at the pace of a hand: the bench takes a second one so soon for the first one's shake. */
    tapNext: async (target: Locator): Promise<void> => {
      done.taps += 1;
      await page.waitForTimeout(SHAKE_MS);
      await target.click();
    },
    /** A list on a phone: one tap opens it, one chooses. */
    choose: async (target: Locator, label: string): Promise<void> => {
      done.taps += 2;
      await target.selectOption({ label });
    },
    stroke: async (target: Locator, from: [number, number], to: [number, number]): Promise<void> => {
      done.taps += 1;
      await target.scrollIntoViewIfNeeded();
      const box = await target.boundingBox();
      if (!box) throw new Error('The grid is on the screen.');
      const at = ([x, y]: [number, number]): [number, number] => [box.x + x * box.width, box.y + y * box.height];
      await page.mouse.move(...at(from));
      await page.mouse.down();
      await page.mouse.move(...at(to), { steps: 8 });
      await page.mouse.up();
    },
    read: async (target: Locator, reading: string): Promise<void> => {
      done.readings += 1;
      await target.fill(reading);
    },
  };
}

describeBrowser('a drawing of how the goods lie, on a phone', (browser) => {
  let g: Ground;
  let lotPath: string;
  beforeAll(async () => {
    g = await ground();
    const { page, context } = await visitorOf(browser(), g.app);
    const plan = await page.request.post('/lots', {
      headers: { origin: g.app.url },
      maxRedirects: 0,
      form: {
        fibreId: String(g.world.linenId),
        methodId: String(g.ice.methodId),
        goodsText: 'a length of linen',
        goodsOwner: 'studio',
        massFound: 'weighedDry',
        mass: '600 g',
        coverage: 'eachOverItsShare',
        ...Object.fromEntries(
          g.ice.revisionIds.flatMap((id, i) => [
            [`revisionId.${i}`, String(id)],
            [`depth.${i}`, '3'],
          ]),
        ),
      },
    });
    expect(plan.status(), await plan.text()).toBe(303);
    lotPath = plan.headers()['location'] ?? '';
    await context.close();
  });
  afterAll(() => g.app.close());

  const drawings = () => placementsIn(logOf(g.app.deps.db, Number(lotPath.split('/').at(-1))));

  test('drawn by finger, drawn anew, both versions there to see', async () => {
    const { page, context, problems } = await visitorOf(browser(), g.app, PHONE);
    await page.goto(`${lotPath}/bench`);
    await page.getByRole('link', { name: 'Draw how it lies' }).click();
    const hand = countingHand(page);
    const grid = page.getByRole('grid');
    // colour 1 down the left edge, colour 3 over the top
    await page.getByRole('button', { name: '1 Kelp' }).click();
    await hand.stroke(grid, [0.06, 0.06], [0.06, 0.94]);
    await page.getByRole('button', { name: '3 Rowan' }).click();
    await hand.stroke(grid, [0.06, 0.06], [0.94, 0.06]);
    await page.getByRole('button', { name: 'Fold', exact: true }).click();
    await hand.stroke(grid, [0.5, 0.01], [0.5, 0.99]);
    // a binding by two taps
    await page.getByRole('button', { name: 'Binding' }).click();
    await grid.getByRole('gridcell').nth(16).click();
    await page.getByText('From here. Now where it ends.').waitFor();
    await grid.getByRole('gridcell').nth(23).click();
    expect(await axeViolations(page)).toEqual([]);
    expect(await overflowPx(page)).toBe(0);
    await page.getByRole('button', { name: 'It lies like this' }).click();
    await page.waitForURL(/\/bench$/);

    const [first] = drawings();
    expect(first?.drawing.columns).toBe(8);
    const row = (n: number) => first?.drawing.cells.slice(n * 8, n * 8 + 8);
    expect(row(0)).toEqual([3, 3, 3, 3, 3, 3, 3, 3]);
    for (const n of [1, 4, 7]) expect(row(n)).toEqual([1, 0, 0, 0, 0, 0, 0, 0]);
    expect(first?.drawing.lines[0]).toEqual({ kind: 'fold', x1: 8, y1: 0, x2: 8, y2: 16 });
    expect(first?.drawing.lines[1]?.kind).toBe('binding');

    // drawn anew: it goes on from what lies there, and "Take back" takes a stroke back
    await page.getByRole('link', { name: 'Draw it anew' }).click();
    await page.getByRole('button', { name: '4 Lichen' }).click();
    await hand.stroke(page.getByRole('grid'), [0.3, 0.5], [0.94, 0.5]);
    await page.getByRole('button', { name: 'Ice here' }).click();
    await page.getByRole('button', { name: 'Ice all over' }).click();
    await page.getByRole('button', { name: 'Take back' }).click();
    await page.getByRole('button', { name: 'It lies like this' }).click();
    await page.waitForURL(/\/bench$/);
    const [, second] = drawings();
    expect(second?.drawing.cells.filter((c) => c === 4)).toHaveLength(6);
    expect(second?.drawing.ice).toEqual([]);
    expect(drawings()).toHaveLength(2);

    await page.goto(lotPath);
    const shown = page.locator('.log svg.placement');
    expect(await shown.count()).toBe(2);
    expect(await shown.nth(0).getAttribute('aria-label')).not.toContain('Lichen');
    expect(await shown.nth(1).getAttribute('aria-label')).toContain('4 Lichen');
    expect(await axeViolations(page)).toEqual([]);
    expect(await overflowPx(page)).toBe(0);
    expect(problems).toEqual([]);
    await context.close();
  });

  test('drawn by keyboard alone', async () => {
    const { page, context, problems } = await visitorOf(browser(), g.app, PHONE);
    await page.goto(`${lotPath}/placement`);
    const before = drawings().length;
    await page.getByRole('button', { name: '2 Sloe' }).focus();
    await page.keyboard.press('Enter');
    // one stop of Tab for the whole grid
    await page.getByRole('gridcell').first().focus();
    await page.keyboard.press('ArrowDown');
    await page.keyboard.press('ArrowRight');
    await page.keyboard.press('Enter');
    expect(await page.getByRole('status').textContent()).toContain('Row 2, column 2: 2 Sloe');
    await page.keyboard.press('Shift+ArrowRight');
    await page.keyboard.press('Shift+ArrowRight');
    await page.getByRole('button', { name: 'Clamp or block' }).press('Enter');
    await page.locator('.placement-cell[tabindex="0"]').press('Enter');
    await page.getByRole('button', { name: 'It lies like this' }).press('Enter');
    await page.waitForURL(/\/bench$/);
    const last = drawings().at(-1);
    expect(drawings()).toHaveLength(before + 1);
    expect(last?.drawing.cells.slice(9, 12)).toEqual([2, 2, 2]);
    expect(last?.drawing.clamps).toEqual([11]);
    expect(problems).toEqual([]);
    await context.close();
  });

  test('the network goes while drawing: kept on the device, sent when it is back', async () => {
    const { page, context } = await visitorOf(browser(), g.app, PHONE);
    await page.goto(`${lotPath}/placement`);
    const before = drawings().length;
    await context.setOffline(true);
    await page.getByRole('button', { name: 'Rings' }).click();
    await page.getByRole('button', { name: 'It lies like this' }).click();
    await page.getByText('kept on this device').waitFor();
    expect(drawings()).toHaveLength(before);
    await context.setOffline(false);
    await page.waitForURL(/\/bench$/);
    expect(drawings()).toHaveLength(before + 1);
    await context.close();
  });

  test('otherwise than planned, in two taps', async () => {
    const { page, context, problems } = await visitorOf(browser(), g.app, PHONE);
    await page.goto(`${lotPath}/bench`);
    expect(await page.getByRole('button', { name: 'longer', exact: true }).isVisible()).toBe(false);
    await page.locator('.tap-choice', { hasText: 'Melt 6 h' }).click();
    expect(await page.getByRole('button', { name: 'hotter', exact: true }).isVisible()).toBe(false);
    await page.getByRole('button', { name: 'longer', exact: true }).click();
    await page.locator('.log', { hasText: 'instead of Melt, 6 h: longer' }).waitFor();
    // the choice is free again for the next
    expect(await page.locator('[name=instead]:checked').count()).toBe(0);
    await page.locator('.tap-choice', { hasText: 'Melt 18' }).click();
    expect(await page.getByRole('button', { name: 'cooler', exact: true }).isVisible()).toBe(true);
    expect(await axeViolations(page)).toEqual([]);
    expect(await overflowPx(page)).toBe(0);
    expect(problems).toEqual([]);
    await context.close();
  });

  test('a voice note: one tap to record, one to keep, and it plays in the timeline', async () => {
    const path = findChromium();
    if (!path) throw new Error('The browser was there for the tests before.');
    const withMicrophone = await launchBrowser(path, [
      '--use-fake-device-for-media-stream',
      '--use-fake-ui-for-media-stream',
    ]);
    try {
      const { page, context, problems } = await visitorOf(withMicrophone, g.app, PHONE);
      await page.goto(`${lotPath}/bench`);
      await page.getByRole('button', { name: 'Record a voice note' }).click();
      await page.getByText('Recording.').waitFor();
      // something to hear: the recorder hands over its first second
      await page.locator('.recording-bar', { hasText: '0:01' }).waitFor();
      await page.getByRole('button', { name: 'Stop and keep' }).click();
      const player = page.locator('.log audio');
      await player.waitFor();
      await page.goto(lotPath);
      const played = page.locator('.log audio').first();
      const heard = await played.evaluate(async (audio: HTMLAudioElement) => {
        audio.muted = true;
        const moved = new Promise<void>((resolve) => {
          audio.addEventListener('timeupdate', () => audio.currentTime > 0 && resolve());
        });
        await audio.play();
        await moved;
        return audio.error === null && audio.currentTime > 0;
      });
      expect(heard).toBe(true);
      const address = (await played.getAttribute('src')) ?? '';
      const file = await page.request.get(address);
      expect(file.headers()['content-type']).toBe('audio/webm');
      expect(problems).toEqual([]);

      // thrown away is nothing
      await page.goto(`${lotPath}/bench`);
      const before = logOf(g.app.deps.db, Number(lotPath.split('/').at(-1))).length;
      await page.getByRole('button', { name: 'Record a voice note' }).click();
      await page.getByText('Recording.').waitFor();
      await page.getByRole('button', { name: 'Throw away' }).click();
      await page.locator('.recording-bar').waitFor({ state: 'hidden' });
      expect(logOf(g.app.deps.db, Number(lotPath.split('/').at(-1)))).toHaveLength(before);
      await context.close();
    } finally {
      await withMicrophone.close();
    }
  });
});

describeBrowser('a four-colour ice-dyed length, on a phone', (browser) => {
  let shiftMs = 0;
  let g: Ground;
  beforeAll(async () => {
    g = await ground(() => Date.now() + shiftMs);
  });
  afterAll(() => g.app.close());

  test('from the order to the finish in fewer than forty taps, and nothing typed but readings', {
    timeout: 600_000,
  }, async () => {
    const orderPath = orderOf(g);
    const began = performance.now();
    const first = await visitorOf(browser(), g.app, PHONE);
    const { context } = first;
    let { page } = first;
    let hand = countingHand(page);
    const count = { taps: 0, readings: 0 };
    const changeHands = (next: Page): void => {
      count.taps += hand.done.taps;
      count.readings += hand.done.readings;
      page = next;
      hand = countingHand(next);
    };

    // ── planned, from the order ──
    await page.goto(orderPath);
    await hand.tap(page.getByRole('link', { name: 'Plan a lot for this line' }));
    for (const shade of ['Kelp', 'Sloe', 'Rowan', 'Lichen'])
      await hand.tap(page.getByRole('button', { name: shade, exact: true }));
    await hand.tap(page.getByLabel('each over its share, at its depth there'));
    await hand.choose(page.getByLabel('Method'), 'Ice dyeing, reactive');
    // 600 g, a quarter each, 3 %: 4.50 g a colour; Kelp is 60/40
    await expect.poll(() => page.locator('#weigh-up').textContent()).toContain('2.70 g');
    await hand.tap(page.getByRole('button', { name: 'Plan it and go to the bench' }));
    await page.waitForURL(/\/lots\/\d+\/bench$/);
    const lotId = Number(/lots\/(\d+)/.exec(page.url())?.[1]);
    const log = () => logOf(g.app.deps.db, lotId);

    // ── weighed, one dye across the colours ──
    await hand.tap(page.getByRole('link', { name: 'dye by dye' }));
    await page.waitForURL(/order=dye/);
    const weigh = async (code: string, target: string): Promise<void> => {
      await page.locator('.now-what b', { hasText: new RegExp(`^${code}$`) }).waitFor();
      await page.locator('.now-target', { hasText: target }).waitFor();
      await hand.read(page.getByLabel('Reading'), target.replace(' g', ''));
      await hand.tap(page.getByRole('button', { name: 'It is weighed' }));
    };
    const { world } = g;
    // blue in Kelp, Sloe, Lichen; yellow in Kelp, Rowan, Lichen; red in Sloe, Rowan: shares of 4.50 g
    for (const [code, target] of [
      ['RB', '2.70 g'],
      ['RB', '3.15 g'],
      ['RB', '0.90 g'],
      ['RY', '1.80 g'],
      ['RY', '0.90 g'],
      ['RY', '3.60 g'],
      ['RR', '1.35 g'],
      ['RR', '3.60 g'],
      // 600 g · 8 L/kg · 40 g/L
      ['SODA', '192.0 g'],
    ] as const)
      await weigh(code, target);
    await page.getByText('Everything is weighed.').waitFor();

    // ── soak, fold, ice; what the method asks for ──
    await hand.tap(page.getByRole('button', { name: 'Start Soda soak' }));
    await hand.tapNext(page.getByRole('button', { name: 'Next: Fold and set on the rack' }));
    await page.getByRole('button', { name: 'Next: Ice and powder' }).waitFor();
    await hand.tap(page.getByRole('link', { name: 'Draw how it lies' }));
    await hand.tap(page.getByRole('button', { name: 'Bands across' }));
    await hand.tap(page.getByRole('button', { name: 'It lies like this' }));
    await page.waitForURL(/\/bench$/);
    await hand.tapNext(page.getByRole('button', { name: 'Next: Ice and powder' }));
    await hand.read(page.getByLabel('Ice', { exact: true }), '4.2');
    await hand.tap(page.getByRole('button', { name: 'Keep Ice', exact: true }));
    for (const choice of ['crushed', 'over the ice', 'on the rack'])
      await hand.tapNext(page.getByRole('button', { name: choice, exact: true }));
    await page.locator('.log', { hasText: 'Rack or pool: on the rack' }).waitFor();
    await hand.tapNext(page.getByRole('button', { name: 'Next: Melt' }));
    await page.getByRole('button', { name: 'Next: Cold rinse' }).waitFor();

    // The studio's clock goes on by hours, the phone's by seconds: the page goes by the studio's.
    // ── half-way: drawn anew; then the tab is closed over the rest of the melt ──
    shiftMs += 3 * HOUR_MS;
    await page.reload();
    await expect.poll(() => page.locator('.timer').textContent()).toMatch(/^(3:00:00|2:5\d:\d\d)$/);
    await hand.tap(page.getByRole('link', { name: 'Draw it anew' }));
    await hand.stroke(page.getByRole('grid'), [0.3, 0.94], [0.94, 0.94]);
    await hand.tap(page.getByRole('button', { name: 'It lies like this' }));
    await page.waitForURL(/\/bench$/);
    await page.close();

    shiftMs += 3.5 * HOUR_MS;
    changeHands(await context.newPage());
    await page.goto(`/lots/${lotId}/bench`);
    await expect.poll(() => page.locator('.timer').textContent()).toMatch(/^over by 3\d:\d\d$/);
    await hand.tapNext(page.getByRole('button', { name: 'Next: Cold rinse' }));
    await hand.tapNext(page.getByRole('button', { name: 'End Cold rinse' }));
    await page.locator('.step.is-done', { hasText: 'Cold rinse' }).waitFor();

    // ── finished ──
    await hand.tap(page.getByRole('link', { name: 'Finish' }));
    await hand.read(page.getByLabel('First quality'), '1');
    await hand.tap(page.getByRole('button', { name: 'Finish the lot' }));
    await page.waitForURL(new RegExp(`/lots/${lotId}$`));
    changeHands(page);
    const seconds = Math.round((performance.now() - began) / 1000);
    console.info(
      `ice-dyed length: ${count.taps} taps, ${count.readings} readings, ${seconds} s by this machine’s hand`,
    );
    expect(count.taps).toBeLessThan(40);
    // nine of the scale, the ice, the pieces
    expect(count.readings).toBe(11);

    // ── and it is all there ──
    const melt = log().filter((e) => e.stepName === 'Melt' && (e.kind === 'stepStart' || e.kind === 'stepEnd'));
    const lasted = (melt[1]?.at ?? 0) - (melt[0]?.at ?? 0);
    expect(lasted).toBeGreaterThanOrEqual(6.5 * HOUR_MS);
    expect(lasted).toBeLessThan(7 * HOUR_MS);
    expect(placementsIn(log())).toHaveLength(2);
    expect(onHand(g.app.deps.db, world.stock.blue.id)).toBe(500_000 - 2700 - 3150 - 900);
    expect(onHand(g.app.deps.db, world.stock.yellow.id)).toBe(500_000 - 1800 - 900 - 3600);
    expect(onHand(g.app.deps.db, world.stock.red.id)).toBe(250_000 - 1350 - 3600);
    const text = (await page.locator('main').textContent()) ?? '';
    for (const words of ['Ice: 4.2', 'Form of the ice: crushed', 'Powder: over the ice']) expect(text).toContain(words);
    expect(await page.locator('.log svg.placement').count()).toBe(2);
    expect(await axeViolations(page)).toEqual([]);
    expect(await overflowPx(page)).toBe(0);
    expect(first.problems).toEqual([]);
    await context.close();
  });
});
