import { createReadStream, createWriteStream, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { mkdir, open, rename, rm, stat } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { Decrypter, Encrypter } from 'age-encryption';
import { ArchiveDamage } from './archive.ts';
import { tryApart } from './queries.ts';
import { sha256OfFile } from './verify.ts';

/* Archives may be encrypted to a passphrase, in the open format age (age-encryption.org/v1): any age tool opens them. The passphrase
   lies in the data folder, since the daily backup is made when nobody is there to type it: it keeps from reading an archive whoever has
   the archive alone. */

export const PASSPHRASE_FILE = 'backup-passphrase.txt';

/** What archives of this folder are encrypted to; null when they are not. */
export function archivePassphrase(dataDir: string): string | null {
  try {
    return readFileSync(join(dataDir, PASSPHRASE_FILE), 'utf8').trimEnd() || null;
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return null;
    throw error;
  }
}

export function keepArchivePassphrase(dataDir: string, passphrase: string): void {
  const file = join(dataDir, PASSPHRASE_FILE);
  if (passphrase === '') rmSync(file, { force: true });
  else writeFileSync(file, `${passphrase}\n`, { mode: 0o600, flush: true });
}

const HEAD = 'age-encryption.org/v1\n';
/** Whether a file is encrypted, by its first line. */
export async function isEncrypted(file: string): Promise<boolean> {
  const handle = await open(file, 'r');
  try {
    const { buffer } = await handle.read(Buffer.alloc(HEAD.length), 0, HEAD.length, 0);
    return buffer.toString('latin1') === HEAD;
  } finally {
    await handle.close();
  }
}

/** Decrypts an archive. Throws ArchiveDamage when the passphrase is another, or the file was changed or cut. */
export async function decrypted(from: string, to: string, passphrase: string): Promise<void> {
  const age = new Decrypter();
  age.addPassphrase(passphrase);
  try {
    const plain = await age.decrypt(Readable.toWeb(createReadStream(from)) as ReadableStream<Uint8Array>);
    await pipeline(Readable.fromWeb(plain as never), createWriteStream(to, { mode: 0o600, flush: true }));
  } catch (error) {
    if ((error as NodeJS.ErrnoException).syscall) throw error;
    throw new ArchiveDamage(
      'It is encrypted, and this passphrase does not open it: it is another, or the file was changed or cut off.',
    );
  }
}

/** Encrypts an archive, and decrypts it once more to see that it comes out as it was. The file appears under its name when it is
 *  whole. */
export async function encryptArchive(
  from: string,
  to: string,
  passphrase: string,
): Promise<{ byteSize: number; sha256: string }> {
  const [draft, back] = [`${to}.part`, `${from}.back`];
  try {
    await mkdir(dirname(to), { recursive: true, mode: 0o700 });
    const age = new Encrypter();
    age.setPassphrase(passphrase);
    const secret = await age.encrypt(Readable.toWeb(createReadStream(from)) as ReadableStream<Uint8Array>);
    await pipeline(Readable.fromWeb(secret as never), createWriteStream(draft, { mode: 0o600, flush: true }));
    await decrypted(draft, back, passphrase);
    if ((await sha256OfFile(back)) !== (await sha256OfFile(from)))
      throw new ArchiveDamage('Decrypted, it is not what was encrypted.');
    await rename(draft, to);
    return { byteSize: (await stat(to)).size, sha256: await sha256OfFile(to) };
  } finally {
    for (const left of [draft, back]) await rm(left, { force: true });
  }
}

/** The same in a process of its own, by the passphrase of the data folder: both are work for the processor alone. */
export async function encryptApart(
  from: string,
  to: string,
  dataDir: string,
): Promise<{ byteSize: number; sha256: string }> {
  const made = await tryApart<{ byteSize: number; sha256: string } | { wrong: string[] }>([
    'encrypt',
    from,
    to,
    dataDir,
  ]).said;
  if ('sha256' in made) return made;
  throw new Error(made.wrong.join('; '));
}
