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
    testTimeout: 30_000,
    hookTimeout: 60_000,
  },
});
