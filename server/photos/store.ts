import { createHash, randomUUID } from 'node:crypto';
import { mkdir, open, rename, rm, stat } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import type { PhotoRow } from '../db/tables/studio.ts';
import type { Actor, Deps } from '../deps.ts';
import { readingProcess } from '../readApart.ts';
import type { KeptPicture } from './pictureWork.ts';
import { deleteUnusedPhoto, insertPhoto, photoBySha256 } from './queries.ts';

/** Long side of the two stored sizes, px: one for lists, one for pages. */
export const PHOTO_SIZES_PX = [640, 1600] as const;
export type PhotoSizePx = (typeof PHOTO_SIZES_PX)[number];

export const photoFile = (dataDir: string, sha256: string, sizePx: PhotoSizePx): string =>
  join(dataDir, 'photos', sha256.slice(0, 2), `${sha256}-${sizePx}.webp`);

const isThere = (file: string): Promise<boolean> =>
  stat(file).then(
    () => true,
    () => false,
  );

/** The file is whole and on the disk before its name appears: a power cut leaves no half picture under a good name. */
export async function writeWhole(file: string, content: Uint8Array): Promise<void> {
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
  const asked = { sidesPx: PHOTO_SIZES_PX };
  const { large, small } = await readingProcess.read<KeptPicture>('picture', buffer, asked, 'photo');
  const sha256 = createHash('sha256').update(large.content).digest('hex');
  for (const [sizePx, { content }] of [[1600, large] as const, [640, small] as const]) {
    const file = photoFile(deps.config.dataDir, sha256, sizePx);
    if (!(await isThere(file))) await writeWhole(file, content);
  }
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
