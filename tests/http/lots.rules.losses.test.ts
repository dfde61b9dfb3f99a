import { describe, expect, test } from 'vitest';
import { CalcError } from '../../server/calc/calcError.ts';
import type { ColourReadingRow } from '../../server/db/tables/swatches.ts';
import { shadeCheck } from '../../server/lots/shadeCheck.ts';
import { lotCautions } from '../../server/plans/cautions.ts';
import { countedMassMg } from '../../server/plans/goodsMass.ts';
import type { PlanContext } from '../../server/plans/planContext.ts';
import { costMinorOf } from '../../server/plans/rates.ts';
import type { Plan, PlanLine } from '../../server/plans/schemas.ts';
import { drawFromContainers, shortageWords } from '../../server/plans/shortage.ts';
import { durationMsOf, soundTypeOf } from '../../server/voices/store.ts';

/* What a studio would lose if one small thing in the rules of its lots went wrong: goods that weigh what they do not, powder that
 * runs out half-way through the weigh-up, a shade that is called within the tolerance and is not. */

describe('the goods weigh what they weigh', () => {
  const linen = { name: 'Linen', arealMassMgPerM2: 190_000, widthMm: 1400, putUpMassMg: 50_000, regainPpm: 120_000 };
  const bare = { name: 'Net', arealMassMgPerM2: null, widthMm: null, putUpMassMg: null, regainPpm: null };
  const damp = { found: 'weighedDamp', dampMassMg: 1_300_000 } as const;
  test.each([
    ['weighed dry', { found: 'weighedDry', massMg: 1_200_000 }, 1_200_000],
    ['as stated', { found: 'stated', massMg: 1_200_000 }, 1_200_000],
    // 1300 g with 30 % water are 1000 g bone dry, and 1120 g with the regain of 12 %.
    ['damp, the water known', { ...damp, moisture: { kind: 'known', waterPpmOfDry: 300_000 } }, 1_120_000],
    [
      'damp, by a sample of 13 g that dries to 10 g in the oven',
      { ...damp, moisture: { kind: 'sample', dampSampleMg: 13_000, drySampleMg: 10_000, driedTo: 'ovenDry' } },
      1_120_000,
    ],
    [
      'damp, by a sample of 13 g that dries to 10 g on the line',
      { ...damp, moisture: { kind: 'sample', dampSampleMg: 13_000, drySampleMg: 10_000, driedTo: 'airDry' } },
      1_000_000,
    ],
    // 190 g/m² × 10 m × 1.4 m = 2660 g a piece.
    ['by area, at its own width', { found: 'fromArea', lengthMm: 10_000, widthMm: null, pieces: 2 }, 5_320_000],
    ['by area, cut to half its width', { found: 'fromArea', lengthMm: 10_000, widthMm: 700, pieces: 1 }, 1_330_000],
    ['twelve hanks of 50 g', { found: 'fromPutUps', count: 12 }, 600_000],
  ] as const)('%s', (_, mass, massMg) => {
    expect(countedMassMg(mass, linen)).toBe(massMg);
  });

  test.each([
    [{ ...damp, moisture: { kind: 'known', waterPpmOfDry: 300_000 } }, bare, 'massFound', /Net has no regain/],
    [{ found: 'fromArea', lengthMm: 1000, widthMm: 700, pieces: 1 }, bare, 'massFound', /Net has no g\/m².*weigh/],
    [
      { found: 'fromArea', lengthMm: 1000, widthMm: null, pieces: 1 },
      { ...bare, arealMassMgPerM2: 190_000 },
      'width',
      /Net has no width/,
    ],
    [{ found: 'fromPutUps', count: 12 }, bare, 'massFound', /Net has no put-up mass.*weigh/],
  ] as const)(
    'what the page of the goods does not say is asked for beside its field: %#',
    (mass, fibre, field, words) => {
      let refused: unknown;
      try {
        countedMassMg(mass, fibre);
      } catch (error) {
        refused = error;
      }
      expect(refused).toBeInstanceOf(CalcError);
      expect(refused).toMatchObject({ code: 'missing', field, message: expect.stringMatching(words) });
    },
  );

  test('what is taken back costs what it cost, and nothing is nothing on either side', () => {
    const rate = { priceMinor: 4000, perQuantity: 500_000 };
    // 12.5 g at 40.00 for 500 g.
    expect([costMinorOf(12_500, rate), costMinorOf(-12_500, rate)]).toEqual([100, -100]);
    expect(Object.is(costMinorOf(-1, rate), 0)).toBe(true);
  });
});

describe('powder runs out where it is told beforehand', () => {
  const line = (more: Partial<PlanLine> = {}): PlanLine =>
    ({
      kind: 'dye',
      dyeId: 1,
      auxiliaryId: null,
      name: 'Tide blue',
      plannedMassMg: 12_000,
      plannedVolumeUl: null,
      concPpm: null,
      stockLotId: 1,
      stockLotCode: 'B-1',
      onHand: 10_000,
      short: 0,
      ...more,
    }) as PlanLine;
  type Held = { onHandQuantity: number; concPpm?: number; unit?: 'mg' | 'ul' };
  const words = (
    lines: PlanLine[],
    held: Record<string, Held[]>,
    want: { containers?: [number, number][]; items?: [string, number][] } = {},
    goodsStockLot: { id: number; code: string; onHandQuantity: number } | null = null,
  ): string[] =>
    shortageWords(
      { lines, dryMassMg: 1_200_000, fibreName: 'Linen' } as Plan,
      {
        stockLots: new Map(
          Object.entries(held).map(([item, lots]) => [item, lots.map((l) => ({ concPpm: null, unit: 'mg', ...l }))]),
        ),
        othersWant: { containers: new Map(want.containers), items: new Map(want.items) },
        goodsStockLot,
      } as unknown as PlanContext,
    );
  const jar = (onHandQuantity: number, more: Partial<Held> = {}): Held => ({ onHandQuantity, ...more });

  test('of one jar: by itself, and with what other lots still want of it', () => {
    const held = { 'dye:1': [jar(10_000)] };
    expect(words([line()], held)).toEqual(['Tide blue: container B-1 is short by 2.00 g.']);
    expect(words([line()], held, { containers: [[1, 3_000]], items: [['dye:1', 3_000]] })).toEqual([
      'Tide blue: container B-1 is short by 2.00 g, and by 5.00 g with what other lots in hand still want.',
    ]);
    const enough = { 'dye:1': [jar(20_000)] };
    const ours = line({ onHand: 20_000 });
    expect(words([ours], enough)).toEqual([]);
    expect(words([ours], enough, { containers: [[1, 8_000]], items: [['dye:1', 8_000]] })).toEqual([]);
    expect(words([ours], enough, { containers: [[1, 9_000]], items: [['dye:1', 9_000]] })).toEqual([
      'Tide blue: other lots in hand still want 9.00 g; with theirs container B-1 is short by 1.00 g.',
    ]);
  });

  test('two colours that take from one jar are counted together', () => {
    const half = line({ plannedMassMg: 6_000 });
    expect(words([half, half], { 'dye:1': [jar(10_000)] })).toEqual(['Tide blue: container B-1 is short by 2.00 g.']);
    expect(words([half], { 'dye:1': [jar(10_000)] })).toEqual([]);
  });

  test('of several jars: first the one that was chosen, then all together where that says more', () => {
    expect(words([line()], { 'dye:1': [jar(10_000), jar(5_000)] })).toEqual([
      'Tide blue: container B-1 is short by 2.00 g.',
    ]);
    expect(words([line()], { 'dye:1': [jar(10_000), jar(1_000)] }, { items: [['dye:1', 5_000]] })).toEqual([
      'Tide blue: container B-1 is short by 2.00 g; all containers together are short by 1.00 g.',
    ]);
    expect(words([line()], { 'dye:1': [jar(10_000), jar(5_000)] }, { items: [['dye:1', 4_000]] })).toEqual([
      'Tide blue: container B-1 is short by 2.00 g; other lots in hand still want 4.00 g; with theirs all containers together are short by 1.00 g.',
    ]);
    expect(words([line()], { 'dye:1': [jar(10_000), jar(2_000)] }, { items: [['dye:1', 3_000]] })).toEqual([
      'Tide blue: container B-1 is short by 2.00 g; other lots in hand still want 3.00 g; with theirs all containers together are short by 3.00 g.',
    ]);
    // No jar chosen, as of a solution that is still to be made: all that there are.
    const none = line({ stockLotId: null, stockLotCode: null, onHand: null });
    expect(words([none], { 'dye:1': [jar(10_000), jar(1_000)] }, { items: [['dye:1', 3_000]] })).toEqual([
      'Tide blue: all containers together are short by 1.00 g, and by 4.00 g with what other lots in hand still want.',
    ]);
    expect(words([none], {})).toEqual([]);
  });

  test('a jar that is below nothing in the ledger holds nothing, and takes nothing from the next', () => {
    expect(words([line({ onHand: -5_000 })], { 'dye:1': [jar(-5_000)] })).toEqual([
      'Tide blue: container B-1 is short by 12.00 g.',
    ]);
    expect(words([line({ onHand: -5_000 })], { 'dye:1': [jar(-5_000), jar(12_000)] })).toEqual([
      'Tide blue: container B-1 is short by 12.00 g.',
    ]);
  });

  test('a solution counts as the powder in it: 1 L at 1 % holds 10 g', () => {
    const bottle = line({
      plannedMassMg: null,
      plannedVolumeUl: 1_200_000,
      concPpm: 10_000,
      stockLotCode: 'S-1',
      onHand: 1_000_000,
    });
    const held = { 'dye:1': [jar(1_000_000, { concPpm: 10_000, unit: 'ul' }), jar(1_000)] };
    expect(words([bottle], held)).toEqual([
      'Tide blue: container S-1 is short by 200.00 mL; all containers together are short by 1.00 g.',
    ]);
  });

  test('liquids, kilograms and goods in their own units', () => {
    const vinegar = { kind: 'auxiliary', dyeId: null, auxiliaryId: 7, name: 'Vinegar' } as const;
    expect(
      words([line({ ...vinegar, plannedMassMg: null, plannedVolumeUl: 1_500_000, onHand: 250_000 })], {
        'auxiliary:7': [jar(250_000, { unit: 'ul' }), jar(0, { unit: 'ul' })],
      }),
    ).toEqual(['Vinegar: container B-1 is short by 1.25 L; all containers together are short by 1.25 L.']);
    expect(words([line({ plannedMassMg: 3_000_000, onHand: 2_000_000 })], { 'dye:1': [jar(2_000_000)] })).toEqual([
      'Tide blue: container B-1 is short by 1.00 kg.',
    ]);
    expect(words([], {}, {}, { id: 9, code: 'ROLL-1', onHandQuantity: 1_000_000 })).toEqual([
      'Linen: container ROLL-1 is short by 200.00 g.',
    ]);
    expect(words([], {}, { containers: [[9, 900_000]] }, { id: 9, code: 'ROLL-1', onHandQuantity: 2_000_000 })).toEqual(
      ['Linen: other lots in hand still want 900.00 g; with theirs container ROLL-1 is short by 100.00 g.'],
    );
  });

  test('each line is short of what the lines before it have left', () => {
    const lines = [
      line({ plannedMassMg: 6_000 }),
      line({ plannedMassMg: 6_000 }),
      line({ plannedMassMg: 5_000 }),
      line({ plannedMassMg: 5_000, stockLotId: 2 }),
      line({ stockLotId: null, short: 7 }),
      line({ plannedMassMg: null, plannedVolumeUl: 30_000, stockLotId: 3, onHand: 20_000 }),
      line({ stockLotId: 4, onHand: -1 }),
    ];
    drawFromContainers(lines);
    // 10 g hold the first 6 and 4 of the second; the third finds nothing.
    expect(lines.map((l) => l.short)).toEqual([0, 2_000, 5_000, 0, 7, 10_000, 12_000]);
  });
});

describe('a shade is judged by what was agreed', () => {
  const reading = (l: number, more: Partial<ColourReadingRow> = {}): ColourReadingRow =>
    ({ l, a: 0, b: 0, illuminant: 'D65', observer: '10', ...more }) as ColourReadingRow;
  const check = (
    formula: Parameters<typeof shadeCheck>[0]['formula'],
    limitMilli: number | null,
    sample = reading(52),
    standard = reading(50),
  ): string => shadeCheck({ standard, standardName: 'swatch S-1', sample, formula, limitMilli });

  // L* 50 against 52, a* = b* = 0. CIE76: 2. CIEDE2000: S_L at mean L* 51 = 1 + 0.015/√(20 + 1) = 1.00327, so 1.9935.
  // CMC: S_L = 0.040975 · 50/(1 + 0.01765 · 50) = 1.08831, so 2/(2 · 1.08831) = 0.9189 and 2/1.08831 = 1.8377.
  test.each([
    [null, null, 'CIEDE2000 1.99 from swatch S-1: seen side by side, a match for most uses'],
    ['by eye', 100, 'CIEDE2000 1.99 from swatch S-1: seen side by side, a match for most uses'],
    ['CIEDE2000', null, 'CIEDE2000 1.99 from swatch S-1: seen side by side, a match for most uses'],
    ['CIEDE2000', 1_993, 'CIEDE2000 1.99 from swatch S-1: outside the tolerance of 1.993'],
    ['CIEDE2000', 1_994, 'CIEDE2000 1.99 from swatch S-1: within the tolerance of 1.994'],
    ['CIE76', 2_000, 'CIE76 2.00 from swatch S-1: within the tolerance of 2'],
    ['CIE76', 1_999, 'CIE76 2.00 from swatch S-1: outside the tolerance of 1.999'],
    ['CIE76', null, 'CIE76 2.00 from swatch S-1: seen side by side, a match for most uses'],
    ['CMC(2:1)', 919, 'CMC(2:1) 0.92 from swatch S-1: within the tolerance of 0.919'],
    ['CMC(2:1)', 918, 'CMC(2:1) 0.92 from swatch S-1: outside the tolerance of 0.918'],
    ['CMC(1:1)', 1_838, 'CMC(1:1) 1.84 from swatch S-1: within the tolerance of 1.838'],
    ['CMC(1:1)', 1_837, 'CMC(1:1) 1.84 from swatch S-1: outside the tolerance of 1.837'],
  ] as const)('by %s with a limit of %s', (formula, limitMilli, words) => {
    expect(check(formula, limitMilli)).toBe(words);
  });

  test('along a* and b* as well, each in its own place', () => {
    // Sharma, Wu and Dalal 2005, pair 1: ΔE00 2.0425.
    const one = reading(50, { a: 2.6772, b: -79.7751 });
    const other = reading(50, { a: 0, b: -82.7485 });
    expect(check('CIEDE2000', 2_043, other, one)).toBe('CIEDE2000 2.04 from swatch S-1: within the tolerance of 2.043');
  });

  test('not at all under another light or for another observer', () => {
    for (const other of [reading(52, { illuminant: 'A' }), reading(52, { observer: '2' })])
      expect(check('CIEDE2000', 100_000, other)).toMatch(/^Not compared with swatch S-1/);
  });
});

describe('cautions stand where the act happens', () => {
  const cautions = (more: Partial<Parameters<typeof lotCautions>[0]> = {}) =>
    lotCautions({
      dyeClasses: [],
      weighsPowder: false,
      auxiliaries: [],
      hottestC: null,
      methodCautions: '',
      ...more,
    }).join('\n');

  test.each([
    ['powder', { weighsPowder: true }, /respirator/],
    ['reactive dye', { dyeClasses: ['reactive'] }, /asthma/],
    ['mordants', { dyeClasses: ['natural'] }, /alum and iron/],
    ['metal', { dyeClasses: ['metalComplex'] }, /hold metal/],
    ['lye', { dyeClasses: ['vat'] }, /to cold water, never the reverse/],
    ['basic dye', { dyeClasses: ['basic'] }, /stain skin/],
    ['hot liquor from 60 °C on', { hottestC: 60 }, /steam/],
    ['what a jar says of itself', { auxiliaries: [{ name: 'Lye', hazardCodes: 'H314' }] }, /Lye: H314/],
    ['what the method says', { methodCautions: ' Salt out cold. \n \n' }, /^Salt out cold\.$/m],
  ] as const)('of %s, and of nothing else', (_, of, words) => {
    expect(cautions(of)).toMatch(words);
    expect(cautions()).not.toMatch(words);
    // Beside the one that every lot has.
    expect(cautions(of).split('\n')).toHaveLength(2);
    expect(cautions()).toMatch(/never go back to food/);
  });

  test('not of a warm bath, of acid dye, or of an auxiliary that is no hazard; and none twice', () => {
    expect(cautions({ hottestC: 59, dyeClasses: ['acid'], auxiliaries: [{ name: 'Salt', hazardCodes: ' ' }] })).toBe(
      cautions(),
    );
    const twice = { name: 'Lye', hazardCodes: 'H314' };
    expect(
      cautions({ dyeClasses: ['vat', 'vat'], auxiliaries: [twice, twice], methodCautions: 'Slowly.\nSlowly.' }).split(
        '\n',
      ),
    ).toHaveLength(4);
  });
});

describe('a recording is known by its first bytes', () => {
  const bytes = (...parts: (string | number[])[]): Buffer => {
    const content = Buffer.alloc(64);
    let at = 0;
    for (const part of parts) {
      const piece = typeof part === 'string' ? Buffer.from(part, 'latin1') : Buffer.from(part);
      piece.copy(content, at);
      at += piece.length;
    }
    return content;
  };
  const EBML = [0x1a, 0x45, 0xdf, 0xa3];
  test.each([
    // RFC 8794: EBML with its DocType; RFC 3533: OggS; ISO 14496-12: ftyp from the fifth byte on; RIFF … WAVE.
    [bytes(EBML, '\u0042\u0082\u0084webm'), 'audio/webm'],
    [bytes(EBML, '\u0042\u0082\u0088matroska'), undefined],
    [bytes('xxxx', 'webm'), undefined],
    [bytes('OggS'), 'audio/ogg'],
    [bytes('xOggS'), undefined],
    [bytes([0, 0, 0, 32], 'ftypM4A '), 'audio/mp4'],
    [bytes('ftyp'), undefined],
    [bytes('RIFF', [0, 0, 0, 0], 'WAVEfmt '), 'audio/wav'],
    [bytes('RIFF', [0, 0, 0, 0], 'AVI LIST'), undefined],
    [bytes('RIFX', [0, 0, 0, 0], 'WAVEfmt '), undefined],
    [bytes('OggS').subarray(0, 15), undefined],
    [bytes('OggS').subarray(0, 16), 'audio/ogg'],
  ])('%#', (content, type) => {
    expect(soundTypeOf(content)).toBe(type);
  });

  test.each([
    ['1', 1],
    ['300000', 300_000],
    ['0', null],
    ['-1', null],
    ['1.5', null],
    ['1234567890', null],
    ['1s', null],
    ['x1', null],
    [undefined, null],
  ])('its length is %j ms as sent, %j as kept', (text, ms) => {
    expect(durationMsOf(text)).toBe(ms);
  });
});
