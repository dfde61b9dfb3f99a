import type { Metadata } from 'sharp';

// What cameras and screens make. Not SVG, which is a program rather than a picture and may fetch from elsewhere.
const FORMATS: ReadonlySet<string> = new Set(['jpeg', 'png', 'webp', 'gif', 'tiff', 'avif', 'heif']);
/* A small file can unpack to gigabytes, so a picture's size in pixels is judged before it is decoded. Phones in common use
   take 12–50 megapixels. */
export const MAX_PIXELS = 80_000_000;
const MAX_SIDE_PX = 20_000;

/** The library of pictures, loaded with the first. It knows many more kinds of files than cameras make (drawings, documents,
 *  volumes of measurements), each with a reader of its own: those never get to see a byte. One picture at a time, by one
 *  thread: twice as many would take twice the memory. */
export async function pictures(): Promise<typeof import('sharp').default> {
  const { default: sharp } = await import('sharp');
  sharp.cache(false);
  sharp.concurrency(1);
  sharp.block({ operation: ['VipsForeignLoad'] });
  sharp.unblock({
    operation: ['Jpeg', 'Png', 'Webp', 'Nsgif', 'Tiff', 'Heif'].map((kind) => `VipsForeignLoad${kind}`),
  });
  return sharp;
}

/** What the head of a file says of its picture, before a pixel is decoded; undefined of what is no picture, an empty file too. */
export async function pictureHead(picture: string): Promise<Metadata | undefined> {
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
