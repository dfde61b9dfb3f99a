import type { FastifyReply } from 'fastify';
import { exportPage } from '../../../views/imports/export.ts';
import type { Deps } from '../../deps.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { today } from '../../settings/today.ts';
import { everythingJson, everythingZip } from '../sending.ts';

const kept = (deps: Deps, reply: FastifyReply, type: string, ending: string): FastifyReply =>
  reply
    .type(type)
    .header('cache-control', 'no-store')
    .header('content-disposition', `attachment; filename="studio-export-${today(deps)}.${ending}"`);

export const showExport = page({
  show: (_deps, { request, reply }) =>
    sendPage(request, reply, { title: 'Export', section: 'settings', body: exportPage() }),
});

export const zipFile = page({
  audit: 'handedOut',
  show: async (deps, { reply }) => kept(deps, reply, 'application/zip', 'zip').send(await everythingZip(deps)),
});

export const jsonFile = page({
  audit: 'handedOut',
  show: (deps, { reply }) => kept(deps, reply, 'application/json; charset=utf-8', 'json').send(everythingJson(deps)),
});
