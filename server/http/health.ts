import { statfs } from 'node:fs/promises';
import type { FastifyInstance } from 'fastify';
import type { Deps } from '../deps.ts';

/** Below so much free space the service says that it is not ready: a photo or a backup would fill the disk. */
const FREE_BYTES = 20_000_000;

/** Two plain addresses for whoever watches over the service (systemd, a proxy, a monitor). Registered before the sign-in
 *  is looked at, so that they answer when the database does not. Nothing of the studio is told. */
export async function healthRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  const open = { config: { may: 'anyone' as const }, schema: { hide: true }, logLevel: 'warn' as const };
  app.get('/healthz', open, async (_request, reply) => {
    reply.header('cache-control', 'no-store');
    return { alive: true };
  });
  app.get('/readyz', open, async (request, reply) => {
    reply.header('cache-control', 'no-store');
    try {
      // Takes the write lock and gives it back: fails where an entry would, on a folder that became read-only.
      deps.sqlite.exec('BEGIN IMMEDIATE');
      deps.sqlite.exec('ROLLBACK');
      // Set once nothing may be written any more (db/soundness.ts).
      if (deps.sqlite.pragma('query_only', { simple: true }) === 1) throw new Error('the database is read only');
      const { bavail, bsize } = await statfs(deps.config.dataDir);
      if (bavail * bsize >= FREE_BYTES) return { ready: true };
      request.log.error({ freeBytes: bavail * bsize }, 'the disk of the data folder is nearly full');
      reply.code(503);
      return { ready: false };
    } catch (error) {
      request.log.error({ err: error }, 'the database takes no writes');
      reply.code(503);
      return { ready: false };
    }
  });
}
