import { createHash, randomUUID } from 'node:crypto';
import { mkdir, open, rename, rm, stat } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import type { PhotoRow } from '../db/tables/studio.ts';
import type { Actor, Deps } from '../deps.ts';
import { Refusal } from '../errors.ts';
import { judgedPicture, MAX_PIXELS, pictureHead, pictures } from './pictures.ts';
import { deleteUnusedPhoto, insertPhoto, photoBySha256 } from './queries.ts';

/** Long side of the two stored sizes, px: one for lists, one for pages. */
export const PHOTO_SIZES_PX = [640, 1600] as const;
export type PhotoSizePx = (typeof PHOTO_SIZES_PX)[number];

const refuse = (code: 'notAnImage' | 'tooLarge', words: string): Refusal => new Refusal(code, words, { photo: words });
const notAnImage = (): Refusal =>
  refuse('notAnImage', 'That file is not a picture that can be read. Send a JPEG, PNG, WebP or AVIF.');

export const photoFile = (dataDir: string, sha256: string, sizePx: PhotoSizePx): string =>
  join(dataDir, 'photos', sha256.slice(0, 2), `${sha256}-${sizePx}.webp`);

interface Encoded {
  content: Buffer;
  widthPx: number;
  heightPx: number;
}

/** Upright, in sRGB, without metadata (place, camera, date), never larger than it came. */
async function encode(buffer: Buffer, sizePx: PhotoSizePx): Promise<Encoded> {
  try {
    const sharp = await pictures();
    const { data, info } = await sharp(buffer, { limitInputPixels: MAX_PIXELS, failOn: 'error' })
      .autoOrient()
      .resize({ width: sizePx, height: sizePx, fit: 'inside', withoutEnlargement: true })
      .webp({ quality: 86 })
      .toBuffer({ resolveWithObject: true });
    return { content: data, widthPx: info.width, heightPx: info.height };
  } catch {
    throw notAnImage();
  }
}

async function demandPicture(buffer: Buffer): Promise<void> {
  const judged = judgedPicture(await pictureHead(buffer));
  if (judged === 'notAnImage') throw notAnImage();
  if (judged === 'tooLarge') {
    throw refuse('tooLarge', `That picture has more than ${MAX_PIXELS / 1_000_000} megapixels. Send a smaller one.`);
  }
}

const isThere = (file: string): Promise<boolean> =>
  stat(file).then(
    () => true,
    () => false,
  );

/** Writes the whole file to disk before it gets its name: a power cut never leaves half a picture under a good name. */
async function writeWhole(file: string, content: Buffer): Promise<void> {
  if (await isThere(file)) return;
  const folder = dirname(file);
  await mkdir(folder, { recursive: true });
  const draft = join(folder, `.${randomUUID()}.part`);
  try {
    const handle = await open(draft, 'wx');
    try {
      await handle.writeFile(content);
      await handle.sync();
    } finally {
      await handle.close();
    }
    await rename(draft, file);
  } catch (error) {
    await rm(draft, { force: true });
    throw error;
  }
  const handle = await open(folder, 'r');
  try {
    await handle.sync();
  } finally {
    await handle.close();
  }
}

/** Keeps the picture that came with a form and hands its id to `use` (null when none came). When `use` refuses, a picture that
 *  was not there before is removed again: nothing saved means no picture saved either. */
export async function withPhoto<T>(
  deps: Deps,
  buffer: Buffer | undefined,
  by: Pick<Actor, 'personId'>,
  use: (photoId: number | null) => T,
): Promise<T> {
  if (!buffer) return use(null);
  const { photo, isNew } = await keepPhoto(deps, buffer, by);
  try {
    return use(photo.id);
  } catch (error) {
    if (isNew && deleteUnusedPhoto(deps.db, photo.id)) {
      for (const sizePx of PHOTO_SIZES_PX)
        await rm(photoFile(deps.config.dataDir, photo.sha256, sizePx), { force: true });
    }
    throw error;
  }
}

/** Keeps a picture: two sizes under DATA_DIR/photos, named by the SHA-256 of the larger, and one row. The same picture
 *  sent again is the same row. Throws Refusal notAnImage or tooLarge, with words for the field `photo`. */
export const storePhoto = async (deps: Deps, buffer: Buffer, by: Pick<Actor, 'personId'>): Promise<PhotoRow> =>
  (await keepPhoto(deps, buffer, by)).photo;

async function keepPhoto(
  deps: Deps,
  buffer: Buffer,
  by: Pick<Actor, 'personId'>,
): Promise<{ photo: PhotoRow; isNew: boolean }> {
  await demandPicture(buffer);
  const large = await encode(buffer, 1600);
  // A small picture is not enlarged: both sizes are the same.
  const small = Math.max(large.widthPx, large.heightPx) <= 640 ? large : await encode(buffer, 640);
  const sha256 = createHash('sha256').update(large.content).digest('hex');
  await writeWhole(photoFile(deps.config.dataDir, sha256, 1600), large.content);
  await writeWhole(photoFile(deps.config.dataDir, sha256, 640), small.content);
  const known = photoBySha256(deps.db, sha256);
  if (known) return { photo: known, isNew: false };
  const photo = insertPhoto(deps.db, {
    sha256,
    widthPx: large.widthPx,
    heightPx: large.heightPx,
    byteSize: large.content.length,
    storedAt: deps.now(),
    storedBy: by.personId,
  });
  return { photo, isNew: true };
}
