import type { FastifyInstance } from 'fastify';
import type { ZodTypeProvider } from 'fastify-type-provider-zod';
import type { Deps } from '../deps.ts';

/** The service as a feature sees it: a place to put routes whose schemas are zod's. */
export type App = FastifyInstance<
  import('node:http').Server,
  import('node:http').IncomingMessage,
  import('node:http').ServerResponse,
  import('fastify').FastifyBaseLogger,
  ZodTypeProvider
>;

/** A feature's two doors. Both call the same rules. */
export interface Feature {
  pages?: (app: App, deps: Deps) => void;
  api?: (app: App, deps: Deps) => void;
}
