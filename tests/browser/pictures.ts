import { join } from 'node:path';
import { chromium } from 'playwright-core';
import sharp from 'sharp';
import { sowSampleStudio } from '../../seed/studio.ts';
import { readConfig } from '../../server/config.ts';
import { theStudio, updateStudio } from '../../server/settings/queries.ts';
import { MONDAY } from '../support/app.ts';
import { findChromium, startApp, visitorOf } from '../support/browser.ts';

/** The README's pictures, taken of the sample studio on one and the same Monday: npm run pictures. */
const path = findChromium();
if (!path) {
  process.stderr.write('No Chromium was found.\n');
  process.exit(1);
}

const app = await startApp({ now: () => MONDAY });
if (!app.owner) throw new Error('The studio has an owner.');
await sowSampleStudio(app.deps, app.owner);
const { version } = theStudio(app.deps.db);
updateStudio(app.deps.db, { name: 'Tidewrack Dye Works' }, version);
const idOf = (sql: string): number => {
  const row = app.deps.sqlite.prepare(sql).get() as { id: number | null } | undefined;
  if (typeof row?.id !== 'number') throw new Error(`The sample studio has none: ${sql}`);
  return row.id;
};
const swatch = idOf("select max(id) as id from swatches where name = 'Rusted stake'");
const planned = idOf("select max(id) as id from lots where status = 'planned'");
const finished = idOf(
  "select max(l.id) as id from lots l join colour_readings r on r.lot_id = l.id where l.status = 'finished'",
);

interface Picture {
  name: string;
  address: string;
  width: number;
  height: number;
  scheme: 'light' | 'dark';
  /** What must be there before the picture is taken. */
  shows: string;
  /** The heading that the picture begins with; the head of the page when left out. */
  from?: string;
  /** Fields filled in for the picture, by their labels. */
  typed?: Readonly<Record<string, string>>;
}
const PICTURES: readonly Picture[] = [
  { name: 'swatches', address: '/swatches', width: 1280, height: 860, scheme: 'light', shows: '.wall li' },
  {
    name: 'plan',
    address: `/lots/new?swatchId=${swatch}&mass=1.2+kg`,
    width: 1400,
    height: 925,
    scheme: 'light',
    shows: '#weigh-up .weigh',
    typed: { 'What it is': '24 napkins' },
  },
  {
    name: 'bench',
    address: `/lots/${planned}/bench`,
    width: 390,
    height: 844,
    scheme: 'dark',
    shows: '.keypad',
  },
  {
    name: 'lot',
    address: `/lots/${finished}`,
    width: 1400,
    height: 925,
    scheme: 'light',
    shows: '#colour .readings',
    from: 'Weighed, plan beside actual',
  },
];

const browser = await chromium.launch({ executablePath: path, args: ['--no-sandbox', '--disable-gpu'] });
try {
  for (const { name, address, width, height, scheme, shows, from, typed = {} } of PICTURES) {
    const { page, context } = await visitorOf(browser, app, { width, height, colorScheme: scheme });
    await page.clock.setFixedTime(MONDAY);
    await page.goto(address, { waitUntil: 'networkidle' });
    for (const [label, text] of Object.entries(typed)) await page.getByLabel(label).fill(text);
    await page.locator(shows).first().waitFor();
    if (from) await page.getByRole('heading', { name: from }).evaluate((e) => e.closest('section')?.scrollIntoView());
    const file = join(readConfig({}).packageRoot, 'static', 'pictures', `${name}.webp`);
    await sharp(await page.screenshot())
      .webp({ quality: 72 })
      .toFile(file);
    await context.close();
    process.stdout.write(`  ${name}.webp\n`);
  }
} finally {
  await browser.close();
  await app.close();
}
