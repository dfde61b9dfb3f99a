import type { FastifyContextConfig, FastifyReply, FastifyRequest } from 'fastify';
import type { z } from 'zod';
import type { Deps } from '../deps.ts';
import type { App } from './app.ts';
import type { UploadShape } from './upload.ts';

/* A feature's routes.ts is its table of contents: method, path, who may, which action. An action stands in a file of its own, with
 * its schemas and what it does; pages in pages/, operations of the API in api/. */

type May = NonNullable<FastifyContextConfig['may']>;
type Method = 'get' | 'post' | 'put' | 'delete';
type Nothing = z.ZodObject<Record<never, never>>;
type Answered<T> = T | Promise<T>;

/** What a page does: it is asked with its address and answers with a page, a part of one, or where to go. */
export interface PageAction<Params extends z.ZodType = z.ZodType, Query extends z.ZodType = z.ZodType> {
  params?: Params;
  query?: Query;
  /** 'never' where a form only asks, or changes nothing that is kept; 'always' where refusals are recorded too;
   *  'handedOut' where reading is. */
  audit?: FastifyContextConfig['audit'];
  show(
    deps: Deps,
    asked: { params: z.output<Params>; query: z.output<Query>; request: FastifyRequest; reply: FastifyReply },
  ): Answered<FastifyReply>;
}
export const page = <Params extends z.ZodType = Nothing, Query extends z.ZodType = Nothing>(
  action: PageAction<Params, Query>,
): PageAction<Params, Query> => action;

/** One operation of the API: what the document says of it, what it takes and answers, and what it does. Its id is a verb and a noun
 *  and names the function in a generated client. */
export interface Operation<
  Params extends z.ZodType = z.ZodType,
  Query extends z.ZodType = z.ZodType,
  Body extends z.ZodType = z.ZodType,
  Answer extends z.ZodType = z.ZodType,
> {
  id: string;
  summary: string;
  description?: string;
  params?: Params;
  query?: Query;
  body?: Body;
  upload?: UploadShape;
  download?: FastifyContextConfig['download'];
  /** Of a second, shorter name of the same operation, which the document leaves out. */
  hide?: boolean;
  /** What it answers with its status; 201 where something new stands afterwards. Left out for files. */
  answer?: Answer;
  status?: 200 | 201;
  /** Bytes of the largest body, where it may be larger than usual. */
  bodyLimit?: number;
  /** 'never' where a POST only asks. */
  audit?: FastifyContextConfig['audit'];
  run(
    deps: Deps,
    sent: {
      params: z.output<Params>;
      query: z.output<Query>;
      body: z.output<Body>;
      request: FastifyRequest;
      reply: FastifyReply;
    },
  ): Answered<z.output<Answer> | FastifyReply>;
}
export const operation = <
  Answer extends z.ZodType,
  Params extends z.ZodType = Nothing,
  Query extends z.ZodType = Nothing,
  Body extends z.ZodType = Nothing,
>(
  of: Operation<Params, Query, Body, Answer>,
): Operation<Params, Query, Body, Answer> => of;

interface Line<Action> {
  method: Method;
  path: string;
  may: May;
  action: Action;
}
const line =
  (method: Method) =>
  <Action>(path: string, may: May, action: Action): Line<Action> => ({ method, path, may, action });
export const get = line('get');
export const post = line('post');
export const put = line('put');
export const remove = line('delete');

/** A feature's pages. */
export const pageRoutes =
  (lines: readonly Line<PageAction>[]) =>
  (app: App, deps: Deps): void => {
    for (const { method, path, may, action } of lines) {
      const schema = {
        ...(action.params && { params: action.params }),
        ...(action.query && { querystring: action.query }),
      };
      const config = { may, ...(action.audit && { audit: action.audit }) };
      app[method](path, { config, schema }, async (request, reply) =>
        action.show(deps, { params: request.params, query: request.query, request, reply }),
      );
    }
  };

/** A feature's part of the API, under the heading by which the document groups it. */
export const apiRoutes =
  (heading: string, lines: readonly Line<Operation>[]) =>
  (app: App, deps: Deps): void => {
    for (const { method, path, may, action } of lines) {
      const { id, summary, description, params, query, body, upload, download, answer, status = 200 } = action;
      const { bodyLimit, audit, hide } = action;
      app[method](
        path,
        {
          ...(bodyLimit && { bodyLimit }),
          config: { may, ...(upload && { upload }), ...(download && !hide && { download }), ...(audit && { audit }) },
          schema: {
            ...(hide ? { hide } : { operationId: id, tags: [heading], summary, ...(description && { description }) }),
            ...(params && { params }),
            ...(query && { querystring: query }),
            ...(body && { body }),
            ...(answer && { response: { [status]: answer } }),
          },
        },
        async (request, reply) => {
          reply.code(status);
          const { params, query, body } = request as { params: unknown; query: unknown; body: unknown };
          return action.run(deps, { params, query, body, request, reply });
        },
      );
    }
  };
