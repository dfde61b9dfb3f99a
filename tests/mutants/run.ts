import { globSync, readFileSync } from 'node:fs';
import { Stryker } from '@stryker-mutator/core';
import { FOLDER, FOLDERS } from './folders.ts';

/* npm run test:mutants: faults put into the sources one by one, and whether a test notices. By folder (-- stock costing), else all
 * of them; what has not changed since the last time is not tried again (-- --afresh tries all). Whole folders take hours: -- --every=4 tries each fourth stretch of twenty lines of every
 * file, which tells the score within a point or two. Reports lie in dist/mutants. */
const asked = process.argv.slice(2);
const mutate = asked.find((a) => a.startsWith('--mutate='))?.slice('--mutate='.length);
const every = Number(asked.find((a) => a.startsWith('--every='))?.slice('--every='.length) ?? 1);
const STRETCH = 20;
const names = asked.filter((a) => !a.startsWith('--'));
const unknown = names.filter((name) => !(name in FOLDERS));
if (unknown.length > 0) {
  process.stderr.write(`No folder ${unknown.join(', ')}: ${Object.keys(FOLDERS).join(', ')}\n`);
  process.exit(1);
}

const wanted = (globs: readonly string[]): string[] => (every > 1 ? sampled(globs) : [...globs]);

/** One of so many stretches of the files, going on from one file to the next. */
function sampled(globs: readonly string[]): string[] {
  let stretch = 0;
  return globSync([...globs])
    .toSorted()
    .flatMap((file) => {
      const lines = readFileSync(file, 'utf8').split('\n').length;
      const begins = Array.from({ length: Math.ceil(lines / STRETCH) }, (_, i) => 1 + i * STRETCH);
      return begins.filter(() => stretch++ % every === 0).map((from) => `${file}:${from}-${from + STRETCH - 1}`);
    });
}

interface Tally {
  noticed: number;
  all: number;
}
const tallies = new Map<string, Tally>();
for (const name of names.length > 0 ? names : Object.keys(FOLDERS)) {
  process.env[FOLDER] = name;
  const began = performance.now();
  const results = await new Stryker({
    mutate: mutate === undefined ? wanted(FOLDERS[name]?.mutate ?? []) : mutate.split(','),
    testRunner: 'vitest',
    plugins: ['@stryker-mutator/vitest-runner', './tests/mutants/survivors.ts'],
    vitest: { configFile: 'tests/mutants/vitest.config.ts', related: false },
    coverageAnalysis: 'perTest',
    // What runs when a module is loaded (schemas, tables) would need the whole service loaded anew for each mutant.
    ignoreStatic: true,
    concurrency: 1,
    timeoutMS: 60_000,
    timeoutFactor: 4,
    dryRunTimeoutMinutes: 60,
    incremental: true,
    force: asked.includes('--afresh'),
    incrementalFile: `dist/mutants/${name}.incremental.json`,
    // Not under node_modules, where Node strips no types.
    tempDirName: 'dist/mutants/sandbox',
    // TypeScript 7 has no compiler that could be asked to rewrite the copied configuration, and none is needed.
    tsconfigFile: 'none',
    disableTypeChecks: false,
    checkers: [],
    reporters: ['progress-append-only', 'survivors', 'clear-text', 'json', 'html'],
    clearTextReporter: { allowColor: false, logTests: false, reportTests: false, reportMutants: false },
    jsonReporter: { fileName: `dist/mutants/${name}.json` },
    htmlReporter: { fileName: `dist/mutants/${name}.html` },
    allowEmpty: true,
  }).runMutationTest();
  const tally = { noticed: 0, all: 0 };
  for (const { status } of results) {
    if (status === 'Killed' || status === 'Timeout') tally.noticed += 1;
    if (status !== 'Ignored' && status !== 'CompileError' && status !== 'RuntimeError') tally.all += 1;
  }
  tallies.set(name, tally);
  const seconds = (performance.now() - began) / 1000;
  process.stdout.write(`${line(name, tally)}, ${(tally.all / seconds).toFixed(1)} a second\n`);
}

function line(name: string, { noticed, all }: Tally): string {
  return `${name.padEnd(8)} ${((100 * noticed) / all).toFixed(1)} % (${noticed} of ${all})`;
}
process.stdout.write('\n');
const together = { noticed: 0, all: 0 };
for (const [name, tally] of tallies) {
  together.noticed += tally.noticed;
  together.all += tally.all;
  process.stdout.write(`${line(name, tally)}\n`);
}
process.stdout.write(`${line('together', together)}\n`);
