import { createReadStream } from 'node:fs';
import { stat } from 'node:fs/promises';
import { found } from '../../errors.ts';
import { page } from '../../http/routes.ts';
import { idParams } from '../../typedFields.ts';
import { voiceById } from '../queries.ts';
import { voiceFile } from '../store.ts';

/** The bytes that a player asks for (RFC 9110, §14): one range, or undefined for the whole. */
export function byteRange(header: string | undefined, size: number): { from: number; to: number } | undefined | 'none' {
  const asked = /^bytes=(\d*)-(\d*)$/.exec(header ?? '');
  if (!asked || (asked[1] === '' && asked[2] === '')) return undefined;
  const from = asked[1] === '' ? Math.max(0, size - Number(asked[2])) : Number(asked[1]);
  const to = asked[1] === '' || asked[2] === '' ? size - 1 : Math.min(size - 1, Number(asked[2]));
  return from > to || from >= size ? 'none' : { from, to };
}

/** Sends a recording to its player. */
export const sendRecording = page({
  params: idParams,
  async show({ db, config }, { params, request, reply }) {
    const voice = found(voiceById(db, params.id), 'voice note');
    const file = voiceFile(config.dataDir, voice);
    const { size } = found(await stat(file).catch(() => undefined), 'voice note');
    reply
      .type(voice.mediaType)
      .header('x-content-type-options', 'nosniff')
      .header('content-security-policy', "default-src 'none'; sandbox")
      .header('content-disposition', 'inline')
      .header('cache-control', 'private, max-age=31536000, immutable')
      .header('accept-ranges', 'bytes')
      .header('etag', `"${voice.sha256.slice(0, 32)}"`);
    const range = byteRange(request.headers.range, size);
    if (range === 'none') return reply.code(416).header('content-range', `bytes */${size}`).send('');
    // Some players ask for a range first and play nothing that comes without one.
    if (range) {
      return reply
        .code(206)
        .header('content-range', `bytes ${range.from}-${range.to}/${size}`)
        .header('content-length', range.to - range.from + 1)
        .send(createReadStream(file, { start: range.from, end: range.to }));
    }
    return reply.header('content-length', size).send(createReadStream(file));
  },
});
