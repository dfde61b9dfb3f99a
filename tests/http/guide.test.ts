import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { ALLOWED, type DeclaredRoute, declaredRoutes } from '../../server/people/guards.ts';
import { GUIDE, sectionBySlug, sectionOfRoute } from '../../views/guide/contents.ts';
import type { GuideSection } from '../../views/guide/section.ts';
import { freshStudio, type TestStudio } from '../support/app.ts';
import { attributeOf, elementsOf, type PageElement, textOf } from '../support/pageTree.ts';
import { freshSampleStudio } from '../support/sampleStudio.ts';

const sections: readonly GuideSection[] = GUIDE.flatMap((group) => group.sections);

/** What is fetched by a page or by hand and is none: files, streams, and what tells whether the service lives. */
const NO_PAGE =
  /^\/(healthz|readyz|static\/.*|photos\/:id\/:size|voices\/:id|lots\/:id\/live|trust\/studio-authority\.crt|settings\/backups\/:id\/file)$|\.(csv|xlsx|zip|json)$/;
/** The guide needs no guide. */
const OWN = /^\/guide(\/:section)?$/;

const pagesOf = (studio: TestStudio, method: 'GET' | 'POST'): DeclaredRoute[] =>
  declaredRoutes(studio.app).filter(
    ({ method: methods, url }) =>
      methods.split(',').includes(method) && !url.startsWith('/api/') && !NO_PAGE.test(url) && !OWN.test(url),
  );

const guideLinkOf = (page: string): PageElement | undefined =>
  elementsOf(page).find((e) => attributeOf(e, 'class') === 'guide-link');

/** What a link of a screen leads to: its accessible name and the heading that is met there. */
async function followed(studio: TestStudio, page: string): Promise<{ name: string; heading: string } | null> {
  const link = guideLinkOf(page);
  if (!link) return null;
  const answer = await studio.page.get(attributeOf(link, 'href') ?? '');
  const heading = elementsOf(answer.text).find((e) => e.tagName === 'h1');
  return {
    name: attributeOf(link, 'aria-label') ?? '',
    heading: answer.status === 200 && heading ? textOf(heading).trim() : `answered ${answer.status}`,
  };
}

test('every screen stands in exactly one section, and no section speaks of a screen that is not there', async () => {
  const studio = await freshStudio();
  const screens = pagesOf(studio, 'GET').map(({ url }) => url);
  expect(screens.length).toBeGreaterThan(90);
  const explained = sections.flatMap((section) => section.screens);
  expect(screens.filter((url) => !explained.includes(url))).toEqual([]);
  expect(explained.filter((url) => !screens.includes(url))).toEqual([]);
  expect(explained.filter((url, i) => explained.indexOf(url) !== i)).toEqual([]);
});

test('whatever a form answers with when it is refused has a section too', async () => {
  const studio = await freshStudio();
  const sent = pagesOf(studio, 'POST').map(({ url }) => url);
  expect(sent.length).toBeGreaterThan(70);
  expect(sent.filter((url) => !sectionOfRoute('POST', url))).toEqual([]);
  const named = sections.flatMap((section) => section.sends ?? []);
  expect(named.filter((url) => !sent.includes(url))).toEqual([]);
  expect(
    ['/lots', '/lots/:id/weighings', '/stock', '/order-lines/:id', '/lots/:id/log/:entryId/voiding'].map(
      (url) => sectionOfRoute('POST', url)?.slug,
    ),
  ).toEqual(['plan', 'bench', 'stock', 'orders', 'bench']);
});

test('sections have addresses of their own, something to say, and lead on only to sections that are there', () => {
  const slugs = sections.map((section) => section.slug);
  expect(new Set(slugs).size).toBe(slugs.length);
  expect(slugs.filter((slug) => !/^[a-z-]+$/.test(slug))).toEqual([]);
  for (const section of sections) {
    expect(
      (section.also ?? []).filter((slug) => !sectionBySlug(slug)),
      section.slug,
    ).toEqual([]);
    expect(section.parts.length, section.slug).toBeGreaterThan(0);
    for (const part of section.parts)
      expect(part.text.length + (part.steps?.length ?? 0), part.heading).toBeGreaterThan(0);
  }
});

test('the contents name every section, and each leads to its page, on to its neighbours and to its screen', async () => {
  const studio = await freshStudio();
  const contents = await studio.page.get('/guide');
  expect(contents.status).toBe(200);
  const hrefs = elementsOf(contents.text).map((e) => attributeOf(e, 'href') ?? '');
  expect(hrefs.filter((href) => href.startsWith('/guide/'))).toEqual(sections.map((s) => `/guide/${s.slug}`));
  expect(guideLinkOf(contents.text)).toBeUndefined();
  const dead: string[] = [];
  for (const section of sections) {
    const page = await studio.page.get(`/guide/${section.slug}`);
    expect(page.status, section.slug).toBe(200);
    for (const e of elementsOf(page.text.slice(page.text.indexOf('<main')))) {
      const href = attributeOf(e, 'href');
      if (e.tagName !== 'a' || href === undefined) continue;
      const answer = await studio.page.get(href);
      // Doors are shut to whoever is in already.
      if (answer.status !== 200 && answer.status !== 303)
        dead.push(`${section.slug}: ${href} answered ${answer.status}`);
    }
  }
  expect(dead).toEqual([]);
  expect((await studio.page.get('/guide/nothing')).status).toBe(404);
});

test('anyone who is signed in reads it, and nobody else', async () => {
  const { app, page } = await freshStudio();
  const may = declaredRoutes(app)
    .filter(({ url }) => OWN.test(url))
    .map((route) => route.may);
  expect(may.length).toBeGreaterThan(1);
  expect(new Set(may)).toEqual(new Set(['look']));
  expect(Object.values(ALLOWED).every((allowed) => allowed.has('look'))).toBe(true);
  const outside = await page.get('/guide/bench').set('cookie', '');
  expect(outside.status).toBe(303);
  expect(outside.headers['location']).toBe('/sign-in?to=%2Fguide%2Fbench');
});

/** Addresses at which the sample studio shows a screen, in the states that it has. */
function addressesOf(studio: TestStudio, screen: string): string[] {
  const ids = (sql: string): string[] =>
    (studio.deps.sqlite.prepare(sql).all() as { id: number }[]).map(({ id }) => String(id));
  const lot = (status: string): string[] => ids(`select max(id) as id from lots where status = '${status}'`);
  const instances: Record<string, () => string[]> = {
    lots: () => [...lot('planned'), ...lot('onBench'), ...lot('finished')],
    stock: () =>
      ids(
        `select min(s.id) as id from stock_lots s group by s.closed_at is null, s.recalled_at is null, s.conc_ppm is null, s.dye_id is null`,
      ),
  };
  const first = screen.split('/')[1] ?? '';
  if (screen === '/lots/:id/bench' || screen === '/lots/:id/outcome')
    return ids("select id from lots where status in ('planned', 'onBench')").map((id) => screen.replace(':id', id));
  if (!screen.includes(':')) return [screen];
  return (instances[first]?.() ?? ['1']).map((id) => screen.replace(/:\w+/g, id));
}

interface Seen {
  address: string;
  text: string;
}

/** Screens of a section as the sample studio's owner sees them. */
async function seen(studio: TestStudio, section: GuideSection): Promise<Seen[]> {
  const found: Seen[] = [];
  for (const screen of section.screens) {
    for (const address of addressesOf(studio, screen)) {
      const answer = await studio.page.get(address);
      if (answer.status === 200 && String(answer.headers['content-type']).startsWith('text/html'))
        found.push({ address, text: answer.text });
    }
  }
  return found;
}

const plain = (text: string): string => text.replace(/\s+/g, ' ').trim();
/** Words that a person reads as one thing: of a button, a label, a heading, a field's own hint. */
const READ = /^(a|b|button|h[1-4]|label|legend|summary|th|td|dt|option|span|p|li)$/;
const wordsOn = (page: string): string[] =>
  elementsOf(page).flatMap((e) => (READ.test(e.tagName) ? [plain(textOf(e))] : []));

const quotedIn = (section: GuideSection): string[] => [
  ...new Set(
    [section.lead, ...section.parts.flatMap((p) => [p.heading, ...p.text, ...(p.steps ?? [])])].flatMap((text) =>
      [...text.matchAll(/\[([^\]]+)\]/g)].map((m) => m[1] ?? ''),
    ),
  ),
];

/** Quoted words that a screen shows only in a state that the sample studio is not in. They stand in the views all the same. */
const ONLY_THEN: Readonly<Record<string, readonly string[]>> = {
  // A line over its target, before and after it went into the bath.
  bench: [
    'Dye more goods',
    'Let it be deeper',
    'Discard and weigh again',
    'It is in the bath: add the others',
    'Keep it as made',
    // Something is in the cup already.
    'Add it',
  ],
  // A colour was said and recipes for it were found.
  proposals: ['Plan a trial'],
  // A set was planned and dyed.
  sampling: ['Type or measure them', 'Keep the results'],
  // A backup that was made of a studio that is not sound; a database that was taken away.
  backup: ['not good', 'Nothing can be saved any more.'],
  // A file was read.
  imports: ['Look again'],
};

test('each screen of the sample studio leads to its section, and each quoted word stands on a screen as it is quoted', {
  timeout: 600_000,
}, async () => {
  const studio = await freshSampleStudio();
  const wrong: string[] = [];
  const readIn = new Map<string, string[]>();
  for (const section of sections) {
    const pages = await seen(studio, section);
    for (const { address, text } of pages) {
      const led = await followed(studio, text);
      if (led?.name !== `Guide: ${section.title}` || led.heading !== section.title)
        wrong.push(`${address} leads to ${JSON.stringify(led)}`);
    }
    readIn.set(section.slug, [...new Set(pages.flatMap(({ text }) => wordsOn(text)))]);
  }
  expect(wrong).toEqual([]);
  const quoted = sections.flatMap((section) => {
    const near = section.screens.length === 0 ? [...readIn.keys()] : [section.slug, ...(section.also ?? [])];
    const read = near.flatMap((slug) => readIn.get(slug) ?? []);
    return quotedIn(section).map((words) => ({
      slug: section.slug,
      words,
      isSeen: read.some((r) => stands(words, r)),
    }));
  });
  expect(quoted.length).toBeGreaterThan(130);
  const listed = quoted.map(({ slug, words, isSeen }) => ({
    line: `${slug}: ${words}`,
    isSeen,
    isRare: ONLY_THEN[slug]?.includes(words) ?? false,
  }));
  expect(listed.filter((q) => !q.isSeen && !q.isRare).map((q) => q.line)).toEqual([]);
  // What is seen after all has no place among the rare ones.
  expect(listed.filter((q) => q.isSeen && q.isRare).map((q) => q.line)).toEqual([]);
});

/** A button may say more than the guide quotes of it: “Next: Cold rinse”, “Late freight, a bill or a credit”. */
const stands = (words: string, read: string): boolean =>
  read === words || (read.startsWith(words) && !/^[\p{L}\d]/u.test(read.slice(words.length)));

test('words of rare states stand in the views', () => {
  const views = readdirSync('views', { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile() && !entry.parentPath.includes('guide'))
    .map((entry) => readFileSync(join(entry.parentPath, entry.name), 'utf8'))
    .join('\n');
  const gone = Object.values(ONLY_THEN)
    .flat()
    .filter((words) => !views.includes(words));
  expect(gone).toEqual([]);
});

test('a refused form shows the way to the section of its screen', async () => {
  const studio = await freshSampleStudio();
  const bench = (
    studio.deps.sqlite.prepare("select max(id) as id from lots where status = 'onBench'").get() as { id: number }
  ).id;
  const stock = await studio.page.post('/stock', {});
  expect(stock.status).toBe(422);
  expect(await followed(studio, stock.text)).toEqual({ name: 'Guide: Stock', heading: 'Stock' });
  const weighing = await studio.page.post(`/lots/${bench}/weighings`, { amount: 'nothing' });
  expect(weighing.status).toBe(422);
  expect(await followed(studio, weighing.text)).toEqual({ name: 'Guide: Bench', heading: 'Bench' });
  const lost = await studio.page.get('/nowhere');
  expect(lost.status).toBe(404);
  expect(await followed(studio, lost.text)).toEqual({ name: 'Guide', heading: 'Guide' });
});

test('the API’s document leads to the section for scripts, which shows the whole script that can be taken away', async () => {
  const studio = await freshStudio();
  const document = (await studio.api.get('/openapi.json')).body as { info: { description: string } };
  const page = await studio.page.get(
    /section for scripts, (\/guide\/[a-z]+),/.exec(document.info.description)?.[1] ?? '/',
  );
  expect(page.status).toBe(200);
  const download = elementsOf(page.text).find((e) => attributeOf(e, 'download') !== undefined);
  const script = await studio.page.get(attributeOf(download as PageElement, 'href') ?? '').buffer(true);
  expect(script.status).toBe(200);
  const shown = elementsOf(page.text).find((e) => e.tagName === 'pre');
  expect(textOf(shown as PageElement)).toBe(script.text ?? script.body.toString());
});
