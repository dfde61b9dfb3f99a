import { trustPage } from '../../../views/settings/trust.ts';
import type { Deps } from '../../deps.ts';
import { notFound } from '../../errors.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { studioAuthority } from '../../http/studioCertificate.ts';
import { dayOf } from '../days.ts';
import { findStudio } from '../queries.ts';

/* How a phone comes to trust this studio's certificate. For anyone: it is read before there is trust, and holds nothing
 * that the connection does not show anyway. */

const authorityOf = ({ tls, dataDir }: Deps['config']) => (tls?.from === 'studio' ? studioAuthority(dataDir) : null);

export const showTrust = page({
  show: ({ config, db }, { request, reply }) => {
    const found = authorityOf(config);
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
  },
});

export const sendAuthority = page({
  show: ({ config }, { reply }) => {
    const found = authorityOf(config);
    if (!found) throw notFound('studio certificate');
    return reply
      .type('application/x-x509-ca-cert')
      .header('content-disposition', 'attachment; filename="studio-authority.crt"')
      .header('cache-control', 'no-store')
      .send(found.der);
  },
});
