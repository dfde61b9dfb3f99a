import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: {
    root: new URL('..', import.meta.url).pathname,
    include: ['tests/**/*.test.ts'],
    pool: 'forks',
    maxWorkers: 2,
    // One registry of modules a process: loading them anew for each file took as long as most files’ tests. No test
    // puts another module in the place of one.
    isolate: false,
    // Budgets of a machine that has other work: with ten processes waiting for its two cores all takes five times as long.
    testTimeout: 240_000,
    hookTimeout: 600_000,
    expect: { poll: { timeout: 60_000 } },
  },
});
