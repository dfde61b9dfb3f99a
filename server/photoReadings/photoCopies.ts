import { mkdir, readdir, rename, rm, stat } from 'node:fs/promises';
import { join } from 'node:path';
import type { PhotoRow } from '../db/tables/studio.ts';
import type { Deps } from '../deps.ts';
import { found } from '../errors.ts';
import { photoFile } from '../photos/store.ts';
import { photoWork } from './photoReader.ts';

/* The picture that is kept of a photo is small and lossy, good to look at. Colours are better read from the pixels that came. These
   are kept beside it for two days, while somebody points at spots and drags corners: upright, in sRGB, without metadata, at the
   size that is read. */

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
    await photoWork<void>(photo, { kind: 'copy', to: draft });
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

interface PhotoSize {
  widthPx: number;
  heightPx: number;
}

const sizeOf = (photo: Uint8Array | string): Promise<PhotoSize | undefined> => photoWork(photo, { kind: 'size' });

/** Size of a photo turned upright, from its header; nothing of what is no picture, which its reader refuses. */
export const uprightSize = async (photo: Buffer): Promise<PhotoSize> =>
  (await sizeOf(photo)) ?? { widthPx: 0, heightPx: 0 };

export interface ReadablePhoto extends PhotoSize {
  file: string;
  /** The pixels as they came; else the kept picture, smaller and lossy. */
  asItCame: boolean;
}

/** What a photo is read from. Refuses when not even the kept picture is there. */
export async function readablePhoto(deps: Deps, photo: PhotoRow): Promise<ReadablePhoto> {
  const copy = copyOf(deps, photo.id);
  const size = await sizeOf(copy);
  if (size) return { ...size, file: copy, asItCame: true };
  const file = photoFile(deps.config.dataDir, photo.sha256, 1600);
  return { ...found(await sizeOf(file), 'photo'), file, asItCame: false };
}
