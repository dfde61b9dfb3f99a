import { describe, expect, test } from 'vitest';
import { Refusal } from '../../server/errors.ts';
import { guessColumns } from '../../server/imports/fields.ts';
import { importFile, missingColumns, tryFile } from '../../server/imports/fileImport.ts';
import { type RowToWrite, tryImport } from '../../server/imports/runImport.ts';
import { Choices, type ChoicesInput, type ImportKind, SwatchImportBody } from '../../server/imports/schemas.ts';
import { readSheet } from '../../server/imports/sheet.ts';
import { swatchLineOfBody } from '../../server/imports/swatchLine.ts';
import { undoImport } from '../../server/imports/undoImport.ts';
import { insertPerson } from '../../server/people/queries.ts';
import { EMPTY_CARD } from '../../server/swatches/schemas.ts';
import { found, freshDeps, freshStudio, MONDAY } from '../support/app.ts';
import { refused } from '../support/refused.ts';
import { makeWorld } from '../support/world.ts';

/* What a studio would lose if one small thing went wrong while its old tables come over: a card under another dye, a jar that
 * holds what was used up years ago, an import that leaves something behind when it is taken back. */

type Report = ReturnType<typeof importFile>['report'];

/** A studio without its pages: linen, three dyes in stock, one method (tests/support/world.ts). */
async function house() {
  const { deps, clock } = await freshDeps();
  const owner = found(deps);
  const w = makeWorld({ deps, owner });
  const given = async (kind: ImportKind, text: string, more: Partial<ChoicesInput> = {}) => {
    const sheet = await readSheet(Buffer.from(text));
    const columns = guessColumns(kind, sheet.columns);
    return { sheet, kind, fileName: 'old.csv', choices: { ...Choices.parse({}), columns, ...more } };
  };
  return {
    deps,
    clock,
    owner,
    w,
    /** What the file would do, and has not done. */
    tried: async (kind: ImportKind, text: string, more: Partial<ChoicesInput> = {}): Promise<Report> =>
      tryFile(deps, await given(kind, text, more), owner),
    imported: async (kind: ImportKind, text: string, more: Partial<ChoicesInput> = {}) =>
      importFile(deps, await given(kind, text, more), owner),
    refusal: async (kind: ImportKind, text: string, more: Partial<ChoicesInput> = {}) => {
      const file = await given(kind, text, more);
      return refused(() => importFile(deps, file, owner));
    },
    all: (query: string, ...of: unknown[]) => deps.sqlite.prepare(query).all(...of) as Record<string, unknown>[],
    one: (query: string, ...of: unknown[]) =>
      deps.sqlite
        .prepare(query)
        .pluck()
        .get(...of),
  };
}
const notesOf = (report: Report): string[][] => report.rows.map((r) => r.notes);
const problemsOf = (report: Report): Record<string, string>[] =>
  report.rows.map((r) => Object.fromEntries(r.problems.map((p) => [p.field, p.words])));

const HEAD = 'name,formula,depth,fibre,method,date';
const TAIL = '"Linen, plain","Immersion, reactive",2026-03-09';

describe('what is there already', () => {
  test('is asked about, left out, or called by another name that still fits', async () => {
    const { tried, imported, all } = await house();
    const long = `Quay & Sons ${'x'.repeat(108)}`;
    const text = `name\n${long}\nFoz\nfoz\n`;
    expect(problemsOf(await tried('customers', text))).toEqual([
      {},
      {},
      { name: 'line 3 has “foz” too: say below what to do with duplicates.' },
    ]);
    await imported('customers', `name\n${long}\nFoz\n`);
    expect(problemsOf(await tried('customers', 'name\nFOZ\n'))).toEqual([
      { name: 'the customer “FOZ” is there already: say below what to do with duplicates.' },
    ]);
    const skipped = await tried('customers', text, { duplicates: 'skip' });
    expect([skipped.counts, notesOf(skipped)]).toEqual([
      { new: 0, skipped: 3, wrong: 0 },
      [
        [`left out: the customer “${long}” is there already`],
        ['left out: the customer “Foz” is there already'],
        ['left out: line 3 has “foz” too'],
      ],
    ]);
    const renamed = await imported('customers', `name\n${'Foz\n'.repeat(9)}${long}\n`, { duplicates: 'rename' });
    expect(renamed.report.counts).toEqual({ new: 10, skipped: 0, wrong: 0 });
    expect(notesOf(renamed.report)[0]).toEqual(['the customer “Foz” is there already: called “Foz-2” here']);
    expect(notesOf(renamed.report)[8]).toEqual(['line 2 has “Foz” too: called “Foz-10” here']);
    // At most 120 signs: 118 of the name, a stroke and the 2.
    expect(all('select name from customers order by id desc limit 1')).toEqual([{ name: `${long.slice(0, 118)}-2` }]);
    expect(long).toHaveLength(120);
  });

  test.each([
    ['dyes', 'code,name,class\nRB,Other blue,reactive\n', 'the dye “RB”', 'dyes', 'RB-2'],
    ['auxiliaries', 'code,name\nSODA,Other soda\n', 'the auxiliary “SODA”', 'auxiliaries', 'SODA-2'],
    [
      'stock',
      'item,container,quantity,price,date\nRB,B-1,5 g,1,2026-03-01\n',
      'the container “B-1”',
      'stock_lots',
      'B-1-2',
    ],
    ['fibres', 'name,class\n"Linen, plain",linen\n', 'the fibre “Linen, plain”', 'fibres', 'Linen, plain-2'],
  ] as const)('of %s too, each by its own key', async (kind, text, what, table, renamed) => {
    const { tried, imported, one } = await house();
    expect(Object.values(problemsOf(await tried(kind, text))[0] ?? {})).toEqual([
      `${what} is there already: say below what to do with duplicates.`,
    ]);
    expect((await tried(kind, text, { duplicates: 'skip' })).counts).toEqual({ new: 0, skipped: 1, wrong: 0 });
    await imported(kind, text, { duplicates: 'rename' });
    expect(one(`select count(*) from ${table} where ${kind === 'fibres' ? 'name' : 'code'} = ?`, renamed)).toBe(1);
  });

  test('a dye and a container may have one code, as they always could', async () => {
    const { imported } = await house();
    const { report } = await imported('stock', 'item,container,quantity,price,date\nRB,RB,5 g,1,2026-03-01\n');
    expect(report.counts.new).toBe(1);
  });
});

describe('containers come over as they stand', () => {
  const head = 'item,container,quantity,price,date,on hand';
  test('what is left is counted, and nothing is booked where all of it is left or nothing is said', async () => {
    const { imported, all } = await house();
    const { report } = await imported(
      'stock',
      `${head}\nRB,J-1,100 g,10,2026-03-01,80 g\nRB,J-2,100 g,10,2026-03-01,100 g\nRB,J-3,100 g,10,2026-03-01,\nRB,J-4,100 g,10,2026-03-01,0\n`,
    );
    expect(report.brought.map((b) => [b.thing, b.line])).toEqual([
      ['stockLot', 2],
      ['stockLot', 3],
      ['stockLot', 4],
      ['stockLot', 5],
    ]);
    expect(
      all(
        "select s.code, l.kind, l.quantity, l.reason from stock_ledger l join stock_lots s on s.id = l.stock_lot_id where s.code like 'J-%' order by l.id",
      ),
    ).toEqual([
      { code: 'J-1', kind: 'receipt', quantity: 100_000, reason: '' },
      { code: 'J-1', kind: 'stockTake', quantity: -20_000, reason: 'brought over' },
      { code: 'J-2', kind: 'receipt', quantity: 100_000, reason: '' },
      { code: 'J-3', kind: 'receipt', quantity: 100_000, reason: '' },
      { code: 'J-4', kind: 'receipt', quantity: 100_000, reason: '' },
      { code: 'J-4', kind: 'stockTake', quantity: -100_000, reason: 'brought over' },
    ]);
  });

  test('what cannot be told is told beside its column', async () => {
    const { tried, deps } = await house();
    deps.sqlite.prepare("insert into auxiliaries (code, name, form) values ('RB', 'Rinse bath', 'solid')").run();
    const report = await tried(
      'stock',
      `${head}\nRB,J-1,100 g,10,2026-03-01,\nXX,J-2,100 g,10,2026-03-01,\n,J-3,100 g,10,2026-03-01,\nRY,J-4,100 g,10,2026-03-01,lots\n`,
    );
    expect(problemsOf(report)).toEqual([
      { item: '“RB” names a dye and an auxiliary: change one of them.' },
      { item: 'There is no dye, auxiliary or fibre “XX”. Import those first.' },
      { item: 'What does the container hold?' },
      { onHand: expect.stringContaining('lots') },
    ]);
    expect(report.counts).toEqual({ new: 0, skipped: 0, wrong: 4 });
  });
});

describe('a card stands on what it was dyed with', () => {
  const cards = (h: Awaited<ReturnType<typeof house>>) =>
    h.all(
      `select s.code, s.name, r.name as recipe, v.number, v.total_depth_ppm as recipeDepth, s.depth_ppm as depth, v.why
       from swatches s join recipe_revisions v on v.id = s.revision_id join recipes r on r.id = v.recipe_id order by s.id`,
    );

  test('a recipe that nobody named is called by its formula', async () => {
    const h = await house();
    await h.imported(
      'swatches',
      `${HEAD}\na,"RB 70 %, RY 30 %",2,${TAIL}\nb,RB,2,${TAIL}\nc,"RB 1, RY 1, RR 1",3,${TAIL}\nd,"RB 1.4 %, RY 0.6 %",,${TAIL}\n`,
    );
    expect(cards(h).map((c) => [c['recipe'], c['number']])).toEqual([
      ['RB 70 · RY 30', 1],
      ['RB', 1],
      ['RB 33.3 · RY 33.3 · RR 33.3', 1],
      ['RB 70 · RY 30', 1],
    ]);
  });

  test('another formula under a name is another revision, and shares that differ by rounding are not', async () => {
    const h = await house();
    const head = 'recipe,revision,name,dyes,shares,depth,fibre,method,date';
    const { report } = await h.imported(
      'swatches',
      [
        head,
        `Slate,,a,RB/RY,70/30,2,${TAIL}`,
        `Slate,,b,RB/RY,60/40,2,${TAIL}`,
        `Slate,2,c,RB/RY,60/40,4,${TAIL}`,
        `slate,,d,RY/RB,30/70,1,${TAIL}`,
        `Slate,,e,RB/RR,70/30,2,${TAIL}`,
        `Slate,7,f,RB/RY,70/30,2,${TAIL}`,
        `Slate,,g,RB,,2,${TAIL}`,
        `Fresh,4,h,RB,,2,${TAIL}`,
      ].join('\n'),
    );
    expect(cards(h).map((c) => [c['recipe'], c['number'], c['why']])).toEqual([
      ['Slate', 1, ''],
      ['Slate', 2, 'came with an import'],
      ['Slate', 2, 'came with an import'],
      ['Slate', 1, ''],
      ['Slate', 3, 'came with an import'],
      ['Slate', 7, 'came with an import'],
      ['Slate', 8, 'came with an import'],
      ['Fresh', 4, ''],
    ]);
    expect(notesOf(report)[1]).toEqual(['“Slate” gets revision 2: its formula differs from those that are there']);
    expect(notesOf(report)[2]).toEqual([]);
    expect(report.brought.filter((b) => b.thing === 'recipe').map((b) => b.line)).toEqual([2, 9]);
    expect(report.brought.filter((b) => b.thing === 'revision').map((b) => b.line)).toEqual([2, 3, 6, 7, 8, 9]);
    expect(
      problemsOf(
        await h.tried('swatches', `${head}\nSlate,2,x,RB/RY,70/30,2,${TAIL}\nSlate,1,y,RB/RY/RR,50/30/20,2,${TAIL}\n`),
      ),
    ).toEqual([
      { recipeRevision: 'Revision 2 of “Slate” has another formula here.' },
      { recipeRevision: 'Revision 1 of “Slate” has another formula here.' },
    ]);
  });

  test('shares that three dyes of a third each round differently are one formula', async () => {
    const { deps, owner, w, all } = await house();
    const body = SwatchImportBody.parse({
      swatches: [
        [333_334, 333_333, 333_333],
        [333_332, 333_334, 333_334],
        [333_337, 333_332, 333_331],
      ].map((shares, i) => ({
        name: `third ${i}`,
        recipe: 'Thirds',
        depthPpm: 20_000,
        components: ['RB', 'RY', 'RR'].map((dyeCode, k) => ({ dyeCode, sharePpm: shares[k] })),
        fibre: 'Linen, plain',
        method: 'Immersion, reactive',
      })),
    });
    const { writeSwatch } = await import('../../server/imports/writeSwatch.ts');
    const { runImport } = await import('../../server/imports/runImport.ts');
    runImport(
      deps,
      {
        kind: 'swatches',
        fileName: 'thirds',
        rows: body.swatches.map((s, line) => ({
          line,
          label: s.name,
          write: (writing) => writeSwatch(writing, swatchLineOfBody(s, '2026-03-16')),
        })),
        choices: Choices.parse({}),
      },
      owner,
    );
    expect(w.revisionId).toBeGreaterThan(0);
    expect(
      all('select v.number from swatches s join recipe_revisions v on v.id = s.revision_id order by s.id'),
    ).toEqual([{ number: 1 }, { number: 1 }, { number: 2 }]);
  });

  test('every word of a card is kept, with the containers, the readings of each look and who made it', async () => {
    const h = await house();
    const rui = insertPerson(h.deps.db, {
      name: 'Rui',
      role: 'dyer',
      passphraseHash: null,
      labourRateMinorPerHour: null,
      active: 1,
      createdAt: MONDAY,
    }).id;
    const reading = (l: number, readAt: number | null, areaSharePpm: number | null = null) => ({
      l,
      a: 1,
      b: 2,
      illuminant: 'D65',
      observer: '10',
      source: 'instrument',
      readAt,
      areaSharePpm,
    });
    const readings = JSON.stringify([
      reading(40, 1_000, 500_000),
      reading(41, 1_000, 500_000),
      reading(42, MONDAY + 5_000),
      reading(43, null),
    ]).replaceAll('"', '""');
    const { report } = await h.imported(
      'swatches',
      `${HEAD},card,dry mass,card place,rating,note,made by,containers,readings,archived\n` +
        `a,RB,2,${TAIL},C-1,10 g,Binder 2,4,dull,rui,B-1; b-1,"${readings}",yes\n` +
        `b,RB,2,${TAIL},C-2,,,,,Nobody,,,\n`,
    );
    expect(notesOf(report)).toEqual([[], ['nobody here is called “Nobody”: yours instead']]);
    const [a, b] = h.all('select * from swatches order by id');
    expect(a).toMatchObject({
      code: 'C-1',
      name: 'a',
      depth_ppm: 20_000,
      fibre_id: h.w.linenId,
      method_id: h.w.methodId,
      lot_id: null,
      dry_mass_mg: 10_000,
      dyed_on: '2026-03-09',
      card_place: 'Binder 2',
      rating: 4,
      note: 'dull',
      made_by: rui,
      archived_at: MONDAY,
    });
    expect(b).toMatchObject({
      code: 'C-2',
      dry_mass_mg: null,
      rating: null,
      made_by: h.owner.personId,
      archived_at: null,
    });
    expect(h.all('select swatch_id, stock_lot_id from swatch_stock_lots')).toEqual([
      { swatch_id: a?.['id'], stock_lot_id: h.w.stock.blue.id },
    ]);
    // A look that lies ahead of our clock was taken now, and one without an instant too.
    expect(h.all('select l, read_at, area_share_ppm, read_by from colour_readings order by l')).toEqual([
      { l: 40, read_at: 1_000, area_share_ppm: 500_000, read_by: rui },
      { l: 41, read_at: 1_000, area_share_ppm: 500_000, read_by: rui },
      { l: 42, read_at: MONDAY, area_share_ppm: null, read_by: rui },
      { l: 43, read_at: MONDAY, area_share_ppm: null, read_by: rui },
    ]);
  });

  test('a card that is there is asked about by its number', async () => {
    const { imported, tried } = await house();
    const text = `card,${HEAD}\nK-1,a,RB,2,${TAIL}\n`;
    await imported('swatches', text);
    expect(problemsOf(await tried('swatches', text))).toEqual([
      { code: 'the swatch “K-1” is there already: say below what to do with duplicates.' },
    ]);
    expect((await tried('swatches', text, { duplicates: 'skip' })).counts.skipped).toBe(1);
    const renamed = await tried('swatches', text, { duplicates: 'rename' });
    expect(notesOf(renamed)).toEqual([['the swatch “K-1” is there already: called “K-1-2” here']]);
  });

  test('curves are kept with their cards, and those of goods before dyeing give their mean', async () => {
    const { imported, all } = await house();
    const nm = Array.from({ length: 31 }, (_, i) => 400 + 10 * i);
    const flat = (pct: number) => nm.map(() => pct).join(',');
    await imported(
      'swatches',
      `${HEAD},${nm.map((n) => `R${n}`).join(',')}\na,RB,2,${TAIL},${flat(50)}\n,,0,"Linen, plain",,,${flat(70)}\n,,0,"Linen, plain",,,${flat(90)}\n`,
    );
    const [kept] = all('select start_nm, step_nm, reflectance, measured_at from swatch_spectra');
    expect(kept).toEqual({
      start_nm: 400,
      step_nm: 10,
      reflectance: JSON.stringify(nm.map(() => 0.5)),
      measured_at: MONDAY,
    });
    const [undyed] = all('select spectrum from undyed_goods') as { spectrum: string }[];
    const mean = JSON.parse(undyed?.spectrum ?? '{}') as { startNm: number; stepNm: number; reflectance: number[] };
    expect([mean.startNm, mean.stepNm, mean.reflectance.map((r) => Number(r.toFixed(9)))]).toEqual([
      400,
      10,
      nm.map(() => 0.8),
    ]);
  });

  test('one thing that is missing is told alone', async () => {
    const { tried } = await house();
    const text = `${HEAD},containers\na,XX,2,${TAIL},B-1\nb,RB,2,${TAIL},N-1\nc,RB,2,${TAIL},B-1\n`;
    expect(problemsOf(await tried('swatches', text))).toEqual([
      { formula: 'There is no dye XX. Import the dyes first.' },
      { stockLots: 'There is no container N-1.' },
      {},
    ]);
  });

  test('what is not there is told with every name of it', async () => {
    const { tried } = await house();
    const report = await tried(
      'swatches',
      `${HEAD},containers\na,"XX 50, RB 25, YY 25",2,${TAIL},B-1; N-1; N-2\nb,RB,2,Mystery,"Immersion, reactive",2026-03-09,\nc,RB,2,"Linen, plain",Secret,2026-03-09,\n`,
    );
    expect(problemsOf(report)).toEqual([
      { formula: 'There is no dye XX, YY. Import the dyes first.', stockLots: 'There is no container N-1, N-2.' },
      { fibre: 'There are no goods “Mystery”: import fibres first, or say below to add what is missing.' },
      { method: 'There is no method “Secret”: add it first, or say below to add what is missing.' },
    ]);
  });

  test('goods and methods that are added say so, with what the row or the person said of them', async () => {
    const { imported, tried, all } = await house();
    const text = `${HEAD},fibre class,fibre kind\na,RB,2,Hemp,Padding,2026-03-09,hemp,\nb,RB,2,Hemp,Padding,2026-03-09,,\nc,RB,2,Sock yarn,Padding,2026-03-09,,skein\n`;
    expect(problemsOf(await tried('swatches', text, { missing: 'create' }))).toEqual([
      {},
      {},
      { fibre: 'The goods “Sock yarn” are new: of which fibre class? Say it below.' },
    ]);
    const { report } = await imported('swatches', text, { missing: 'create', newFibreClass: 'protein' });
    expect(notesOf(report)).toEqual([['new goods: Hemp', 'new method: Padding'], [], ['new goods: Sock yarn']]);
    expect(report.brought.map((b) => `${b.line} ${b.thing}`).filter((b) => /fibre|method/.test(b))).toEqual([
      '2 fibre',
      '2 method',
      '4 fibre',
    ]);
    expect(all('select name, class, kind from fibres order by id desc limit 2')).toEqual([
      { name: 'Sock yarn', class: 'protein', kind: 'yarn' },
      { name: 'Hemp', class: 'cellulose', kind: 'cloth' },
    ]);
    expect(all("select name, dye_class, summary from methods where name = 'Padding'")).toEqual([
      { name: 'Padding', dye_class: 'reactive', summary: 'Came with an import; its steps are still to be written.' },
    ]);
  });
});

describe('the goods before dyeing', () => {
  const head = 'name,depth,fibre,method,L*,a*,b*,illuminant,observer,made by';
  const row = (l: number, more = ',,') => `,0,"Linen, plain",,${l},1,6${more}`;

  test('what somebody read before stays: the same reading is left out, another is asked about', async () => {
    const { imported, tried, one } = await house();
    const { report } = await imported('swatches', `${head}\n${row(90)},\n`);
    expect([notesOf(report), report.undyedFibreIds]).toEqual([[['the goods before dyeing']], [1]]);
    const again = await tried('swatches', `${head}\n${row(90)},\n`);
    expect([again.counts.skipped, notesOf(again)]).toEqual([
      1,
      [['left out: Linen, plain has a reading before dyeing already']],
    ]);
    for (const other of [
      row(91),
      `,0,"Linen, plain",,90,2,6,,`,
      `,0,"Linen, plain",,90,1,7,,`,
      row(90, ',A,'),
      row(90, ',,2'),
    ]) {
      expect(problemsOf(await tried('swatches', `${head}\n${other},\n`)), other).toEqual([
        { fibre: 'Linen, plain has a reading before dyeing already: say below what to do with duplicates.' },
      ]);
      expect((await tried('swatches', `${head}\n${other},\n`, { duplicates: 'skip' })).counts.skipped).toBe(1);
    }
    expect(one('select l from undyed_goods')).toBe(90);
  });

  test('several samples give their mean, and say of how many', async () => {
    const { imported, all } = await house();
    const { report } = await imported('swatches', `${head}\n${row(90)},\n${row(91)},\n${row(95)},\n`);
    expect(notesOf(report)).toEqual([
      ['the goods before dyeing'],
      ['the goods before dyeing: mean of 2'],
      ['the goods before dyeing: mean of 3'],
    ]);
    // (90 + 91 + 95)/3 = 92
    expect(all('select l, a, b, illuminant, observer, read_at, spectrum from undyed_goods')).toEqual([
      { l: 92, a: 1, b: 6, illuminant: 'D65', observer: '10', read_at: MONDAY, spectrum: null },
    ]);
  });

  test('samples under different lights, of different wavelengths, or without a colour have no mean', async () => {
    const { tried } = await house();
    const spectrum = (startNm: number, stepNm: number, n: number) =>
      `"${JSON.stringify({ startNm, stepNm, reflectance: Array(n).fill(0.8) }).replaceAll('"', '""')}"`;
    const curves = (...of: string[]) =>
      `name,depth,fibre,method,spectrum\n${of.map((s) => `,0,"Linen, plain",,${s}\n`).join('')}`;
    expect(problemsOf(await tried('swatches', `${head}\n${row(90)},\n${row(91, ',,2')},\n`))[1]).toEqual({
      colour: 'The samples of Linen, plain before dyeing were read under different lights.',
    });
    expect(problemsOf(await tried('swatches', `${head}\n${row(90)},\n${row(91, ',A,')},\n`))[1]).toEqual({
      colour: 'The samples of Linen, plain before dyeing were read under different lights.',
    });
    for (const other of [spectrum(390, 10, 32), spectrum(400, 20, 16), spectrum(400, 10, 32)])
      expect(problemsOf(await tried('swatches', curves(spectrum(400, 10, 31), other)))[1]).toEqual({
        spectrum: 'The curves of Linen, plain have different wavelengths.',
      });
    expect(problemsOf(await tried('swatches', 'name,depth,fibre,method\n,0,"Linen, plain",\n'))).toEqual([
      { colour: 'Undyed goods need their colour: L*, a* and b*, a colour code or a spectrum.' },
    ]);
  });
});

describe('all or nothing', () => {
  test('a file with a wrong row imports nothing, and says which rows and why', async () => {
    const { refusal, one } = await house();
    const said = await refusal('dyes', 'code,name,class\nA,One,acid\n,Two,food\nC,Three,\n');
    expect(said).toEqual({
      code: 'invalidInput',
      said: { '3.class': expect.stringContaining('food'), '3.code': expect.any(String), '4.class': expect.any(String) },
    });
    expect(one('select count(*) from dyes')).toBe(3);
  });

  test('the message counts the rows and names the first by its code, else its name, else its first words', async () => {
    const { deps, owner } = await house();
    const messageOf = async (kind: ImportKind, text: string): Promise<string> => {
      const sheet = await readSheet(Buffer.from(text));
      const choices = { ...Choices.parse({}), columns: guessColumns(kind, sheet.columns) };
      try {
        importFile(deps, { sheet, kind, fileName: 'x', choices }, owner);
      } catch (error) {
        return (error as Error).message;
      }
      return 'let through';
    };
    expect(await messageOf('dyes', 'code,name,class\nA,One,acid\nB,Two,food\nC,Three,food\n')).toMatch(
      /^2 of 3 rows cannot be read; nothing was imported\. First: B: “food” is none of/,
    );
    expect(await messageOf('dyes', 'code,name,class\n,Two,food\n')).toMatch(/First: Two: /);
    expect(await messageOf('stock', 'item,quantity,price,date\nXX,1 g,1,2026-03-01\n')).toMatch(/First: XX: /);
    expect(await messageOf('swatches', `rating,${HEAD}\n9,,RB,2,${TAIL}\n`)).toMatch(/First: 9: /);
    expect(await messageOf('customers', `name\n${'x'.repeat(130)}\n`)).toContain(`First: ${'x'.repeat(60)}: `);
  });

  test('a required column that is not there is asked for, by its name on the page', async () => {
    const { refusal } = await house();
    expect(missingColumns('dyes', Choices.parse({ columns: { code: 0 } }))).toEqual(['Name', 'Dye class']);
    expect(await refusal('dyes', 'code,x\nA,B\n')).toEqual({
      code: 'invalidInput',
      said: { columns: 'Say which column is: Name, Dye class.' },
    });
  });

  test('a long file is tried on a copy, with turns for others between its rows, and a short one in their way for a moment', async () => {
    const { deps, owner } = await house();
    const tryRows = async (n: number) => {
      const seen: { inTheirWay: boolean; turned: boolean }[] = [];
      let turned = false;
      let copy: { open: boolean } | undefined;
      const rows = Array.from({ length: n }, (_, line) => ({
        line,
        label: `${line}`,
        write: (w: Parameters<RowToWrite['write']>[0]) => {
          copy = w.deps.sqlite;
          seen.push({ inTheirWay: deps.sqlite.inTransaction, turned });
          return 'new' as const;
        },
      }));
      setImmediate(() => {
        turned = true;
      });
      const tried = tryImport(deps, { kind: 'customers', fileName: 'x', rows, choices: Choices.parse({}) }, owner);
      expect((await tried).counts.new).toBe(n);
      return { seen, isOwn: copy !== deps.sqlite, isOpen: copy?.open };
    };
    const short = await tryRows(25);
    expect([short.isOwn, short.seen.every((s) => s.inTheirWay && !s.turned)]).toEqual([false, true]);
    const long = await tryRows(60);
    expect([long.isOwn, long.isOpen, long.seen.some((s) => s.inTheirWay)]).toEqual([true, false, false]);
    // Twenty-five rows in one go.
    expect(long.seen.findIndex((s) => s.turned)).toBe(24);
    expect((await tryRows(26)).isOwn).toBe(true);
  });

  test('what a row cannot mend is told as a whole, and what is no refusal stops the import', async () => {
    const { deps, owner } = await house();
    const rows = (n: number, error: Error) =>
      Array.from({ length: n }, (_, line) => ({
        line,
        label: 'x',
        write: () => {
          throw error;
        },
      }));
    const choices = Choices.parse({});
    for (const n of [1, 30]) {
      const taken = {
        kind: 'customers',
        fileName: 'x',
        rows: rows(n, new Refusal('conflict', 'It is taken.')),
        choices,
      } as const;
      const report = await tryImport(deps, taken, owner);
      expect(report.rows[0]?.problems).toEqual([{ field: '', words: 'It is taken.' }]);
      const broken = { ...taken, rows: rows(n, new TypeError('broken')) };
      await expect(tryImport(deps, broken, owner)).rejects.toThrow('broken');
    }
  });

  test('trying a file of any length says the same and leaves nothing behind', async () => {
    const { tried, one } = await house();
    const rows = (n: number) => `name\n${Array.from({ length: n }, (_, i) => `Customer ${i}\n`).join('')},\n`;
    for (const n of [3, 60]) {
      const report = await tried('customers', rows(n));
      expect([report.counts.new, report.counts.wrong, report.rows.length]).toEqual([n, 0, n]);
      expect(one('select count(*) from customers')).toBe(0);
    }
  });

  test('cards without a number get the next free ones, whatever numbers the file has before or after them', async () => {
    const { imported, all } = await house();
    const codes = ['', 'S-12', '', 'S-3', 'S-20b', 'XS-30', ''];
    await imported('swatches', `card,${HEAD}\n${codes.map((c, i) => `${c},${i},RB,2,${TAIL}\n`).join('')}`);
    expect(all('select code from swatches order by id').map((s) => s['code'])).toEqual([
      'S-0001',
      'S-12',
      'S-0013',
      'S-3',
      'S-20b',
      'XS-30',
      'S-0014',
    ]);
  });

  test('of a file full of mistakes a hundred rows are told one by one, and all are counted', async () => {
    const { deps, owner } = await house();
    const sheet = await readSheet(Buffer.from(`name\n${`${'x'.repeat(130)}\n`.repeat(101)}`));
    const choices = Choices.parse({ columns: { name: 0 } });
    try {
      importFile(deps, { sheet, kind: 'customers', fileName: 'x', choices }, owner);
      expect.unreachable();
    } catch (error) {
      const { fields, message } = error as { fields: object; message: string };
      expect([Object.keys(fields).length, message.slice(0, 11)]).toEqual([100, '101 of 101 ']);
    }
  });

  test('an import keeps its name, how many rows it brought, when and by whom', async () => {
    const { imported, all, owner } = await house();
    const { importId } = await imported('customers', 'name\nA\nB\nA\n', { duplicates: 'skip' });
    expect(all('select id, kind, file_name, row_count, made_at, made_by, undone_at from imports')).toEqual([
      {
        id: importId,
        kind: 'customers',
        file_name: 'old.csv',
        row_count: 2,
        made_at: MONDAY,
        made_by: owner.personId,
        undone_at: null,
      },
    ]);
  });
});

describe('taking an import back', () => {
  test('names at most eight things that hold it, and how many more there are', async () => {
    const { imported, deps, owner, clock } = await house();
    const text = (n: number) =>
      `code,name,class\n${Array.from({ length: n }, (_, i) => `D${i},Dye ${i},acid\n`).join('')}`;
    const { importId } = await imported('dyes', text(9));
    const changed = deps.sqlite.prepare('update dyes set version = 2 where code = ?');
    for (let i = 0; i < 8; i++) changed.run(`D${i}`);
    const names = (n: number) => Array.from({ length: n }, (_, i) => `D${i} Dye ${i}`).join('; ');
    expect(refused(() => undoImport(deps, importId, owner))).toEqual({
      code: 'conflict',
      said: `Changed since they came, so nothing was taken back: ${names(8)}.`,
    });
    changed.run('D8');
    expect(refused(() => undoImport(deps, importId, owner))).toMatchObject({
      said: `Changed since they came, so nothing was taken back: ${names(8)} and 1 more.`,
    });
    deps.sqlite.prepare('update dyes set version = 1').run();
    clock.now += 1;
    expect(undoImport(deps, importId, owner)).toMatchObject({
      undoneAt: MONDAY + 1,
      undoneBy: owner.personId,
      undoing: 0,
    });
    expect(refused(() => undoImport(deps, importId, owner))).toEqual({
      code: 'conflict',
      said: 'This import was taken back already.',
    });
    expect(refused(() => undoImport(deps, importId + 1, owner))).toMatchObject({ code: 'notFound' });
  });

  test('says in words of the studio what stands on it', async () => {
    const h = await house();
    const { importId } = await h.imported('dyes', 'code,name,class\nAB,Acid blue,acid\nAR,Acid red,acid\n');
    await h.imported('stock', 'item,quantity,price,date\nAB,5 g,1,2026-03-01\n');
    const dyeId = h.one("select id from dyes where code = 'AB'");
    h.deps.sqlite
      .prepare(
        'insert into recipe_components (revision_id, dye_id, ordinal, share_ppm, depth_ppm) select revision_id, ?, 9, 1, 1 from recipe_components limit 1',
      )
      .run(dyeId);
    expect(refused(() => undoImport(h.deps, importId, h.owner))).toEqual({
      code: 'conflict',
      said: 'Something stands on what came with it, so nothing was taken back: AB Acid blue (a recipe and a container).',
    });
    expect(h.one("select count(*) from dyes where code in ('AB', 'AR')")).toBe(2);
  });

  test('takes goods before dyeing along, and nothing of another import', async () => {
    const h = await house();
    const head = 'name,depth,fibre,method,L*,a*,b*';
    const { importId } = await h.imported('swatches', `${head}\n,0,"Linen, plain",,90,1,6\n`);
    await h.imported('fibres', 'name,class\nHemp,hemp\n');
    await h.imported('swatches', `${head}\n,0,Hemp,,80,1,6\n`);
    undoImport(h.deps, importId, h.owner);
    expect(h.all('select l from undyed_goods')).toEqual([{ l: 80 }]);
  });
});

describe('a swatch by the API', () => {
  const line = (more: object) =>
    swatchLineOfBody(
      SwatchImportBody.parse({
        swatches: [{ name: 'x', fibre: 'Linen', method: 'Immersion', components: [], ...more }],
      }).swatches[0] as never,
      '2026-03-16',
    );
  const formula = (more: object) => {
    const { entryStyle, components, depthPpm, recipeDepthPpm } = line(more);
    return [entryStyle, components.map((c) => `${c.dyeCode} ${c.ppm}`).join(', '), depthPpm, recipeDepthPpm];
  };
  const two = (of: object, other: object) => [
    { dyeCode: 'RB', ...of },
    { dyeCode: 'RY', ...other },
  ];

  test.each([
    [
      { depthPpm: 20_000, components: two({ sharePpm: 700_000 }, { sharePpm: 300_000 }) },
      ['split', 'RB 700000, RY 300000', 20_000, 20_000],
    ],
    [
      { components: two({ depthPpm: 14_000 }, { depthPpm: 6_000 }) },
      ['ownDepths', 'RB 14000, RY 6000', 20_000, 20_000],
    ],
    [{ components: two({ quantity: 1.4 }, { depthPpm: 6_000 }) }, ['ownDepths', 'RB 14000, RY 6000', 20_000, 20_000]],
    // A card at half the depth of its recipe.
    [
      { depthPpm: 10_000, components: two({ quantity: 1.4 }, { quantity: 0.6 }) },
      ['ownDepths', 'RB 14000, RY 6000', 10_000, 20_000],
    ],
    [{ depthPpm: 20_000, components: [{ dyeCode: 'RB' }] }, ['split', 'RB 1000000', 20_000, 20_000]],
    [{ components: [{ dyeCode: 'RB', quantity: 2 }] }, ['ownDepths', 'RB 20000', 20_000, 20_000]],
  ])('%j', (more, expected) => {
    expect(formula(more)).toEqual(expected);
  });

  test.each([
    [{ depthPpm: 20_000, components: two({ sharePpm: 700_000 }, {}) }, 'components'],
    [{ depthPpm: 20_000, components: two({ sharePpm: 700_000 }, { depthPpm: 6_000 }) }, 'components'],
    [
      { depthPpm: 20_000, components: two({ sharePpm: 700_000 }, { sharePpm: 300_000, depthPpm: 6_000 }) },
      'components',
    ],
    [{ depthPpm: 20_000, components: two({ depthPpm: 14_000 }, {}) }, 'components'],
    [{ depthPpm: 20_000, components: two({}, {}) }, 'components'],
    [{ depthPpm: 0, components: [{ dyeCode: 'RB', quantity: 2 }] }, 'depthPpm'],
    [{ components: [{ dyeCode: 'RB' }] }, 'depthPpm'],
    [{ components: two({ sharePpm: 700_000 }, { sharePpm: 300_000 }) }, 'depthPpm'],
    [{ method: null, components: [{ dyeCode: 'RB', quantity: 2 }] }, 'method'],
    [{ depthPpm: 1 }, 'components'],
  ])('%j is refused at %s', (more, field) => {
    const { said } = refused(() => line(more)) as { said: Record<string, string> };
    expect(Object.keys(said)).toEqual([field]);
    expect(said[field]).toMatch(/^[A-Z].*[.?]$/);
  });

  test('a colour is what was sent, else its code, else what the curve gives', () => {
    const dye = { components: [{ dyeCode: 'RB', quantity: 2 }] };
    const lab = { l: 50, a: 1, b: 2, illuminant: 'A', observer: '2' };
    const spectrum = { startNm: 400, stepNm: 10, reflectance: Array(31).fill(0.5) };
    const plain = { areaSharePpm: null, uncertaintyMilli: null, note: '' };
    const read = (more: object) => line({ ...dye, ...more }).readings;
    expect(read({ lab, hex: '#3A6B88', spectrum })).toEqual([
      { readAt: null, input: { ...plain, colour: lab, source: 'instrument', asTyped: '' } },
    ]);
    expect(read({ lab, source: 'typed' })[0]?.input.source).toBe('typed');
    expect(read({ hex: '#3A6B88', spectrum })).toEqual([
      { readAt: null, input: { ...plain, colour: { hex: '#3a6b88' }, source: 'typed', asTyped: '#3a6b88' } },
    ]);
    expect(read({ spectrum })[0]?.input.note).toBe('from the spectrum');
    expect(read({})).toEqual([]);
  });

  test('what is not said is today, of cloth, by whoever sends it; and without dyes it is the goods before dyeing', () => {
    expect(line({ components: [{ dyeCode: 'RB', quantity: 2 }] })).toEqual({
      code: null,
      name: 'x',
      recipe: null,
      recipeRevision: null,
      entryStyle: 'ownDepths',
      components: [{ dyeCode: 'RB', ppm: 20_000 }],
      depthPpm: 20_000,
      recipeDepthPpm: 20_000,
      fibre: 'Linen',
      fibreClass: null,
      fibreKind: 'cloth',
      method: 'Immersion',
      dyedOn: '2026-03-16',
      dryMassMg: null,
      ...EMPTY_CARD,
      cardPlace: '',
      rating: null,
      note: '',
      madeBy: null,
      stockLotCodes: [],
      readings: [],
      spectrum: null,
      archived: false,
    });
    expect(line({ depthPpm: 0 })).toMatchObject({
      components: [],
      depthPpm: 0,
      fibre: 'Linen',
      madeBy: null,
      code: null,
    });
    expect(line({})).toMatchObject({ components: [], fibreKind: 'cloth', readings: [], spectrum: null });
  });
});

describe('by the page and the API', () => {
  test('a file is asked for, kept as a draft with its name, and may be discarded', async () => {
    const studio = await freshStudio();
    const none = await studio.page.send('post', '/imports/drafts').field('kind', 'dyes');
    expect([none.status, none.text.includes('Choose a file: CSV or XLSX.')]).toEqual([422, true]);
    const sent = await studio.page
      .send('post', '/imports/drafts')
      .field('kind', 'dyes')
      .attach('file', Buffer.from('code,name,class\nA,One,acid\nB,Two,food\n'), 'our dyes.csv');
    const at = String(sent.headers['location']);
    expect((await studio.page.get('/imports')).text).toContain('our dyes.csv');
    const shown = (await studio.page.get(at)).text;
    expect(shown).toContain('Import our dyes.csv');
    expect(shown).toContain('CSV, UTF-8, columns separated by comma');
    const forced = await studio.page.post(`${at}/acceptance`);
    expect([forced.status, /1 of 2 rows cannot be read/.test(forced.text)]).toEqual([422, true]);
    expect((await studio.page.post(`${at}/discarding`)).headers['location']).toBe('/imports');
    for (const gone of [studio.page.get(at), studio.page.post(at), studio.page.post(`${at}/acceptance`)])
      expect((await gone).status).toBe(404);
    expect((await studio.page.get('/imports')).text).not.toContain('our dyes.csv');
  });

  test('an accepted file leaves its draft, and its page says what came by name until it is taken back', async () => {
    const studio = await freshStudio();
    const sent = await studio.page
      .send('post', '/imports/drafts')
      .field('kind', 'dyes')
      .attach('file', Buffer.from('code,name,class\nA1,Anchor blue,acid\n'), 'dyes.csv');
    const at = String(sent.headers['location']);
    const done = String((await studio.page.post(`${at}/acceptance`)).headers['location']);
    expect(done).toMatch(/^\/imports\/\d+$/);
    expect((await studio.page.get(at)).status).toBe(404);
    const page = (await studio.page.get(done)).text;
    expect([page.includes('A1 Anchor blue'), page.includes('Import of dyes.csv')]).toEqual([true, true]);
    expect(
      studio.deps.sqlite.prepare("select detail from audit_entries where detail like 'import %'").pluck().all(),
    ).toEqual([`import ${done.split('/').at(-1)}: dyes from dyes.csv`]);
    expect((await studio.page.post(`${done}/undoing`)).status).toBe(303);
    expect((await studio.page.get(done)).text).not.toContain('A1 Anchor blue');
    expect((await studio.page.post('/imports/999/undoing')).status).toBe(404);
    expect((await studio.page.get('/imports/999')).status).toBe(404);
  });

  test('the API lists imports with the latest first, and takes one back', async () => {
    const studio = await freshStudio();
    makeWorld(studio);
    const swatch = (code: string) => ({
      code,
      name: 'x',
      components: [{ dyeCode: 'RB', quantity: 2 }],
      fibre: 'Linen, plain',
      method: 'Immersion, reactive',
    });
    const first = (await studio.api.post('/imports/swatches', { name: 'one', swatches: [swatch('A-1')] })).body;
    const short = { startNm: 400, stepNm: 10, reflectance: Array(16).fill(0.5) };
    const refusal = await studio.api.post('/imports/swatches', { swatches: [{ ...swatch('A-2'), spectrum: short }] });
    expect([refusal.status, refusal.body.fields]).toEqual([
      422,
      { 'swatches.0.spectrum': 'The readings must cover 400 to 700 nm.' },
    ]);
    const renamed = await studio.api.post('/imports/swatches', { duplicates: 'rename', swatches: [swatch('A-1')] });
    expect(renamed.body).toMatchObject({ fileName: 'by the API', skipped: 0, undyedFibreIds: [] });
    expect(renamed.body.swatches.map((s: { code: string }) => s.code)).toEqual(['A-1-2']);
    const { imports } = (await studio.api.get('/imports')).body;
    expect(imports).toEqual([
      expect.objectContaining({ fileName: 'by the API' }),
      {
        importId: first.importId,
        kind: 'swatches',
        fileName: 'one',
        rowCount: 1,
        madeAt: MONDAY,
        undoneAt: null,
      },
    ]);
    // Both cards stand on one recipe, which came with the first.
    expect((await studio.api.post(`/imports/${first.importId}/undoing`)).status).toBe(409);
    expect((await studio.api.post(`/imports/${renamed.body.importId}/undoing`)).body.undoneAt).toBe(MONDAY);
    expect((await studio.api.post(`/imports/${first.importId}/undoing`)).body.undoneAt).toBe(MONDAY);
    const again = await studio.api.post(`/imports/${first.importId}/undoing`);
    expect([again.status, again.body.code]).toEqual([409, 'conflict']);
  });
});
