import type { Deps } from '../../server/deps.ts';

export interface Ran {
  source: string;
  values: unknown[];
}

const RUNNING = ['run', 'get', 'all', 'iterate'] as const;
type Statement = { source: string; database: unknown } & Record<
  (typeof RUNNING)[number],
  (...values: unknown[]) => unknown
>;

/** Every SQL statement that a piece of work runs on this connection, in order, those that were prepared long before too. */
export async function ranBy({ sqlite }: Pick<Deps, 'sqlite'>, work: () => PromiseLike<unknown>): Promise<Ran[]> {
  const statement = Object.getPrototypeOf(sqlite.prepare('select 1')) as Statement;
  const originals = RUNNING.map((name) => [name, statement[name]] as const);
  const ran: Ran[] = [];
  for (const [name, original] of originals)
    statement[name] = function (this: Statement, ...values) {
      if (this.database === sqlite) ran.push({ source: this.source, values });
      return original.apply(this, values);
    };
  try {
    await work();
  } finally {
    for (const [name, original] of originals) statement[name] = original;
  }
  return ran;
}

/** How many SQL statements a piece of work runs. A list that asks once a row shows here: its count grows with its rows. */
export const statementsOf = async (deps: Pick<Deps, 'sqlite'>, work: () => PromiseLike<unknown>): Promise<number> =>
  (await ranBy(deps, work)).length;
