import { readFile } from 'node:fs/promises';
import type { FastifyInstance } from 'fastify';

/** What the page of the bench imports (static/benchKept.js): the views that draw it, and what it comes to with the entries that wait on
 *  the device. What these import is the rest of the list. */
const ENTRIES = [
  'views/bench/byScript',
  'views/bench/keptMark',
  'views/bench/questions',
  'views/bench/steps',
  'views/bench/unsent',
  'views/bench/waiting',
  'views/bench/waysOut',
  'views/bench/weigh',
];

/** Modules that run in the browser too, from the same sources: pure calculation and the views that say it, nothing that knows a
 *  request, a file or the database. What is not here is not served. */
export const BROWSER_MODULES: ReadonlySet<string> = new Set([
  ...ENTRIES,
  'views/bench/benchForm',
  'views/bench/containerFigures',
  'views/bench/toleranceBar',
  'views/bench/undoForm',
  'views/kit/field',
  'views/kit/show',
  'views/html',
  'server/calc/overWeighing',
  'server/calc/plausibleReading',
  'server/calc/weighing',
  'server/calc/stockSolution',
  'server/calc/quantity',
  'server/calc/units',
  'server/calc/rounding',
  'server/calc/calcError',
]);

/** Where the build puts them (server/launch.js): beside the file that this one became part of. */
const BUILT = new URL('./browser/', import.meta.url);
const RUNS_FROM_SOURCES = import.meta.url.endsWith('.ts');

type Texts = ReadonlyMap<string, string>;
let reading: Promise<Texts> | undefined;

/** The text of each module by its name, read once. */
export function browserModules(): Promise<Texts> {
  reading ??= (RUNS_FROM_SOURCES ? modulesFromSources() : builtModules()).catch((error: unknown) => {
    reading = undefined;
    throw error;
  });
  return reading;
}

async function builtModules(): Promise<Texts> {
  const texts = [...BROWSER_MODULES].map(
    async (name): Promise<[string, string]> => [name, await readFile(new URL(`${name}.js`, BUILT), 'utf8')],
  );
  return new Map(await Promise.all(texts));
}

/** As a browser runs them: without their types, each importing the other by the name under which it is served. */
export async function modulesFromSources(): Promise<Texts> {
  const { transform } = await import('esbuild');
  const texts = [...BROWSER_MODULES].map(async (name): Promise<[string, string]> => {
    const source = await readFile(new URL(`../../${name}.ts`, import.meta.url), 'utf8');
    const { code } = await transform(source, { loader: 'ts', format: 'esm', target: 'es2022' });
    return [name, code.replace(/(\bfrom "\.[^"]*)\.ts"/g, '$1.js"')];
  });
  return new Map(await Promise.all(texts));
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
