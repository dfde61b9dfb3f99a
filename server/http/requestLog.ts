import type { FastifyRequest, FastifyServerOptions } from 'fastify';

/** What the log tells of a request: enough to find it, nothing that opens a door. Cookies, tokens and bodies are not there
 *  at all; an address is told without its query, and as its pattern where it holds a secret (a one-time link). */
export const requestLog = (level: string): NonNullable<FastifyServerOptions['logger']> => ({
  level,
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
