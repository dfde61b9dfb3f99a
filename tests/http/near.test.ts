import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { deltaE2000, deltaECmc } from '../../server/calc/colour/deltaE.ts';
import { type Conditions, D50_2, D65_2, D65_10, type Lab } from '../../server/calc/colour/reading.ts';
import { adaptLab } from '../../server/calc/colour/spaces.ts';
import type { NearestFormula } from '../../server/calc/match/nearest.ts';
import { librarySnapshot, nearestSwatches } from '../../server/near/library.ts';
import { recordReadings, withdrawReading } from '../../server/readings/recordReadings.ts';
import type { ReadingInput } from '../../server/readings/schemas.ts';
import { receive } from '../../server/stock/ledger.ts';
import { editSwatch } from '../../server/swatches/addSwatch.ts';
import { swatchById } from '../../server/swatches/queries.ts';
import { CIEDE2000_PAIRS } from '../reference/ciede2000.ts';
import { CMC_PAIRS } from '../reference/cmc.ts';
import { freshStudio, type TestStudio } from '../support/app.ts';
import { lotWorld, writeLot } from '../support/finishedLots.ts';
import { type Library, oneSwatch, smallLibrary } from '../support/library.ts';
import { statementsOf } from '../support/statements.ts';

const reading = (
  { L, a, b }: Lab,
  { illuminant, observerDeg }: Conditions = D65_2,
  more: Partial<ReadingInput> = {},
): ReadingInput => ({
  colour: { l: L, a, b, illuminant, observer: observerDeg === 2 ? '2' : '10' },
  source: 'instrument',
  asTyped: '',
  areaSharePpm: null,
  uncertaintyMilli: null,
  note: '',
  ...more,
});

const colour = fc.record({
  L: fc.integer({ min: 5, max: 95 }),
  a: fc.integer({ min: -60, max: 60 }),
  b: fc.integer({ min: -60, max: 60 }),
});
const conditions = fc.constantFrom<Conditions>(D65_2, D50_2, D65_10);
const change = fc.oneof(
  {
    weight: 5,
    arbitrary: fc.record({
      kind: fc.constant('read' as const),
      who: fc.nat(19),
      colours: fc.array(colour, { minLength: 1, maxLength: 3 }),
      conditions,
    }),
  },
  { weight: 1, arbitrary: fc.record({ kind: fc.constant('withdraw' as const), who: fc.nat(19) }) },
  { weight: 1, arbitrary: fc.record({ kind: fc.constant('putAway' as const), who: fc.nat(19) }) },
  { weight: 1, arbitrary: fc.record({ kind: fc.constant('undone' as const), who: fc.nat(19), colour }) },
);

/** All speaking readings straight from the database, without the library. */
function everyReading(studio: TestStudio): { swatchId: number; lab: Lab; conditions: Conditions }[] {
  // Instrument readings only are written here, so the newest instant of each swatch is what speaks.
  return (
    studio.deps.sqlite
      .prepare(
        `select r.swatch_id as swatchId, l, a, b, illuminant, observer from colour_readings r join swatches s on s.id = r.swatch_id
         where r.withdrawn_at is null and s.archived_at is null
           and r.read_at = (select max(read_at) from colour_readings n where n.swatch_id = r.swatch_id and n.withdrawn_at is null)`,
      )
      .all() as { swatchId: number; l: number; a: number; b: number; illuminant: 'D65' | 'D50'; observer: '2' | '10' }[]
  ).map(({ swatchId, l, a, b, illuminant, observer }) => ({
    swatchId,
    lab: { L: l, a, b },
    conditions: { illuminant, observerDeg: observer === '2' ? 2 : 10 },
  }));
}

function bruteForce(
  studio: TestStudio,
  asked: { lab: Lab; conditions: Conditions; under: Conditions; formula: NearestFormula; count: number },
): { swatchId: number; deltaE: number }[] {
  const { under, formula } = asked;
  const standard = adaptLab({ lab: asked.lab, from: asked.conditions, to: under, method: 'bradford' });
  const best = new Map<number, number>();
  for (const r of everyReading(studio)) {
    const sample = adaptLab({ lab: r.lab, from: r.conditions, to: under, method: 'bradford' });
    const deltaE =
      formula.name === 'deltaE2000'
        ? deltaE2000({ standard, sample })
        : deltaECmc({ standard, sample, l: formula.l, c: formula.c });
    best.set(r.swatchId, Math.min(deltaE, best.get(r.swatchId) ?? Number.POSITIVE_INFINITY));
  }
  return [...best]
    .map(([swatchId, deltaE]) => ({ swatchId, deltaE }))
    .sort((x, y) => x.deltaE - y.deltaE || x.swatchId - y.swatchId)
    .slice(0, asked.count);
}

describe('the library in memory', () => {
  test('answers as comparing with everything would, whatever is written between the searches', async () => {
    const studio = await freshStudio();
    const { db } = studio.deps;
    const library = smallLibrary(studio);
    const ids = Array.from({ length: 20 }, (_, i) => oneSwatch(studio, library, { name: `Card ${i}` }).id);
    const readings = new Map<number, number[]>();
    fc.assert(
      fc.property(
        fc.array(change, { minLength: 1, maxLength: 8 }),
        colour,
        conditions,
        conditions,
        fc.constantFrom<NearestFormula>({ name: 'deltaE2000' }, { name: 'deltaECmc', l: 2, c: 1 }),
        fc.integer({ min: 1, max: 25 }),
        (changes, lab, from, under, formula, count) => {
          for (const one of changes) {
            const id = ids[one.who] ?? 0;
            studio.clock.now += 1000;
            if (one.kind === 'read') {
              const rows = recordReadings(
                db,
                { swatchId: id },
                one.colours.map((c) => reading(c, one.conditions)),
                studio.owner,
                studio.clock.now,
              );
              readings.set(id, [...(readings.get(id) ?? []), ...rows.map((r) => r.id)]);
            } else if (one.kind === 'withdraw') {
              const last = readings.get(id)?.pop();
              if (last !== undefined) withdrawReading(db, last, studio.clock.now);
            } else if (one.kind === 'putAway') {
              const row = swatchById(db, id);
              if (!row) throw new Error('the swatch is there');
              const { name, cardPlace, note, rating, photoId, version } = row;
              editSwatch(
                db,
                id,
                { name, cardPlace, note, rating, photoId, version, archived: row.archivedAt === null },
                studio.clock.now,
              );
            } else {
              // Written and taken back within one transaction.
              const write = () =>
                db.transaction((tx) => {
                  recordReadings(tx, { swatchId: id }, [reading(one.colour)], studio.owner, studio.clock.now);
                  throw new Error('taken back');
                });
              expect(write).toThrow('taken back');
            }
          }
          const asked = { lab, conditions: from, under, formula, count };
          const ours = nearestSwatches(db, { standard: { lab, conditions: from }, under, formula, count });
          expect(ours.map(({ swatchId, deltaE }) => ({ swatchId, deltaE }))).toEqual(bruteForce(studio, asked));
        },
      ),
      { numRuns: 120 },
    );
    expect(librarySnapshot(db).length).toBe(everyReading(studio).length);
  });

  test('sorts anew when much has changed, and answers the same', async () => {
    const studio = await freshStudio();
    const { db } = studio.deps;
    const library = smallLibrary(studio);
    const spread = (i: number): Lab => ({
      L: 10 + ((i * 37) % 80),
      a: ((i * 53) % 100) - 50,
      b: ((i * 71) % 100) - 50,
    });
    const asked = {
      lab: { L: 50, a: 5, b: 5 },
      conditions: D65_2,
      under: D65_2,
      formula: { name: 'deltaE2000' as const },
      count: 30,
    };
    const ours = () =>
      nearestSwatches(db, { standard: asked, under: D65_2, formula: asked.formula, count: 30 }).map(
        ({ swatchId, deltaE }) => ({ swatchId, deltaE }),
      );
    expect(ours()).toEqual([]);
    db.transaction(() => {
      for (let i = 0; i < 620; i++) oneSwatch(studio, library, { name: `Card ${i}`, readings: [reading(spread(i))] });
    });
    expect(ours()).toEqual(bruteForce(studio, asked));
    oneSwatch(studio, library, { name: 'Right there', readings: [reading({ L: 50, a: 5, b: 5 })] });
    expect(ours()).toEqual(bruteForce(studio, asked));
    expect(ours()[0]?.deltaE).toBe(0);
  });

  test('asks the database the same number of times for ten swatches and for a hundred', async () => {
    const studio = await freshStudio();
    const library = smallLibrary(studio);
    const add = (n: number) => {
      for (let i = 0; i < n; i++) {
        oneSwatch(studio, library, { name: `${n} ${i}`, readings: [reading({ L: 20 + i / 2, a: 3, b: 4 })] });
      }
    };
    add(10);
    await studio.api.get('/swatches/near?colour=%23808080');
    const ask = () =>
      studio.api.get('/swatches/near?colour=%23808080&count=100&fibreId=&dyeClass=reactive&stockForMassMg=1000');
    const ten = await statementsOf(studio.deps, ask);
    add(90);
    await ask();
    const hundred = await statementsOf(studio.deps, ask);
    expect(hundred).toBe(ten);
    expect(ten).toBeGreaterThan(3);
  });
});

/** Swatches that the filters can tell apart; all reactive, yellow alone is in stock (100 g). */
async function world(): Promise<{ studio: TestStudio; library: Library }> {
  const studio = await freshStudio();
  const library = smallLibrary(studio);
  const red = { revisionId: library.redRevisionId };
  oneSwatch(studio, library, { name: 'Reed', readings: [reading({ L: 60, a: -20, b: 30 })] });
  oneSwatch(studio, library, { name: 'Pale reed', depthPpm: 5_000, readings: [reading({ L: 82, a: -8, b: 14 })] });
  oneSwatch(studio, library, {
    ...red,
    name: 'Brick',
    fibreId: library.silkId,
    readings: [reading({ L: 45, a: 45, b: 30 })],
  });
  oneSwatch(studio, library, {
    ...red,
    name: 'Deep brick',
    depthPpm: 60_000,
    readings: [reading({ L: 30, a: 40, b: 22 }, D50_2)],
  });
  oneSwatch(studio, library, {
    ...red,
    name: 'Dappled',
    readings: [
      reading({ L: 70, a: 20, b: 10 }, D65_2, { areaSharePpm: 700_000 }),
      reading({ L: 45, a: 45, b: 29 }, D65_2, { areaSharePpm: 300_000 }),
    ],
  });
  return { studio, library };
}

interface Near {
  name: string;
  deltaE: number;
  deltaE2000: number;
  areaSharePpm: number | null;
  adaptedFrom: string | null;
  shift: Record<string, string>;
  words: string;
}
const namesOf = (body: { near: Near[] }): string[] => body.near.map((n) => n.name);

describe('the search through the API', () => {
  test.each([
    ['fibreId=silk', ['Brick']],
    ['depth=pale', ['Pale reed']],
    ['depth=deep', ['Deep brick']],
    ['depth=medium&fibreId=linen', ['Reed']],
    ['dyeClass=acid', []],
    ['dyeClass=reactive&depth=deep', ['Deep brick']],
  ])('%s keeps %j', async (query, expected) => {
    const { studio, library } = await world();
    const asked = query.replace('silk', String(library.silkId)).replace('linen', String(library.linenId));
    const { body, status } = await studio.api.get(`/swatches/near?colour=45+45+30&${asked}`);
    expect(status).toBe(200);
    // The dappled one is at the red formula's 2 %, a medium depth.
    expect(namesOf(body).filter((n) => n !== 'Dappled')).toEqual(expected);
  });

  test('dyes in stock for n grams: as far as the powder of every dye lasts', async () => {
    const { studio, library } = await world();
    const found = async (massMg: number) =>
      namesOf((await studio.api.get(`/swatches/near?colour=45+45+30&stockForMassMg=${massMg}`)).body).sort();
    // Yellow is at hand, blue and red are not: nothing can be dyed.
    expect(await found(1)).toEqual([]);
    receive(
      studio.deps.db,
      {
        code: 'D-0002',
        kind: 'dye',
        dyeId: library.redId,
        auxiliaryId: null,
        fibreId: null,
        unit: 'mg',
        supplier: '',
        makerLot: '',
        strengthPpm: 500_000,
        receivedOn: '2026-01-05',
        openedOn: null,
        bestBeforeOn: null,
        priceMinor: 900,
        freightMinor: 0,
        receivedQuantity: 20_000,
        sourceStockLotId: null,
        concPpm: null,
        note: '',
      },
      studio.owner,
      { at: studio.clock.now, recordedAt: studio.clock.now },
    );
    // By hand: 20 g at half strength are 10 g. At 6 % on linen they last for 166.7 g, at 2 % for 500 g, at 2 % on silk, which
    // takes a fifth more, for 416.7 g.
    expect(await found(166_000)).toEqual(['Brick', 'Dappled', 'Deep brick']);
    expect(await found(167_000)).toEqual(['Brick', 'Dappled']);
    expect(await found(416_000)).toEqual(['Brick', 'Dappled']);
    expect(await found(417_000)).toEqual(['Dappled']);
    expect(await found(500_000)).toEqual(['Dappled']);
    expect(await found(501_000)).toEqual([]);
  });

  test('the figures are those of the formulas, from the colour looked for as the standard', async () => {
    const studio = await freshStudio();
    const library = smallLibrary(studio);
    const pair = CIEDE2000_PAIRS[0];
    if (!pair) throw new Error('the table has rows');
    const at = ([L, a, b]: readonly [number, number, number]): Lab => ({ L, a, b });
    oneSwatch(studio, library, { readings: [reading(at(pair.sample))] });
    const typed = pair.standard.join(' ');
    const { body } = await studio.api.get(`/swatches/near?${new URLSearchParams({ colour: typed })}`);
    expect(body.near[0].deltaE2000).toBeCloseTo(pair.deltaE2000, 4);
    const cmc = await studio.api.get(
      `/swatches/near?${new URLSearchParams({ colour: typed, formula: 'deltaECmc', l: '1.4', c: '1' })}`,
    );
    expect(cmc.body.formula).toBe('CMC(1.4:1)');
    expect(cmc.body.near[0].deltaE2000).toBeCloseTo(pair.deltaE2000, 4);
  });

  test.each(CMC_PAIRS.filter((p) => p.standard.every((v) => Math.abs(v) < 100)).slice(0, 4))(
    'CMC pair $id of the published rows',
    async ({ standard, sample, l, c, deltaECmc: printed, decimals }) => {
      const studio = await freshStudio();
      const [L, a, b] = sample;
      oneSwatch(studio, smallLibrary(studio), { readings: [reading({ L, a, b })] });
      const query = new URLSearchParams({
        colour: standard.join(' '),
        formula: 'deltaECmc',
        l: String(l),
        c: String(c),
      });
      const { body } = await studio.api.get(`/swatches/near?${query}`);
      expect(body.near[0].deltaE).toBeCloseTo(printed, decimals - 1);
    },
  );

  test('variegated goods are found by their nearest colour, with its share; what was adapted is said', async () => {
    const { studio } = await world();
    const { body } = await studio.api.get('/swatches/near?colour=45+45+29');
    const [first, second] = body.near as Near[];
    expect(first).toMatchObject({ name: 'Dappled', deltaE: 0, areaSharePpm: 300_000, words: 'not to be told apart' });
    expect(second).toMatchObject({ name: 'Brick', areaSharePpm: null, adaptedFrom: null });
    const deep = (body.near as Near[]).find((n) => n.name === 'Deep brick');
    expect(deep).toMatchObject({ adaptedFrom: 'D50/2°', shift: { lightness: 'darker' } });
    expect(body.adaptation).toContain('1 of the 5 swatches shown');
    expect(body.adaptation).toContain('Bradford');
  });

  test('the colour: picked, of a swatch (which is then left out), of a lot', async () => {
    const { studio } = await world();
    const picked = await studio.api.get('/swatches/near?lightness=45&chroma=54.08&hue=33.69');
    expect(namesOf(picked.body)[0]).toBe('Brick');
    const all = (await studio.api.get('/swatches/near?colour=60+-20+30')).body.near as (Near & { swatchId: number })[];
    const reed = all[0];
    expect(reed?.name).toBe('Reed');
    const own = await studio.api.get(`/swatches/near?swatchId=${reed?.swatchId}`);
    expect(own.body.standard).toMatchObject({ of: expect.stringContaining('Reed'), lab: { l: 60, a: -20, b: 30 } });
    expect(namesOf(own.body)).not.toContain('Reed');
  });

  test('of a lot, as soon as its colour was read', async () => {
    const studio = await freshStudio();
    const world = lotWorld(studio.deps, studio.owner);
    const { db } = studio.deps;
    const lotId = writeLot(world, { number: '26-0001', finishedAt: studio.clock.now });
    const unread = await studio.api.get(`/swatches/near?lotId=${lotId}`);
    expect(unread.status).toBe(422);
    expect(unread.body.fields.colour).toBe('The colour of lot 26-0001 has not been read yet.');
    const lab: Lab = { L: 30, a: 40, b: 22 };
    recordReadings(db, { swatchId: world.swatchId }, [reading(lab, D50_2)], studio.owner, studio.clock.now);
    recordReadings(db, { lotId }, [reading(lab, D50_2, { uncertaintyMilli: 1500 })], studio.owner, studio.clock.now);
    const read = await studio.api.get(`/swatches/near?lotId=${lotId}&under=D50/2`);
    expect(read.body.standard).toMatchObject({ of: 'lot 26-0001', plusMinus: 1.5 });
    expect(read.body.near).toMatchObject([{ swatchId: world.swatchId, deltaE: 0, adaptedFrom: null }]);
  });

  test.each([
    ['', 'colour'],
    ['colour=teal', 'colour'],
    ['colour=%23777777&fibreId=x', 'fibreId'],
    ['colour=%23777777&depth=murky', 'depth'],
    ['colour=%23777777&formula=deltaECmc', 'l'],
    ['colour=%23777777&under=F2/2', 'under'],
  ])('"%s" is refused beside %s', async (query, field) => {
    const studio = await freshStudio();
    const { status, body } = await studio.api.get(`/swatches/near?${query}`);
    expect(status).toBe(422);
    expect(Object.keys(body.fields)).toContain(field);
  });
});

describe('the page', () => {
  test('without a colour it offers the ways to say one', async () => {
    const studio = await freshStudio();
    const { text, status } = await studio.page.get('/swatches/near');
    expect(status).toBe(200);
    for (const way of ['type="color"', 'type="range"', 'href="/photo-readings/new"', 'name="colour"'])
      expect(text).toContain(way);
    expect((await studio.page.get('/swatches')).text).toContain('href="/swatches/near"');
  });

  test('standard beside candidates, in figures and words; the part is the tiles alone', async () => {
    const { studio } = await world();
    const page = await studio.page.get('/swatches/near?colour=45+45+29');
    expect(page.text).toContain('not to be told apart');
    expect(page.text).toContain('30 % of its area has this colour');
    expect(page.text).toContain('adapted from D50/2°');
    const part = await studio.page.part(
      'get',
      '/swatches/near?colour=45+45+29&depth=deep&fibreId=&formula=deltaE2000&under=D65%2F2',
    );
    expect(part.text.startsWith('<div id="near-found"')).toBe(true);
    expect(part.text).toContain('Deep brick');
    expect(part.text).not.toContain('Pale reed');
    expect(part.headers['hx-push-url']).toBe(
      '/swatches/near?colour=45+45+29&depth=deep&under=D65%2F2&formula=deltaE2000',
    );
    const none = await studio.page.part('get', '/swatches/near?colour=45+45+29&dyeClass=acid');
    expect(none.text).toContain('No swatch passes the filters');
  });

  test('an unreadable colour is said beside its field, with what was typed', async () => {
    const studio = await freshStudio();
    const { text, status } = await studio.page.get('/swatches/near?colour=teal');
    expect(status).toBe(422);
    expect(text).toContain('value="teal"');
    expect(text).toContain('Type L* a* b* as three numbers');
    expect((await studio.page.get('/swatches/near?swatchId=999')).status).toBe(404);
  });

  test('a swatch’s own page leads here', async () => {
    const { studio } = await world();
    const { body } = await studio.api.get('/swatches/near?colour=60+-20+30');
    const id = body.near[0].swatchId;
    const page = await studio.page.get(`/swatches/${id}`);
    expect(page.text).toContain(`/swatches/near?swatchId=${id}`);
    const near = await studio.page.get(`/swatches/near?swatchId=${id}`);
    expect(near.text).toContain(`href="/swatches/${id}"`);
  });
});
