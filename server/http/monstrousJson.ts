import type { FastifyInstance } from 'fastify';
import { Refusal } from '../errors.ts';

/** Deeper than anything that is taken anywhere. A body of nothing but brackets takes seconds to make sense of. */
const MAX_DEPTH = 64;

/** Values in one body. 5000 swatches with their spectra are half of it. */
const MAX_VALUES = 1_000_000;

/** Whether a text in JSON goes too deep or holds too many values; told by its signs, without parsing. */
function judged(json: string): 'fine' | 'tooDeep' | 'tooMany' {
  let depth = 0;
  let values = 0;
  let inText = false;
  for (let i = 0; i < json.length; i++) {
    const sign = json.charCodeAt(i);
    if (inText) {
      if (sign === 0x5c) i++;
      else if (sign === 0x22) inText = false;
    } else if (sign === 0x22) inText = true;
    else if (sign === 0x5b || sign === 0x7b) {
      depth++;
      if (depth > MAX_DEPTH) return 'tooDeep';
    } else if (sign === 0x5d || sign === 0x7d) depth--;
    else if (sign === 0x2c) {
      values++;
      if (values > MAX_VALUES) return 'tooMany';
    }
  }
  return 'fine';
}

/** JSON as the framework reads it, but not of any shape. */
export function refuseMonstrousJson(app: FastifyInstance): void {
  const parse = app.getDefaultJsonParser('error', 'error');
  app.addContentTypeParser('application/json', { parseAs: 'string' }, (request, body, done) => {
    const json = String(body);
    const verdict = judged(json);
    if (verdict === 'tooDeep') done(new Refusal('unreadableRequest', `The JSON goes deeper than ${MAX_DEPTH} levels.`));
    else if (verdict === 'tooMany')
      done(new Refusal('tooLarge', `The JSON holds more than ${MAX_VALUES} values: send it in parts.`));
    else parse(request, json, done);
  });
}
