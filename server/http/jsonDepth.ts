import type { FastifyInstance } from 'fastify';
import { Refusal } from '../errors.ts';

/** Deeper than anything that is taken anywhere. A body of nothing but brackets takes seconds to make sense of. */
const MAX_DEPTH = 64;

/** Whether a text in JSON goes deeper; told by its brackets, without parsing. */
function isTooDeep(json: string): boolean {
  let depth = 0;
  let inText = false;
  for (let i = 0; i < json.length; i++) {
    const sign = json.charCodeAt(i);
    if (inText) {
      if (sign === 0x5c) i++;
      else if (sign === 0x22) inText = false;
    } else if (sign === 0x22) inText = true;
    else if (sign === 0x5b || sign === 0x7b) {
      depth++;
      if (depth > MAX_DEPTH) return true;
    } else if (sign === 0x5d || sign === 0x7d) depth--;
  }
  return false;
}

/** JSON as the framework reads it, but not to any depth. */
export function refuseDeepJson(app: FastifyInstance): void {
  const parse = app.getDefaultJsonParser('error', 'error');
  app.addContentTypeParser('application/json', { parseAs: 'string' }, (request, body, done) => {
    const json = String(body);
    if (isTooDeep(json)) done(new Refusal('unreadableRequest', `The JSON goes deeper than ${MAX_DEPTH} levels.`));
    else parse(request, json, done);
  });
}
