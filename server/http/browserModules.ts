import { execFile } from 'node:child_process';
import { mkdtemp, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import type { FastifyInstance } from 'fastify';

/** What the bench imports: its ways out, what a container asks for, and what is asked about a reading. What these import is the rest
 *  of the list. */
const ENTRIES = ['views/lots/waysOut', 'views/lots/containerFigures', 'server/calc/plausibleReading'];

/** Modules that run in the browser too, from the same sources: pure calculation and the views that say it, nothing that knows a
 *  request, a file or the database. What is not here is not served. */
export const BROWSER_MODULES: ReadonlySet<string> = new Set([
  ...ENTRIES,
  'views/lots/benchForm',
  'views/kit/show',
  'views/html',
  'server/calc/overWeighing',
  'server/calc/weighing',
  'server/calc/stockSolution',
  'server/calc/quantity',
  'server/calc/units',
  'server/calc/rounding',
  'server/calc/calcError',
]);

/** The folder that holds server/ and views/, as they run: dist, or the sources. */
const HERE = fileURLToPath(new URL('../..', import.meta.url));
const RUNS_FROM_SOURCES = import.meta.url.endsWith('.ts');

let compiling: Promise<ReadonlyMap<string, string>> | undefined;

/** The text of each module by its name, read once. A service that runs compiled has them at hand; one that runs from the sources
 *  (npm run dev, tests) lets the same compiler write these few, which takes a fifth of a second. */
export function browserModules(): Promise<ReadonlyMap<string, string>> {
  compiling ??= (RUNS_FROM_SOURCES ? compiledModules() : modulesIn(HERE)).catch((error: unknown) => {
    compiling = undefined;
    throw error;
  });
  return compiling;
}

async function modulesIn(folder: string): Promise<ReadonlyMap<string, string>> {
  const texts = [...BROWSER_MODULES].map(async (name): Promise<[string, string]> => {
    const text = await readFile(join(folder, `${name}.js`), 'utf8');
    return [name, text.replace(/\n\/\/# sourceMappingURL=\S+\s*$/, '\n')];
  });
  return new Map(await Promise.all(texts));
}

async function compiledModules(): Promise<ReadonlyMap<string, string>> {
  const folder = await mkdtemp(join(tmpdir(), 'lot-and-shade-modules-'));
  try {
    await promisify(execFile)(
      process.execPath,
      [
        join(HERE, 'node_modules', 'typescript', 'bin', 'tsc'),
        ...['--ignoreConfig', '--noCheck', '--verbatimModuleSyntax', '--rewriteRelativeImportExtensions'],
        ...['--target', 'es2023', '--module', 'nodenext', '--rootDir', HERE, '--outDir', folder],
        ...ENTRIES.map((entry) => join(HERE, `${entry}.ts`)),
      ],
      { cwd: HERE },
    );
    return await modulesIn(folder);
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
}

/** Serves them among the static files, where the bench's worker keeps them for a day without network. */
export async function browserModuleRoutes(app: FastifyInstance): Promise<void> {
  app.get<{ Params: { '*': string } }>(
    '/static/shared/*',
    { config: { may: 'anyone' }, schema: { hide: true } },
    async (request, reply) => {
      const path = request.params['*'];
      const name = path.endsWith('.js') ? path.slice(0, -'.js'.length) : '';
      if (!BROWSER_MODULES.has(name)) return reply.callNotFound();
      return reply
        .type('text/javascript; charset=utf-8')
        .header('cache-control', 'no-cache')
        .send((await browserModules()).get(name));
    },
  );
}
