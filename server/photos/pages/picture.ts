import { createReadStream } from 'node:fs';
import { stat } from 'node:fs/promises';
import { z } from 'zod';
import { found } from '../../errors.ts';
import { page } from '../../http/routes.ts';
import { idParams } from '../../typedFields.ts';
import { photoById } from '../queries.ts';
import { type PhotoSizePx, photoFile } from '../store.ts';

const SIZES_PX: Readonly<Record<'640' | '1600', PhotoSizePx>> = { '640': 640, '1600': 1600 };

export const sendPicture = page({
  params: idParams.extend({ size: z.enum(['640', '1600']).transform((size) => SIZES_PX[size]) }),
  show: async ({ db, config }, { params: { id, size }, reply }) => {
    const { sha256 } = found(photoById(db, id), 'photo');
    const file = photoFile(config.dataDir, sha256, size);
    const picture = found(await stat(file).catch(() => undefined), 'photo');
    return reply
      .type('image/webp')
      .header('content-length', picture.size)
      .header('x-content-type-options', 'nosniff')
      .header('content-security-policy', "default-src 'none'; sandbox")
      .header('cache-control', 'private, max-age=31536000, immutable')
      .header('etag', `"${sha256.slice(0, 32)}-${size}"`)
      .send(createReadStream(file));
  },
});
