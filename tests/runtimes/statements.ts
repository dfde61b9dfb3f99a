import Database from 'better-sqlite3';

/* node --expose-gc tests/runtimes/statements.ts: ten thousand statements prepared, run and dropped, with garbage collection
   forced throughout. A driver that lets go of a statement in the wrong way ends the process here. */
const STATEMENTS = 10_000;
const collect = (globalThis as { gc?: () => void }).gc;
if (!collect) throw new Error('Run it with --expose-gc.');

const sqlite = new Database(':memory:');
sqlite.exec('create table jars (id integer primary key, mass_mg integer not null) strict');
let sum = 0;
for (let i = 1; i <= STATEMENTS; i++) {
  sqlite.prepare(`insert into jars (mass_mg) values (${i})`).run();
  sum += sqlite.prepare(`select mass_mg from jars where id = ${i}`).pluck().get() as number;
  if (i % 50 === 0) {
    collect();
    // Finalisers run between turns of the event loop, not within one.
    await new Promise((resolve) => setImmediate(resolve));
  }
}
sqlite.close();
if (sum !== (STATEMENTS * (STATEMENTS + 1)) / 2) throw new Error(`The statements answered ${sum}.`);
