import { randomInt, randomUUID } from 'node:crypto';
import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { buildApp } from './app.ts';
import { readConfig } from './config.ts';
import { applyMigrations } from './db/migrate.ts';
import { openDatabase } from './db/open.ts';
import type { Deps } from './deps.ts';
import { networkAddresses } from './http/addresses.ts';
import { findStudio } from './settings/queries.ts';

const say = (line: string): void => {
  process.stdout.write(`${line}\n`);
};

async function main(): Promise<void> {
  const config = readConfig(process.env);
  mkdirSync(config.dataDir, { recursive: true, mode: 0o700 });
  const open = openDatabase(join(config.dataDir, 'studio.sqlite'));
  const applied = await applyMigrations(open, join(config.packageRoot, 'migrations'));
  if (applied > 0) say(`Database ready (${applied} migration${applied === 1 ? '' : 's'} applied) in ${config.dataDir}`);
  const deps: Deps = {
    config,
    ...open,
    now: Date.now,
    newId: randomUUID,
    firstRunCode: String(randomInt(0, 1_000_000)).padStart(6, '0'),
  };
  const app = await buildApp(deps);
  await app.listen({ port: config.port, host: config.host });
  const port = (app.server.address() as { port: number }).port;
  say('Lot & Shade is open at');
  for (const address of networkAddresses(config.host, port)) say(`  ${address}`);
  if (!findStudio(open.db)) {
    say('First run: open one of these in a browser. From another device the page asks for this code:');
    say(`  ${deps.firstRunCode}`);
  }

  let closing = false;
  const close = async (signal: string): Promise<void> => {
    if (closing) return;
    closing = true;
    say(`${signal}: finishing what is under way`);
    await app.close();
    open.sqlite.close();
    process.exit(0);
  };
  process.on('SIGTERM', close);
  process.on('SIGINT', close);
}

main().catch((error: unknown) => {
  const { message, code, port } = error as { message?: string; code?: string; port?: number };
  process.stderr.write(
    `Lot & Shade did not start: ${code === 'EADDRINUSE' ? `port ${port} is in use; set PORT to another` : message}\n`,
  );
  process.exit(1);
});
