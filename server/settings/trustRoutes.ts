import { trustPage } from '../../views/settings/trustPage.ts';
import type { Deps } from '../deps.ts';
import { notFound } from '../errors.ts';
import type { App } from '../http/app.ts';
import { sendPage } from '../http/page.ts';
import { studioAuthority } from '../http/studioCertificate.ts';
import { dayOf } from './days.ts';
import { findStudio } from './queries.ts';

/** How a phone comes to trust this studio's certificate. For anyone: it is read before there is trust, and holds nothing
 *  that the connection does not show anyway. */
export function trustPages(app: App, deps: Deps): void {
  const { config, db } = deps;
  const authority = () => (config.tls?.from === 'studio' ? studioAuthority(config.dataDir) : null);

  app.get('/trust', { config: { may: 'anyone' } }, async (request, reply) => {
    const found = authority();
    return sendPage(request, reply, {
      title: 'Secure connection',
      section: 'settings',
      body: trustPage({
        served: config.tls?.from ?? (request.protocol === 'https' ? 'proxy' : 'plain'),
        secureNow: request.protocol === 'https',
        authority: found && {
          name: found.name,
          fingerprint: found.fingerprint,
          until: dayOf(found.expiresAt, findStudio(db)?.zone ?? config.zone),
        },
      }),
    });
  });

  app.get('/trust/studio-authority.crt', { config: { may: 'anyone' } }, async (_request, reply) => {
    const found = authority();
    if (!found) throw notFound('studio certificate');
    return reply
      .type('application/x-x509-ca-cert')
      .header('content-disposition', 'attachment; filename="studio-authority.crt"')
      .header('cache-control', 'no-store')
      .send(found.der);
  });
}
