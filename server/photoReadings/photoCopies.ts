import { mkdir, readdir, rename, rm, stat } from 'node:fs/promises';
import { join } from 'node:path';
import type { PhotoRow } from '../db/tables/studio.ts';
import type { Deps } from '../deps.ts';
import { found } from '../errors.ts';
import { pictureHead, pictures } from '../photos/pictures.ts';
import { photoFile } from '../photos/store.ts';

/* The picture that is kept of a photo is small and lossy, good to look at. Colours are better read from the pixels that came. These
   are kept beside it for two days, while somebody points at spots and drags corners: upright, in sRGB, without metadata, at the
   size that is read. */

const READ_SIDE_PX = 3000;
const KEPT_MS = 48 * 3_600_000;

const folderOf = (deps: Pick<Deps, 'config'>): string => join(deps.config.dataDir, 'photo-readings');
const copyOf = (deps: Pick<Deps, 'config'>, photoId: number): string => join(folderOf(deps), `${photoId}.png`);

/** Keeps the pixels of a photo for reading, and drops those of photos that came long ago. */
export async function keepReadingCopy(deps: Deps, photoId: number, photo: Buffer): Promise<void> {
  const folder = folderOf(deps);
  await mkdir(folder, { recursive: true });
  await dropOldCopies(deps);
  const draft = join(folder, `.${deps.newId()}.part`);
  try {
    const sharp = await pictures();
    await sharp(photo, { failOn: 'error' })
      .autoOrient()
      .flatten({ background: '#ffffff' })
      .toColourspace('srgb')
      .resize({ width: READ_SIDE_PX, height: READ_SIDE_PX, fit: 'inside', withoutEnlargement: true })
      .png({ compressionLevel: 2 })
      .toFile(draft);
    await rename(draft, copyOf(deps, photoId));
  } catch (error) {
    await rm(draft, { force: true });
    throw error;
  }
}

async function dropOldCopies(deps: Deps): Promise<void> {
  for (const name of await readdir(folderOf(deps))) {
    const file = join(folderOf(deps), name);
    const copy = await stat(file).catch(() => undefined);
    if (copy && deps.now() - copy.mtimeMs > KEPT_MS) await rm(file, { force: true });
  }
}

/** Size of a photo turned upright, from its header; 0 by 0 when it is not a picture, which its reader refuses. */
export async function uprightSize(photo: Buffer): Promise<{ widthPx: number; heightPx: number }> {
  const head = await pictureHead(photo);
  const { width = 0, height = 0, orientation = 1 } = head ?? {};
  return orientation >= 5 ? { widthPx: height, heightPx: width } : { widthPx: width, heightPx: height };
}

export interface ReadablePhoto {
  file: string;
  widthPx: number;
  heightPx: number;
  /** Whether these are the pixels as they came; else the kept picture, smaller and lossy. */
  asItCame: boolean;
}

/** What a photo is read from. Refuses when not even the kept picture is there. */
export async function readablePhoto(deps: Deps, photo: PhotoRow): Promise<ReadablePhoto> {
  const copy = copyOf(deps, photo.id);
  const sharp = await pictures();
  const size = await sharp(copy)
    .metadata()
    .catch(() => undefined);
  if (size) return { file: copy, widthPx: size.width, heightPx: size.height, asItCame: true };
  const file = photoFile(deps.config.dataDir, photo.sha256, 1600);
  const kept = await sharp(file)
    .metadata()
    .catch(() => undefined);
  const { width, height } = found(kept, 'photo');
  return { file, widthPx: width, heightPx: height, asItCame: false };
}
