import { z } from 'zod';
import { operation } from '../../http/routes.ts';
import { readUpload } from '../../http/upload.ts';
import { actorOf } from '../../people/guards.ts';
import { PhotoResource } from '../schemas.ts';
import { storePhoto } from '../store.ts';

const PICTURE = { file: 'photo', of: 'a picture', fields: z.object({}) };

export const uploadPhoto = operation({
  id: 'uploadPhoto',
  summary: 'Keep a picture',
  description: 'Position and other metadata are removed.',
  upload: PICTURE,
  answer: PhotoResource,
  status: 201,
  run: async (deps, { request }) => {
    const { content } = await readUpload(request, PICTURE);
    const { id, widthPx, heightPx, byteSize } = await storePhoto(deps, content, actorOf(request));
    return { photoId: id, widthPx, heightPx, byteSize };
  },
});
