import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: {
    root: new URL('..', import.meta.url).pathname,
    include: ['tests/**/*.test.ts'],
    pool: 'forks',
    // One more than the cores of a small machine: tests of what takes time, or of a browser, wait a third of theirs.
    maxWorkers: 3,
    // One registry of modules a process: loading them anew for each file took as long as most files’ tests. No test
    // puts another module in the place of one.
    isolate: false,
    // Budgets of a machine that has other work: with ten processes waiting for its two cores all takes five times as long.
    testTimeout: 240_000,
    hookTimeout: 600_000,
    expect: { poll: { timeout: 60_000 } },
  },
});
