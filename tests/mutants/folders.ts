/** What is mutated, and the tests that must notice: those that a person who changes the folder would run. A mutant that they let
 *  live would run every other test of the service too, which takes minutes, so the others are left out. */
export interface Folder {
  mutate: readonly string[];
  tests: readonly string[];
}

export const FOLDERS: Record<string, Folder> = {
  stock: {
    mutate: ['server/stock/**/*.ts'],
    tests: [
      'tests/http/stock*.test.ts',
      'tests/http/{shopping,movingAverage,mixing,money,container,sentOnce}.test.ts',
      'tests/http/{ledger,arrival}*.test.ts',
      'tests/http/{costing.additions,openapi}.test.ts',
      'tests/http/costing.{books,rules}.losses.test.ts',
    ],
  },
  costing: {
    mutate: ['server/costing/**/*.ts', 'server/exports/**/*.ts'],
    tests: [
      'tests/http/costing*.test.ts',
      'tests/http/{export,movingAverage,money,snapshots,stock.resent,openapi}*.test.ts',
    ],
  },
  guards: {
    mutate: ['server/people/guards.ts'],
    tests: ['tests/http/{people,invitations,guards}*.test.ts'],
  },
  calc: {
    mutate: ['server/calc/*.ts'],
    tests: ['tests/calc/*.test.ts'],
  },
  lots: {
    mutate: ['server/{plans,lots,bench,voices}/**/*.ts'],
    tests: [
      'tests/http/{lots,placement,voice,live,mixing,choices,container,sentOnce,snapshots}*.test.ts',
      'tests/http/{ledger,arrival}*.test.ts',
      'tests/http/{costing.additions,movingAverage}.test.ts',
    ],
  },
  imports: {
    mutate: ['server/imports/**/*.ts'],
    tests: ['tests/http/{imports,export}*.test.ts', 'tests/http/csv.test.ts'],
  },
};

/** The folder whose mutants are under test, for the configuration of Vitest, which runs in processes of its own. */
export const FOLDER = 'MUTANTS_FOLDER';
