import type { FastifyRequest } from 'fastify';
import { Refusal } from '../errors.ts';

const SAFE = new Set(['GET', 'HEAD', 'OPTIONS']);

/** Refuses unsafe requests that another site made a browser send. Browsers label every request with Sec-Fetch-Site in a
 *  secure context, and every POST with Origin everywhere; a request with neither is no browser's form and is refused too,
 *  unless a token that is good speaks for it, which no browser adds by itself. (OWASP: Fetch Metadata with Origin as fall-back.) */
export function refuseCrossSite(request: FastifyRequest, byToken: boolean): void {
  if (SAFE.has(request.method) || byToken) return;
  // A script's API request without cookie or origin carries nobody's authority: it gets what is open to anyone, or a 401.
  const { cookie } = request.headers;
  if (request.url.startsWith('/api/') && cookie === undefined && request.headers.origin === undefined) return;
  const site = request.headers['sec-fetch-site'];
  if (site === 'same-origin') return;
  if (site !== undefined && site !== 'none') throw crossSite();
  const { origin } = request.headers;
  if (origin === undefined || origin === 'null') throw crossSite();
  if (!URL.canParse(origin) || new URL(origin).host !== request.host) throw crossSite();
}

const crossSite = (): Refusal =>
  new Refusal('crossSite', 'This request did not come from a page of this studio. Open the page again and retry.');
