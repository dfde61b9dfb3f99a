import type { FastifyReply, FastifyRequest } from 'fastify';
import type { Html } from '../../views/html.ts';
import { page, type Section, type Surroundings } from '../../views/layout.ts';

declare module 'fastify' {
  interface FastifyRequest {
    /** Set once per request by app.ts: what the layout shows around every page. */
    surroundings: Surroundings;
  }
}

/** Part or page? Asked here and nowhere else: a partial htmx request gets the part. */
export const wantsPart = (request: FastifyRequest): boolean =>
  request.headers['hx-request'] === 'true' &&
  request.headers['hx-request-type'] === 'partial' &&
  request.headers['hx-history-restore-request'] !== 'true';

/** The guide’s contents, where nothing more fitting is known. */
export const GUIDE = { href: '/guide', label: 'Guide' } as const;

/** Around a page that is answered before it is known who asks: an unreadable address, a token that is none. */
const UNKNOWN: Surroundings = {
  studioName: 'Lot & Shade',
  personName: null,
  role: null,
  sample: false,
  fault: '',
  guide: GUIDE,
};

export interface Rendering {
  title: string;
  section: Section;
  body: Html;
  /** What a partial request gets; the body when left out. */
  part?: Html | undefined;
  scripts?: readonly string[];
  shape?: 'plain' | 'bench' | 'paper' | 'door';
  status?: number;
}

/** Sends a page, or its part to a partial request. */
export function sendPage(request: FastifyRequest, reply: FastifyReply, r: Rendering): FastifyReply {
  reply
    .code(r.status ?? 200)
    .header('vary', 'HX-Request, HX-Request-Type')
    .header('cache-control', 'no-store');
  reply.type('text/html; charset=utf-8');
  if (wantsPart(request)) return reply.send((r.part ?? r.body).value);
  return reply.send(
    page({
      title: r.title,
      section: r.section,
      surroundings: request.surroundings ?? UNKNOWN,
      ...(r.scripts ? { scripts: r.scripts } : {}),
      ...(r.shape ? { shape: r.shape } : {}),
      body: r.body,
    }).value,
  );
}

/** After a write: see other. htmx follows it as well. */
export const seeOther = (reply: FastifyReply, location: string): FastifyReply => reply.redirect(location, 303);
