import type { FastifyReply } from 'fastify';
import { exportPage } from '../../views/imports/exportPage.ts';
import type { Deps } from '../deps.ts';
import type { App } from '../http/app.ts';
import { sendPage } from '../http/page.ts';
import { today } from '../settings/today.ts';
import { everythingJson, everythingZip } from './exportRoutes.ts';

/** Leaving: everything in open formats. */
export function exportPages(app: App, deps: Deps): void {
  const kept = (reply: FastifyReply, type: string, ending: string): FastifyReply =>
    reply
      .type(type)
      .header('cache-control', 'no-store')
      .header('content-disposition', `attachment; filename="studio-export-${today(deps)}.${ending}"`);

  app.get('/settings/export', { config: { may: 'own' } }, async (request, reply) =>
    sendPage(request, reply, { title: 'Export', section: 'settings', body: exportPage() }),
  );

  app.get('/settings/export/everything.zip', { config: { may: 'own', audit: 'handedOut' } }, async (_request, reply) =>
    kept(reply, 'application/zip', 'zip').send(await everythingZip(deps)),
  );

  app.get('/settings/export/everything.json', { config: { may: 'own', audit: 'handedOut' } }, async (_request, reply) =>
    kept(reply, 'application/json; charset=utf-8', 'json').send(everythingJson(deps)),
  );
}
