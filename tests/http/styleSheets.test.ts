import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import postcss from 'postcss';
import { expect, test } from 'vitest';
import { readConfig } from '../../server/config.ts';
import { attributeOf, elementsOf } from '../support/pageTree.ts';
import { freshSampleStudio } from '../support/sampleStudio.ts';

const { packageRoot } = readConfig({});
const NAMES = readdirSync(join(packageRoot, 'static')).filter((name) => name.endsWith('.css'));
const sheets = new Map(
  NAMES.map((name) => [name, postcss.parse(readFileSync(join(packageRoot, 'static', name), 'utf8'))]),
);

/** A page as its links see it: what stands for any number or value is left out, so that a kind of page is visited twice at most. */
const kindOf = (address: string): string => address.replace(/\d+/g, 'N').replace(/=[^&]*/g, '=');
const NO_PAGE = /sign-out|\.(zip|csv|xlsx)|^\/(static|photos|voices)|\/file$/;

test('a page links every sheet that has a rule for what is on it', async () => {
  const studio = await freshSampleStudio();
  const rules = [...sheets].flatMap(([sheet, root]) => {
    const found: { sheet: string; selector: string; classes: string[] }[] = [];
    root.walkRules(({ selectors }) => {
      for (const selector of selectors) {
        const classes = [...selector.matchAll(/\.([a-zA-Z][\w-]*)/g)].map(([, name]) => name ?? '');
        if (classes.length > 0) found.push({ sheet, selector, classes });
      }
    });
    return found;
  });
  expect(rules.length).toBeGreaterThan(500);
  const visits = new Map<string, number>();
  const queue = ['/', '/guide', '/sign-in', '/nothing-here'];
  const missing: string[] = [];
  let pages = 0;
  for (let address = queue.shift(); address; address = queue.shift()) {
    const answer = await studio.page.get(address);
    if (!String(answer.headers['content-type']).startsWith('text/html')) continue;
    pages += 1;
    const elements = elementsOf(answer.text);
    const classes = new Set(elements.flatMap((e) => (attributeOf(e, 'class') ?? '').split(/\s+/)));
    const linked = elements.map((e) => attributeOf(e, 'href') ?? '').filter((href) => href.endsWith('.css'));
    for (const rule of rules)
      if (rule.classes.every((name) => classes.has(name)) && !linked.includes(`/static/${rule.sheet}`))
        missing.push(`${kindOf(address)}: ${rule.selector} (${rule.sheet})`);
    for (const link of elements.map((e) => attributeOf(e, 'href') ?? '')) {
      const [path = ''] = link.split('#');
      const visited = visits.get(kindOf(path)) ?? 0;
      if (!path.startsWith('/') || NO_PAGE.test(path) || visited >= 2) continue;
      visits.set(kindOf(path), visited + 1);
      queue.push(path);
    }
  }
  expect(pages).toBeGreaterThan(150);
  expect([...new Set(missing)]).toEqual([]);
});

test('sizes of type come from the scale of the base sheet, and no colour by a function that old tablets lack', () => {
  const strays: string[] = [];
  for (const [sheet, root] of sheets)
    root.walkDecls((decl) => {
      const where = `${sheet}: ${decl.prop}: ${decl.value}`;
      if (decl.prop.startsWith('--') || decl.value.includes('mm') || decl.value.includes('pt')) return;
      if (decl.prop === 'font-size' && /rem/.test(decl.value) && !/clamp/.test(decl.value)) strays.push(where);
      if (/light-dark/.test(decl.value)) strays.push(where);
    });
  expect(strays).toEqual([]);
});
