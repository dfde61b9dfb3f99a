import { join } from 'node:path';
import { buildApp } from '../app.ts';
import { applyMigrations } from '../db/migrate.ts';
import { openDatabase } from '../db/open.ts';
import { routeTable, routeTableText } from '../people/routeTable.ts';
import { run, say } from './opening.ts';

// npm run routes: every address of the service with who may use it. No studio is opened.
run('routes', async (config) => {
  const open = openDatabase(':memory:');
  await applyMigrations(open, join(config.packageRoot, 'migrations'));
  const app = await buildApp({ config, ...open, now: Date.now, newId: () => '', firstRunCode: '' });
  await app.ready();
  say(routeTableText(routeTable(app)));
  await app.close();
  open.sqlite.close();
  return 0;
});
