import { Refusal } from '../errors.ts';
import { judgedPicture, MAX_PIXELS, pictureHead, pictures } from './pictures.ts';

/* Runs in the process that reads what comes from outside (server/readApart.ts). */

export interface EncodedPicture {
  content: Uint8Array;
  widthPx: number;
  heightPx: number;
}

/** A picture as it is kept: for a page and for a list. */
export interface KeptPicture {
  large: EncodedPicture;
  small: EncodedPicture;
}

const refuse = (code: 'notAnImage' | 'tooLarge', words: string): Refusal => new Refusal(code, words, { photo: words });
export const notAnImage = (): Refusal =>
  refuse('notAnImage', 'That file is not a picture that can be read. Send a JPEG, PNG, WebP or AVIF.');

/** Refuses what is no picture or has too many pixels, by its head; answers the head. */
export async function demandPicture(picture: string): Promise<{ width: number; height: number; orientation: number }> {
  const head = await pictureHead(picture);
  const judged = judgedPicture(head);
  if (head === undefined || judged === 'notAnImage') throw notAnImage();
  if (judged === 'tooLarge') {
    throw refuse('tooLarge', `That picture has more than ${MAX_PIXELS / 1_000_000} megapixels. Send a smaller one.`);
  }
  return { width: head.width, height: head.height, orientation: head.orientation ?? 1 };
}

/** Upright, in sRGB, without metadata (place, camera, date), never larger than it came. */
async function encode(picture: string, sidePx: number): Promise<EncodedPicture> {
  try {
    const sharp = await pictures();
    const { data, info } = await sharp(picture, { limitInputPixels: MAX_PIXELS, failOn: 'error' })
      .autoOrient()
      .resize({ width: sidePx, height: sidePx, fit: 'inside', withoutEnlargement: true })
      .webp({ quality: 86 })
      .toBuffer({ resolveWithObject: true });
    return { content: data, widthPx: info.width, heightPx: info.height };
  } catch {
    throw notAnImage();
  }
}

export async function work(
  picture: string,
  { sidesPx: [smallPx, largePx] }: { sidesPx: readonly [small: number, large: number] },
): Promise<KeptPicture> {
  await demandPicture(picture);
  const large = await encode(picture, largePx);
  // A picture that came small is not made larger: both sizes are the same.
  const small = Math.max(large.widthPx, large.heightPx) <= smallPx ? large : await encode(picture, smallPx);
  return { large, small };
}
