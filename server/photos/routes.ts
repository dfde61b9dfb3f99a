import { createReadStream } from 'node:fs';
import { stat } from 'node:fs/promises';
import { z } from 'zod';
import type { Deps } from '../deps.ts';
import { notFound } from '../errors.ts';
import type { App } from '../http/app.ts';
import { readUpload } from '../http/upload.ts';
import { actorOf } from '../people/guards.ts';
import { idParams, jsonId } from '../typedFields.ts';
import { photoById } from './queries.ts';
import { type PhotoSizePx, photoFile, storePhoto } from './store.ts';

const sizeParams = idParams.extend({
  size: z.enum(['640', '1600']).transform((v): PhotoSizePx => (v === '640' ? 640 : 1600)),
});

const PICTURE = { file: 'photo', of: 'a picture', fields: z.object({}) };

const PhotoResource = z
  .object({ photoId: jsonId, widthPx: z.number().int(), heightPx: z.number().int(), byteSize: z.number().int() })
  .meta({ id: 'Photo' });

export function pages(app: App, deps: Deps): void {
  app.get(
    '/photos/:id/:size',
    { config: { may: 'look' }, schema: { params: sizeParams, hide: true } },
    async (request, reply) => {
      const { id, size } = request.params;
      const row = photoById(deps.db, id);
      if (!row) throw notFound('photo');
      const file = photoFile(deps.config.dataDir, row.sha256, size);
      const found = await stat(file).catch(() => undefined);
      if (!found) throw notFound('photo');
      return reply
        .type('image/webp')
        .header('content-length', found.size)
        .header('x-content-type-options', 'nosniff')
        .header('content-security-policy', "default-src 'none'; sandbox")
        .header('cache-control', 'private, max-age=31536000, immutable')
        .header('etag', `"${row.sha256.slice(0, 32)}-${size}"`)
        .send(createReadStream(file));
    },
  );
}

export function api(app: App, deps: Deps): void {
  app.post(
    '/photos',
    {
      config: { may: 'log', upload: PICTURE },
      schema: {
        operationId: 'uploadPhoto',
        tags: ['Photos'],
        summary: 'Keep a picture',
        description: 'Position and other metadata are removed.',
        response: { 201: PhotoResource },
      },
    },
    async (request, reply) => {
      const { content } = await readUpload(request, PICTURE);
      const { id, widthPx, heightPx, byteSize } = await storePhoto(deps, content, actorOf(request));
      reply.code(201);
      return { photoId: id, widthPx, heightPx, byteSize };
    },
  );
}
