import { createReadStream } from 'node:fs';
import { stat } from 'node:fs/promises';
import type { Deps } from '../deps.ts';
import { invalid, notFound } from '../errors.ts';
import type { App } from '../http/app.ts';
import { readMultipart } from '../http/upload.ts';
import { actorOf } from '../people/guards.ts';
import { idParams } from '../typedFields.ts';
import type { BenchDoor } from './benchDoor.ts';
import { lotById, voiceById } from './queries.ts';
import { durationMsOf, recordVoice, storeVoice, voiceFile } from './voices.ts';

/** The bytes that a player asks for (RFC 9110, §14): one range, or undefined for the whole. */
export function byteRange(header: string | undefined, size: number): { from: number; to: number } | undefined | 'none' {
  const found = /^bytes=(\d*)-(\d*)$/.exec(header ?? '');
  if (!found || (found[1] === '' && found[2] === '')) return undefined;
  const from = found[1] === '' ? Math.max(0, size - Number(found[2])) : Number(found[1]);
  const to = found[1] === '' || found[2] === '' ? size - 1 : Math.min(size - 1, Number(found[2]));
  return from > to || from >= size ? 'none' : { from, to };
}

/** Voice notes: recorded at the bench, played in the log. */
export function voicePages(app: App, deps: Deps, door: BenchDoor): void {
  const { db } = deps;

  app.post('/lots/:id/voices', { config: { may: 'log' }, schema: { params: idParams } }, async (request, reply) => {
    const lotId = request.params.id;
    if (!lotById(db, lotId)) throw notFound('lot');
    const { typed, files } = await readMultipart(request);
    return door.atBench(request, reply, lotId, 'voice', typed, async () => {
      const [file] = files;
      if (!file) throw invalid({ voice: 'Record or choose a voice note first.' });
      const voice = await storeVoice(
        deps,
        { content: file.buffer, durationMs: durationMsOf(typed['durationMs']) },
        actorOf(request),
      );
      return recordVoice(
        deps,
        {
          lotId,
          voiceId: voice.id,
          text: typed['text'] ?? '',
          ...door.saidDuring(lotId, typed),
        },
        actorOf(request),
      );
    });
  });

  app.get(
    '/voices/:id',
    { config: { may: 'look' }, schema: { params: idParams, hide: true } },
    async (request, reply) => {
      const voice = voiceById(db, request.params.id);
      if (!voice) throw notFound('voice note');
      const file = voiceFile(deps.config.dataDir, voice);
      const found = await stat(file).catch(() => undefined);
      if (!found) throw notFound('voice note');
      reply
        .type(voice.mediaType)
        .header('x-content-type-options', 'nosniff')
        .header('content-security-policy', "default-src 'none'; sandbox")
        .header('content-disposition', 'inline')
        .header('cache-control', 'private, max-age=31536000, immutable')
        .header('accept-ranges', 'bytes')
        .header('etag', `"${voice.sha256.slice(0, 32)}"`);
      const range = byteRange(request.headers.range, found.size);
      if (range === 'none') return reply.code(416).header('content-range', `bytes */${found.size}`).send('');
      // Some players ask for a range first and play nothing that comes without one.
      if (range) {
        return reply
          .code(206)
          .header('content-range', `bytes ${range.from}-${range.to}/${found.size}`)
          .header('content-length', range.to - range.from + 1)
          .send(createReadStream(file, { start: range.from, end: range.to }));
      }
      return reply.header('content-length', found.size).send(createReadStream(file));
    },
  );
}
