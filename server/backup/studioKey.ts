import { createHmac, hash, randomBytes, timingSafeEqual } from 'node:crypto';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';

/* The studio's key seals its archives: whoever has it can tell that an archive is one that the studio has made, unchanged. It lies in
   the data folder and in no archive, so that changing an archive is not enough to seal it again; it is to be kept on paper as well,
   for the day on which the data folder is gone. */

export const KEY_FILE = 'studio.key';
/** Crockford’s alphabet for Base 32: no letter that is read as another. 32 letters are 160 bits. */
const LETTERS = '0123456789ABCDEFGHJKMNPQRSTVWXYZ';
const LENGTH = 32;

/** A key as somebody types it from paper; null when it can be none. */
export function keyTyped(text: string): string | null {
  const key = text.toUpperCase().replace(/[\s-]/g, '').replaceAll('O', '0').replace(/[IL]/g, '1');
  return key.length === LENGTH && [...key].every((letter) => LETTERS.includes(letter)) ? key : null;
}

/** In groups, as it is printed. */
export const keyShown = (key: string): string => (key.match(/.{4}/g) ?? []).join('-');

/** The key of a data folder; null when it has none. A file that holds none is not taken for no file: another key would be made over
 *  the one that seals what there is. */
export function studioKey(dataDir: string): string | null {
  const file = join(dataDir, KEY_FILE);
  let text: string;
  try {
    text = readFileSync(file, 'utf8');
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return null;
    throw error;
  }
  const key = keyTyped(text.split('\n')[0] ?? '');
  if (key === null)
    throw new Error(
      `${file} holds no key. Write the studio’s key into its first line, or delete it: a new key is made then, and archives made so far count as sealed by another.`,
    );
  return key;
}

export function keepKey(dataDir: string, key: string): void {
  writeFileSync(
    join(dataDir, KEY_FILE),
    `${keyShown(key)}\nIt seals the archives of this studio. Keep it on paper too.\n`,
    {
      mode: 0o600,
      flush: true,
    },
  );
}

/** The key of a data folder, which is made when there is none. */
export function theStudioKey(dataDir: string): string {
  const known = studioKey(dataDir);
  if (known !== null) return known;
  const key = [...randomBytes(LENGTH)].map((byte) => LETTERS[byte % LETTERS.length]).join('');
  keepKey(dataDir, key);
  return key;
}

/** By what an archive says which key has sealed it. */
export const markOf = (key: string): string => hash('sha256', `lot-and-shade key ${key}`, 'hex').slice(0, 8);

export const sealOf = (key: string, manifest: Buffer): string =>
  createHmac('sha256', key).update(manifest).digest('hex');

export const isSealedBy = (key: string, manifest: Buffer, seal: string): boolean => {
  const [own, given] = [Buffer.from(sealOf(key, manifest)), Buffer.from(seal)];
  return own.length === given.length && timingSafeEqual(own, given);
};
