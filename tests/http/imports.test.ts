import { describe, expect, test } from 'vitest';
import writeXlsxFile from 'write-excel-file/node';
import { orderSaid, readDay, withPoint } from '../../server/imports/cells.ts';
import { guessColumns, spectralColumns } from '../../server/imports/fields.ts';
import { readSheet } from '../../server/imports/sheet.ts';
import { insertPerson } from '../../server/people/queries.ts';
import { openSignIn } from '../../server/people/signIn.ts';
import { freshStudio, MONDAY, type TestStudio } from '../support/app.ts';
import { makeWorld, type World } from '../support/world.ts';

const csv = (text: string): Buffer => Buffer.from(text, 'utf8');

/** Sends a file and answers where its draft is. */
async function send(studio: TestStudio, kind: string, content: Buffer, name = 'table.csv') {
  const answer = await studio.page.send('post', '/imports/drafts').field('kind', kind).attach('file', content, name);
  return { status: answer.status, text: answer.text, at: String(answer.headers['location'] ?? '') };
}

/** Answers to a draft's questions; columns stay as guessed where nothing is said. */
async function choose(studio: TestStudio, at: string, choices: Record<string, string> = {}): Promise<string> {
  const shown = (await studio.page.get(at)).text;
  const typed: Record<string, string> = {
    decimal: 'auto',
    dates: '',
    duplicates: 'ask',
    missing: 'ask',
    newFibreClass: '',
    defaultDay: '',
    illuminant: 'D65',
    observer: '10',
  };
  for (const m of shown.matchAll(/<select[^>]*name="(column\.\w+)"[\s\S]*?<\/select>/g)) {
    const chosen = /<option value="(\d+)" selected/.exec(m[0])?.[1];
    if (chosen !== undefined && m[1]) typed[m[1]] = chosen;
  }
  expect((await studio.page.post(at, { ...typed, ...choices })).status).toBe(303);
  return (await studio.page.get(at)).text;
}

const accept = async (studio: TestStudio, at: string) => {
  const answer = await studio.page.post(`${at}/acceptance`);
  return { status: answer.status, text: answer.text, at: String(answer.headers['location'] ?? '') };
};

const wrongLines = (html: string): number[] =>
  [...html.matchAll(/<tr><td class="num">(\d+)<\/td>(?:(?!<\/tr>)[\s\S])*?badge bad/g)].map((m) => Number(m[1]));
const messageAt = (html: string, line: number): string =>
  (new RegExp(`<tr><td class="num">${line}</td>((?:(?!</tr>)[\\s\\S])*)</tr>`).exec(html)?.[1] ?? '')
    .replace(/<[^>]*>/g, ' ')
    .replace(/\s+/g, ' ')
    .replaceAll('&quot;', '"')
    .replaceAll('&#39;', '’')
    .trim();

/** Every row of every table but those that tell of the import itself. */
function everything({ deps }: TestStudio) {
  const except = new Set([
    'imports',
    'import_rows',
    'import_drafts',
    'audit_entries',
    'swatch_changes',
    'sign_ins',
    'api_tokens',
    // The chain and the sums tell of every write, the import's own too.
    'record_links',
    'table_sums',
  ]);
  const tables = deps.sqlite
    .prepare("select name from sqlite_master where type = 'table' and name not like 'sqlite_%' order by name")
    .pluck()
    .all() as string[];
  return Object.fromEntries(
    tables
      .filter((t) => !except.has(t))
      .map((t) => [t, JSON.stringify(deps.sqlite.prepare(`select * from "${t}"`).all())]),
  );
}

describe('a file is read', () => {
  test.each([
    ['commas', 'code,name\nA,one\n'],
    ['semicolons', 'code;name\nA;one\n'],
    ['tabs', 'code\tname\nA\tone\n'],
    ['bars', 'code|name\nA|one\n'],
    ['a first line sep=', 'sep=;\ncode;name\nA;one\n'],
    ['a byte order mark', '\ufeffcode,name\nA,one\n'],
    ['line ends of other systems', 'code,name\r\nA,one\r\n'],
    ['empty lines', '\n\ncode,name\n\nA,one\n,\n\n'],
    ['spaces about', ' code , name \n A , one \n'],
  ])('with %s', async (_, text) => {
    const sheet = await readSheet(csv(text));
    expect(sheet.columns).toEqual(['code', 'name']);
    expect(sheet.rows.map((r) => r.cells)).toEqual([['A', 'one']]);
  });

  test('in UTF-16 and in Western European letters as in UTF-8', async () => {
    const text = 'code;name\nG;Grünspan, 5 € à Foz\n';
    const utf16 = Buffer.concat([Buffer.from([0xff, 0xfe]), Buffer.from(text, 'utf16le')]);
    const western = Buffer.from(text.replace('€', '\u0080'), 'latin1');
    for (const content of [csv(text), utf16, western]) {
      expect((await readSheet(content)).rows[0]?.cells).toEqual(['G', 'Grünspan, 5 € à Foz']);
    }
  });

  test('with quoted line ends, quotes and separators inside cells, telling each row by its own line', async () => {
    const sheet = await readSheet(csv('code,note\nA,"two\nlines, ""quoted"""\nB,plain\n\nC,"x\n\ny"\nD,last\n'));
    expect(sheet.rows).toEqual([
      { line: 2, cells: ['A', 'two\nlines, "quoted"'] },
      { line: 4, cells: ['B', 'plain'] },
      { line: 6, cells: ['C', 'x\n\ny'] },
      { line: 9, cells: ['D', 'last'] },
    ]);
  });

  test('with the apostrophe of a guarded formula taken off, and others left', async () => {
    const sheet = await readSheet(csv("note,b\n'=1+1,'tis\n'-3,''\n"));
    expect(sheet.rows.map((r) => r.cells)).toEqual([
      ['=1+1', "'tis"],
      ['-3', "''"],
    ]);
  });

  test('with heads that repeat or are missing', async () => {
    const sheet = await readSheet(csv('dye,dye,,DYE\n1,2,3,4,5\n'));
    expect(sheet.columns).toEqual(['dye', 'dye (2)', 'column 3', 'DYE (3)', 'column 5']);
  });

  test('from a spreadsheet: numbers, days and empty cells as they would be typed', async () => {
    const content = await xlsx([
      ['code', 'depth', 'dyed on', 'note'],
      ['A', 0.1 + 0.2, new Date(Date.UTC(2026, 2, 9)), null],
      [null, null, null, null],
      [12, 2, null, 'x'],
    ]);
    const sheet = await readSheet(content);
    expect(sheet.columns).toEqual(['code', 'depth', 'dyed on', 'note']);
    expect(sheet.rows).toEqual([
      { line: 2, cells: ['A', '0.3', '2026-03-09', ''] },
      { line: 4, cells: ['12', '2', '', 'x'] },
    ]);
  });

  test.each([
    ['nothing', Buffer.alloc(0), /empty/],
    ['a head alone', csv('code,name\n'), /no rows/],
    ['blank lines', csv('\n \n'), /nothing in the file/],
    ['a quote never closed', csv('a,b\n"x,1\n'), /never closed/],
    ['a quote inside a cell', csv('a,b\nx "y" z,1\n'), /quotation mark/],
    ['a picture', Buffer.from([0x89, 0x50, 0x4e, 0x47, 0, 0, 0, 0, 0, 0]), /no table/],
    ['an old spreadsheet', Buffer.from([0xd0, 0xcf, 0x11, 0xe0, 1, 2, 3, 4]), /old kind/],
    ['a zip that is none', Buffer.from('PK\u0003\u0004rubbish'), /cannot be read as a spreadsheet/],
    ['too many rows', csv(`a\n${'x\n'.repeat(5001)}`), /more than 5000 rows/],
  ])('%s is refused beside the file, on the page', async (_, content, words) => {
    const studio = await freshStudio();
    const refused = await send(studio, 'dyes', content);
    expect(refused.status).toBe(422);
    expect(/id="f-file-error">([^<]*)/.exec(refused.text)?.[1]).toMatch(words);
    expect(studio.deps.sqlite.prepare('select count(*) from import_drafts').pluck().get()).toBe(0);
  });
});

describe('days', () => {
  test.each([
    ['2026-03-31', '', '2026-03-31'],
    ['2026/3/9', '', '2026-03-09'],
    ['20260331', '', '2026-03-31'],
    ['2026-03-31T14:05:00', '', '2026-03-31'],
    ['31.3.2026', '', '2026-03-31'],
    ['3.4.2026', '', '2026-04-03'],
    ['31/3/2026', '', '2026-03-31'],
    ['3/31/2026', '', '2026-03-31'],
    ['5/5/2026', '', '2026-05-05'],
    ['9 Mar 2026', '', '2026-03-09'],
    ['March 9, 2026', '', '2026-03-09'],
    ['9-Mar-26', '', '2026-03-09'],
    ['3/4/2026', 'dmy', '2026-04-03'],
    ['3/4/2026', 'mdy', '2026-03-04'],
    ['3-4-98', 'dmy', '1998-04-03'],
  ] as const)('%s (%s) is %s', (text, order, on) => {
    expect(readDay(text, order)).toEqual({ kind: 'day', on });
  });

  test('3/4/2026 alone stays open; a file that says 31/3 elsewhere has decided; one that contradicts itself has not', () => {
    expect(readDay('3/4/2026', '')).toEqual({ kind: 'twoWays' });
    expect(orderSaid(['3/4/2026', '31/3/2026'])).toBe('dmy');
    expect(orderSaid(['3/4/2026', '3/31/2026'])).toBe('mdy');
    expect(orderSaid(['31/3/2026', '3/31/2026'])).toBe('');
  });

  test.each(['31/02/2026', '2026-13-01', 'yesterday', '12', '31.3', '2026-02-30'])('%s is none', (text) => {
    expect(readDay(text, 'dmy')).toEqual({ kind: 'none' });
  });
});

describe('numbers', () => {
  test.each([
    ['1,500', 'comma', '1.500'],
    ['1.500,25', 'comma', '1500.25'],
    ['1,500', 'point', '1500'],
    ['1,500.25 g', 'point', '1500.25 g'],
    ['1,5', 'auto', '1,5'],
    ['2,5 %', 'comma', '2.5 %'],
  ] as const)('%s (%s) → %s', (text, decimal, pointed) => {
    expect(withPoint(text, decimal)).toBe(pointed);
  });
});

describe('columns are guessed', () => {
  test('by common heads, each once', () => {
    const heads = [
      'Card No.',
      'Shade',
      'Dye 1',
      'Dye 1 %',
      'Dye 2',
      'Amount 2',
      'Depth (% owg)',
      'Fibre',
      'Process',
      'Date',
      'L*',
      'a*',
      'b*',
    ];
    const at = (n: string): number => heads.indexOf(n);
    expect(guessColumns('swatches', heads)).toEqual({
      code: at('Card No.'),
      name: at('Shade'),
      dye1: at('Dye 1'),
      amount1: at('Dye 1 %'),
      dye2: at('Dye 2'),
      amount2: at('Amount 2'),
      depth: at('Depth (% owg)'),
      fibre: at('Fibre'),
      method: at('Process'),
      dyedOn: at('Date'),
      labL: at('L*'),
      labA: at('a*'),
      labB: at('b*'),
    });
  });

  test('a spectrum is found by its wavelengths', () => {
    const heads = ['name', ...Array.from({ length: 41 }, (_, i) => `R${380 + 10 * i}`)];
    expect(spectralColumns(heads)).toMatchObject({ startNm: 380, stepNm: 10 });
    expect(spectralColumns(['name', 'R400', 'R410'])).toBeNull();
    expect(spectralColumns(heads.filter((h) => h !== 'R500'))).toBeNull();
  });
});

// ───────────── the messy file ─────────────
interface Messy {
  content: Buffer;
  /** Line → what its message must say. */
  wrong: Map<number, RegExp>;
  corrected: Buffer;
  /** Lines that hold a card that is in the file or the studio already. */
  duplicateLines: number[];
}

const HEAD = ['Card', 'Shade', 'Dyes', 'Split', 'Depth', 'Cloth', 'Process', 'Dyed', 'Weight', 'Colour', 'Remarks'];

/** 500 rows as a studio’s own spreadsheet has them after fifteen years: semicolons, decimal commas, a byte order mark, quoted
 *  line ends, days in four orders, shares in five ways, masses in four units; among them the mistakes of fifteen years. */
function messyFile(): Messy {
  const shares = ['70/30', '70:30', '70 % + 30 %', '70 30', '7:3'];
  const depths = ['2 %', '2', '2,0', '2.0%', '2 % owg'];
  const days = ['2026-03-09', '9.3.2026', '9 Mar 2026', '09/03/2026', '2026/03/09'];
  const masses = ['100', '100 g', '0,1 kg', '1 lb 4 oz', '3½ oz', ''];
  const colours = ['', '#3a6b88', '52,1 -8 -14', 'LCh 52.1 16.1 240'];
  const remarks = ['', 'plain', 'two\nlines', 'she said "again"', '=1+1', ' é ü ñ ', 'a;b', "'tis"];
  const row = (i: number): string[] => [
    `M-${String(i).padStart(3, '0')}`,
    `Slate ${i}`,
    ['RB/RY', 'RB + RY', 'rb; ry', 'RB, RY'][i % 4] ?? '',
    shares[i % shares.length] ?? '',
    depths[i % depths.length] ?? '',
    i % 7 === 0 ? 'LINEN, PLAIN' : 'Linen, plain',
    'Immersion, reactive',
    days[i % days.length] ?? '',
    masses[i % masses.length] ?? '',
    colours[i % colours.length] ?? '',
    remarks[i % remarks.length] ?? '',
  ];
  const rows = Array.from({ length: 500 }, (_, i) => row(i + 1));
  const damaged = new Map<number, { change: Partial<Record<(typeof HEAD)[number], string>>; says: RegExp }>([
    [11, { change: { Dyes: 'RB/XX' }, says: /There is no dye XX/ }],
    [37, { change: { Split: '70/40' }, says: /adds to 110 %/ }],
    [52, { change: { Depth: 'two-ish' }, says: /Depth: .*two-ish/ }],
    [71, { change: { Cloth: 'Hemp, mystery' }, says: /no goods “Hemp, mystery”/ }],
    [99, { change: { Dyed: '31/02/2026' }, says: /“31\/02\/2026” is not a day/ }],
    [120, { change: { Shade: '' }, says: /A name/ }],
    [150, { change: { Dyed: '2027-01-01' }, says: /has not come yet/ }],
    [177, { change: { Split: '50/30/20' }, says: /3 shares for 2 dyes/ }],
    [203, { change: { Weight: '12 stones' }, says: /12 stones/ }],
    [240, { change: { Depth: '' }, says: /How deep/ }],
    [268, { change: { Colour: 'bluish' }, says: /Colour:/ }],
    [301, { change: { Process: 'Nobody knows' }, says: /no method “Nobody knows”/ }],
    [333, { change: { Dyes: '' }, says: /Which dyes/ }],
    [360, { change: { Dyes: 'RB/RB' }, says: /in the recipe already/ }],
    [390, { change: { Depth: '450 %' }, says: /Between 0.0001 % and 200 %/i }],
    [412, { change: { Shade: 'x'.repeat(90) }, says: /At most 80/ }],
    [450, { change: { Dyed: '' }, says: /The day it was dyed/ }],
    [499, { change: { Weight: '-5 g' }, says: /less than nothing/ }],
  ]);
  const lines = (source: readonly (readonly string[])[]): { text: string; lineOf: number[] } => {
    let line = 2;
    const lineOf: number[] = [];
    const out = source.map((cells, i) => {
      // Empty lines stand between some rows.
      const gap = i % 50 === 49 ? '\r\n' : '';
      lineOf.push(line);
      const text = cells.map((c) => (/[";\r\n]/.test(c) ? `"${c.replaceAll('"', '""')}"` : c)).join(';');
      line += 1 + (text.match(/\n/g)?.length ?? 0) + (gap ? 1 : 0);
      return `${text}\r\n${gap}`;
    });
    return { text: `\ufeff${HEAD.join(';')}\r\n${out.join('')}`, lineOf };
  };
  const broken = rows.map((cells, i) => {
    const d = damaged.get(i + 1);
    return d ? cells.map((c, k) => d.change[HEAD[k] ?? ''] ?? c) : cells;
  });
  // Two cards twice: one as an earlier row has it, one that the studio has.
  const twice = (source: string[][]): string[][] =>
    source.map((cells, i) =>
      i === 210 ? ['M-007', ...cells.slice(1)] : i === 310 ? ['K-1', ...cells.slice(1)] : cells,
    );
  const sent = lines(twice(broken));
  return {
    content: csv(sent.text),
    corrected: csv(lines(twice(rows)).text),
    wrong: new Map([...damaged].map(([n, d]) => [sent.lineOf[n - 1] ?? 0, d.says])),
    duplicateLines: [sent.lineOf[210] ?? 0, sent.lineOf[310] ?? 0],
  };
}

async function messyStudio(): Promise<TestStudio & { world: World }> {
  const studio = await freshStudio();
  const world = makeWorld(studio);
  const card = await studio.api.post('/swatches', {
    code: 'K-1',
    name: 'Kept',
    revisionId: world.revisionId,
    depthPpm: 20_000,
    fibreId: world.linenId,
    methodId: world.methodId,
    dyedOn: '2026-03-01',
  });
  expect(card.status, card.text).toBe(201);
  return { ...studio, world };
}

test('a messy file of 500 rows: every mistake is told at its own line, and nothing is saved', {
  timeout: 600_000,
}, async () => {
  const studio = await messyStudio();
  const before = everything(studio);
  const { content, wrong, duplicateLines } = messyFile();
  const { at } = await send(studio, 'swatches', content, 'our cards.csv');
  const shown = await choose(studio, at);
  expect(wrongLines(shown)).toEqual([...wrong.keys(), ...duplicateLines].sort((x, y) => x - y));
  for (const [line, says] of wrong) expect(messageAt(shown, line), `line ${line}`).toMatch(says);
  expect(messageAt(shown, duplicateLines[0] ?? 0)).toMatch(/line 9 has “M-007” too/);
  expect(messageAt(shown, duplicateLines[1] ?? 0)).toMatch(/“K-1” is there already/);
  expect(shown).not.toContain('/acceptance');
  // Asked for all the same, it is refused as a whole.
  const forced = await accept(studio, at);
  expect(forced.status).toBe(422);
  expect(forced.text).toContain('nothing was imported');
  expect(everything(studio)).toEqual(before);
});

test('corrected it comes as a whole, each way of writing meaning the same, and leaves as a whole', {
  timeout: 600_000,
}, async () => {
  const studio = await messyStudio();
  const before = everything(studio);
  const { corrected } = messyFile();
  const { at } = await send(studio, 'swatches', corrected, 'our cards.csv');
  // No row of the corrected file says any more whether 09/03 is in March or in September.
  expect(messageAt(await choose(studio, at), 5)).toContain('“09/03/2026” can be read two ways');
  const shown = await choose(studio, at, { duplicates: 'rename', dates: 'dmy' });
  expect(wrongLines(shown)).toEqual([]);
  expect(shown).toContain('Import 500 rows');
  const done = await accept(studio, at);
  expect(done.status, done.text).toBe(303);

  const { sqlite } = studio.deps;
  const rows = sqlite
    .prepare(
      `select s.code, s.dyed_on, s.depth_ppm, s.dry_mass_mg, s.note, (select group_concat(d.code || c.share_ppm, ' ' order by c.ordinal)
        from recipe_components c join dyes d on d.id = c.dye_id where c.revision_id = s.revision_id) as formula
      from swatches s join import_rows r on r.thing = 'swatch' and r.thing_id = s.id order by s.id`,
    )
    .all() as {
    code: string;
    dyed_on: string;
    depth_ppm: number;
    dry_mass_mg: number | null;
    note: string;
    formula: string;
  }[];
  expect(rows).toHaveLength(500);
  expect(new Set(rows.map((r) => r.formula))).toEqual(new Set(['RB700000 RY300000']));
  expect(new Set(rows.map((r) => r.depth_ppm))).toEqual(new Set([20_000]));
  expect(new Set(rows.map((r) => r.dyed_on))).toEqual(new Set(['2026-03-09']));
  // 1 lb 4 oz = 20 × 28.349523125 g; 3½ oz likewise (avoirdupois, exact by definition: NIST SP 811).
  expect(new Set(rows.map((r) => r.dry_mass_mg))).toEqual(new Set([100_000, 566_990, 99_223, null]));
  expect(rows.map((r) => r.note)).toContain('two\nlines');
  expect(rows.map((r) => r.note)).toContain('she said "again"');
  expect(rows[210]?.code).toBe('M-007-2');
  expect(rows[310]?.code).toBe('K-1-2');
  // One formula at one depth is one recipe with one revision, however often it was dyed.
  expect(sqlite.prepare("select count(*) from import_rows where thing = 'revision'").pluck().get()).toBe(1);
  const wall = (await studio.page.get('/swatches?words=M-007')).text;
  expect(wall).toContain('M-007-2');

  const undone = await studio.page.post(`${done.at}/undoing`);
  expect(undone.status, undone.text).toBe(303);
  expect(everything(studio)).toEqual(before);
  expect((await studio.page.get(done.at)).text).toContain('What it had brought is gone');
  expect((await studio.page.post(`${done.at}/undoing`)).status).toBe(409);
});

test('while a long file is tried others are answered, and what they write is not part of it', {
  timeout: 600_000,
}, async () => {
  const studio = await messyStudio();
  const { at } = await send(studio, 'swatches', messyFile().corrected);
  const order: string[] = [];
  const tried = studio.page.get(at).then(() => order.push('tried'));
  await new Promise((resolve) => setImmediate(resolve));
  for (const name of ['one', 'two', 'three']) {
    expect((await studio.api.post('/customers', { name })).status).toBe(201);
    order.push(name);
  }
  await tried;
  expect(order).toEqual(['one', 'two', 'three', 'tried']);
  expect((await studio.api.get('/customers')).body.customers).toHaveLength(3);
  expect((await studio.api.get('/swatches')).body.swatches).toHaveLength(1);
});

test('cards without a number get the next free ones, whatever numbers the file has', async () => {
  const studio = await freshStudio();
  makeWorld(studio);
  const card = (code: string | null) => ({
    code,
    name: 'x',
    components: [{ dyeCode: 'RB', depthPpm: 20_000 }],
    fibre: 'Linen, plain',
    method: 'Immersion, reactive',
    dyedOn: '2026-03-09',
  });
  const codes = ['S-0007', null, 'S-0012', null, 'X-1', null];
  const answer = await studio.api.post('/imports/swatches', { swatches: codes.map(card) });
  expect(answer.body.swatches.map((s: { code: string }) => s.code)).toEqual([
    'S-0007',
    'S-0008',
    'S-0012',
    'S-0013',
    'X-1',
    'S-0014',
  ]);
});

test('duplicates are asked about, and may be left out', { timeout: 600_000 }, async () => {
  const studio = await messyStudio();
  const { at } = await send(studio, 'swatches', messyFile().corrected);
  const shown = await choose(studio, at, { duplicates: 'skip', dates: 'dmy' });
  expect(shown).toContain('Import 498 rows');
  expect((await accept(studio, at)).status).toBe(303);
  expect(studio.deps.sqlite.prepare('select count(*) from swatches').pluck().get()).toBe(499);
});

describe('swatches', () => {
  const base = 'name,dyes,shares,depth,fibre,method,date';
  async function shownFor(
    studio: TestStudio,
    text: string,
    choices: Record<string, string> = {},
  ): Promise<{ at: string; html: string }> {
    const { at, status, text: body } = await send(studio, 'swatches', csv(text));
    expect(status, body).toBe(303);
    return { at, html: await choose(studio, at, choices) };
  }
  async function importedFrom(studio: TestStudio, text: string, choices: Record<string, string> = {}) {
    const { at, html } = await shownFor(studio, text, choices);
    expect(
      wrongLines(html),
      html
        .replace(/<[^>]*>/g, ' ')
        .replace(/\s+/g, ' ')
        .slice(-1500),
    ).toEqual([]);
    const done = await accept(studio, at);
    expect(done.status).toBe(303);
    const ids = studio.deps.sqlite
      .prepare("select thing_id from import_rows where thing = 'swatch' and import_id = ? order by line")
      .pluck()
      .all(Number(done.at.split('/').at(-1))) as number[];
    const swatches = [];
    for (const id of ids) swatches.push((await studio.api.get(`/swatches/${id}`)).body);
    return { at: done.at, swatches };
  }

  test('formulas in one cell, in columns a dye, as shares, as own depths, as masses on the goods', async () => {
    const studio = await freshStudio();
    makeWorld(studio);
    const head = 'name,formula,dye 1,amount 1,dye 2,amount 2,depth,weight,fibre,method,date';
    const tail = '"Linen, plain","Immersion, reactive",2026-03-09';
    const { swatches } = await importedFrom(
      studio,
      [
        head,
        `shares in a cell,"RB 70 %, RY 30 %",,,,,2,,${tail}`,
        `amount first,70% RB + 30% RY,,,,,2,,${tail}`,
        `own depths in a cell,RB 1.4 % + RY 0.6 %,,,,,,,${tail}`,
        `shares in columns,,RB,70,RY,30,2 %,,${tail}`,
        `own depths in columns,,RB,1.4,RY,0.6,,,${tail}`,
        `own depths beside the depth,,RB,1.4,RY,0.6,2,,${tail}`,
        `masses,,RB,1.4 g,RY,600 mg,,100 g,${tail}`,
        `a zero for a dye not used,,RB,2,RY,0,,,${tail}`,
        `one dye,RB,,,,,2,,${tail}`,
      ].join('\n'),
    );
    const formulas = swatches.map((s) => [
      s.depthPpm,
      ...s.components.map((c: { code: string; sharePpm: number }) => `${c.code} ${c.sharePpm}`),
    ]);
    const both = [20_000, 'RB 700000', 'RY 300000'];
    expect(formulas).toEqual([
      ...Array.from({ length: 7 }, () => both),
      [20_000, 'RB 1000000'],
      [20_000, 'RB 1000000'],
    ]);
  });

  test('a ladder of depths is one recipe; another formula under its name a revision', async () => {
    const studio = await freshStudio();
    makeWorld(studio);
    const tail = '"Linen, plain","Immersion, reactive",2026-03-09';
    const { swatches } = await importedFrom(
      studio,
      [
        `recipe,${base}`,
        ...[0.5, 1, 2].map((d) => `Slate,Slate ${d},RB/RY,70/30,${d},${tail}`),
        `Slate,Slate warm,RB/RY,60/40,1,${tail}`,
      ].join('\n'),
    );
    expect(swatches.map((s) => [s.recipeName, s.revisionNumber, s.depthPpm])).toEqual([
      ['Slate', 1, 5_000],
      ['Slate', 1, 10_000],
      ['Slate', 1, 20_000],
      ['Slate', 2, 10_000],
    ]);
    expect(new Set(swatches.slice(0, 3).map((s) => s.revisionId)).size).toBe(1);
  });

  test('days that can be read two ways are asked about', async () => {
    const studio = await freshStudio();
    makeWorld(studio);
    const text = `${base}\nA,RB,,2,"Linen, plain","Immersion, reactive",3/2/2026\n`;
    const { at, html } = await shownFor(studio, text);
    expect(messageAt(html, 2)).toContain('can be read two ways');
    expect(wrongLines(await choose(studio, at, { dates: 'dmy' }))).toEqual([]);
    await accept(studio, at);
    expect(studio.deps.sqlite.prepare('select dyed_on from swatches').pluck().get()).toBe('2026-02-03');
  });

  test('numbers that can be read two ways are asked about', async () => {
    const studio = await freshStudio();
    makeWorld(studio);
    const head = `${base};weight`.replaceAll(',', ';');
    const text = `${head}\nA;RB;;2;Linen, plain;Immersion, reactive;2026-03-09;1,500\n`;
    const { at, html } = await shownFor(studio, text);
    expect(messageAt(html, 2)).toContain('can be read two ways');
    for (const [decimal, massMg] of [
      ['comma', 1_500],
      ['point', 1_500_000],
    ] as const) {
      expect(wrongLines(await choose(studio, at, { decimal }))).toEqual([]);
      expect(massMg).toBeGreaterThan(0);
    }
    await accept(studio, at);
    expect(studio.deps.sqlite.prepare('select dry_mass_mg from swatches').pluck().get()).toBe(1_500_000);
  });

  test('a unit in the head belongs to bare numbers below it', async () => {
    const studio = await freshStudio();
    makeWorld(studio);
    const { swatches } = await importedFrom(
      studio,
      `${base},weight (oz)\nA,RB,,2,"Linen, plain","Immersion, reactive",2026-03-09,10\nB,RB,,2,"Linen, plain","Immersion, reactive",2026-03-09,10 g\n`,
    );
    // 10 oz avoirdupois = 283.49523125 g (NIST SP 811)
    expect(swatches.map((s) => s.dryMassMg)).toEqual([283_495, 10_000]);
  });

  test('goods and methods that are missing are added when one says so, and leave with the import', async () => {
    const studio = await freshStudio();
    makeWorld(studio);
    const before = everything(studio);
    const text = `${base},fibre class\nA,RB,,2,Hemp cloth,Padding,2026-03-09,hemp\nB,RB,,2,Hemp cloth,Padding,2026-03-09,\nC,RB,,2,Net,Padding,2026-03-09,\n`;
    const { at, html } = await shownFor(studio, text);
    expect(wrongLines(html)).toEqual([2, 3, 4]);
    const created = await choose(studio, at, { missing: 'create' });
    expect(messageAt(created, 4)).toContain('of which fibre class');
    expect(wrongLines(await choose(studio, at, { missing: 'create', newFibreClass: 'polyamide' }))).toEqual([]);
    const done = await accept(studio, at);
    expect(
      studio.deps.sqlite
        .prepare("select name, class from fibres where name in ('Hemp cloth', 'Net') order by name")
        .all(),
    ).toEqual([
      { name: 'Hemp cloth', class: 'cellulose' },
      { name: 'Net', class: 'polyamide' },
    ]);
    expect((await studio.page.post(`${done.at}/undoing`)).status).toBe(303);
    expect(everything(studio)).toEqual(before);
  });

  test('columns of a spectrum are kept with the swatch and give its colour', async () => {
    const studio = await freshStudio();
    makeWorld(studio);
    const nm = Array.from({ length: 41 }, (_, i) => 380 + 10 * i);
    const { swatches } = await importedFrom(
      studio,
      [
        `${base},${nm.map((n) => `R${n}`).join(',')}`,
        `half grey,RB,,2,"Linen, plain","Immersion, reactive",2026-03-09,${nm.map(() => '50').join(',')}`,
        `no curve,RB,,2,"Linen, plain","Immersion, reactive",2026-03-09,${nm.map(() => '').join(',')}`,
      ].join('\n'),
    );
    const { sqlite } = studio.deps;
    expect(sqlite.prepare('select swatch_id, start_nm, step_nm, reflectance from swatch_spectra').all()).toEqual([
      { swatch_id: swatches[0].swatchId, start_nm: 380, step_nm: 10, reflectance: JSON.stringify(nm.map(() => 0.5)) },
    ]);
    // A flat half of all light: L* = 116·(0.5)^⅓ − 16 = 76.0693 by the definition of CIELAB (CIE 15), a* = b* = 0.
    const [reading] = swatches[0].readings;
    expect([reading.source, reading.illuminant, reading.observer]).toEqual(['instrument', 'D65', '10']);
    expect(reading.l).toBeCloseTo(76.0693, 3);
    expect(Math.abs(reading.a) + Math.abs(reading.b)).toBeLessThan(1e-6);
    expect(swatches[1].readings).toEqual([]);
  });

  test('a curve with a hole is told by its wavelength', async () => {
    const studio = await freshStudio();
    makeWorld(studio);
    const nm = Array.from({ length: 31 }, (_, i) => 400 + 10 * i);
    const { html } = await shownFor(
      studio,
      `${base},${nm.join(',')}\nA,RB,,2,"Linen, plain","Immersion, reactive",2026-03-09,${nm.map((n) => (n === 550 ? '' : '0.4')).join(',')}\n`,
    );
    expect(messageAt(html, 2)).toContain('550 nm');
  });
});

describe('goods before dyeing come with a library', () => {
  const nm = Array.from({ length: 31 }, (_, i) => 400 + 10 * i);
  const flat = (r: number) => ({ startNm: 400, stepNm: 10 as const, reflectance: nm.map(() => r) });
  const goods = { fibre: 'Linen, plain', method: 'Immersion, reactive', dyedOn: '2026-03-09' };
  const lab = { l: 90, a: 1, b: 6, illuminant: 'D65', observer: '10' };
  const dyed = { name: 'x', components: [{ dyeCode: 'RB', depthPpm: 20_000 }], ...goods };
  const undyed = { name: 'undyed', components: [], fibre: goods.fibre };

  test('by the API: without dyes, their samples’ mean, and leave with it unless somebody read them since', async () => {
    const studio = await freshStudio();
    const { linenId } = makeWorld(studio);
    const before = everything(studio);
    const answer = await studio.api.post('/imports/swatches', {
      swatches: [
        { ...undyed, lab, spectrum: flat(0.75) },
        dyed,
        { ...undyed, depthPpm: 0, lab: { ...lab, l: 92, a: 0, b: 5 }, spectrum: flat(0.85) },
      ],
    });
    expect(answer.status, answer.text).toBe(201);
    expect([answer.body.rowCount, answer.body.swatches.length, answer.body.undyedFibreIds]).toEqual([3, 1, [linenId]]);
    const kept = (await studio.api.get(`/fibres/${linenId}/undyed`)).body;
    expect(kept).toMatchObject({ l: 91, a: 0.5, b: 5.5, illuminant: 'D65', observer: '10', readAt: MONDAY });
    expect(kept.spectrum.reflectance.map((r: number) => Number(r.toFixed(9)))).toEqual(nm.map(() => 0.8));
    expect((await studio.page.get(`/imports/${answer.body.importId}`)).text).toContain('Goods before dyeing');

    // What is there already is no new reading.
    const again = { swatches: [{ ...undyed, lab: { ...lab, l: 50 } }] };
    const refused = await studio.api.post('/imports/swatches', again);
    expect([refused.status, Object.keys(refused.body.fields)]).toEqual([422, ['swatches.0.fibre']]);
    const skipped = await studio.api.post('/imports/swatches', { ...again, duplicates: 'skip' });
    expect([skipped.status, skipped.body.skipped, skipped.body.undyedFibreIds]).toEqual([201, 1, []]);
    expect((await studio.api.get(`/fibres/${linenId}/undyed`)).body).toEqual(kept);

    expect((await studio.api.post(`/imports/${answer.body.importId}/undoing`)).status).toBe(200);
    expect(everything(studio)).toEqual(before);

    const second = await studio.api.post('/imports/swatches', { swatches: [{ ...undyed, lab }] });
    await studio.api.put(`/fibres/${linenId}/undyed`, { ...lab, l: 88 }).expect(200);
    expect((await studio.api.post(`/imports/${second.body.importId}/undoing`)).status).toBe(200);
    expect((await studio.api.get(`/fibres/${linenId}/undyed`)).body).toMatchObject({ l: 88, spectrum: null });
  });

  test('by a file: a depth of nothing, amounts of nothing, or “undyed” for a formula', async () => {
    for (const text of [
      'name,dye 1,amount 1,depth,fibre,method,date,L*,a*,b*\nd,RB,2,2,"Linen, plain","Immersion, reactive",2026-03-09,40,0,-20\nblank,,,0 %,"Linen, plain",,,90,1,6\n',
      'name,dye 1,amount 1,dye 2,amount 2,fibre,method,date,L*,a*,b*\nblank,RB,0,RY,"0,00","Linen, plain",,,90,1,6\n',
      'name,formula,depth,fibre,method,date,L*,a*,b*\nblank,Undyed,,"Linen, plain",,,90,1,6\n',
    ]) {
      const studio = await freshStudio();
      const { linenId } = makeWorld(studio);
      const { at } = await send(studio, 'swatches', csv(text));
      const shown = await choose(studio, at);
      expect(wrongLines(shown), shown).toEqual([]);
      expect((await accept(studio, at)).status).toBe(303);
      expect((await studio.api.get(`/fibres/${linenId}/undyed`)).body).toMatchObject(lab);
    }
  });

  test.each([
    ['without a colour', { ...undyed }, 'colour'],
    ['with a depth but no dyes', { ...undyed, lab, depthPpm: 10_000 }, 'components'],
    ['dyed, without a method', { ...dyed, method: null }, 'method'],
    ['dyed at nothing', { ...dyed, depthPpm: 0 }, 'depthPpm'],
  ])('a sample %s is refused', async (_, swatch, field) => {
    const studio = await freshStudio();
    makeWorld(studio);
    const answer = await studio.api.post('/imports/swatches', { swatches: [swatch] });
    expect([answer.status, Object.keys(answer.body.fields)]).toEqual([422, [`swatches.0.${field}`]]);
  });

  test('read under different lights, or at different wavelengths, they have no mean', async () => {
    const studio = await freshStudio();
    makeWorld(studio);
    const both = async (one: object, other: object) =>
      (
        await studio.api.post('/imports/swatches', {
          swatches: [
            { ...undyed, ...one },
            { ...undyed, ...other },
          ],
        })
      ).body.fields;
    expect(Object.keys(await both({ lab }, { lab: { ...lab, illuminant: 'A' } }))).toEqual(['swatches.1.colour']);
    expect(
      Object.keys(
        await both(
          { spectrum: flat(0.8) },
          { spectrum: { startNm: 400, stepNm: 20, reflectance: nm.slice(0, 16).map(() => 0.8) } },
        ),
      ),
    ).toEqual(['swatches.1.spectrum']);
  });
});

describe('the other kinds', () => {
  test.each([
    [
      'customers',
      'Customer,Email,Remarks\nCafé Foz,foz@example.org,"pays\nlate"\n=cmd|calc,,\n',
      'select name, contact, note from customers order by id',
      [
        { name: 'Café Foz', contact: 'foz@example.org', note: 'pays\nlate' },
        { name: '=cmd|calc', contact: '', note: '' },
      ],
    ],
    [
      'fibres',
      'Name;Fibre type;Weight per area;Width;Regain;Cost per kg\nHemp canvas;hemp;"5,6 oz/yd²";60 in;12;18,50\nKid mohair;wool;;;;\n',
      'select name, class, kind, areal_mass_mg_per_m2 as a, width_mm as w, regain_ppm as r, cost_minor_per_kg as c from fibres order by id',
      [
        // 5.6 oz/yd² × 33.90575 g/m² (NIST SP 811, Appendix B); 60 in = 1524 mm
        { name: 'Hemp canvas', class: 'cellulose', kind: 'cloth', a: 189_872, w: 1524, r: 120_000, c: 1850 },
        { name: 'Kid mohair', class: 'protein', kind: 'cloth', a: null, w: null, r: null, c: null },
      ],
    ],
    [
      'dyes',
      'Code,Name,Type,C.I.,Pale,Deep\nB4,Navy,Fibre reactive,Reactive Blue 222,0.5 %,4\nZ,Shop green,acid,,,\n',
      'select code, name, class, ci_name as ci, pale_ppm as pale, deep_ppm as deep from dyes order by id',
      [
        { code: 'B4', name: 'Navy', class: 'reactive', ci: 'Reactive Blue 222', pale: 5_000, deep: 40_000 },
        { code: 'Z', name: 'Shop green', class: 'acid', ci: '', pale: null, deep: null },
      ],
    ],
    [
      'auxiliaries',
      'Code,Chemical,State,Grade,Bulk density\nSODA,Soda ash,powder,dense,1000\nACET,Acetic acid,liquid,,\n',
      'select code, name, form, grade, bulk_density_g_per_l as b from auxiliaries order by id',
      [
        { code: 'SODA', name: 'Soda ash', form: 'solid', grade: 'dense', b: 1000 },
        { code: 'ACET', name: 'Acetic acid', form: 'liquid', grade: '', b: null },
      ],
    ],
  ])('%s', async (kind, text, query, expected) => {
    const studio = await freshStudio();
    const before = everything(studio);
    const { at } = await send(studio, kind, csv(text));
    const shown = await choose(studio, at);
    expect(wrongLines(shown), shown.replace(/<[^>]*>/g, ' ').slice(-2000)).toEqual([]);
    const done = await accept(studio, at);
    expect(done.status, done.text).toBe(303);
    expect(studio.deps.sqlite.prepare(query).all()).toEqual(expected);
    expect((await studio.page.post(`${done.at}/undoing`)).status).toBe(303);
    expect(everything(studio)).toEqual(before);
  });

  test('stock: by code of dye or auxiliary or name of goods, with what is left; undone with its ledger', async () => {
    const studio = await freshStudio();
    makeWorld(studio);
    const before = everything(studio);
    const text = [
      'Item;Jar;Quantity;Price;Date;Left',
      'rb;J-1;"1 lb 4 oz";25,00;9.1.2026;200 g',
      'SODA;;5 kg;15;2026-02-01;',
      'Linen, plain;ROLL-1;12 kg;260;2026-02-01;12 kg',
    ].join('\n');
    const { at } = await send(studio, 'stock', csv(text));
    const shown = await choose(studio, at);
    expect(wrongLines(shown), shown.replace(/<[^>]*>/g, ' ').slice(-2000)).toEqual([]);
    const done = await accept(studio, at);
    expect(
      studio.deps.sqlite
        .prepare(
          "select code, kind, received_quantity as got, price_minor as price, received_on as on_, (select sum(quantity) from stock_ledger l where l.stock_lot_id = s.id) as left_ from stock_lots s where id in (select thing_id from import_rows where thing = 'stockLot') order by id",
        )
        .all(),
    ).toEqual([
      { code: 'J-1', kind: 'dye', got: 566_990, price: 2500, on_: '2026-01-09', left_: 200_000 },
      { code: 'SODA-1', kind: 'auxiliary', got: 5_000_000, price: 1500, on_: '2026-02-01', left_: 5_000_000 },
      { code: 'ROLL-1', kind: 'fibre', got: 12_000_000, price: 26_000, on_: '2026-02-01', left_: 12_000_000 },
    ]);
    expect((await studio.page.post(`${done.at}/undoing`)).status).toBe(303);
    expect(everything(studio)).toEqual(before);
  });

  test('a required column that is not there is asked for before any row is judged', async () => {
    const studio = await freshStudio();
    const { at } = await send(studio, 'dyes', csv('a,b\n1,2\n'));
    const shown = (await studio.page.get(at)).text;
    expect(shown).toContain('Say above which column is: Code, Name, Dye class');
    expect(shown).not.toContain('/acceptance');
    expect((await accept(studio, at)).status).toBe(422);
  });

  test('columns named otherwise are chosen by hand', async () => {
    const studio = await freshStudio();
    const { at } = await send(studio, 'dyes', csv('kürzel,farbe,sorte\nB4,Marine,acid\n'));
    expect(
      wrongLines(await choose(studio, at, { 'column.code': '0', 'column.name': '1', 'column.class': '2' })),
    ).toEqual([]);
    expect((await accept(studio, at)).status).toBe(303);
  });

  test('hostile names are shown as text, on the draft and on what came', async () => {
    const studio = await freshStudio();
    const evil = '<img src=x onerror=alert(1)>';
    const { at } = await send(studio, 'customers', csv(`name,"${evil}"\n"${evil}",1\n`), `${evil}.csv`);
    expect((await studio.page.get(at)).text).not.toContain(evil);
    const done = await accept(studio, at);
    expect((await studio.page.get(done.at)).text).not.toContain(evil);
    expect((await studio.page.get('/imports')).text).not.toContain(evil);
  });

  test('a spreadsheet imports as its text would', async () => {
    const studio = await freshStudio();
    const content = await xlsx([
      ['Code', 'Name', 'Type', 'Pale'],
      ['B4', 'Navy', 'reactive', 0.5],
      [7, 'Seven', 'acid', null],
    ]);
    const { at } = await send(studio, 'dyes', content, 'dyes.xlsx');
    expect(wrongLines(await choose(studio, at))).toEqual([]);
    await accept(studio, at);
    expect(studio.deps.sqlite.prepare('select code, pale_ppm as pale from dyes order by id').all()).toEqual([
      { code: 'B4', pale: 5000 },
      { code: '7', pale: null },
    ]);
  });
});

describe('taking an import back is refused', () => {
  async function importedCards(): Promise<TestStudio & { world: World; at: string; swatchId: number }> {
    const studio = await freshStudio();
    const world = makeWorld(studio);
    const text =
      'code,name,dyes,shares,depth,fibre,method,date\nM-1,A,RB/RY,70/30,2,"Linen, plain","Immersion, reactive",2026-03-09\nM-2,B,RB/RY,70/30,1,"Linen, plain","Immersion, reactive",2026-03-09\n';
    const { at } = await send(studio, 'swatches', csv(text));
    const done = await accept(studio, at);
    const swatchId = studio.deps.sqlite.prepare("select id from swatches where code = 'M-1'").pluck().get() as number;
    return { ...studio, world, at: done.at, swatchId };
  }
  const refusal = async (studio: TestStudio, at: string): Promise<string> => {
    const before = everything(studio);
    const answer = await studio.page.post(`${at}/undoing`);
    expect(answer.status).toBe(409);
    expect(everything(studio)).toEqual(before);
    return answer.text.replace(/<[^>]*>/g, '');
  };

  test('when a lot was planned from one of its swatches', async () => {
    const studio = await importedCards();
    const { revisionId, depthPpm } = (await studio.api.get(`/swatches/${studio.swatchId}`)).body;
    const lot = await studio.api.post('/lots', {
      fibreId: studio.world.linenId,
      methodId: studio.world.methodId,
      goodsText: 'napkins',
      mass: { found: 'weighedDry', massMg: 500_000 },
      colours: [{ revisionId, swatchId: studio.swatchId, depthPpm }],
    });
    expect(lot.status, lot.text).toBe(201);
    expect(await refusal(studio, studio.at)).toMatch(/M-1 A \(a lot\)/);
  });

  test('when a swatch was edited, or read again', async () => {
    const edited = await importedCards();
    const swatch = (await edited.api.get(`/swatches/${edited.swatchId}`)).body;
    const { name, cardPlace, rating, photoId, version } = swatch;
    expect(
      (
        await edited.api.put(`/swatches/${edited.swatchId}`, {
          name,
          cardPlace,
          rating,
          photoId,
          version,
          note: 'mine',
        })
      ).status,
    ).toBe(200);
    expect(await refusal(edited, edited.at)).toMatch(/Changed since they came.*M-1 A/);

    const read = await importedCards();
    read.clock.now += 60_000;
    const reading = await read.page.post(`/swatches/${read.swatchId}/readings`, { 'colour.0': '#3a6b88' });
    expect(reading.status, reading.text).toBe(303);
    expect(await refusal(read, read.at)).toContain('M-1 A');
  });

  test('when what it brought is used by a later import; and accepted once that is taken back', async () => {
    const studio = await freshStudio();
    const dyes = await send(studio, 'dyes', csv('code,name,class\nB4,Navy,reactive\n'));
    const first = await accept(studio, dyes.at);
    const stock = await send(studio, 'stock', csv('item,quantity,price,received on\nB4,100 g,10,2026-03-01\n'));
    const second = await accept(studio, stock.at);
    expect(second.status, second.text).toBe(303);
    expect(await refusal(studio, first.at)).toMatch(/B4 Navy \(a container\)/);
    expect((await studio.page.post(`${second.at}/undoing`)).status).toBe(303);
    expect((await studio.page.post(`${first.at}/undoing`)).status).toBe(303);
  });

  test('when powder was taken from an imported jar', async () => {
    const studio = await freshStudio();
    makeWorld(studio);
    const stock = await send(
      studio,
      'stock',
      csv('item,container,quantity,price,received on,on hand\nRB,J-1,100 g,10,2026-03-01,80 g\n'),
    );
    const done = await accept(studio, stock.at);
    const id = studio.deps.sqlite.prepare("select id from stock_lots where code = 'J-1'").pluck().get() as number;
    const waste = await studio.api.post(`/stock-lots/${id}/wastes`, { quantity: 1000, reason: 'spilt' });
    expect(waste.status, waste.text).toBeLessThan(300);
    expect(await refusal(studio, done.at)).toContain('J-1');
  });
});

describe('who may', () => {
  test('a dyer imports; a viewer does not', async () => {
    const studio = await freshStudio();
    for (const [role, status] of [
      ['dyer', 200],
      ['viewer', 403],
      ['bench', 403],
    ] as const) {
      const person = insertPerson(studio.deps.db, {
        name: role,
        role,
        passphraseHash: null,
        labourRateMinorPerHour: null,
        active: 1,
        createdAt: MONDAY,
      });
      const cookie = `studio=${openSignIn(studio.deps, person.id, 'test')}`;
      expect((await studio.app.inject({ url: '/imports', headers: { cookie } })).statusCode).toBe(status);
      expect(
        (await studio.app.inject({ url: '/settings/export/everything.zip', headers: { cookie } })).statusCode,
      ).toBe(403);
    }
  });

  test('a file that nobody came back to is dropped after two days', async () => {
    const studio = await freshStudio();
    const { at } = await send(studio, 'dyes', csv('code,name,class\nB4,Navy,reactive\n'));
    studio.clock.now += 2 * 86_400_000 + 1;
    await send(studio, 'dyes', csv('code,name,class\nB5,Navy,reactive\n'));
    expect((await studio.page.get(at)).status).toBe(404);
  });
});

describe('swatches by the API', () => {
  const goods = { fibre: 'Linen, plain', method: 'Immersion, reactive', dyedOn: '2026-03-09' };

  test('shares, depths and bare quantities, colours and curves, all in one call', async () => {
    const studio = await freshStudio();
    makeWorld(studio);
    const reflectance = Array.from({ length: 31 }, () => 0.5);
    const answer = await studio.api.post('/imports/swatches', {
      name: 'library of 2024',
      swatches: [
        {
          code: 'A-1',
          name: 'shares',
          depthPpm: 20_000,
          components: [
            { dyeCode: 'RB', sharePpm: 700_000 },
            { dyeCode: 'RY', sharePpm: 300_000 },
          ],
          lab: { l: 50, a: -10, b: -12, illuminant: 'D65', observer: '10' },
          ...goods,
        },
        {
          code: 'A-2',
          name: 'depths',
          components: [
            { dyeCode: 'RB', depthPpm: 14_000 },
            { dyeCode: 'RY', depthPpm: 6_000 },
          ],
          spectrum: { startNm: 400, stepNm: 10, reflectance },
          ...goods,
        },
        {
          name: 'a quantity counts as a depth',
          components: [
            { dyeCode: 'rb', quantity: 1.4 },
            { dyeCode: 'RY', quantity: 0.6 },
          ],
          hex: '#3A6B88',
          ...goods,
        },
      ],
    });
    expect(answer.status, answer.text).toBe(201);
    expect(answer.body).toMatchObject({ kind: 'swatches', fileName: 'library of 2024', rowCount: 3, skipped: 0 });
    const swatches = [];
    for (const { swatchId } of answer.body.swatches)
      swatches.push((await studio.api.get(`/swatches/${swatchId}`)).body);
    for (const s of swatches) {
      expect(s.depthPpm).toBe(20_000);
      expect(s.components.map((c: { code: string; sharePpm: number }) => [c.code, c.sharePpm])).toEqual([
        ['RB', 700_000],
        ['RY', 300_000],
      ]);
      expect(s.readings).toHaveLength(1);
    }
    expect(swatches.map((s) => s.code)).toEqual(['A-1', 'A-2', 'S-0001']);
    expect(new Set(swatches.map((s) => s.revisionId)).size).toBe(1);
    expect(swatches[2].readings[0]).toMatchObject({ source: 'typed', asTyped: '#3a6b88' });
    expect(studio.deps.sqlite.prepare('select count(*) from swatch_spectra').pluck().get()).toBe(1);

    const undone = await studio.api.post(`/imports/${answer.body.importId}/undoing`);
    expect([undone.status, undone.body.undoneAt]).toEqual([200, MONDAY]);
    expect((await studio.api.get('/imports')).body.imports).toHaveLength(1);
  });

  test('one that cannot be read refuses all, named by its place', async () => {
    const studio = await freshStudio();
    makeWorld(studio);
    const before = everything(studio);
    const one = { name: 'x', components: [{ dyeCode: 'RB', depthPpm: 20_000 }], ...goods };
    const answer = await studio.api.post('/imports/swatches', {
      swatches: [
        one,
        { ...one, components: [{ dyeCode: 'XX', depthPpm: 1 }] },
        { ...one, fibre: 'Nothing' },
        { ...one, components: [{ dyeCode: 'RB', sharePpm: 1_000_000 }] },
      ],
    });
    expect([answer.status, answer.body.code]).toEqual([422, 'invalidInput']);
    expect(answer.body.fields['swatches.1.formula']).toContain('XX');
    expect(answer.body.fields['swatches.2.fibre']).toContain('Nothing');
    expect(answer.body.fields['swatches.3.depthPpm']).toContain('total depth');
    expect(everything(studio)).toEqual(before);
  });

  test('sent again it is refused as duplicates, or skipped when asked to', async () => {
    const studio = await freshStudio();
    makeWorld(studio);
    const body = {
      swatches: [{ code: 'A-1', name: 'x', components: [{ dyeCode: 'RB', depthPpm: 20_000 }], ...goods }],
    };
    expect((await studio.api.post('/imports/swatches', body)).status).toBe(201);
    expect((await studio.api.post('/imports/swatches', body)).status).toBe(422);
    const skipped = await studio.api.post('/imports/swatches', { ...body, duplicates: 'skip' });
    expect([skipped.status, skipped.body.rowCount, skipped.body.skipped]).toEqual([201, 0, 1]);
  });

  test('a library for goods that are not there yet brings them along', async () => {
    const studio = await freshStudio();
    makeWorld(studio);
    const answer = await studio.api.post('/imports/swatches', {
      createMissing: true,
      newFibreClass: 'cellulose',
      swatches: [{ name: 'x', components: [{ dyeCode: 'RB', quantity: 2 }], fibre: 'Tencel', method: 'Exhaust' }],
    });
    expect(answer.status, answer.text).toBe(201);
    const swatch = (await studio.api.get(`/swatches/${answer.body.swatches[0].swatchId}`)).body;
    expect([swatch.fibreName, swatch.methodName, swatch.dyedOn]).toEqual(['Tencel', 'Exhaust', '2026-03-16']);
  });
});

/** A spreadsheet file of these cells. */
async function xlsx(rows: (string | number | Date | null)[][]): Promise<Buffer> {
  const made = writeXlsxFile(
    rows.map((row) =>
      row.map((value) =>
        value === null ? null : value instanceof Date ? { value, type: Date, format: 'yyyy-mm-dd' } : { value },
      ),
    ) as never,
  ) as unknown as { toBuffer?: () => Promise<Buffer> } & Promise<unknown>;
  if (made.toBuffer) return made.toBuffer();
  throw new Error('write-excel-file has no toBuffer');
}
