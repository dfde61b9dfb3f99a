import { readFileSync, statSync } from 'node:fs';
import type { IncomingMessage, ServerResponse } from 'node:http';
import type { Server as SecureServer } from 'node:https';
import type { Socket } from 'node:net';
import type { FastifyInstance } from 'fastify';
import type { Config } from '../config.ts';
import { machineNames } from './addresses.ts';
import { studioCertificate } from './studioCertificate.ts';
import { answersTo } from './visitors.ts';

export interface KeyPair {
  cert: string;
  key: string;
}

/** The certificate that this service shows, as configured; null for plain http. */
export async function keyPairOf(config: Config, nowMs: number): Promise<KeyPair | null> {
  if (config.tls === null) return null;
  if (config.tls.from === 'files')
    return { cert: readFileSync(config.tls.certFile, 'utf8'), key: readFileSync(config.tls.keyFile, 'utf8') };
  return studioCertificate(config.dataDir, { names: machineNames(config.host), nowMs });
}

const LOOK_EVERY_MS = 60_000;

/** Puts a new certificate in place without a restart: when this machine got other addresses or the old one comes to its
 *  end, or when the files were renewed. A failure is logged and the old one stays. */
export function keepCertificate(app: FastifyInstance, config: Config, now: () => number): void {
  const { tls } = config;
  if (tls === null) return;
  const server = app.server as unknown as SecureServer;
  const changedAt = (): number => (tls.from === 'files' ? statSync(tls.certFile).mtimeMs : 0);
  let seen = changedAt();
  const timer = setInterval(async () => {
    try {
      if (tls.from === 'studio') {
        const certificate = await studioCertificate(config.dataDir, {
          names: machineNames(config.host),
          nowMs: now(),
        });
        if (certificate.isNew) server.setSecureContext(certificate);
      } else if (changedAt() !== seen) {
        const pair = await keyPairOf(config, now());
        if (pair) server.setSecureContext(pair);
        seen = changedAt();
      }
    } catch (error) {
      app.log.error({ err: error }, 'the certificate could not be renewed; the old one stays');
    }
  }, LOOK_EVERY_MS).unref();
  app.addHook('preClose', async () => clearInterval(timer));
}

const FIRST_BYTE_MS = 10_000;
/** The first byte of a TLS connection: a handshake record (RFC 8446, §5.1). No http method begins so. */
const HANDSHAKE = 0x16;

/** Answers plain http on the https port. Addresses on printed labels and in bookmarks may be of the time before; they are
 *  led to https. The page about trust and the certificate itself are given plainly, since they are for phones that do not
 *  trust yet. Call before listening. The module is loaded here since naming its exports costs a tenth of a second, which a
 *  start without TLS can do without. */
export async function answerPlainHttp(app: FastifyInstance, config: Pick<Config, 'hosts'>): Promise<void> {
  const { createServer } = await import('node:http');
  const secure = app.server as unknown as SecureServer;
  const plain = createServer((request: IncomingMessage, response: ServerResponse) => {
    response.setHeader('connection', 'close');
    const { method, url = '/', headers } = request;
    if ((method === 'GET' || method === 'HEAD') && /^\/(trust|static)(\/|\?|$)/.test(url)) {
      app.routing(request, response);
      return;
    }
    const host = headers.host ?? '';
    const there =
      URL.canParse(`https://${host}`) && url.startsWith('/') && answersTo(config, host)
        ? `https://${host}${url}`
        : null;
    response.writeHead(there ? 308 : 400, there ? { location: there } : {}).end();
  });
  const takeSecurely = secure.listeners('connection') as ((socket: Socket) => void)[];
  secure.removeAllListeners('connection');
  secure.on('connection', (socket: Socket) => {
    const drop = (): void => void socket.destroy();
    socket.on('error', drop);
    socket.setTimeout(FIRST_BYTE_MS, drop);
    socket.once('readable', () => {
      const first = socket.read(1) as Buffer | null;
      if (first === null) return drop();
      socket.off('error', drop);
      socket.setTimeout(0, drop);
      socket.unshift(first);
      if (first[0] === HANDSHAKE) for (const take of takeSecurely) take.call(secure, socket);
      else plain.emit('connection', socket);
    });
  });
}
