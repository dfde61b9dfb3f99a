import { parse as parseCsv } from 'csv-parse/sync';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { declaredRoutes } from '../../server/people/guards.ts';
import { html } from '../../views/html.ts';
import type { TestStudio } from '../support/app.ts';
import { poison } from '../support/hostileStudio.ts';
import { attributeOf, elementsOf, type PageElement, textOf } from '../support/pageTree.ts';
import { freshSampleStudio } from '../support/sampleStudio.ts';

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

/** Follows the links of a studio from its first page: a few pages of each kind. */
async function everyPage(
  studio: TestStudio,
  visit: (url: string, body: string, type: string) => void,
  perKind = 3,
): Promise<Set<string>> {
  const { app } = studio;
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
    const answer = await studio.page.get(url).buffer(true);
    expect(answer.status, url).toBeLessThan(500);
    if (answer.status !== 200) continue;
    kinds.set(kind, count + 1);
    const type = String(answer.headers['content-type'] ?? '');
    const body = answer.text ?? '';
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

  test('every form gives them back as words', { timeout: 600_000 }, async () => {
    studio = await freshSampleStudio();
    const forms = new Map<string, Record<string, string>>();
    await everyPage(
      studio,
      (_url, body, type) => {
        if (!type.startsWith('text/html')) return;
        for (const form of elementsOf(body).filter(
          (e) => e.tagName === 'form' && attributeOf(e, 'method')?.toLowerCase() === 'post',
        )) {
          const action = attributeOf(form, 'action') ?? '';
          if (action.startsWith('/') && !forms.has(pattern(action)) && action !== '/sign-out')
            forms.set(action, typedWords(form));
        }
      },
      1,
    );
    expect(forms.size).toBeGreaterThan(20);
    const found: string[] = [];
    let echoed = 0;
    for (const [action, fields] of forms) {
      const answer = await studio.page.post(action, fields);
      expect(answer.status, `${action}: ${answer.text.slice(0, 200)}`).toBeLessThan(500);
      if (!answer.text.includes('<')) continue;
      if (answer.text.includes('&lt;bad-el&gt;')) echoed += 1;
      for (const intruder of intruders(answer.text)) found.push(`POST ${action}: ${intruder}`);
    }
    expect(found.slice(0, 20)).toEqual([]);
    expect(echoed).toBeGreaterThan(4);
  });

  test('no cell of an export begins like a formula', { timeout: 300_000 }, async () => {
    studio = await freshSampleStudio();
    const files = declaredRoutes(studio.app).filter(
      (r) => r.method.includes('GET') && r.url.endsWith('.csv') && !r.url.includes(':'),
    );
    expect(files.length).toBeGreaterThan(0);
    let cells = 0;
    for (const formula of [
      '=HYPERLINK("http://bad.test","x")',
      '+1+1',
      '-2+3',
      '@SUM(A1:A9)',
      '\t=1',
      '\r=1',
      '＝1+1',
    ]) {
      poison(studio.deps.sqlite, formula);
      for (const { url } of files) {
        const path = url.startsWith('/api/v1') ? url.slice(7) : null;
        const answer = path === null ? await studio.page.get(url) : await studio.api.get(path);
        expect(answer.status, url).toBe(200);
        for (const row of parseCsv(answer.text, { bom: true, relax_column_count: true }) as string[][])
          for (const cell of row) {
            cells += 1;
            if (!/^[+-]?\d+(\.\d+)?$/.test(cell) && /^[=+\-@\t\r\n＝＋－＠]/.test(cell))
              expect.fail(`${url}: ${JSON.stringify(cell)} begins like a formula`);
          }
      }
    }
    expect(cells).toBeGreaterThan(1000);
  });
});

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
