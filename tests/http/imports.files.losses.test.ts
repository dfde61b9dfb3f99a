import { describe, expect, test } from 'vitest';
import { Refusal } from '../../server/errors.ts';
import { orderSaid, readDay, rowReader, withPoint } from '../../server/imports/cells.ts';
import { FIELDS, guessColumns, headOf, spectralColumns, unitOfHead } from '../../server/imports/fields.ts';
import { Choices, type ChoicesInput } from '../../server/imports/schemas.ts';
import { readSheet } from '../../server/imports/sheet.ts';
import { isPercentTable, spectrumOf, swatchLineOf } from '../../server/imports/swatchLine.ts';
import { unitOfColumn } from '../../server/imports/tableMeanings.ts';
import { EMPTY_CARD } from '../../server/swatches/schemas.ts';

/* What a studio would lose if one small thing in reading its old tables went wrong: a card of another day, a shade ten times as
 * deep, a colour under another light. */

const csv = (text: string): Buffer => Buffer.from(text, 'utf8');

/** What a refusal says by field; of what is let through, that it is. */
async function saidOf(deed: () => unknown): Promise<unknown> {
  try {
    await deed();
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    return error.fields;
  }
  return 'let through';
}
const choices = (more: Partial<ChoicesInput> = {}): ChoicesInput => ({ ...Choices.parse({}), ...more });

describe('a file is read as it was saved', () => {
  test('in the two orders of UTF-16, which are told from each other by their first bytes', async () => {
    const text = 'name\nGrünspan\n';
    const little = Buffer.from(text, 'utf16le');
    const big = Buffer.from(little).swap16();
    for (const content of [
      Buffer.concat([Buffer.from([0xff, 0xfe]), little]),
      Buffer.concat([Buffer.from([0xfe, 0xff]), big]),
    ]) {
      const sheet = await readSheet(content);
      expect([sheet.columns, sheet.rows[0]?.cells, sheet.notes]).toEqual([
        ['name'],
        ['Grünspan'],
        ['CSV, UTF-16, columns separated by comma'],
      ]);
    }
  });

  test('in Windows-1252, where dashes, quotes and the euro lie among the control codes of other alphabets', async () => {
    // Unicode Consortium, cp1252.txt: 80 €, 82 ‚, 8A Š, 91 ‘, 92 ’, 96 –, 99 ™, 9E ž, 9F Ÿ; E9 é as in ISO 8859-1.
    const bytes = Buffer.from([0x80, 0x82, 0x8a, 0x91, 0x92, 0x96, 0x99, 0x9e, 0x9f, 0xe9]);
    const sheet = await readSheet(Buffer.concat([csv('note\n'), bytes]));
    expect(sheet.rows[0]?.cells).toEqual(['€‚Š‘’–™žŸé']);
    expect(sheet.notes).toEqual(['CSV, Western European (Windows-1252), columns separated by comma']);
  });

  test.each([
    ['sep=|\r\ncode|na,me\r\nA|1,5\r\n', ['code', 'na,me'], ['A', '1,5'], 'bar', 3],
    ['SEP=;\ncode;name\nA;1,5\n', ['code', 'name'], ['A', '1,5'], 'semicolon', 3],
    ['"a;b;c","d ""e;f"" g"\n1,2\n', ['a;b;c', 'd "e;f" g'], ['1', '2'], 'comma', 2],
    ['a;b,c;d\n1;2;3\n', ['a', 'b,c', 'd'], ['1', '2', '3'], 'semicolon', 2],
    ['a;b\nsep=;\n', ['a', 'b'], ['sep=', ''], 'semicolon', 2],
    ['\n\na\tb\tc,d\n1\t2\t3\n', ['a', 'b', 'c,d'], ['1', '2', '3'], 'tab', 4],
  ])('columns separated by what the head has most of: %j', async (text, columns, cells, sign, line) => {
    const sheet = await readSheet(csv(text));
    expect([sheet.columns, sheet.rows, sheet.notes[0]]).toEqual([
      columns,
      [{ line, cells }],
      `CSV, UTF-8, columns separated by ${sign}`,
    ]);
  });

  test('the page says how many empty lines were left out, and nothing where there were none', async () => {
    expect((await readSheet(csv('a,b\n\n1,2\n,\n \n3,4\n'))).notes[1]).toBe('3 empty lines left out');
    expect((await readSheet(csv('a,b\n1,2\n'))).notes).toHaveLength(1);
  });

  test('line ends and double spaces in a head are one space, and a head twice is told apart whatever its letters', async () => {
    const sheet = await readSheet(csv('"depth\n of  shade",Note,note,NOTE\n1,2,3,4\n'));
    expect(sheet.columns).toEqual(['depth of shade', 'Note', 'note (2)', 'NOTE (3)']);
  });

  test('a row that is longer than its head keeps its cells, and a shorter one has empty ones', async () => {
    const sheet = await readSheet(csv('a,b\n1\n1,2,3\n'));
    expect([sheet.columns, sheet.rows.map((r) => r.cells)]).toEqual([
      ['a', 'b', 'column 3'],
      [
        ['1', '', ''],
        ['1', '2', '3'],
      ],
    ]);
  });

  test.each(['=1+1', '+351 210 000 000', '-3', '@home', '＝1', '＋1', '－1', '＠x'])(
    'the apostrophe of our own export comes off %s again',
    async (text) => {
      expect((await readSheet(csv(`a\n'${text}\n`))).rows[0]?.cells).toEqual([text]);
    },
  );

  test.each([
    ['x "y" z', /^Line 2 has a quotation mark in the middle of a cell/],
    ['"y" z', /^Line 2 has a quotation mark in the middle of a cell/],
    ['"y', /opened and never closed/],
    ['a\u0000b', /no table/],
  ])('%j is refused beside the file', async (cell, words) => {
    expect(await saidOf(() => readSheet(csv(`a,b\n${cell},1\n`)))).toEqual({ file: expect.stringMatching(words) });
  });

  test.each([
    ['nothing', Buffer.alloc(0), 'The file is empty.'],
    ['an old spreadsheet', Buffer.from([0xd0, 0xcf, 0x11, 0xe0, 1, 2]), expect.stringContaining('old kind')],
    ['blank lines', csv('\n \n'), 'There is nothing in the file.'],
    ['a head alone', csv('a,b\n'), 'The file has a head and no rows below it.'],
  ])('%s is no table', async (_, content, file) => {
    expect(await saidOf(() => readSheet(content))).toEqual({ file });
  });

  test('5000 rows and 200 columns are read whole, and one more is refused rather than left out', async () => {
    const rows = (n: number) => csv(`a\n${'x\n'.repeat(n)}`);
    const columns = (n: number) => csv(`${'a,'.repeat(n - 1)}a\n${'1,'.repeat(n - 1)}1\n`);
    expect((await readSheet(rows(5000))).rows).toHaveLength(5000);
    expect(await saidOf(() => readSheet(rows(5001)))).toEqual({ file: expect.stringContaining('5000 rows') });
    expect((await readSheet(columns(200))).columns).toHaveLength(200);
    expect(await saidOf(() => readSheet(columns(201)))).toEqual({ file: expect.stringContaining('200 columns') });
  });

  test('a cell as long as a spreadsheet may have is kept whole, and a longer one is refused by its line, not cut', async () => {
    // 32 767 characters (common practice: the limit of spreadsheet programs)
    const whole = 'x'.repeat(32_767);
    expect((await readSheet(csv(`a,b\n1,${whole}\n`))).rows[0]?.cells[1]).toBe(whole);
    expect(await saidOf(() => readSheet(csv(`a,b\n1,2\n1,${whole}y\n`)))).toEqual({
      file: 'Cell B3 holds more than 32\u202f767 characters, the most that can be read of one. Shorten it, or leave its column out of the file.',
    });
  });

  test('what a zip says of its own size decides nothing: what it holds is counted while it is unpacked', async () => {
    // The bombs themselves: tests/security/hostile.test.ts.
    for (const claimed of [[200_000_001], [100_000_001, 100_000_000], [200_000_000]])
      expect(await saidOf(() => readSheet(zipThatClaims(...claimed)))).toEqual({
        file: expect.stringContaining('cannot be read as a spreadsheet'),
      });
  });
});

/** A zip whose entries claim to unpack to so many bytes (APPNOTE 6.3.10: local header, central directory, its end). */
function zipThatClaims(...bytes: number[]): Buffer {
  const locals: Buffer[] = [];
  const central: Buffer[] = [];
  let at = 0;
  for (const [i, claimed] of bytes.entries()) {
    const name = Buffer.from(`xl/sheet${i}.xml`);
    const local = Buffer.alloc(30 + name.length + 2);
    local.writeUInt32LE(0x04034b50, 0);
    local.writeUInt16LE(8, 8);
    local.writeUInt32LE(2, 18);
    local.writeUInt32LE(claimed, 22);
    local.writeUInt16LE(name.length, 26);
    name.copy(local, 30);
    const entry = Buffer.alloc(46 + name.length);
    entry.writeUInt32LE(0x02014b50, 0);
    entry.writeUInt16LE(8, 10);
    entry.writeUInt32LE(2, 20);
    entry.writeUInt32LE(claimed, 24);
    entry.writeUInt16LE(name.length, 28);
    entry.writeUInt32LE(at, 42);
    name.copy(entry, 46);
    locals.push(local);
    central.push(entry);
    at += local.length;
  }
  const directory = Buffer.concat(central);
  const end = Buffer.alloc(22);
  end.writeUInt32LE(0x06054b50, 0);
  end.writeUInt16LE(bytes.length, 8);
  end.writeUInt16LE(bytes.length, 10);
  end.writeUInt32LE(directory.length, 12);
  end.writeUInt32LE(at, 16);
  return Buffer.concat([...locals, directory, end]);
}

describe('a day is the day that was meant', () => {
  test.each([
    ['2026-03-31 14:05', '', '2026-03-31'],
    ['2026-03-31T14:05:30.000Z', '', '2026-03-31'],
    ['2026.3.9', '', '2026-03-09'],
    ['20260331', '', '2026-03-31'],
    ['9 Mar  2026', '', '2026-03-09'],
    ['Mar  9,  2026', '', '2026-03-09'],
    ['March 9, 2026', '', '2026-03-09'],
    ['3/12/2026', 'dmy', '2026-12-03'],
    ['9. Mar. 2026', '', '2026-03-09'],
    ['9-mar-2026', '', '2026-03-09'],
    ['9 March, 2026', '', '2026-03-09'],
    ['Mar. 9 2026', '', '2026-03-09'],
    ['sep 12, 98', '', '1998-09-12'],
    ['13-04-2026', '', '2026-04-13'],
    ['13/12/2026', '', '2026-12-13'],
    ['12/13/2026', '', '2026-12-13'],
    ['12/12/2026', '', '2026-12-12'],
    ['3.4.26', 'mdy', '2026-04-03'],
    ['1/1/69', '', '1969-01-01'],
    ['1/1/68', '', '2068-01-01'],
    ['29 Feb 2024', '', '2024-02-29'],
    ...['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'].map(
      (name, i) => [`7 ${name} 2026`, '', `2026-${String(i + 1).padStart(2, '0')}-07`] as const,
    ),
  ] as const)('%s (%s) is %s', (text, order, on) => {
    expect(readDay(text, order)).toEqual({ kind: 'day', on });
  });

  test.each([
    '3/4-2026',
    '9 Foo 2026',
    '29 Feb 2026',
    '31 Apr 2026',
    '9 Mar 126',
    'Mar 9, 126',
    '3/4/126',
    '0026-03-09',
    'x 2026-03-31',
    '2026-03-31x',
    'x31.3.2026',
    '31.3.2026x',
    '9 Mar 2026 x',
    'x9 Mar 2026',
    'May 2026',
    'on Mar 9, 2026',
    '2026-00-05',
    '2026-13-05',
    '120260331',
    '202603311',
    '2026-3',
    '32.1.2026',
    '0.1.2026',
    '',
  ])('%j is none', (text) => {
    expect(readDay(text, 'dmy')).toEqual({ kind: 'none' });
  });

  test.each(['3-4-2026', '12/11/2026', '3/4/26'])('%s can be read two ways', (text) => {
    expect(readDay(text, '')).toEqual({ kind: 'twoWays' });
  });

  test.each([
    [['13/3/26'], 'dmy'],
    [['3/13/26'], 'mdy'],
    [[' 31-03-2026 14:00'], 'dmy'],
    [['12/3/2026', '3/12/2026'], ''],
    [['31.3.2026'], ''],
    [['on 31/3/2026'], ''],
    [['31/3/20261'], ''],
    [[], ''],
  ] as const)('%j: the file says %j', (texts, order) => {
    expect(orderSaid(texts)).toBe(order);
  });
});

describe('a number is not ten times what it was', () => {
  test.each([
    ['1.500.000,25', 'comma', '1500000.25'],
    ['1.500', 'comma', '1500'],
    ['1,500', 'auto', '1,500'],
    ['1.5', 'comma', '1.5'],
    ['1.5000', 'comma', '1.5000'],
    ['1.500 g', 'comma', '1500 g'],
    ['1,5', 'point', '1,5'],
    ['1,5000', 'point', '1,5000'],
    ['1,500,000.5', 'point', '1500000.5'],
    ['1.500', 'point', '1.500'],
    ['1.500,25', 'auto', '1.500,25'],
    ['a, b', 'comma', 'a, b'],
  ] as const)('%s (%s) → %s', (text, decimal, pointed) => {
    expect(withPoint(text, decimal)).toBe(pointed);
  });

  const reading = (head: string, cell: string, more: Partial<ChoicesInput> = {}) =>
    rowReader(
      { columns: ['x', head], rows: [{ line: 2, cells: ['', cell] }], notes: [] },
      FIELDS.swatches,
      choices({ columns: { dryMass: 1 }, ...more }),
    ).read(['', cell]).words['dryMass'];
  test.each([
    ['weight (g)', '100', '100 g'],
    ['weight (oz)', '3 1/2', '3 1/2 oz'],
    ['weight (oz)', '1/2', '1/2'],
    ['weight (kg)', '10 g', '10 g'],
    ['weight (g)', '-5', '-5 g'],
    ['weight', '100', '100'],
    ['weight (mine)', '100', '100'],
    ['depth_ppm', '20000', '2 %'],
    ['depth (ppm)', '20000,5', '2.00005 %'],
    ['weight (g)', 'heavy', 'heavy'],
    ['weight (g)', '100 or so', '100 or so'],
    ['weight (g)', 'some 100', 'some 100'],
  ])('below “%s”, “%s” is “%s”', (head, cell, words) => {
    expect(reading(head, cell)).toBe(words);
  });
  test('the decimal sign that the person chose is taken before the unit is put', () => {
    expect(reading('weight (g)', '1.500,5', { decimal: 'comma' })).toBe('1500.5 g');
    expect(reading('weight (g)', '1,500', { decimal: 'point' })).toBe('1500 g');
  });
});

describe('a cell is read by what its field is', () => {
  const stock = (cells: string[], more: Partial<ChoicesInput> = {}, others: string[][] = []) =>
    rowReader(
      {
        columns: ['what', 'day', 'opened', 'kept'],
        rows: [cells, ...others].map((c, i) => ({ line: i + 2, cells: c })),
        notes: [],
      },
      FIELDS.stock,
      choices({ columns: { item: 0, receivedOn: 1, openedOn: 2, note: 7 }, ...more }),
    );

  test('text stays as it is, a column that is not in the file says nothing, and what is not said has its usual value', () => {
    const reader = stock(['1,500', '2026-03-09', '', '']);
    expect(reader.read(['1,500', '2026-03-09', '', ''])).toEqual({
      words: { item: '1,500', receivedOn: '2026-03-09', strength: '100' },
      problems: {},
    });
    expect([
      reader.cellOf('receivedOn', ['a', 'b']),
      reader.cellOf('note', ['a', 'b']),
      reader.cellOf('item', []),
    ]).toEqual(['b', '', '']);
  });

  test('a column of days decides for itself, by what its own other rows say', () => {
    const cells = ['RB', '3/4/2026', '3/4/2026', ''];
    const { words, problems } = stock(cells, {}, [['RB', '31/3/2026', '', '']]).read(cells);
    expect([words['receivedOn'], problems]).toEqual([
      '2026-04-03',
      { openedOn: '“3/4/2026” can be read two ways: say below whether the day or the month comes first.' },
    ]);
    expect(stock(cells, { dates: 'mdy' }, [['RB', '31/3/2026', '', '']]).read(cells).words).toMatchObject({
      receivedOn: '2026-03-04',
      openedOn: '2026-03-04',
    });
    expect(stock(['RB', 'soon', '', '']).read(['RB', 'soon', '', '']).problems).toEqual({
      receivedOn: '“soon” is not a day that I can read: try 2026-03-31.',
    });
  });

  test('a word is taken by any of its names, and one that is none is told with those there are', () => {
    const dyes = (cell: string) =>
      rowReader({ columns: ['kind'], rows: [], notes: [] }, FIELDS.dyes, choices({ columns: { class: 0 } })).read([
        cell,
      ]);
    expect(dyes('1:2 Metal-Complex').words['class']).toBe('metalComplex');
    expect(dyes('Cold process REACTIVE').words['class']).toBe('reactive');
    expect(dyes('food').problems).toEqual({
      class: '“food” is none of: reactive, acid, metalComplex, direct, basic, disperse, vat, natural.',
    });
  });
});

describe('a head is known by what it says', () => {
  test.each([
    ['Färbung', 'farbung', null],
    ['DryMass_g', 'dry mass', 'g'],
    ['Weight [OZ]', 'weight', 'oz'],
    ['Depth %', 'depth', '%'],
    ['Depth (% owg)', 'depth', null],
    ['Weight (G/M²)', 'weight', 'g/m²'],
    ['Weight (oz/yd2)', 'weight', 'oz/yd2'],
    ['width (in)', 'width', 'in'],
    ['length ( yd )', 'length', 'yd'],
    ['note (mine)', 'note', null],
    ['weight (g) of it', 'weight g of it', null],
    ['dye12', 'dye 12', null],
    ['R380', 'r 380', null],
    ['L*', 'l', null],
    ['solutionLifeDays', 'solution life days', null],
    [' Card No. ', 'card no', null],
    ['C.I.', 'c i', null],
    ['depth_ppm', 'depth', 'ppm'],
    ['big', 'big', null],
  ])('“%s” is “%s” in %s', (column, head, unit) => {
    expect([headOf(column), unitOfHead(column)]).toEqual([head, unit]);
  });

  test.each([
    // An exact head comes before one that only begins so.
    ['customers', ['Name of the shop', 'Name'], { name: 1 }],
    ['customers', ['Name of the shop'], { name: 0 }],
    ['customers', ['Nameless'], {}],
    // Short names are taken whole: “a note” is no a*.
    ['swatches', ['a note', 'l of it'], {}],
    ['swatches', ['a*', 'Remarks of the dyer'], { labA: 0, note: 1 }],
    // Each column serves once.
    ['stock', ['Dye'], { item: 0 }],
    ['dyes', ['Code', 'Code'], { code: 0 }],
    // “Dye 1” with a unit is how much of it, as far as a formula goes.
    ['swatches', ['Dye 2 (g)', 'Dye 2'], { amount2: 0, dye2: 1 }],
    ['swatches', ['Dye 13 %'], {}],
    ['swatches', ['solid dye 1 %'], {}],
    ['swatches', ['Dye 12 %'], { amount12: 0 }],
    ['swatches', ['Dye 1 shade %'], { dye1: 0 }],
    ['stock', ['Dye 1 %'], {}],
    ['stock', ['Date opened'], { openedOn: 0 }],
    ['fibres', ['Areal mass (g/m²)', 'Cost per kg'], { arealMass: 0, costPerKg: 1 }],
  ] as const)('%s: %j', (kind, heads, columns) => {
    expect(guessColumns(kind, heads)).toEqual(columns);
  });

  const range = (start: number, step: number, n: number, name = (nm: number) => `R${nm}`) =>
    Array.from({ length: n }, (_, i) => name(start + i * step));
  test.each([
    [range(400, 20, 16), { startNm: 400, stepNm: 20 }],
    [range(400, 20, 15), null],
    [range(400, 5, 40), { startNm: 400, stepNm: 5 }],
    [range(400, 15, 20), null],
    [range(550, 20, 16), { startNm: 550, stepNm: 20 }],
    [range(300, 10, 56), { startNm: 300, stepNm: 10 }],
    [range(360, 10, 40, (nm) => `${nm}`), { startNm: 360, stepNm: 10 }],
    [range(360, 10, 40, (nm) => `${nm} nm`), { startNm: 360, stepNm: 10 }],
    [range(360, 10, 40, (nm) => `Refl_${nm}nm`), { startNm: 360, stepNm: 10 }],
    [range(360, 10, 40, (nm) => `reflectance ${nm}`), { startNm: 360, stepNm: 10 }],
    [range(360, 10, 40, (nm) => `row ${nm}`), null],
    [range(360, 10, 40, (nm) => `${nm} g`), null],
    [['100', ...range(360, 10, 40), '900'], { startNm: 360, stepNm: 10 }],
    [[...range(360, 10, 20), ...range(570, 10, 20)], null],
  ] as const)('a curve in columns %#', (columns, found) => {
    if (found === null) expect(spectralColumns(columns)).toBeNull();
    else expect(spectralColumns(columns)).toMatchObject(found);
  });

  test('the columns of a curve are taken by wavelength, in whatever order they stand', () => {
    const found = spectralColumns(['name', ...range(400, 10, 16).toReversed()]);
    expect(found?.columns).toEqual(Array.from({ length: 16 }, (_, i) => 16 - i));
  });
});

describe('a curve is read as light that comes back', () => {
  const spectral = { startNm: 400, stepNm: 10 as const, columns: [1, 2] };
  test('percent are told from factors by the whole table, decimal commas read, and a row without a curve has none', () => {
    expect(isPercentTable([{ cells: ['99', '0,4', '1.9'] }, { cells: ['', '2', ''] }], spectral)).toBe(false);
    expect(isPercentTable([{ cells: ['', '0.4', ''] }, { cells: ['', '', '2,1'] }], spectral)).toBe(true);
    expect(spectrumOf(['x', '40', ' 50,5 '], spectral, true)).toEqual({
      startNm: 400,
      stepNm: 10,
      reflectance: [0.4, 0.505],
    });
    expect(spectrumOf(['x', '0', '2'], spectral, false)?.reflectance).toEqual([0, 2]);
    expect(spectrumOf(['x', ' ', ''], spectral, false)).toBeNull();
  });
  test.each([
    [['x', '0.4', ''], 410],
    [['x', 'dark', '0.4'], 400],
    [['x', '0.4', '2.01'], 410],
    [['x', '-0.1', '0.4'], 400],
  ])('%j is told by its wavelength', async (cells, nm) => {
    expect(await saidOf(() => spectrumOf(cells, spectral, false))).toEqual({
      spectrum: `The spectrum has no number at ${nm} nm.`,
    });
  });
});

describe('a formula is what was dyed', () => {
  const goods = { name: 'N', fibre: 'Linen', method: 'Immersion', dyedOn: '2026-03-09' };
  const line = (words: Record<string, string>, more: Partial<ChoicesInput> = {}) =>
    swatchLineOf({ ...goods, ...words }, choices(more), { spectrum: null });
  const formula = (words: Record<string, string>, more: Partial<ChoicesInput> = {}) => {
    const { entryStyle, components, depthPpm, recipeDepthPpm } = line(words, more);
    return [entryStyle, components.map((c) => `${c.dyeCode} ${c.ppm}`).join(', '), depthPpm, recipeDepthPpm];
  };
  const pair = (one: string, other: string, more: Record<string, string> = {}) => ({
    dye1: 'RB',
    amount1: one,
    dye2: 'RY',
    amount2: other,
    ...more,
  });
  const shares = ['split', 'RB 700000, RY 300000', 20_000, 20_000];
  const depths = ['ownDepths', 'RB 14000, RY 6000', 20_000, 20_000];

  test.each([
    [{ formula: 'RB 70 %, RY 30 %', depth: '2' }, shares],
    [{ formula: '70 % of RB + 30% RY', depth: '2' }, shares],
    [{ formula: 'RB=70; RY : 30', depth: '2' }, shares],
    [{ formula: 'RB 70\nRY 30', depth: '2' }, shares],
    [{ formula: 'RB: 1,4 % / RY: 0,6 %' }, depths],
    [{ formula: 'RB 1.4 % owg and RY 0.6% owf' }, depths],
    [{ formula: 'RB 1.4 g & RY 600 mg', dryMass: '100 g' }, depths],
    [{ formula: 'Sandy blue 2' }, ['ownDepths', 'Sandy blue 20000', 20_000, 20_000]],
    [{ formula: 'RB', depth: '2' }, ['split', 'RB 1000000', 20_000, 20_000]],
    [{ dyes: 'RB & RY', shares: '70/30', depth: '2' }, shares],
    [{ dyes: 'RB|RY', shares: '7:3', depth: '2' }, shares],
    [{ dyes: 'RB  RY', shares: '70 30', depth: '2' }, shares],
    [{ dyes: '/RB/RY/', shares: '70/30', depth: '2' }, shares],
    [pair('70', '30', { depth: '2' }), shares],
    [pair('1.4', '0.6'), depths],
    [pair('1.4', '0.6', { depth: '2' }), depths],
    [pair('1.4', '0.6', { amount3: '0', amount4: '0,00 %' }), depths],
    [pair('1.4 g', '0.6 g', { dryMass: '100 g' }), depths],
    [pair('0.0014 kg', '600 mg', { dryMass: '100 g' }), depths],
    // 0.14 oz and 0.06 oz on 10 oz; 1.4 lb and 0.6 lb on a hundred pounds.
    [pair('0.14 oz', '0.06 oz', { dryMass: '10 oz' }), depths],
    [pair('1.4 lb', '0.6 lb', { dryMass: '100 lb' }), depths],
    // Printed tables round: half of the last usual digit, 0.05 %, for each of two dyes.
    [pair('69.9', '30', { depth: '2' }), ['split', 'RB 699700, RY 300300', 20_000, 20_000]],
    [pair('1.3', '0.6', { depth: '2' }), ['ownDepths', 'RB 13000, RY 6000', 20_000, 19_000]],
    // 50 and 50 at a depth of 100 % are depths: the same either way, and the depth is said.
    [pair('50', '50', { depth: '100' }), ['ownDepths', 'RB 500000, RY 500000', 1_000_000, 1_000_000]],
    [pair('50', '50', { depth: '100', entryStyle: 'split' }), ['split', 'RB 500000, RY 500000', 1_000_000, 1_000_000]],
    [{ dye1: 'RB', amount1: '100' }, ['ownDepths', 'RB 1000000', 1_000_000, 1_000_000]],
    [{ dye1: 'RB', amount1: '200' }, ['ownDepths', 'RB 2000000', 2_000_000, 2_000_000]],
    // A card at half the depth of its recipe.
    [pair('2.8', '1.2', { depth: '2', recipeDepth: '4' }), ['ownDepths', 'RB 28000, RY 12000', 20_000, 40_000]],
    [pair('70', '30', { depth: '2', recipeDepth: '4' }), ['split', 'RB 700000, RY 300000', 20_000, 40_000]],
    [
      { dyes: 'RB/RY', shares: '70/30', depth: '2', recipeDepth: '4' },
      ['split', 'RB 700000, RY 300000', 20_000, 40_000],
    ],
    [{ dye1: 'RB', depth: '2', recipeDepth: '4' }, ['split', 'RB 1000000', 20_000, 40_000]],
    [
      { dyes: 'A/B/C/D/E/F/G/H/I/J/K/L', shares: '1:1:1:1:1:1:1:1:1:1:1:1', depth: '2' },
      [
        'split',
        // 1 000 000 by 12: 83 333 each, and the four that are over to the first (largest remainder).
        'A 83334, B 83334, C 83334, D 83334, E 83333, F 83333, G 83333, H 83333, I 83333, J 83333, K 83333, L 83333',
        20_000,
        20_000,
      ],
    ],
  ] as const)('%j', (words, expected) => {
    expect(formula(words)).toEqual(expected);
  });

  test('decimal commas and thousands are read as the person said', () => {
    expect(formula({ formula: 'RB 1.4 % + RY 0.6 %' }, { decimal: 'point' })).toEqual(depths);
    expect(formula({ dyes: 'RB/RY', shares: '70,0/30,0', depth: '2' }, { decimal: 'comma' })).toEqual(shares);
    expect(formula(pair('1.400 mg', '600 mg', { dryMass: '100 g' }), { decimal: 'comma' })).toEqual(depths);
    expect(formula(pair('1,400 mg', '600 mg', { dryMass: '100 g' }), { decimal: 'point' })).toEqual(depths);
  });

  test.each([
    [{}, { formula: 'Which dyes, and how much of each?' }],
    [
      { formula: 'RB 70 %', depth: '2' },
      { formula: 'The amounts add to 70 %: neither to 100 % nor to the depth of 2 %.' },
    ],
    [
      pair('70', '20', { depth: '2' }),
      { formula: 'The amounts add to 90 %: neither to 100 % nor to the depth of 2 %.' },
    ],
    [
      pair('69.8', '30', { depth: '2' }),
      { formula: 'The amounts add to 99.8 %: neither to 100 % nor to the depth of 2 %.' },
    ],
    [pair('70', '20', { depth: '2', entryStyle: 'split' }), { formula: 'The shares add to 90 %, not to 100 %.' }],
    [
      pair('1.2', '0.6', { depth: '2' }),
      { formula: 'The amounts add to 1.8 %: neither to 100 % nor to the depth of 2 %.' },
    ],
    [pair('70', '30'), { depth: 'The amounts are shares of 100 %: how deep was it dyed?' }],
    [{ dyes: 'RB/RY', shares: '70/30' }, { depth: 'How deep was it dyed, % of the goods?' }],
    [{ dye1: 'RB', amount1: '201' }, { amount1: 'At most 200 % of the goods.' }],
    [pair('70', '', { depth: '2' }), { amount2: 'How much of RY?' }],
    [{ amount2: '30', depth: '2' }, { dye2: '30 of which dye?' }],
    [{ dyes: 'RB/RY', depth: '2' }, { dyes: 'How much of RB?' }],
    [{ formula: 'RB, RY', depth: '2' }, { formula: 'How much of RB?' }],
    [{ dye1: 'RB', amount1: '1.4 g' }, { dryMass: '“1.4 g” is a mass: on how much goods?' }],
    [{ dyes: 'A/B/C/D/E/F/G/H/I/J/K/L/M', depth: '2' }, { formula: 'At most twelve dyes.' }],
    [{ dyes: 'RB/RY', shares: '100', depth: '2' }, { shares: '1 share for 2 dyes.' }],
    [{ dye1: 'RB', amount1: 'a lot' }, { amount1: expect.stringMatching(/^"a lot" is not a percentage.*[^.]\.$/) }],
  ] as const)('%j is refused: %j', async (words, said) => {
    expect(await saidOf(() => line(words))).toEqual(said);
  });

  test('a row tells all that is wrong with it at once, and of one field the first word', async () => {
    expect(
      await saidOf(() => line({ name: '', depth: 'two-ish', dyedOn: '', labL: '50', rating: '7', fibre: '' })),
    ).toEqual({
      name: 'A name, as you say the shade.',
      depth: expect.stringContaining('two-ish'),
      fibre: 'On which goods was it dyed?',
      rating: 'A rating is 1 to 5.',
      labA: 'L*, a* and b* go together.',
      dyedOn: 'The day it was dyed, or say below which day to take for rows without one.',
    });
    expect(await saidOf(() => line({ name: '' }))).toEqual({
      name: 'A name, as you say the shade.',
      formula: 'Which dyes, and how much of each?',
    });
  });

  test('everything that a card says is kept', () => {
    expect(
      line({
        formula: 'RB 2',
        code: 'S-7',
        recipe: 'Slate',
        recipeRevision: '3',
        fibreClass: 'cellulose',
        fibreKind: 'yarn',
        dryMass: '10 g',
        cardPlace: 'Binder 2',
        rating: '4',
        note: 'dull',
        madeBy: 'Rui',
        stockLots: 'B-1; B-2 | B-3;',
        archived: 'Yes',
      }),
    ).toMatchObject({
      code: 'S-7',
      name: 'N',
      recipe: 'Slate',
      recipeRevision: 3,
      fibre: 'Linen',
      fibreClass: 'cellulose',
      fibreKind: 'yarn',
      method: 'Immersion',
      dyedOn: '2026-03-09',
      dryMassMg: 10_000,
      cardPlace: 'Binder 2',
      rating: 4,
      note: 'dull',
      madeBy: 'Rui',
      stockLotCodes: ['B-1', 'B-2', 'B-3'],
      readings: [],
      archived: true,
    });
    expect(line({ formula: 'RB 2', dyedOn: '', archived: 'yes, in 2020' }, { defaultDay: '2026-01-01' })).toMatchObject(
      {
        code: null,
        recipe: null,
        recipeRevision: null,
        fibreClass: null,
        fibreKind: 'cloth',
        dyedOn: '2026-01-01',
        dryMassMg: null,
        rating: null,
        madeBy: null,
        stockLotCodes: [],
        archived: false,
      },
    );
  });

  test.each([
    { depth: '0' },
    { depth: '0,00 %' },
    { depth: '0.0' },
    { formula: 'undyed' },
    { formula: 'No dye' },
    { formula: 'no dyes', dye1: 'RB', amount1: '0' },
    { formula: 'none', depth: '0 %' },
    { amount1: '0', amount2: '0.00' },
    pair('0', '0 %'),
  ])('%j is the goods before dyeing', (words) => {
    expect(
      line({ ...words, name: '', method: '', dyedOn: '', fibreKind: 'yarn', labL: '90', labA: '1', labB: '6' }),
    ).toEqual({
      code: null,
      name: '',
      recipe: null,
      recipeRevision: null,
      entryStyle: 'split',
      components: [],
      depthPpm: 0,
      recipeDepthPpm: 0,
      fibre: 'Linen',
      fibreClass: null,
      fibreKind: 'yarn',
      method: '',
      dyedOn: '',
      dryMassMg: null,
      ...EMPTY_CARD,
      cardPlace: '',
      rating: null,
      note: '',
      madeBy: null,
      stockLotCodes: [],
      readings: [expect.objectContaining({ readAt: null })],
      spectrum: null,
      archived: false,
    });
  });
  test.each([
    { formula: 'undyed', amount1: '2' },
    { depth: '10' },
    { depth: '0 or so' },
    { formula: 'undyed cloth' },
    {},
  ])('%j is no sample of the goods before dyeing', async (words) => {
    expect(await saidOf(() => line({ ...words, labL: '90', labA: '1', labB: '6' }))).not.toBe('let through');
  });
  test('goods before dyeing tell what is wrong with them, all at once', async () => {
    expect(await saidOf(() => line({ depth: '0', fibre: '', labL: '900', labA: '1', labB: '6' }))).toEqual({
      fibre: 'On which goods was it dyed?',
      labL: '“900” is no number from 0 to 110.',
    });
  });

  // ───────────── colours ─────────────
  const read = (words: Record<string, string>, more: Partial<ChoicesInput> = {}) =>
    line({ formula: 'RB 2', ...words }, more).readings.map(({ input, readAt }) => ({ ...input, readAt }));
  const lab = { labL: '52,1', labA: '−8', labB: '–14.5' };
  const usual = { readAt: null, areaSharePpm: null, uncertaintyMilli: null, note: '' };

  test('L*, a* and b* under the light of the row, else that of the file', () => {
    const colour = { l: 52.1, a: -8, b: -14.5, illuminant: 'D65', observer: '10' };
    expect(read(lab)).toEqual([{ ...usual, colour, source: 'instrument', asTyped: '' }]);
    expect(read(lab, { illuminant: 'A', observer: '2' })[0]?.colour).toEqual({
      ...colour,
      illuminant: 'A',
      observer: '2',
    });
    expect(read({ ...lab, labL: '.5e1', labA: '+0', labB: '200' })[0]?.colour).toMatchObject({ l: 5, a: 0, b: 200 });
    expect(read({ ...lab, labL: '110', labA: '-200' })[0]?.colour).toMatchObject({ l: 110, a: -200 });
    for (const [words, illuminant] of [
      ['d50', 'D50'],
      ['CIE A', 'A'],
      ['D65/10°', 'D65'],
    ] as const)
      expect(read({ ...lab, illuminant: words }, { illuminant: 'D50' })[0]?.colour).toMatchObject({ illuminant });
    for (const [words, observer] of [
      ['2', '2'],
      [' 10° ', '10'],
      ['2 degrees', '2'],
      ['10deg', '10'],
    ] as const)
      expect(read({ ...lab, observer: words }, { observer: observer === '2' ? '10' : '2' })[0]?.colour).toMatchObject({
        observer,
      });
  });

  test.each([
    [{ illuminant: 'D75' }, { illuminant: 'D65, D50 or A.' }],
    [{ illuminant: 'daylight' }, { illuminant: 'D65, D50 or A.' }],
    [{ observer: '5' }, { observer: '2 or 10 degrees.' }],
    [{ observer: '12' }, { observer: '2 or 10 degrees.' }],
    [{ observer: 'x2' }, { observer: '2 or 10 degrees.' }],
    [{ labL: '-1' }, { labL: '“-1” is no number from 0 to 110.' }],
    [{ labL: '110.1' }, { labL: '“110.1” is no number from 0 to 110.' }],
    [{ labA: '200.5' }, { labA: '“200.5” is no number from -200 to 200.' }],
    [{ labB: '-200.5' }, { labB: '“-200.5” is no number from -200 to 200.' }],
    [{ labB: '1 2' }, { labB: '“1 2” is no number from -200 to 200.' }],
    [{ labB: '12x' }, { labB: '“12x” is no number from -200 to 200.' }],
    [{ labB: '' }, { labB: 'L*, a* and b* go together.' }],
    [{ labA: '' }, { labA: 'L*, a* and b* go together.' }],
    [{ labL: '' }, { labL: 'L*, a* and b* go together.' }],
  ])('%j is refused', async (words, said) => {
    expect(await saidOf(() => read({ ...lab, ...words }))).toEqual(said);
  });

  test('a colour as typed is kept as it was typed', () => {
    expect(read({ colour: '3A6B88' })).toEqual([
      { ...usual, colour: { hex: '#3a6b88' }, source: 'typed', asTyped: '3A6B88' },
    ]);
    expect(read({ colour: '52.1 -8 -14' }, { illuminant: 'D50', observer: '2' })).toEqual([
      {
        ...usual,
        colour: { l: 52.1, a: -8, b: -14, illuminant: 'D50', observer: '2' },
        source: 'typed',
        asTyped: '52.1 -8 -14',
      },
    ]);
    // L*, a* and b* come before it.
    expect(read({ ...lab, colour: '#3a6b88' })).toEqual(read(lab));
  });

  test('a colour that is none is told in a sentence', async () => {
    expect(await saidOf(() => read({ colour: 'bluish' }))).toEqual({
      colour: expect.stringMatching(/^[^a-z].*[^.]\.$/),
    });
  });

  test('readings of our own export come with their instants, and nothing else is taken for them', async () => {
    const own = { l: 50, a: 1, b: 2, illuminant: 'A', observer: '2', source: 'photoWithCard', readAt: 7 };
    expect(read({ readings: JSON.stringify([own]), ...lab })).toEqual([
      {
        ...usual,
        readAt: 7,
        colour: { l: 50, a: 1, b: 2, illuminant: 'A', observer: '2' },
        source: 'photoWithCard',
        asTyped: '',
      },
    ]);
    for (const readings of ['no JSON', '{}', JSON.stringify([{ ...own, l: 200 }])])
      expect(await saidOf(() => read({ readings }))).toEqual({
        readings: 'These are not readings as our own export writes them.',
      });
  });

  test('a curve gives the colour where no other is said', async () => {
    const curve = { startNm: 400, stepNm: 10, reflectance: Array.from({ length: 31 }, () => 0.5) };
    const own = line({ formula: 'RB 2', spectrum: JSON.stringify(curve) });
    expect(own.spectrum).toEqual(curve);
    // A flat half of all light: L* = 116·(0.5)^⅓ − 16 = 76.0693 (CIE 15).
    expect(own.readings.map((r) => r.input)).toEqual([
      expect.objectContaining({
        colour: expect.objectContaining({ l: expect.closeTo(76.0693, 3), illuminant: 'D65', observer: '10' }),
        source: 'instrument',
        note: 'from the spectrum',
      }),
    ]);
    expect(line({ formula: 'RB 2', spectrum: JSON.stringify(curve), ...lab }).readings[0]?.input.note).toBe('');
    for (const spectrum of ['no JSON', '{}'])
      expect(await saidOf(() => line({ formula: 'RB 2', spectrum }))).toEqual({
        spectrum: 'This is no spectrum as our own export writes it.',
      });
  });
});

describe('whoever reads an export without the service', () => {
  test.each([
    ['areal_mass_mg_per_m2', 'mg/m²'],
    ['bulk_density_g_per_l', 'g/L'],
    ['bath_ml_per_kg', 'mL per kg of goods'],
    ['cost_minor_per_kg', 'minor unit of the currency per kg'],
    ['labour_rate_minor_per_hour', 'minor unit of the currency per hour'],
    ['price_minor', 'minor unit of the currency (cents)'],
    ['depth_ppm', 'ppm: 10 000 = 1 %'],
    ['amount_milli', 'thousandths'],
    ['exact_ug', 'µg'],
    ['dry_mass_mg', 'mg'],
    ['bath_ul', 'µL'],
    ['width_mm', 'mm'],
    ['start_nm', 'nm'],
    ['duration_ms', 'ms'],
    ['duration_s', 's'],
    ['width_px', 'pixels'],
    ['planned_temp_c', '°C'],
    ['at', 'instant: milliseconds since 1970-01-01 UTC'],
    ['read_at', 'instant: milliseconds since 1970-01-01 UTC'],
    ['dyed_on', 'day: YYYY-MM-DD'],
    ['plan_json', 'JSON'],
    ['l', 'CIELAB'],
    ['note', ''],
    ['label', ''],
    ['format', ''],
    ['minor_things', ''],
  ])('finds the unit of %s', (column, unit) => {
    expect(unitOfColumn(column)).toBe(unit);
  });
});
