import { parse as parseCsv } from 'csv-parse/sync';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { declaredRoutes } from '../../server/people/guards.ts';
import { openSignIn } from '../../server/people/signIn.ts';
import { html } from '../../views/html.ts';
import type { TestStudio } from '../support/app.ts';
import { poison } from '../support/hostileStudio.ts';
import { attributeOf, elementsOf, type PageElement, textOf } from '../support/pageTree.ts';
import { freshSampleStudio } from '../support/sampleStudio.ts';
import { unzipped } from '../support/unzip.ts';

/** Ways out of every place where a page puts words: text, quoted and bare attributes, raw-text elements, comments, addresses.
 *  What breaks out leaves an element or an attribute with a name of ours. */
const BREAKOUTS: readonly string[] = [
  '<bad-el>',
  '" bad-at="1',
  "' bad-at='1",
  ' bad-at=1 ',
  '"><bad-el>',
  '</textarea><bad-el>',
  '</title><bad-el>',
  '</script><bad-el></bad-el>',
  '</style><bad-el>',
  '--><bad-el><!--',
  ']]><bad-el>',
  '</svg><bad-el>',
  '&lt;bad-el&gt;',
  '&quot; bad-at=&quot;1',
  '\\" bad-at=\\"1',
  '`bad-at`=`1`',
  '\u2028<bad-el>',
  '<!doctype bad><bad-el/onload=1>',
  '%3Cbad-el%3E',
];
const ALL_WAYS = `javascript:bad//${BREAKOUTS.join('')}`;

/** What is in a page that nobody of ours put there. */
function intruders(page: string): string[] {
  const found: string[] = [];
  for (const element of elementsOf(page)) {
    const say = (what: string): void => {
      found.push(`<${element.tagName}> ${what}`);
    };
    if (element.tagName.startsWith('bad')) say('is not ours');
    for (const { name, value } of element.attrs) {
      if (name.startsWith('bad') || name.includes('"') || name.includes("'") || name.includes('<')) say(`has ${name}`);
      if (/^on/.test(name)) say(`handles ${name}`);
      if (name === 'style') say('is styled inline');
      if (/^(href|src|action|formaction|xlink:href|data|srcset|ping)$/.test(name) && !isOwnAddress(name, value))
        say(`points to ${value.slice(0, 60)}`);
      if (/^hx-(on|vals|headers)/.test(name) && /js:|javascript:/.test(value)) say(`runs ${value.slice(0, 60)}`);
    }
    if (
      element.tagName === 'script' &&
      (textOf(element).trim() !== '' || !attributeOf(element, 'src')?.startsWith('/static/'))
    )
      say('runs what is not ours');
    if (element.tagName === 'style' || element.tagName === 'base' || element.tagName === 'iframe') say('is never ours');
  }
  return found;
}

/** Addresses that a page of ours has: paths, places in the page, data pictures, and https where somebody wrote one down. */
function isOwnAddress(attribute: string, value: string): boolean {
  if (/^(\/(?!\/)|#|\?|$)/.test(value)) return true;
  if (attribute === 'src' && /^data:image\/(png|webp|svg\+xml)[;,]/.test(value)) return true;
  return attribute === 'href' && /^(https?:\/\/[\w.-]+|mailto:|sip:)/.test(value);
}

const pattern = (url: string): string => (url.split('?')[0] ?? '').replace(/\/\d+(?=\/|$)/g, '/:id');

/** Heads of a browser signed in as the owner. */
const browserOf = ({ deps, owner }: TestStudio) => ({
  cookie: `studio=${openSignIn(deps, owner.personId, 'test')}`,
  host: 'studio.test',
});

/** Follows the links of a studio from its first page: a few pages of each kind. */
async function everyPage(
  studio: TestStudio,
  visit: (url: string, body: string, type: string) => void,
  perKind = 3,
): Promise<Set<string>> {
  const { app } = studio;
  const signedIn = browserOf(studio);
  const queue = ['/'];
  // Doors of kinds that are reached by a form or a script rather than by a link.
  for (const { method, url, may } of declaredRoutes(app))
    if (
      method.split(',').includes('GET') &&
      !url.startsWith('/api/') &&
      may !== 'anyone' &&
      !url.endsWith('/live') &&
      !url.includes('*')
    )
      for (const id of [1, 2, 3]) queue.push(url.replace(/:size/, '640').replace(/:(\w*[iI]d|id)\b/g, String(id)));
  const seen = new Set<string>();
  const kinds = new Map<string, number>();
  while (queue.length > 0) {
    const url = queue.shift() ?? '';
    if (seen.has(url) || url.includes(':')) continue;
    seen.add(url);
    const kind = pattern(url);
    const count = kinds.get(kind) ?? 0;
    if (count >= perKind) continue;
    const answer = await app.inject({ url, headers: signedIn });
    expect(answer.statusCode, url).toBeLessThan(500);
    if (answer.statusCode !== 200) continue;
    kinds.set(kind, count + 1);
    const type = String(answer.headers['content-type'] ?? '');
    const { body } = answer;
    visit(url, body, type);
    if (!type.startsWith('text/html')) continue;
    for (const element of elementsOf(body)) {
      const to = element.tagName === 'a' ? attributeOf(element, 'href') : attributeOf(element, 'hx-get');
      if (to?.startsWith('/') && !to.startsWith('//') && !to.startsWith('/static')) queue.push(to.split('#')[0] ?? '');
    }
  }
  return new Set(kinds.keys());
}

describe('hostile words in every text of the record', () => {
  let studio: TestStudio;

  test('every page shows them as words: no element, attribute, handler or address of theirs', {
    timeout: 600_000,
  }, async () => {
    studio = await freshSampleStudio();
    // What the sample studio has none of.
    await studio.api.post('/reference-cards', {
      name: 'Grey card',
      columns: 1,
      rows: 1,
      illuminant: 'D65',
      observer: '2',
      patches: [{ name: 'grey', l: 50, a: 0, b: 0 }],
    });
    await studio.api.post('/exports/saved', { name: 'Everything', span: 'everything' });
    const { columns } = poison(studio.deps.sqlite, ALL_WAYS);
    // The texts that people see most; were one of these left out, the test would prove little.
    for (const column of [
      'swatches.name',
      'recipes.name',
      'log_entries.text',
      'customers.name',
      'dyes.note',
      'people.name',
      'lots.goods_text',
      'studio.name',
    ])
      expect(columns).toContain(column);
    const found: string[] = [];
    let shown = 0;
    const kinds = await everyPage(studio, (url, body, type) => {
      if (!type.startsWith('text/html')) return;
      if (body.includes('&lt;bad-el&gt;')) shown += 1;
      for (const intruder of intruders(body)) found.push(`${url}: ${intruder}`);
    });
    expect(found.slice(0, 20)).toEqual([]);
    expect(kinds.size).toBeGreaterThan(40);
    expect(shown).toBeGreaterThan(kinds.size / 2);
  });

  test('every form gives them back as words, and what it takes is shown as words on every page', {
    timeout: 600_000,
  }, async () => {
    studio = await freshSampleStudio();
    const forms = new Map<string, PageElement>();
    await everyPage(
      studio,
      (_url, body, type) => {
        if (!type.startsWith('text/html')) return;
        for (const form of elementsOf(body).filter(
          (e) => e.tagName === 'form' && attributeOf(e, 'method')?.toLowerCase() === 'post',
        )) {
          const action = attributeOf(form, 'action') ?? '';
          const kind = pattern(action);
          // Who ends the own sign-in, or takes away what others are to be written into, sees no more of it.
          if (!action.startsWith('/') || /sign-out|sign-ins|standing|archiving|removal|restor/.test(action)) continue;
          if (![...forms.keys()].some((known) => pattern(known) === kind)) forms.set(action, form);
        }
      },
      1,
    );
    expect(forms.size).toBeGreaterThan(50);
    const found: string[] = [];
    let echoed = 0;
    let taken = 0;
    for (const [action, form] of forms) {
      const usual = usualWords(form);
      const fields = typedWords(form);
      const tries = new Map<string, number>();
      // What a field objects to, for a number or a day is wanted there, gets the next thing that it might take.
      for (let turn = 0; turn < 12; turn++) {
        const { statusCode, body } = await studio.app.inject({
          method: 'POST',
          url: action,
          headers: {
            ...browserOf(studio),
            origin: 'http://studio.test',
            'content-type': 'application/x-www-form-urlencoded',
          },
          payload: new URLSearchParams(fields).toString(),
        });
        expect(statusCode, `${action}: ${body.slice(0, 200)}`).toBeLessThan(500);
        expect(statusCode, action).not.toBe(401);
        if (body.includes('&lt;bad-el&gt;')) echoed += 1;
        for (const intruder of intruders(body)) found.push(`POST ${action}: ${intruder}`);
        if (statusCode === 303) taken += 1;
        if (statusCode !== 422) break;
        const wrong = [...body.matchAll(/id="f-([^"]+)-error"/g)].flatMap(([, name]) =>
          name !== undefined && name in fields ? [name] : [],
        );
        if (wrong.length === 0) break;
        for (const name of wrong) {
          const n = tries.get(name) ?? 0;
          tries.set(name, n + 1);
          fields[name] = [SHORT, usual[name] ?? '', ...PLAUSIBLE][n] ?? '';
        }
      }
    }
    expect(found.slice(0, 20)).toEqual([]);
    expect(echoed).toBeGreaterThan(40);
    expect(taken).toBeGreaterThan(25);

    let shown = 0;
    const kinds = await everyPage(studio, (url, body, type) => {
      if (!type.startsWith('text/html')) return;
      if (body.includes('&lt;bad-el&gt;')) shown += 1;
      for (const intruder of intruders(body)) found.push(`${url} afterwards: ${intruder}`);
    });
    expect(found.slice(0, 20)).toEqual([]);
    expect(shown).toBeGreaterThan(kinds.size);
  });

  const STARTS = ['=HYPERLINK("http://bad.test","x")', '+1+1', '-2+3', '@SUM(A1:A9)', '\t=1', '\r=1', '\n=1', '＝1+1'];
  const isFormula = (cell: string): boolean => !/^[+-]?\d+(\.\d+)?$/.test(cell) && /^[=+\-@\t\r\n＝＋－＠]/.test(cell);

  /** Every file that can be had: those of the pages and of the API, of both kinds of rows, and saved ones. */
  async function exportsOf(kind: 'csv' | 'xlsx'): Promise<string[]> {
    const saved: number[] = [];
    for (const rows of ['lot', 'costLine']) {
      const made = await studio.api.post('/exports/saved', {
        name: `All ${rows} ${kind}`,
        rows,
        format: kind,
        span: 'everything',
      });
      expect(made.status, made.text).toBe(201);
      saved.push(made.body.savedExportId ?? made.body.id);
    }
    const recalled = studio.deps.sqlite
      .prepare('select id from stock_lots where recalled_at is not null')
      .pluck()
      .get();
    return declaredRoutes(studio.app)
      .filter((r) => r.method.includes('GET') && r.url.endsWith(`.${kind}`))
      .flatMap(({ url }) => {
        if (url.includes('/stock/')) return [url.replace(':id', String(recalled))];
        if (url.includes(':id')) return saved.map((id) => url.replace(/:id(\([^)]*\))?/, String(id)));
        return [url, `${url}?rows=costLine`];
      });
  }
  async function fetched(url: string): Promise<Buffer> {
    const headers = url.startsWith('/api/') ? { authorization: `Bearer ${studio.api.token}` } : browserOf(studio);
    const answer = await studio.app.inject({ url, headers });
    expect(answer.statusCode, url).toBe(200);
    return answer.rawPayload;
  }

  test('no cell of an export begins like a formula', { timeout: 600_000 }, async () => {
    studio = await freshSampleStudio();
    const urls = await exportsOf('csv');
    expect(urls.length).toBeGreaterThan(10);
    let cells = 0;
    let guarded = 0;
    for (const start of STARTS) {
      poison(studio.deps.sqlite, start);
      const files = new Map<string, Buffer>();
      for (const url of urls) files.set(url, await fetched(url));
      for (const [path, content] of await unzipped(await fetched('/settings/export/everything.zip'))) {
        if (path.endsWith('.csv')) files.set(path, content);
      }
      for (const [path, content] of files) {
        for (const row of parseCsv(content, { bom: true, relax_column_count: true }) as string[][]) {
          for (const cell of row) {
            cells += 1;
            if (cell.startsWith(`'${start}`)) guarded += 1;
            if (isFormula(cell)) expect.fail(`${path}: ${JSON.stringify(cell)} begins like a formula`);
          }
        }
      }
    }
    expect(cells).toBeGreaterThan(10_000);
    expect(guarded).toBeGreaterThan(1000);
  });

  test('no cell of a workbook is a formula: words are text, whatever they begin with', {
    timeout: 600_000,
  }, async () => {
    studio = await freshSampleStudio();
    const urls = await exportsOf('xlsx');
    expect(urls.length).toBeGreaterThan(6);
    for (const start of STARTS) {
      poison(studio.deps.sqlite, start);
      // All doors lead to the same writer: each of them once, two for the rest.
      for (const url of start === STARTS[0] ? urls : urls.slice(0, 2)) {
        const parts = await unzipped(await fetched(url));
        // Nothing that computes or reaches out: no calculation chain, links, macros or connections beside the sheets.
        expect(
          [...parts.keys()].filter(
            (path) =>
              !/^(\[Content_Types\]\.xml|_rels\/\.rels|xl\/(workbook|styles)\.xml|xl\/_rels\/workbook\.xml\.rels|xl\/worksheets\/sheet\d+\.xml)$/.test(
                path,
              ),
          ),
        ).toEqual([]);
        let held = 0;
        for (const [path, content] of parts) {
          const xml = content.toString('utf8');
          if (!path.startsWith('xl/worksheets/')) {
            expect(xml, path).not.toMatch(/definedName|TargetMode="External"/);
            continue;
          }
          // An element of a formula is <f>; a cell without a type holds a number (ECMA-376 part 1, 18.3.1.4 and 18.3.1.40).
          expect(xml, path).not.toMatch(/<f[\s>/]|<hyperlink|<dataValidation|<extLst|<oleObject/);
          for (const [, attributes = '', inside = ''] of xml.matchAll(/<c ([^>]*)>([\s\S]*?)<\/c>/g)) {
            const isText = attributes.includes('t="inlineStr"');
            expect(inside, `${url} ${path} ${attributes}`).toMatch(
              isText ? /^<is><t xml:space="preserve">[^<]*<\/t><\/is>$/ : /^<v>-?\d+(\.\d+)?<\/v>$/,
            );
            const words = inside
              .replace(/<[^>]*>/g, '')
              .replaceAll('&#13;', '\r')
              .replaceAll('&quot;', '"');
            if (isText && words.startsWith(start)) held += 1;
          }
        }
        expect(held, `${url} with ${start}`).toBeGreaterThan(0);
      }
    }
  });
});

/** Where little room is. */
const SHORT = '"><bad-el>';
/** What fields for amounts, days, times and colours take. */
const PLAUSIBLE = ['10', '10 g', '2 %', '2026-03-16', '#3a6b88', '1', '07:30', '50 -10 20'];

/** What stands in the fields of a form already. */
function usualWords(form: PageElement): Record<string, string> {
  const usual: Record<string, string> = {};
  const walk = (element: PageElement): void => {
    const name = attributeOf(element, 'name');
    if (name && element.tagName === 'input') usual[name] = attributeOf(element, 'value') ?? '';
    if (name && element.tagName === 'select') {
      const values = element.childNodes.flatMap((n) =>
        'tagName' in n ? [attributeOf(n as PageElement, 'value') ?? ''] : [],
      );
      usual[name] = values.find((v) => v !== '') ?? '';
    }
    for (const child of element.childNodes) if ('tagName' in child) walk(child as PageElement);
  };
  walk(form);
  return usual;
}

/** The fields of a form as a browser would send them, with the words in every text. */
function typedWords(form: PageElement): Record<string, string> {
  const fields: Record<string, string> = {};
  const walk = (element: PageElement): void => {
    const name = attributeOf(element, 'name');
    const type = attributeOf(element, 'type') ?? 'text';
    if (name && element.tagName === 'textarea') fields[name] = ALL_WAYS;
    else if (name && element.tagName === 'select') {
      const options = element.childNodes.filter((n): n is PageElement => 'tagName' in n && n.tagName === 'option');
      const chosen = options.find((o) => attributeOf(o, 'selected') !== undefined) ?? options[0];
      fields[name] = (chosen && attributeOf(chosen, 'value')) ?? '';
    } else if (name && element.tagName === 'input') {
      if (type === 'hidden') fields[name] = attributeOf(element, 'value') ?? '';
      else if (type === 'radio' || type === 'checkbox') {
        if (attributeOf(element, 'checked') !== undefined) fields[name] = attributeOf(element, 'value') ?? 'on';
      } else if (type !== 'file')
        fields[name] = type === 'text' || type === 'search' || type === 'url' ? ALL_WAYS : '1';
    }
    for (const child of element.childNodes) if ('tagName' in child) walk(child);
  };
  walk(form);
  return fields;
}

test('a template gives any words back as the same words, in text and in an attribute', () => {
  const words = fc.oneof(
    fc.string({ unit: 'binary' }),
    fc.array(fc.oneof(fc.constantFrom(...BREAKOUTS), fc.string()), { maxLength: 5 }).map((parts) => parts.join('')),
  );
  fc.assert(
    fc.property(words, (text) => {
      // A parser turns CR into LF and drops NUL (HTML Living Standard, 13.2.3.5 and 13.2.5.1); that is not ours to keep.
      const plain = text
        .replaceAll('\r\n', '\n')
        .replaceAll('\r', '\n')
        .replaceAll('\0', '')
        .replace(/\p{Surrogate}/gu, '');
      const page = html`<!doctype html><title>t</title><p title="${plain}">${plain}</p>`.value;
      const paragraph = elementsOf(page).filter((e) => e.tagName === 'p');
      expect(paragraph).toHaveLength(1);
      const [p] = paragraph as [PageElement];
      expect(attributeOf(p, 'title')).toBe(plain);
      expect(textOf(p)).toBe(plain);
      expect(p.attrs).toHaveLength(1);
      expect(intruders(page)).toEqual([]);
    }),
    { numRuns: 500 },
  );
});
