import type { FastifyRequest, FastifyServerOptions } from 'fastify';
import { type Terminal, terminal } from './terminal.ts';

/** What the log tells of a request: enough to find it, nothing that opens a door. Cookies, tokens and bodies are not there
 *  at all; an address is told without its query, and as its pattern where it holds a secret (a one-time link). The logger's own
 *  way of writing tries a line again and again where the disk is full, and answers nobody meanwhile. */
export const requestLog = (
  level: string,
  stream: Terminal = terminal(1),
): NonNullable<FastifyServerOptions['logger']> => ({
  level,
  stream,
  redact: ['req.headers.cookie', 'req.headers.authorization', 'headers.cookie', 'headers.authorization'],
  serializers: {
    req: (request: FastifyRequest) => {
      const route = request.routeOptions?.url;
      return {
        method: request.method,
        url: route?.includes(':token') ? route : (request.url?.split('?')[0] ?? ''),
        remoteAddress: request.ip,
      };
    },
  },
});
