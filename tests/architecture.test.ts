import { readdirSync, readFileSync } from 'node:fs';
import { dirname, join, posix } from 'node:path';
import { fileURLToPath } from 'node:url';
import ts from 'typescript';
import { describe, expect, test } from 'vitest';

const ROOT = join(dirname(fileURLToPath(import.meta.url)), '..');

/** Features in their written order: each may import the earlier ones. */
const FEATURE_ORDER = [
  'settings',
  'people',
  'photos',
  'voices',
  'calculators',
  'fibres',
  'dyes',
  'auxiliaries',
  'methods',
  'questions',
  'closings',
  'stock',
  'recipes',
  'readings',
  'near',
  'referenceCards',
  'photoReadings',
  'swatches',
  'orders',
  'plans',
  'lots',
  'bench',
  'matching',
  'sampling',
  'costing',
  'exports',
  'imports',
  'backup',
  'today',
  'guide',
] as const;

/** What a file is. Within a feature it is told by the file's name; anything that is not one of the fixed names is a rule. */
type Kind =
  | 'calc'
  | 'db'
  | 'http'
  | 'config'
  | 'deps'
  | 'errors'
  | 'typedFields'
  | 'ownScript'
  | 'readApart'
  | 'readerProcess'
  | 'app'
  | 'main'
  | 'commands'
  | 'views'
  | 'seed'
  | 'schemas'
  | 'queries'
  | 'rule'
  | 'present'
  | 'routes'
  | 'guards';

/** `own` and `earlier` speak of features: the file's own, and those before it in the written order. */
type Target =
  | Exclude<Kind, 'main' | 'commands' | 'readerProcess'>
  | 'frame'
  | `${'own' | 'earlier'} ${'schemas' | 'queries' | 'rule' | 'present' | 'routes'}`;

interface Row {
  /** Parts of the house that may be imported. */
  may: readonly Target[];
  /** Further parts of which only types may be imported. */
  types: readonly Target[];
  /** Packages, by name or beginning of a name: either only these, or any but these. */
  packages: { only: readonly string[] } | { not: readonly string[] };
}

const DATABASE_PACKAGES = ['drizzle-orm', 'better-sqlite3'];
const SERVER_PACKAGES = ['fastify', '@fastify/'];

const PRESENTS: readonly Target[] = [
  'calc',
  'http',
  'deps',
  'errors',
  'typedFields',
  'views',
  'frame',
  'guards',
  'own schemas',
  'own queries',
  'own rule',
  'own present',
  'earlier schemas',
  'earlier queries',
  'earlier rule',
  'earlier present',
];

/** Who may import whom. `frame` is what surrounds every page: views/{html,layout,errorPage,ids}.ts and views/kit. */
const MAY_IMPORT: Record<Exclude<Kind, 'app' | 'main' | 'commands' | 'readerProcess'>, Row> = {
  calc: { may: ['calc'], types: [], packages: { only: ['culori'] } },
  // From the calculations come lists of values, so that a table and its schema cannot differ.
  db: { may: ['db', 'ownScript', 'calc'], types: [], packages: { only: [...DATABASE_PACKAGES, 'node:'] } },
  ownScript: { may: [], types: [], packages: { only: [] } },
  readApart: { may: ['calc', 'errors', 'ownScript'], types: [], packages: { only: ['node:'] } },
  config: { may: [], types: [], packages: { only: ['zod', 'node:'] } },
  errors: { may: ['calc'], types: [], packages: { only: [] } },
  deps: { may: [], types: ['config', 'db'], packages: { only: DATABASE_PACKAGES } },
  typedFields: { may: ['calc'], types: [], packages: { only: ['zod'] } },
  http: {
    may: ['http', 'config', 'deps', 'errors', 'typedFields', 'frame'],
    types: [],
    packages: { not: DATABASE_PACKAGES },
  },
  schemas: {
    may: ['calc', 'typedFields', 'errors', 'own schemas', 'earlier schemas'],
    types: ['own rule', 'earlier rule'],
    packages: { only: ['zod'] },
  },
  queries: {
    may: ['db', 'errors', 'own queries'],
    types: ['calc', 'own schemas', 'own rule', 'earlier schemas', 'earlier rule', 'earlier queries'],
    packages: { only: ['drizzle-orm'] },
  },
  rule: {
    may: [
      'calc',
      'errors',
      'deps',
      'ownScript',
      'readApart',
      'own schemas',
      'own queries',
      'own rule',
      'earlier schemas',
      'earlier queries',
      'earlier rule',
    ],
    types: ['db', 'config', 'frame'],
    packages: { not: [...DATABASE_PACKAGES, ...SERVER_PACKAGES] },
  },
  // Makes the resources of the API and the props of pages from rows, on the routes' side; a later feature may show them too.
  present: { may: PRESENTS, types: ['db'], packages: { not: DATABASE_PACKAGES } },
  routes: {
    may: [...PRESENTS, 'own routes'],
    types: ['db'],
    packages: { not: DATABASE_PACKAGES },
  },
  guards: {
    may: ['http', 'deps', 'errors', 'own queries', 'own rule'],
    types: [],
    packages: { only: SERVER_PACKAGES },
  },
  // A view takes the shapes that its feature's schemas say, and nothing that runs.
  views: { may: ['views', 'frame', 'calc'], types: ['own schemas', 'earlier schemas'], packages: { only: [] } },
  seed: {
    may: ['seed', 'calc', 'deps', 'errors', 'earlier queries', 'earlier rule', 'earlier schemas'],
    types: ['db'],
    packages: { not: [...DATABASE_PACKAGES, ...SERVER_PACKAGES] },
  },
};

/** Single imports that the table does not allow and the house does, each with its reason. */
const ALLOWED_BESIDES: readonly { from: RegExp; to: RegExp; why: string }[] = [
  {
    from: /^server\/people\/pages\/firstRun\.ts$/,
    to: /^seed\/studio\.ts$/,
    why: 'the first-run page may start with the sample studio',
  },
  {
    from: /^server\/\w+\/schemas\.ts$/,
    to: /^server\/http\/(forms|paging)\.ts$/,
    why: 'repeated rows are read from the typed text of a form, and every list has the same pages; nothing of a request is touched',
  },
];

const FRAME = /^views\/(html|layout|errorPage|ids)\.ts$|^views\/kit\//;
const AREAS = new Set(['calc', 'db', 'http', 'commands']);

function kindOf(file: string): Kind {
  const [top, second = '', third = '', fourth = ''] = file.split('/');
  if (top === 'views') return 'views';
  if (top === 'seed') return 'seed';
  if (AREAS.has(second)) return second as Kind;
  if (third === '') return second.replace(/\.ts$/, '') as Kind;
  // Actions: pages/<action>.ts and api/<action>.ts.
  if (fourth !== '') return third === 'present' ? 'present' : 'routes';
  const name = third.replace(/\.ts$/, '');
  if (name === 'schemas' || name === 'queries' || name === 'guards') return name;
  if (name.endsWith('Queries')) return 'queries';
  if (name === 'present') return 'present';
  // `sending` streams files: it stands on the routes' side of the house.
  if (/^(routes|pages|api|sending|benchDoor|cookies)$|(Routes|Pages|Api)$/.test(name)) return 'routes';
  return 'rule';
}

/** Place of a file's feature in the written order; the seed comes after all. −1 outside features. */
function featureIndexOf(file: string): number {
  if (file.startsWith('seed/')) return FEATURE_ORDER.length;
  const [top, feature] = file.split('/');
  return top === 'server' ? (FEATURE_ORDER as readonly string[]).indexOf(feature ?? '') : -1;
}

interface Import {
  /** Path from the root of the repository, or a package's name. */
  to: string;
  isPackage: boolean;
  typesOnly: boolean;
}

const withoutComments = (source: string): string =>
  source.replace(/\/\*[\s\S]*?\*\//g, '').replace(/(?<![:'"`\\])\/\/[^\n]*/g, '');

function importsOf(file: string, source: string): Import[] {
  const found: Import[] = [];
  const add = (specifier: string, typesOnly: boolean): void => {
    const isPackage = !specifier.startsWith('.');
    found.push({
      to: isPackage ? specifier : posix.normalize(posix.join(posix.dirname(file), specifier)),
      isPackage,
      typesOnly,
    });
  };
  const text = withoutComments(source);
  for (const m of text.matchAll(
    /^[ \t]*(?:import|export)\s+(type\s+)?(?:([^'"`;=()]*?)\s+from\s+)?['"]([^'"]+)['"]/gm,
  )) {
    const names = /^\{([\s\S]*)\}$/
      .exec((m[2] ?? '').trim())?.[1]
      ?.split(',')
      .map((n) => n.trim())
      .filter(Boolean);
    add(
      m[3] ?? '',
      m[1] !== undefined || (names !== undefined && names.length > 0 && names.every((n) => n.startsWith('type '))),
    );
  }
  for (const m of text.matchAll(/\bimport\(\s*['"]([^'"]+)['"]\s*\)(\.\w)?/g)) add(m[1] ?? '', m[2] !== undefined);
  for (const m of text.matchAll(/\brequire\(\s*['"]([^'"]+)['"]\s*\)/g)) add(m[1] ?? '', false);
  return found;
}

/** The words by which the table may allow an import. */
function targetsOf(from: string, to: string): Target[] {
  const kind = kindOf(to);
  if (kind === 'main' || kind === 'commands' || kind === 'readerProcess') return [];
  if (kind === 'views') return FRAME.test(to) ? ['frame', 'views'] : ['views'];
  const index = featureIndexOf(to);
  if (index < 0 || kind === 'seed') return [kind];
  const of = kind === 'guards' ? 'rule' : (kind as 'schemas' | 'queries' | 'rule' | 'present' | 'routes');
  // A view stands where the feature stands whose folder has its name.
  const own = featureIndexOf(from.replace(/^views\//, 'server/'));
  const targets: Target[] = kind === 'guards' ? ['guards'] : [];
  if (index === own) targets.push(`own ${of}`);
  if (index < own && kind !== 'guards') targets.push(`earlier ${of}`);
  return targets;
}

const packageIs = (specifier: string, names: readonly string[]): boolean =>
  names.some((n) => specifier === n || specifier.startsWith(n.endsWith(':') || n.endsWith('/') ? n : `${n}/`));

/** Sentences about a file's imports that the table does not allow. */
function forbiddenImports(file: string, source: string): string[] {
  const kind = kindOf(file);
  // What is started from outside puts everything together, and nothing imports it.
  if (kind === 'app' || kind === 'main' || kind === 'commands' || kind === 'readerProcess') return [];
  const row: Row | undefined = MAY_IMPORT[kind];
  if (row === undefined) return [`${file} has no row in the table of imports`];
  return importsOf(file, source)
    .filter(({ to, isPackage, typesOnly }) => {
      if (isPackage) {
        return 'only' in row.packages ? !packageIs(to, row.packages.only) : packageIs(to, row.packages.not);
      }
      if (kind === 'errors') return to !== 'server/calc/calcError.ts';
      if (ALLOWED_BESIDES.some((a) => a.from.test(file) && a.to.test(to))) return false;
      const allowed = typesOnly ? [...row.may, ...row.types] : row.may;
      return !targetsOf(file, to).some((target) => allowed.includes(target));
    })
    .map(({ to }) => `${file} may not import ${to}`);
}

/** What is started from outside: the server and the commands. They hand the clock and the environment on. */
const STARTED = /^server\/(main|commands\/\w+)\.ts$/;

/** Sentences about the environment, the clock and chance being read where they may not be. */
function hiddenInputs(file: string, source: string): string[] {
  const text = withoutComments(source);
  const sentences: string[] = [];
  const readsEnvironment =
    /\bprocess\s*\.\s*env\b|\bimport\.meta\.env\b|\{[^}]*\benv\b[^}]*\}\s*from\s*['"](node:)?process/;
  if (readsEnvironment.test(text) && file !== 'server/config.ts' && !STARTED.test(file)) {
    sentences.push(`${file} may not read the environment`);
  }
  const readsClock =
    /\bDate\s*\.\s*now\b|\bnew\s+Date\s*(\(\s*\)|(?!\s*\())|\bDateTime\s*\.\s*(now|local|utc)\s*\(\s*\)|\bDateTime\.now\b|\bperformance\s*\.\s*now\b|\bprocess\.hrtime\b/;
  if (readsClock.test(text) && !STARTED.test(file)) sentences.push(`${file} may not read the clock`);
  if (/\bMath\s*\.\s*random\b/.test(text)) sentences.push(`${file} may not roll dice`);
  return sentences;
}

/** Sentences about markup that the content policy refuses, so that it fails here and not in a visitor's browser. */
function inlineMarkup(file: string, source: string): string[] {
  const text = withoutComments(source);
  const sentences: string[] = [];
  if (/[\s"'`]style=["'$]/.test(text) || /<style[\s>]/.test(text)) sentences.push(`${file} may not style inline`);
  const handler = /[\s"'`](on[a-z]+|hx-on[:\w-]*)=["'$]/.exec(text)?.[1];
  if (handler) sentences.push(`${file} may not handle ${handler} inline`);
  for (const m of text.matchAll(/<script\b([^>]*)>([\s\S]*?)<\/script/g)) {
    if (!/\bsrc="/.test(m[1] ?? '') || (m[2] ?? '').trim() !== '')
      sentences.push(`${file} may not hold a script's body`);
  }
  if (/["'`]\s*javascript:/i.test(text)) sentences.push(`${file} may not link to a script`);
  return sentences;
}

function drawerName(file: string): string[] {
  return /(^|\/)(utils?|helpers?|commons?|misc|index)(\.|\/)/i.test(file)
    ? [`${file} is called after a drawer: name it for what it decides`]
    : [];
}

const MOST_LINES = 100;
const MOST_CHARACTERS = 120;

/** Sentences about functions that are too long to be read in one sitting, unless the comment above says why: “Long because …”. */
function longFunctions(file: string, source: string): string[] {
  if (source.split('\n').length <= MOST_LINES) return [];
  const sentences: string[] = [];
  const parsed = ts.createSourceFile(file, source, ts.ScriptTarget.Latest, true);
  const lineOf = (at: number): number => parsed.getLineAndCharacterOfPosition(at).line;
  const walk = (node: ts.Node, commentAbove: string): void => {
    const stands = ts.isStatement(node) || ts.isClassElement(node);
    const above = stands ? source.slice(node.getFullStart(), node.getStart()) : commentAbove;
    const lines = lineOf(node.getEnd()) - lineOf(node.getStart()) + 1;
    if (ts.isFunctionLike(node) && lines > MOST_LINES && !/\bLong because \S/.test(above)) {
      sentences.push(`${file}:${lineOf(node.getStart()) + 1} is a function of ${lines} lines and does not say why`);
    }
    ts.forEachChild(node, (child) => walk(child, above));
  };
  walk(parsed, '');
  return sentences;
}

/** Sentences about lines of a view that run off the screen. One quoted text may: words are found by searching for them whole. */
function longLines(file: string, source: string): string[] {
  const quotedText = /^\s*(?:[\w.]+: |\+ |return )?(?:'[^']*'|"[^"]*"|`[^`$<]*`)[,;]?$/;
  return source
    .split('\n')
    .flatMap((line, i) =>
      line.length > MOST_CHARACTERS && !quotedText.test(line)
        ? [`${file}:${i + 1} is a line of ${line.length} characters`]
        : [],
    );
}

/** Loops in a graph, each once, as 'a → b → a'. */
function cyclesOf(graph: ReadonlyMap<string, ReadonlySet<string>>): string[] {
  const loops = new Set<string>();
  const done = new Set<string>();
  const walk = (node: string, path: string[]): void => {
    const at = path.indexOf(node);
    if (at >= 0) {
      const loop = path.slice(at);
      const first = loop.indexOf([...loop].sort()[0] ?? '');
      const turned = [...loop.slice(first), ...loop.slice(0, first)];
      loops.add([...turned, turned[0]].join(' → '));
      return;
    }
    if (done.has(node)) return;
    for (const next of graph.get(node) ?? []) walk(next, [...path, node]);
    done.add(node);
  };
  for (const node of graph.keys()) walk(node, []);
  return [...loops];
}

type Sources = ReadonlyMap<string, string>;

/** Imports of values between features; the single imports allowed besides the table are not counted, nor the guards. */
function featureGraph(sources: Sources): Map<string, Set<string>> {
  const graph = new Map<string, Set<string>>();
  for (const [file, source] of sources) {
    const from = FEATURE_ORDER[featureIndexOf(file)];
    if (from === undefined) continue;
    for (const { to, isPackage } of importsOf(file, source)) {
      const target = FEATURE_ORDER[featureIndexOf(to)];
      if (isPackage || target === undefined || target === from || kindOf(to) === 'guards') continue;
      if (ALLOWED_BESIDES.some((a) => a.from.test(file) && a.to.test(to))) continue;
      graph.set(from, (graph.get(from) ?? new Set()).add(target));
    }
  }
  return graph;
}

/** Imports between files, those of types too: what must be read together. Tables refer to each other as their foreign keys do, in
 *  functions that are called later, so their rings do no harm. */
function fileGraph(sources: Sources): Map<string, Set<string>> {
  const graph = new Map<string, Set<string>>();
  for (const [file, source] of sources) {
    const lazy = (to: string): boolean => file.startsWith('server/db/tables/') && to.startsWith('server/db/tables/');
    const files = importsOf(file, source).filter((i) => !i.isPackage && !lazy(i.to));
    graph.set(file, new Set(files.map((i) => i.to)));
  }
  return graph;
}

function filesUnder(folder: string, endings: RegExp): string[] {
  return readdirSync(join(ROOT, folder), { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile() && endings.test(entry.name))
    .map((entry) => posix.join(folder, entry.parentPath.slice(join(ROOT, folder).length), entry.name))
    .sort();
}

const SOURCES: Sources = new Map(
  ['server', 'views', 'seed'].flatMap((folder) =>
    filesUnder(folder, /\.ts$/).map((file) => [file, readFileSync(join(ROOT, file), 'utf8')] as const),
  ),
);
const all = (check: (file: string, source: string) => string[]): string[] =>
  [...SOURCES].flatMap(([file, source]) => check(file, source));

describe('the house as it stands', () => {
  test('is found and read', () => {
    expect(SOURCES.size).toBeGreaterThan(60);
    expect(importsOf('server/app.ts', SOURCES.get('server/app.ts') ?? '').map((i) => i.to)).toContain(
      'server/fibres/routes.ts',
    );
  });

  test('imports only what the table allows', () => {
    expect(all(forbiddenImports)).toEqual([]);
  });

  test('imports only files that are there', () => {
    const missing = all((file, source) =>
      importsOf(file, source)
        .filter((i) => !i.isPackage && !SOURCES.has(i.to))
        .map((i) => `${file} imports ${i.to}, which is not there`),
    );
    expect(missing).toEqual([]);
  });

  test('has no cycle between features, nor between files', () => {
    expect(cyclesOf(featureGraph(SOURCES))).toEqual([]);
    expect(cyclesOf(fileGraph(SOURCES))).toEqual([]);
  });

  test('reads the environment in config.ts, the clock in main.ts, and nothing by chance', () => {
    expect(all(hiddenInputs)).toEqual([]);
  });

  test('has no inline style, handler or script in its pages', () => {
    expect(all((file, source) => (kindOf(file) === 'views' ? inlineMarkup(file, source) : []))).toEqual([]);
  });

  test('has no function that takes more than one sitting, unless it says why', () => {
    expect(all((file, source) => (file.startsWith('seed/') ? [] : longFunctions(file, source)))).toEqual([]);
  });

  test('has views that can be read without scrolling to the side', () => {
    expect(all((file, source) => (kindOf(file) === 'views' ? longLines(file, source) : []))).toEqual([]);
  });

  test('has no file called after a drawer', () => {
    const files = ['server', 'views', 'seed', 'static', 'tests', 'migrations'].flatMap((folder) =>
      filesUnder(folder, /\.(ts|js|css|sql)$/),
    );
    expect(files.flatMap(drawerName)).toEqual([]);
  });

  test('shows each action of a feature by the view of the same name', () => {
    const views = new Set(filesUnder('views', /\.ts$/));
    // An action that only records and goes on, or sends a file, shows nothing of its own.
    const shows = (source: string): boolean => /\b(sendPage|submitForm|deedPages)\b/.test(source);
    const actions = [...SOURCES]
      .filter(([file, source]) => /^server\/\w+\/pages\//.test(file) && shows(source))
      .map(([file]) => file);
    const viewOf = (file: string): string => file.replace(/^server\/(\w+)\/pages\//, 'views/$1/');
    expect(actions.filter((file) => !views.has(viewOf(file)))).toEqual([]);
  });

  test('keeps every feature in the written order, with its pages in a folder of the same name', () => {
    const folders = (top: string): string[] =>
      readdirSync(join(ROOT, top), { withFileTypes: true })
        .filter((entry) => entry.isDirectory())
        .map((entry) => entry.name);
    const known = new Set<string>(FEATURE_ORDER);
    expect(folders('server').filter((name) => !known.has(name) && !AREAS.has(name))).toEqual([]);
    expect(folders('views').filter((name) => !known.has(name) && name !== 'kit')).toEqual([]);
    const mounted = /const FEATURES[^=]*=\s*\[([^\]]*)\]/.exec(SOURCES.get('server/app.ts') ?? '')?.[1] ?? '';
    const names = mounted
      .split(',')
      .map((n) => n.trim())
      .filter(Boolean);
    expect(names.length).toBeGreaterThan(0);
    expect(names).toEqual(FEATURE_ORDER.filter((f) => names.includes(f)));
  });
});

describe('a breach is told in a sentence', () => {
  test.each([
    ['views/lots/bench.ts', "import { openDatabase } from '../../server/db/open.ts';", 'server/db/open.ts'],
    ['views/lots/bench.ts', "import { listLots } from '../../server/lots/queries.ts';", 'server/lots/queries.ts'],
    ['views/lots/bench.ts', "import { LotBody } from '../../server/lots/schemas.ts';", 'server/lots/schemas.ts'],
    ['views/orders/list.ts', "import type { Lot } from '../../server/lots/schemas.ts';", 'server/lots/schemas.ts'],
    ['views/lots/bench.ts', "import { DateTime } from 'luxon';", 'luxon'],
    ['views/kit/show.ts', "import { readFileSync } from 'node:fs';", 'node:fs'],
    ['server/calc/bath.ts', "import { Refusal } from '../errors.ts';", 'server/errors.ts'],
    ['server/calc/bath.ts', "import type { LotRow } from '../db/tables/lots.ts';", 'server/db/tables/lots.ts'],
    ['server/calc/colour/spectra.ts', "import { readFileSync } from 'node:fs';", 'node:fs'],
    ['server/db/open.ts', "import { listFibres } from '../fibres/queries.ts';", 'server/fibres/queries.ts'],
    ['server/http/csv.ts', "import { exportColumns } from '../costing/exports.ts';", 'server/costing/exports.ts'],
    ['server/errors.ts', "import { sendPage } from './http/page.ts';", 'server/http/page.ts'],
    ['server/errors.ts', "import { dyeMassG } from './calc/dyeMass.ts';", 'server/calc/dyeMass.ts'],
    ['server/lots/schemas.ts', "import type { LotRow } from '../db/tables/lots.ts';", 'server/db/tables/lots.ts'],
    ['server/lots/schemas.ts', "import { lotById } from './queries.ts';", 'server/lots/queries.ts'],
    ['server/lots/schemas.ts', "import { sendPage } from '../http/page.ts';", 'server/http/page.ts'],
    ['server/lots/bench.ts', "import { benchProps } from './present.ts';", 'server/lots/present.ts'],
    ['server/lots/queries.ts', "import { sendPage } from '../http/page.ts';", 'server/http/page.ts'],
    ['server/lots/queries.ts', "import { planLot } from './plan.ts';", 'server/lots/plan.ts'],
    ['server/lots/plan.ts', "import { eq } from 'drizzle-orm';", 'drizzle-orm'],
    ['server/lots/plan.ts', "import { costLines } from '../db/tables/lots.ts';", 'server/db/tables/lots.ts'],
    ['server/lots/plan.ts', "import type { FastifyRequest } from 'fastify';", 'fastify'],
    ['server/lots/plan.ts', "import { planPage } from '../../views/lots/plan.ts';", 'views/lots/plan.ts'],
    ['server/lots/routes.ts', "import { sql } from 'drizzle-orm';", 'drizzle-orm'],
    ['server/lots/routes.ts', "import { and } from 'drizzle-orm/sqlite-core';", 'drizzle-orm/sqlite-core'],
    ['server/lots/routes.ts', "import { lots } from '../db/tables/lots.ts';", 'server/db/tables/lots.ts'],
    ['server/lots/routes.ts', "import { buildApp } from '../app.ts';", 'server/app.ts'],
    ['server/lots/routes.ts', "import * as orders from '../orders/routes.ts';", 'server/orders/routes.ts'],
    ['server/fibres/routes.ts', "import { lotById } from '../lots/queries.ts';", 'server/lots/queries.ts'],
    ['server/orders/routes.ts', "import type { Plan } from '../lots/plan.ts';", 'server/lots/plan.ts'],
    ['server/stock/ledger.ts', "import { costOf } from '../costing/queries.ts';", 'server/costing/queries.ts'],
    ['server/settings/schemas.ts', "import { passphrase } from '../people/schemas.ts';", 'server/people/schemas.ts'],
    ['server/lots/finish.ts', "import { actorOf } from '../people/guards.ts';", 'server/people/guards.ts'],
    ['server/lots/finish.ts', "import { sow } from '../../seed/studio.ts';", 'seed/studio.ts'],
    ['server/typedFields.ts', "import { theStudio } from './settings/queries.ts';", 'server/settings/queries.ts'],
    ['seed/lots.ts', "import { lots } from '../server/db/tables/lots.ts';", 'server/db/tables/lots.ts'],
    ['seed/lots.ts', "import Database from 'better-sqlite3';", 'better-sqlite3'],
    ['server/lots/plan.ts', "export { theStudio } from '../../server/main.ts';", 'server/main.ts'],
    ['server/lots/plan.ts', "const x = await import('../http/page.ts');", 'server/http/page.ts'],
    ['server/lots/plan.ts', "import {\n  a,\n  b,\n} from '../http/forms.ts';", 'server/http/forms.ts'],
    ['server/lots/plan.ts', "import '../app.ts';", 'server/app.ts'],
  ])('%s: %s', (file, line, to) => {
    expect(forbiddenImports(file, line)).toEqual([`${file} may not import ${to}`]);
  });

  test.each([
    ['server/fibres/routes.ts', "import { actorOf } from '../people/guards.ts';"],
    ['server/settings/routes.ts', "import { actorOf } from '../people/guards.ts';"],
    ['server/lots/routes.ts', "import type { App } from '../http/app.ts';"],
    ['server/lots/finish.ts', "import { type Db } from '../db/open.ts';"],
    ['server/lots/finish.ts', "import { issue } from '../stock/ledger.ts';"],
    ['server/lots/schemas.ts', "import { massMgField } from '../typedFields.ts';"],
    ['views/lots/bench.ts', "import { massText } from '../../server/calc/quantity.ts';"],
    ['views/lots/bench.ts', "import type { Lot } from '../../server/lots/schemas.ts';"],
    ['views/lots/bench.ts', "import type { SwatchTile } from '../../server/swatches/schemas.ts';"],
    ['seed/lots.ts', "import { finishLot } from '../server/lots/finish.ts';"],
    ['server/lots/plan.ts', "// import { sendPage } from '../http/page.ts';"],
  ])('and what is allowed passes: %s: %s', (file, line) => {
    expect(forbiddenImports(file, line)).toEqual([]);
  });

  test.each([
    ['server/lots/plan.ts', 'const a = process.env.PORT;', 'server/lots/plan.ts may not read the environment'],
    ['server/lots/plan.ts', "import { env } from 'node:process';", 'server/lots/plan.ts may not read the environment'],
    ['server/lots/plan.ts', 'const at = Date.now();', 'server/lots/plan.ts may not read the clock'],
    ['server/config.ts', 'const now = Date.now;', 'server/config.ts may not read the clock'],
    ['server/lots/plan.ts', 'const at = new Date();', 'server/lots/plan.ts may not read the clock'],
    ['server/lots/plan.ts', 'const at = new Date;', 'server/lots/plan.ts may not read the clock'],
    ['views/lots/bench.ts', 'DateTime.now().toISODate()', 'views/lots/bench.ts may not read the clock'],
    ['seed/swatches.ts', 'const x = Math.random();', 'seed/swatches.ts may not roll dice'],
  ])('%s: %s', (file, line, sentence) => {
    expect(hiddenInputs(file, line)).toEqual([sentence]);
  });

  test('a function of 101 lines, however it is written, and one that says why', () => {
    const body = '\n  work();'.repeat(99);
    const long = 'server/lots/plan.ts:1 is a function of 101 lines and does not say why';
    expect(longFunctions('server/lots/plan.ts', `function plan() {${body}\n}`)).toEqual([long]);
    expect(longFunctions('server/lots/plan.ts', `const plan = () => {${body}\n};`)).toEqual([long]);
    expect(longFunctions('server/lots/plan.ts', `export const plan = page({ show() {${body}\n} });`)).toEqual([long]);
    expect(longFunctions('server/lots/plan.ts', `/** Plans. */\nfunction plan() {${body}\n}`)).toHaveLength(1);
    expect(
      longFunctions('server/lots/plan.ts', `/** Plans. Long because it is. */\nfunction plan() {${body}\n}`),
    ).toEqual([]);
    expect(longFunctions('server/lots/plan.ts', `function plan() {${body.slice(0, -10)}\n}`)).toEqual([]);
  });

  test('a line of 121 characters, unless it is one text', () => {
    const text = 'x'.repeat(110);
    expect(longLines('views/lots/bench.ts', `ok\n  html\`<p>${text}</p>\``)).toEqual([
      'views/lots/bench.ts:2 is a line of 125 characters',
    ]);
    expect(longLines('views/lots/bench.ts', `  words: '${text}' + '${text}',`)).toHaveLength(1);
    expect(longLines('views/lots/bench.ts', `  words: '${text}, ${text}',\n  \`${text} ${text}\`,`)).toEqual([]);
    expect(longLines('views/lots/bench.ts', `  words: \`<b>${text}</b>\`,`)).toHaveLength(1);
  });

  test('an instant that is handed in is no clock, and main.ts may read it', () => {
    expect(hiddenInputs('server/lots/plan.ts', 'new Date(at).toISOString(); // not Date.now()')).toEqual([]);
    expect(hiddenInputs('server/main.ts', 'const deps = { now: Date.now, env: process.env };')).toEqual([]);
    expect(hiddenInputs('server/config.ts', 'readConfig(process.env)')).toEqual([]);
  });

  test.each([
    ['<p style="color: red">', 'may not style inline'],
    [['<p class="a" style=$', '{css}>'].join(''), 'may not style inline'],
    ['<style>p { color: red }</style>', 'may not style inline'],
    ['<button onclick="go()">', 'may not handle onclick inline'],
    ['<form hx-on::after-request="go()">', 'may not handle hx-on::after-request inline'],
    ['<script>go()</script>', "may not hold a script's body"],
    ['<script src="/static/app.js">go()</script>', "may not hold a script's body"],
    ['<a href="javascript:go()">', 'may not link to a script'],
  ])('a view with %s', (markup, words) => {
    expect(inlineMarkup('views/lots/bench.ts', `html\`${markup}\``)).toEqual([`views/lots/bench.ts ${words}`]);
  });

  test('a script by address, a font style and a variable that begins with on are none of these', () => {
    const source =
      'const once = "x"; html`<script src="/static/app.js" type="module"></script><text font-style="italic">`; const onhand = "y";';
    expect(inlineMarkup('views/lots/bench.ts', source)).toEqual([]);
  });

  test.each([
    'server/lots/utils.ts',
    'views/index.ts',
    'server/helpers/dates.ts',
    'tests/support/common.ts',
    'seed/misc.ts',
  ])('%s', (file) => {
    expect(drawerName(file)).toHaveLength(1);
  });

  test('features that import each other in a ring', () => {
    const ring = new Map([
      ['server/orders/plan.ts', "import { a } from '../lots/plan.ts';"],
      ['server/lots/plan.ts', "import type { b } from '../stock/ledger.ts';"],
      ['server/stock/ledger.ts', "import { c } from '../orders/plan.ts';"],
      ['server/costing/queries.ts', "import { d } from '../lots/plan.ts';"],
    ]);
    expect(cyclesOf(featureGraph(ring))).toEqual(['lots → stock → orders → lots']);
    expect(cyclesOf(fileGraph(ring))).toEqual([
      'server/lots/plan.ts → server/stock/ledger.ts → server/orders/plan.ts → server/lots/plan.ts',
    ]);
  });

  test('files that import each other in a ring', () => {
    const ring = new Map([
      ['server/lots/plan.ts', "import { a } from './bench.ts';"],
      ['server/lots/bench.ts', "import { b } from './plan.ts';"],
    ]);
    expect(cyclesOf(fileGraph(ring))).toEqual(['server/lots/bench.ts → server/lots/plan.ts → server/lots/bench.ts']);
  });
});
