import { z } from 'zod';
import { jsonId } from '../typedFields.ts';

/** A kept picture as the API tells it. */
export const PhotoResource = z
  .object({ photoId: jsonId, widthPx: z.number().int(), heightPx: z.number().int(), byteSize: z.number().int() })
  .meta({ id: 'Photo' });
