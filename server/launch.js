/* Every command of package.json begins here: start, build, backup, restore, verify, routes, and whatever runs from tests/.
   Plain JavaScript, since the first thing to find out is whether this Node can run the rest: on one that is too old the SQLite
   driver does not fail, it ends the process with a segmentation fault. Then the one that npm ci has brought takes over, where
   there is one. The service is built where its sources are newer than what was built from them (half a second), and the
   command's own module takes over in this process. */
import { spawn } from 'node:child_process';
import { createHash } from 'node:crypto';
import {
  existsSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmSync,
  statSync,
  utimesSync,
  writeFileSync,
} from 'node:fs';
import nodeModule from 'node:module';
import { dirname, join, resolve } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';

const ROOT = join(dirname(fileURLToPath(import.meta.url)), '..');
const COMMANDS = {
  start: 'main',
  backup: 'backup',
  restore: 'restore',
  verify: 'verify',
  routes: 'routes',
  'way-in': 'wayIn',
};
/** What becomes a file of its own in the build: what is started from outside, and what the service starts beside itself. Their
 *  names must differ, since they lie side by side (server/ownScript.ts). */
const ENTRIES = [
  'server/main.ts',
  'server/commands/backup.ts',
  'server/commands/restore.ts',
  'server/commands/verify.ts',
  'server/commands/routes.ts',
  'server/commands/wayIn.ts',
  'server/readerProcess.ts',
  'server/commands/trial.ts',
  'server/matching/matchingWorker.ts',
  'server/db/checkFile.ts',
  'server/db/copyDatabase.ts',
];
const SOURCES = ['server', 'views', 'seed', 'package-lock.json'];
const STAMP = 'built-from.txt';

/** Says why in words and ends with the code by which a supervisor knows that starting again cannot help (README). */
function refuse(words) {
  process.stderr.write(`Lot & Shade did not start: ${words}\n`);
  process.exit(3);
}

const packageJson = JSON.parse(readFileSync(join(ROOT, 'package.json'), 'utf8'));

/** The Node of node_modules for this machine. npm's scripts find it as node_modules/.bin/node, but npm 10 leaves that link out. */
function broughtRuntime() {
  const system = process.platform === 'win32' ? 'win' : process.platform;
  const name = Object.keys(packageJson.optionalDependencies).find((one) => one.endsWith(`-${system}-${process.arch}`));
  const file = join(ROOT, 'node_modules', String(name), 'bin', process.platform === 'win32' ? 'node.exe' : 'node');
  return existsSync(file) ? file : undefined;
}

/** Runs the same command on another Node and ends as it ends. */
function handOver(runtime) {
  const child = spawn(runtime, [...process.execArgv, ...process.argv.slice(1)], { stdio: 'inherit' });
  for (const signal of ['SIGTERM', 'SIGINT', 'SIGHUP']) process.on(signal, () => child.kill(signal));
  child.on('exit', (code, signal) => process.exit(code ?? 128 + (signal === 'SIGTERM' ? 15 : 9)));
  return new Promise(() => {});
}

async function demandRuntime() {
  const wanted = packageJson.engines.node.replace('>=', '');
  const [major, minor] = wanted.split('.').map(Number);
  const [ownMajor, ownMinor] = process.versions.node.split('.').map(Number);
  if (ownMajor > major || (ownMajor === major && ownMinor >= minor)) return;
  const brought = broughtRuntime();
  if (brought !== undefined) await handOver(brought);
  refuse(
    `it needs Node ${wanted} or later, and this is Node ${process.versions.node}. Where npm ci can bring the Node that the service was tested on, it does; on this machine it has not. Install a newer one.`,
  );
}

/** Every source file with the time of its last change. */
function sources() {
  return SOURCES.flatMap((name) => {
    const path = join(ROOT, name);
    if (!statSync(path).isDirectory()) return [path];
    return readdirSync(path, { recursive: true })
      .map((entry) => join(path, entry))
      .filter((file) => file.endsWith('.ts'));
  }).sort();
}

/** By content, so that a copied folder with other times of change does not have to be built again. */
function stateOf(files) {
  const hash = createHash('sha256');
  for (const file of files) hash.update(file.slice(ROOT.length)).update('\0').update(readFileSync(file)).update('\0');
  return `${files.length} ${hash.digest('hex')}`;
}

async function build(folder) {
  const files = sources();
  const stamp = join(folder, STAMP);
  const [count] = existsSync(stamp) ? readFileSync(stamp, 'utf8').split(' ') : [];
  if (Number(count) === files.length) {
    const builtAt = statSync(stamp).mtimeMs;
    if (files.every((file) => statSync(file).mtimeMs <= builtAt)) return;
    if (readFileSync(stamp, 'utf8') === stateOf(files)) {
      touch(stamp);
      return;
    }
  }
  await compile(folder, files);
}

/** A folder that cannot be written is no reason to stop: the comparison is made again at the next start. */
function touch(stamp) {
  try {
    utimesSync(stamp, new Date(), new Date());
  } catch {}
}

/** Beside the place first and then into it, so that two commands that build at once do not meet half a build. */
async function compile(folder, files) {
  const esbuild = await import('esbuild').catch(() =>
    refuse('it must be built anew, and the compiler is not installed. Run npm ci.'),
  );
  const state = stateOf(files);
  const fresh = `${folder}.${process.pid}`;
  await esbuild.build({
    absWorkingDir: ROOT,
    entryPoints: ENTRIES,
    outdir: fresh,
    entryNames: '[name]',
    chunkNames: 'part-[hash]',
    bundle: true,
    splitting: true,
    platform: 'node',
    format: 'esm',
    target: 'node22',
    sourcemap: true,
    sourcesContent: false,
    logLevel: 'warning',
    // The query builder goes in: its package.json is so large that looking it up for each of its files took half of the start.
    external: [...Object.keys(packageJson.dependencies).filter((name) => name !== 'drizzle-orm'), 'esbuild'],
  });
  // These few are served one by one (the module says which and how), so that a browser keeps what did not change.
  const { modulesFromSources } = await import('./http/browserModules.ts');
  for (const [name, text] of await modulesFromSources()) {
    const file = join(fresh, 'browser', `${name}.js`);
    mkdirSync(dirname(file), { recursive: true });
    writeFileSync(file, text);
  }
  writeFileSync(join(fresh, STAMP), state);
  rmSync(folder, { recursive: true, force: true });
  try {
    renameSync(fresh, folder);
  } catch (error) {
    // Another command was quicker; what it has put there was built from the same sources.
    rmSync(fresh, { recursive: true, force: true });
    if (!existsSync(join(folder, STAMP))) throw error;
  }
}

/** Hands the process over to a module, which finds its own arguments where it would had it been started itself. */
async function become(script, args) {
  process.argv.splice(1, process.argv.length - 1, script, ...args);
  await import(pathToFileURL(script).href);
}

await demandRuntime();
const [command = 'start', ...rest] = process.argv.slice(2);
const dist = join(ROOT, 'dist');
if (command === 'build') await build(rest[0] === undefined ? dist : resolve(rest[0]));
else if (command.startsWith('tests/')) await become(join(ROOT, command), rest);
else if (command === 'vitest') await become(join(ROOT, 'node_modules', 'vitest', 'vitest.mjs'), rest);
else if (Object.hasOwn(COMMANDS, command)) {
  await build(dist);
  // Compiled code is kept beside the build where it can be written; the next start is a fifth shorter for it.
  nodeModule.enableCompileCache?.(join(dist, 'compiled'));
  await become(join(dist, `${COMMANDS[command]}.js`), rest);
} else refuse(`there is no command “${command}”.`);
