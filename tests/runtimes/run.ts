import { type ChildProcess, execFileSync, spawn, spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { findChromium } from '../support/browser.ts';

/* npm run test:runtimes [-- 22 24 26]: the newest Node of each line from the registry runs the built service through what a
   studio does with it. One that is too old must hand over to the Node that npm ci has brought, and otherwise say so in words and
   end with the documented code (tests/faults/start.test.ts). */
const LINES = process.argv.length > 2 ? process.argv.slice(2) : ['20', '22', '24', '26'];
const ROOT = join(import.meta.dirname, '..', '..');
const LAUNCH = join(ROOT, 'server', 'launch.js');

interface Package {
  optionalDependencies: Record<string, string>;
  engines: { node: string };
}
const { optionalDependencies, engines } = JSON.parse(readFileSync(join(ROOT, 'package.json'), 'utf8')) as Package;
const oldest = Number(/\d+/.exec(engines.node)?.[0]);
const runtimePackage = Object.keys(optionalDependencies).find((name) =>
  name.endsWith(`-${process.platform === 'win32' ? 'win' : process.platform}-${process.arch}`),
);
if (!runtimePackage) throw new Error(`There is no Node in the registry for ${process.platform} on ${process.arch}.`);
if (findChromium() === null) throw new Error('A lot is finished in a browser, and no Chromium was found.');

const work = mkdtempSync(join(tmpdir(), 'lot-and-shade-runtimes-'));
const children = new Set<ChildProcess>();
process.on('exit', () => {
  for (const child of children) child.kill('SIGKILL');
  rmSync(work, { recursive: true, force: true });
});
const say = (line: string): void => {
  process.stdout.write(`${line}\n`);
};

function fetchRuntime(line: string): string {
  const folder = join(work, `node-${line}`);
  mkdirSync(folder);
  execFileSync(
    'npm',
    ['install', '--no-save', '--no-audit', '--no-fund', '--prefix', folder, `${runtimePackage}@${line}`],
    {
      stdio: ['ignore', 'ignore', 'pipe'],
      shell: process.platform === 'win32',
    },
  );
  const name = process.platform === 'win32' ? 'node.exe' : 'node';
  return join(folder, 'node_modules', runtimePackage ?? '', 'bin', name);
}

/** One thing that a studio does, with what went wrong; empty: nothing. */
type Step = (node: string, dataDir: string) => Promise<string> | string;

const environment = (dataDir: string): NodeJS.ProcessEnv => ({
  ...process.env,
  PORT: '0',
  HOST: '127.0.0.1',
  DATA_DIR: dataDir,
});

function command(node: string, dataDir: string, args: readonly string[], wanted: string): string {
  const { status, stdout, stderr } = spawnSync(node, [LAUNCH, ...args], {
    env: environment(dataDir),
    encoding: 'utf8',
  });
  return status === 0 && stdout.includes(wanted) ? '' : `ended with ${status}: ${stdout}${stderr}`;
}

async function lived(node: string, dataDir: string): Promise<string> {
  const child = spawn(node, [LAUNCH], { env: environment(dataDir), stdio: ['ignore', 'pipe', 'pipe'] });
  children.add(child);
  let complaint = '';
  child.stderr.on('data', (chunk: Buffer) => {
    complaint += chunk.toString();
  });
  const ended = new Promise<number | null>((resolve) => child.once('close', (code) => resolve(code)));
  const url = await new Promise<string | null>((resolve) => {
    createInterface({ input: child.stdout }).on('line', (line) => {
      const address = /http:\/\/127\.0\.0\.1:\d+\/first-run\?code=\d+/.exec(line)?.[0];
      if (address) resolve(address);
    });
    void ended.then(() => resolve(null));
  });
  if (url === null) return `did not start: ${complaint}`;
  const smoke = spawn(process.execPath, [join(ROOT, 'tests', 'browser', 'smoke.ts')], {
    env: { ...process.env, SMOKE_URL: url },
    stdio: ['ignore', 'ignore', 'pipe'],
  });
  children.add(smoke);
  smoke.stderr.on('data', (chunk: Buffer) => {
    complaint += chunk.toString();
  });
  const finished = await new Promise<number | null>((resolve) => smoke.once('close', (code) => resolve(code)));
  child.kill('SIGTERM');
  const code = await ended;
  return finished === 0 && code === 0
    ? ''
    : `the browser ended with ${finished}, the service with ${code}: ${complaint}`;
}

function statements(node: string): string {
  const { status, signal, stderr } = spawnSync(
    node,
    ['--expose-gc', '--experimental-strip-types', join(import.meta.dirname, 'statements.ts')],
    { encoding: 'utf8' },
  );
  return status === 0 ? '' : `ended with ${status ?? signal}: ${stderr}`;
}

const archive = (dataDir: string): string => join(dataDir, '..', 'archive.zip');
const STEPS: readonly [string, Step][] = [
  ['first run with the sample, a lot finished', lived],
  ['backup', (node, dataDir) => command(node, dataDir, ['backup', archive(dataDir)], 'read back and whole')],
  ['restore', (node, dataDir) => command(node, `${dataDir}-restored`, ['restore', archive(dataDir)], 'Restored')],
  ['verify', (node, dataDir) => command(node, `${dataDir}-restored`, ['verify'], 'All is well')],
  ['10 000 statements dropped', statements],
];

execFileSync(process.execPath, [LAUNCH, 'build'], { stdio: 'inherit' });
const rows: string[][] = [];
let failures = 0;
for (const line of LINES) {
  const node = fetchRuntime(line);
  const version = execFileSync(node, ['--version'], { encoding: 'utf8' }).trim();
  const dataDir = join(work, `studio-${line}`, 'data');
  mkdirSync(dataDir, { recursive: true });
  // The driver would end a process of an old line; everything else is handed over.
  const steps = Number(line) < oldest ? STEPS.filter(([, step]) => step !== statements) : STEPS;
  for (const [name, step] of steps) {
    const at = performance.now();
    const wrong = await step(node, dataDir);
    if (wrong !== '') failures += 1;
    rows.push([version, name, wrong === '' ? 'well' : 'FAILED', `${((performance.now() - at) / 1000).toFixed(1)} s`]);
    if (wrong !== '') say(`${version}, ${name}: ${wrong}`);
  }
}
const widths = [0, 1, 2, 3].map((column) => Math.max(...rows.map((row) => row[column]?.length ?? 0)));
for (const row of rows) say(row.map((cell, column) => cell.padEnd(widths[column] ?? 0)).join('  '));
say(`${rows.length - failures} passed, ${failures} failed`);
process.exitCode = failures === 0 ? 0 : 1;
