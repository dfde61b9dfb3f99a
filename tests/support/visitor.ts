import type { Response } from 'light-my-request';
import type { App } from '../../server/http/app.ts';

/** A browser of its own: it keeps its cookies, and says who it is as browsers do. */
export interface Visitor {
  cookies: Map<string, string>;
  get: (url: string) => Promise<Response>;
  post: (url: string, form?: Record<string, string>, headers?: Record<string, string>) => Promise<Response>;
}

export function visitorAt(
  app: App,
  { address = '192.168.1.50', host = 'studio.test', protocol = 'http' as 'http' | 'https', cookies = {} } = {},
): Visitor {
  const kept = new Map<string, string>(Object.entries(cookies));
  const send = async (
    method: 'GET' | 'POST',
    url: string,
    form?: Record<string, string>,
    headers: Record<string, string> = {},
  ): Promise<Response> => {
    const answer = await app.inject({
      method,
      url,
      remoteAddress: address,
      headers: {
        host,
        origin: `${protocol}://${host}`,
        ...(form ? { 'content-type': 'application/x-www-form-urlencoded' } : {}),
        ...(kept.size > 0 ? { cookie: [...kept].map(([name, value]) => `${name}=${value}`).join('; ') } : {}),
        ...headers,
      },
      ...(form ? { payload: new URLSearchParams(form).toString() } : {}),
    });
    for (const { name, value } of answer.cookies) {
      if (value === '') kept.delete(name);
      else kept.set(name, value);
    }
    return answer;
  };
  return {
    cookies: kept,
    get: (url) => send('GET', url),
    post: (url, form = {}, headers = {}) => send('POST', url, form, headers),
  };
}
