import type { Deps } from '../../server/deps.ts';

const COUNTED = ['run', 'get', 'all', 'iterate'] as const;

/** How many SQL statements a piece of work runs. A list that asks once a row shows here: its count grows with its rows. */
export async function statementsOf(deps: Pick<Deps, 'sqlite'>, work: () => PromiseLike<unknown>): Promise<number> {
  const { sqlite } = deps;
  const { prepare } = sqlite;
  let count = 0;
  sqlite.prepare = ((source: string) => {
    const statement = prepare.call(sqlite, source) as unknown as Record<
      (typeof COUNTED)[number],
      (...a: unknown[]) => unknown
    >;
    for (const name of COUNTED) {
      const original = statement[name];
      statement[name] = (...args) => {
        count += 1;
        return original.apply(statement, args);
      };
    }
    return statement;
  }) as unknown as typeof prepare;
  try {
    await work();
  } finally {
    sqlite.prepare = prepare;
  }
  return count;
}
