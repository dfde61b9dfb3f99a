import { defineConfig } from 'vitest/config';
import { BaseSequencer } from 'vitest/node';
import base from '../vitest.config.ts';
import { FOLDER, FOLDERS } from './folders.ts';
import { warmPool } from './warmPool.ts';

/** The first test that notices a mutant ends its run, so the small ones go first. */
class SmallFirst extends BaseSequencer {
  override async sort(files: Parameters<BaseSequencer['sort']>[0]): ReturnType<BaseSequencer['sort']> {
    const size = ({ moduleId }: (typeof files)[number]): number => (/\/calc\/|\.losses\./.test(moduleId) ? 0 : 1);
    return [...files].sort((a, b) => size(a) - size(b) || (a.moduleId < b.moduleId ? -1 : 1));
  }
}

export default defineConfig({
  plugins: [
    {
      name: 'warm-pool',
      configureVitest({ project }) {
        project.config.poolRunner = warmPool;
        project.config.pool = warmPool.name;
      },
    },
  ],
  test: {
    ...base.test,
    root: new URL('../..', import.meta.url).pathname,
    include: [...(FOLDERS[process.env[FOLDER] ?? 'calc']?.tests ?? [])],
    // What is drawn at random notices a fault one day and not the next.
    exclude: ['tests/**/*.properties.test.ts'],
    setupFiles: ['tests/mutants/setup.ts'],
    maxWorkers: 1,
    // A busy machine is no failed test; what never ends is ended from outside.
    testTimeout: 600_000,
    hookTimeout: 600_000,
    sequence: { sequencer: SmallFirst },
  },
});
