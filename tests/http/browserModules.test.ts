import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join, posix } from 'node:path';
import { pathToFileURL } from 'node:url';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import * as source from '../../server/calc/overWeighing.ts';
import { readConfig } from '../../server/config.ts';
import { BROWSER_MODULES, browserModules } from '../../server/http/browserModules.ts';
import * as sourceView from '../../views/bench/waysOut.ts';
import { freshStudio, type TestStudio } from '../support/app.ts';
import { plannedLot } from '../support/benchWorld.ts';
import { attributeOf, elementsOf } from '../support/pageTree.ts';
import { makeWorld } from '../support/world.ts';

/** What a browser gets, imported as it would import it. */
let served: { calc: typeof source; view: typeof sourceView };
let folder: string;
let texts: ReadonlyMap<string, string>;

const { packageRoot } = readConfig({});
const IMPORTED = /\bfrom ['"]([^'"]+)['"]/g;

beforeAll(async () => {
  texts = await browserModules();
  folder = mkdtempSync(join(tmpdir(), 'lot-and-shade-served-'));
  writeFileSync(join(folder, 'package.json'), '{"type":"module"}');
  for (const [name, text] of texts) {
    const file = join(folder, `${name}.js`);
    mkdirSync(dirname(file), { recursive: true });
    writeFileSync(file, text);
  }
  const imported = (name: string) => import(/* @vite-ignore */ pathToFileURL(join(folder, `${name}.js`)).href);
  served = {
    calc: await imported('server/calc/overWeighing'),
    view: await imported('views/bench/waysOut'),
  };
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe('the modules that run in the browser too', () => {
  test('are all that they and the bench import, and no more', () => {
    const wanted = new Set<string>();
    for (const [, path = ''] of readFileSync(join(packageRoot, 'static/benchKept.js'), 'utf8').matchAll(IMPORTED))
      if (path.startsWith('./shared/')) wanted.add(path.slice('./shared/'.length).replace(/\.js$/, ''));
    expect(wanted.size).toBeGreaterThan(2);
    for (const name of wanted)
      for (const [, path = ''] of (texts.get(name) ?? '').matchAll(IMPORTED))
        wanted.add(posix.join(posix.dirname(name), path).replace(/\.js$/, ''));
    expect([...wanted].sort()).toEqual([...BROWSER_MODULES].sort());
  });

  test('are asked for anew after an upgrade, as every script and style is; unchanged ones are not sent again', async () => {
    const studio = await freshStudio();
    for (const path of [
      '/static/shared/views/bench/waysOut.js',
      '/static/bench.js',
      '/static/sw.js',
      '/static/work.css',
    ]) {
      const first = await studio.page.get(path);
      expect([path, first.status, first.headers['cache-control']]).toEqual([path, 200, 'no-cache']);
      const again = await studio.page.get(path).set('if-none-match', String(first.headers['etag']));
      expect([path, again.status]).toEqual([path, 304]);
    }
  });

  test('are served by name, and nothing else is', async () => {
    const studio = await freshStudio();
    for (const [name, text] of texts) {
      const answer = await studio.page.get(`/static/shared/${name}.js`);
      expect([name, answer.status, answer.headers['content-type']]).toEqual([
        name,
        200,
        'text/javascript; charset=utf-8',
      ]);
      expect(answer.text).toBe(text);
    }
    for (const path of [
      'server/lots/bench.js',
      'server/config.js',
      'server/calc/cost.js',
      'server/calc/weighing.ts',
      'server/calc/weighing.js.map',
      'server/calc/weighing',
      'server/calc/../config.js',
      '..%2f..%2fpackage.json',
      '',
    ])
      expect([path, (await studio.page.get(`/static/shared/${path}`)).status]).toEqual([path, 404]);
  });
});

type Scale = sourceView.ScaleView;

/** Weigh-ups of any kind, as JSON brings them to the page. */
const weighUps: fc.Arbitrary<source.WeighUpAtScale> = fc
  .record({
    lines: fc.array(
      fc.record({
        colourId: fc.constantFrom('1', '2', null),
        unit: fc.constantFrom('mg' as const, 'ul' as const),
        exact: fc.integer({ min: 2000, max: 200_000_000 }).map((n) => n / 97),
        step: fc.constantFrom(1, 10, 100),
        ofTargetPct: fc.option(fc.integer({ min: 50, max: 200 }), { nil: undefined, freq: 3 }),
        plannedDepthPct: fc.double({ min: 0, max: 8, noNaN: true }),
        scalesWith: fc.constantFrom(
          'depth' as const,
          'depth' as const,
          'goods' as const,
          'liquor' as const,
          'fixed' as const,
        ),
      }),
      { minLength: 2, maxLength: 8 },
    ),
    plannedGoodsDryMassMg: fc.integer({ min: 1000, max: 20_000_000 }),
    goodsGrew: fc.constantFrom(1, 1.04, 1.37),
    liquorFollowsGoods: fc.boolean(),
    tolerancePct: fc.double({ min: 0, max: 5, noNaN: true }),
  })
  .map(({ lines, goodsGrew, ...lot }) => ({
    ...lot,
    goodsDryMassMg: Math.round(lot.plannedGoodsDryMassMg * goodsGrew),
    lines: lines.map(({ ofTargetPct, plannedDepthPct, ...line }, i) => {
      const planned = Math.round(line.exact / line.step) * line.step;
      return {
        ...line,
        lineId: String(i + 1),
        planned,
        target: planned,
        actual: ofTargetPct === undefined ? undefined : Math.round((planned * ofTargetPct) / 100),
        plannedDepthPct: line.scalesWith === 'depth' ? plannedDepthPct : undefined,
      };
    }),
  }));

describe('a way out is worked out once, in two places', () => {
  test('of any weigh-up: the same figures, words and next state from the sources and from what is served', () => {
    let ways = 0;
    fc.assert(
      fc.property(weighUps, (weighUp) => {
        const carried = JSON.parse(JSON.stringify(weighUp)) as source.WeighUpAtScale;
        const scale: Omit<Scale, 'weighUp'> = {
          names: { 1: { code: 'RB', name: 'Tide & <blue>' } },
          show: { units: 'metric', currency: 'EUR', zone: 'Europe/Lisbon' },
        };
        for (const { lineId } of weighUp.lines) {
          for (const stage of ['dry', 'inBath'] as const) {
            const here = source.waysOutAtScale({ weighUp, overLineId: lineId, stage });
            expect(served.calc.waysOutAtScale({ weighUp: carried, overLineId: lineId, stage })).toEqual(here);
            for (const way of here) {
              ways += 1;
              const after = source.weighUpAfter({ weighUp, overLineId: lineId, way });
              expect(served.calc.weighUpAfter({ weighUp: carried, overLineId: lineId, way })).toEqual(after);
            }
          }
          const panel = { lotId: 7, order: 'plan', lineId, newId: (way: string) => way };
          expect(String(served.view.waysOutPanel({ ...panel, scale: { ...scale, weighUp: carried } }))).toBe(
            String(sourceView.waysOutPanel({ ...panel, scale: { ...scale, weighUp } })),
          );
        }
      }),
      { numRuns: 100 },
    );
    expect(ways).toBeGreaterThan(100);
  });

  /** What the page of a bench carries. */
  const scaleOf = async (studio: TestStudio, lotId: number): Promise<Scale> => {
    const page = await studio.page.get(`/lots/${lotId}/bench`);
    const bench = elementsOf(page.text).find((e) => attributeOf(e, 'id') === 'bench');
    if (!bench) throw new Error('The page has a bench.');
    return JSON.parse(attributeOf(bench, 'data-scale') ?? '') as Scale;
  };

  test('of real lots: what the page carries gives the server’s ways, and taking one leads to the state that was foretold', async () => {
    const studio = await freshStudio();
    const w = makeWorld(studio);
    let taken = 0;
    await fc.assert(
      fc.asyncProperty(
        fc.integer({ min: 180, max: 9000 }),
        fc.constantFrom('0.37', '2', '3.3'),
        fc.tuple(...[105, 80, 80].map((min) => fc.integer({ min, max: 160 }).map((pct) => pct / 100))),
        fc.nat(20),
        async (massG, depth, factors, choice) => {
          const { lotId } = await plannedLot(studio, w, {
            mass: `${massG} g`,
            'revisionId.0': String(w.revisionId),
            'depth.0': depth,
          });
          const { weighUp } = await scaleOf(studio, lotId);
          const stock = [w.stock.blue.id, w.stock.yellow.id, w.stock.red.id];
          for (const [i, factor] of factors.entries()) {
            const line = weighUp.lines[i];
            const weighed = await studio.api.post(`/lots/${lotId}/weighings`, {
              componentId: Number(line?.lineId),
              stockLotId: stock[i],
              massMg: Math.max(1, Math.round((line?.target ?? 0) * factor)),
              confirmed: true,
              clientId: `scale-${lotId}-${i}`,
            });
            expect(weighed.status, weighed.text).toBe(201);
          }
          // Twice, so that the second begins where targets and goods were moved already.
          for (const round of [1, 2]) {
            const before = await scaleOf(studio, lotId);
            const offers: { lineId: string; way: source.WayOutOffer }[] = [];
            for (const { lineId } of before.weighUp.lines) {
              for (const stage of ['dry', 'inBath'] as const) {
                const ways = served.calc.waysOutAtScale({ weighUp: before.weighUp, overLineId: lineId, stage });
                const answer = await studio.api.get(`/lots/${lotId}/ways-out/${lineId}?stage=${stage}`);
                expect(
                  ways.map((way) => ({
                    way: way.kind,
                    vessel: way.vessel,
                    goodsFactor: way.goodsFactor,
                    depthFactor: way.depthFactor,
                    dryMassMg: Math.round(way.goodsDryMassMg),
                    hue: way.hue,
                    lines: way.lines.map((l) => ({
                      componentId: Number(l.lineId),
                      unit: l.unit,
                      target: l.targetRounded,
                      kept: l.kept,
                      toAdd: l.toAdd,
                      act: l.act,
                    })),
                    confirmed: served.calc.confirmedWay({ weighUp: before.weighUp, overLineId: lineId, way }),
                  })),
                ).toEqual(answer.body.waysOut);
                offers.push(...ways.map((way) => ({ lineId, way })));
              }
            }
            const chosen = offers[choice % Math.max(1, offers.length)];
            if (!chosen) return;
            const { lineId, way } = chosen;
            const done = await studio.page.post(`/lots/${lotId}/adjustments`, {
              componentId: lineId,
              way: way.kind,
              stage: way.stage,
              vessel: way.vessel,
              confirmed: JSON.stringify(served.calc.confirmedWay({ weighUp: before.weighUp, overLineId: lineId, way })),
              clientId: `way-${lotId}-${round}`,
            });
            expect(done.status, done.text).toBe(303);
            taken += 1;
            expect((await scaleOf(studio, lotId)).weighUp).toEqual(
              JSON.parse(
                JSON.stringify(served.calc.weighUpAfter({ weighUp: before.weighUp, overLineId: lineId, way })),
              ),
            );
          }
        },
      ),
      { numRuns: 6 },
    );
    expect(taken).toBeGreaterThanOrEqual(6);
  });
});
