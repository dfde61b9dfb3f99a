import type { Metadata } from 'sharp';

// What cameras and screens make. Not SVG, which is a program rather than a picture and may fetch from elsewhere.
const FORMATS: ReadonlySet<string> = new Set(['jpeg', 'png', 'webp', 'gif', 'tiff', 'avif', 'heif']);
/* A small file can unpack to gigabytes, so a picture's size in pixels is judged before it is decoded. Phones in common use
   take 12–50 megapixels. */
export const MAX_PIXELS = 80_000_000;
const MAX_SIDE_PX = 20_000;

/** The picture library, loaded when the first picture comes: the service starts without it. */
export async function pictures(): Promise<typeof import('sharp').default> {
  const { default: sharp } = await import('sharp');
  sharp.cache(false);
  return sharp;
}

/** What a file's header says about its picture, before a pixel is decoded; undefined when it is not a picture, or empty. */
export async function pictureHead(picture: Buffer | string): Promise<Metadata | undefined> {
  const sharp = await pictures();
  try {
    return await sharp(picture, { limitInputPixels: false }).metadata();
  } catch {
    return undefined;
  }
}

/** Whether a picture may be decoded, judged by its header. */
export function judgedPicture(head: Metadata | undefined): 'fine' | 'notAnImage' | 'tooLarge' {
  if (!head?.format || !FORMATS.has(head.format) || !head.width || !head.height) return 'notAnImage';
  return head.width * head.height > MAX_PIXELS || Math.max(head.width, head.height) > MAX_SIDE_PX ? 'tooLarge' : 'fine';
}
