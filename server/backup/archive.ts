import { createHash, type Hash } from 'node:crypto';
import { createReadStream, createWriteStream } from 'node:fs';
import { mkdir, open, rename, rm } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { Transform, type TransformCallback, Writable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import yauzl from 'yauzl';
import yazl from 'yazl';
import { z } from 'zod';
import { isSealedBy, markOf, sealOf } from './studioKey.ts';

/** An archive is a zip file: the database as `studio.sqlite`, the files of the data folder beside it, and `manifest.json`
 *  at its end, which names each with its size and SHA-256, and `manifest.seal`, the HMAC-SHA256 of the manifest by the studio’s key.
 *  Any unzip program opens it. */
export const MANIFEST = 'manifest.json';
const SEAL = 'manifest.seal';
export const DATABASE = 'studio.sqlite';
/** Folders of the data folder that go with the database. */
export const FILE_FOLDERS = ['photos', 'voices'] as const;

const ENTRY_NAME = /^(?:studio\.sqlite|(?:photos|voices)\/[0-9a-f]{2}\/[0-9a-f]{64}[\w-]*\.[a-z0-9]{2,5})$/;

const ManifestSchema = z.object({
  format: z.literal('lot-and-shade backup'),
  /** 1: of a version that did not seal. */
  formatVersion: z.union([z.literal(1), z.literal(2)]),
  madeAt: z.number().int(),
  studioName: z.string(),
  serviceVersion: z.string(),
  /** Instant of the last migration that the database has seen: an older service cannot read it. */
  migratedTo: z.number().int(),
  /** Which key has sealed it (studioKey.ts). */
  sealedBy: z.string().optional(),
  /** The newest link of the record, and of every other table its rows with their sum (db/proof). */
  record: z.object({ links: z.number().int(), link: z.string() }).optional(),
  tables: z.record(z.string(), z.object({ rows: z.number().int(), sum: z.string() })).optional(),
  files: z.array(z.object({ path: z.string(), byteSize: z.number().int().min(0), sha256: z.string().length(64) })),
});
export type Manifest = z.output<typeof ManifestSchema>;

/** What is wrong with an archive, in words for whoever restores it. */
export class ArchiveDamage extends Error {}

class Hashing extends Transform {
  readonly #hash: Hash = createHash('sha256');
  byteSize = 0;
  override _transform(chunk: Buffer, _: BufferEncoding, done: TransformCallback): void {
    this.#hash.update(chunk);
    this.byteSize += chunk.length;
    done(null, chunk);
  }
  digest(): string {
    return this.#hash.digest('hex');
  }
}

/** Writes an archive. The file appears under its name only when it is whole and on the disk. */
export async function writeArchive(
  file: string,
  head: Omit<Manifest, 'format' | 'formatVersion' | 'files' | 'sealedBy'>,
  sources: readonly { path: string; from: string }[],
  key: string,
): Promise<{ byteSize: number; sha256: string; manifest: Manifest }> {
  const draft = `${file}.part`;
  await mkdir(dirname(file), { recursive: true, mode: 0o700 });
  const zip = new yazl.ZipFile();
  const whole = new Hashing();
  const piped = pipeline(zip.outputStream, whole, createWriteStream(draft, { mode: 0o600 }));
  // A failure of the disk must end the wait for an entry, too.
  const failed = piped.then(() => new Promise<never>(() => undefined));
  try {
    const files: Manifest['files'] = [];
    for (const { path, from } of sources) {
      const content = new Hashing();
      const read = new Promise<void>((done, fail) => {
        content.once('end', done);
        content.once('error', fail);
      });
      zip.addReadStreamLazy(path, { compress: path === DATABASE }, (give) => {
        const stream = createReadStream(from);
        stream.once('error', (error) => content.destroy(error));
        give(null, stream.pipe(content));
      });
      await Promise.race([read, failed]);
      files.push({ path, byteSize: content.byteSize, sha256: content.digest() });
    }
    const manifest: Manifest = {
      format: 'lot-and-shade backup',
      formatVersion: 2,
      sealedBy: markOf(key),
      ...head,
      files,
    };
    const written = Buffer.from(`${JSON.stringify(manifest, null, 1)}\n`);
    zip.addBuffer(written, MANIFEST);
    zip.addBuffer(Buffer.from(sealOf(key, written)), SEAL);
    zip.end();
    await piped;
    await syncFile(draft);
    await rename(draft, file);
    await syncFile(dirname(file));
    return { byteSize: whole.byteSize, sha256: whole.digest(), manifest };
  } catch (error) {
    zip.outputStream.unpipe();
    whole.destroy();
    await piped.catch(() => undefined);
    await rm(draft, { force: true });
    throw error;
  }
}

async function syncFile(path: string): Promise<void> {
  const handle = await open(path, 'r');
  try {
    await handle.sync();
  } finally {
    await handle.close();
  }
}

const openZip = (file: string): Promise<yauzl.ZipFile> =>
  new Promise((resolve, reject) => {
    yauzl.open(file, { lazyEntries: true, autoClose: false, strictFileNames: true }, (error, zip) =>
      error || !zip ? reject(new ArchiveDamage(`This is no whole zip file: ${error?.message}`)) : resolve(zip),
    );
  });

const entriesOf = (zip: yauzl.ZipFile): Promise<yauzl.Entry[]> =>
  new Promise((resolve, reject) => {
    const entries: yauzl.Entry[] = [];
    zip.on('entry', (entry: yauzl.Entry) => {
      entries.push(entry);
      zip.readEntry();
    });
    zip.once('end', () => resolve(entries));
    zip.once('error', (error: Error) => reject(new ArchiveDamage(error.message)));
    zip.readEntry();
  });

const streamOf = (zip: yauzl.ZipFile, entry: yauzl.Entry): Promise<NodeJS.ReadableStream> =>
  new Promise((resolve, reject) => {
    zip.openReadStream(entry, (error, stream) =>
      error || !stream ? reject(new ArchiveDamage(error?.message ?? entry.fileName)) : resolve(stream),
    );
  });

const discard = (): Writable =>
  new Writable({
    write(_chunk, _encoding, done) {
      done();
    },
  });

const MAX_MANIFEST_BYTES = 200_000_000;

async function bytesOf(zip: yauzl.ZipFile, entry: yauzl.Entry): Promise<Buffer> {
  const chunks: Buffer[] = [];
  for await (const chunk of await streamOf(zip, entry)) chunks.push(chunk as Buffer);
  return Buffer.concat(chunks);
}

async function manifestOf(
  zip: yauzl.ZipFile,
  entries: readonly yauzl.Entry[],
): Promise<{ manifest: Manifest; bytes: Buffer }> {
  const entry = entries.find((e) => e.fileName === MANIFEST);
  if (!entry) throw new ArchiveDamage('It holds no manifest: it is another zip file, or its end is missing.');
  if (entry.uncompressedSize > MAX_MANIFEST_BYTES) throw new ArchiveDamage('Its manifest is too large to be one.');
  const bytes = await bytesOf(zip, entry);
  try {
    return { manifest: ManifestSchema.parse(JSON.parse(bytes.toString('utf8'))), bytes };
  } catch {
    throw new ArchiveDamage('Its manifest cannot be read.');
  }
}

/** What can be said of who made an archive. 'sealed': this studio, and nothing in it was changed since. 'none': it carries no seal, as
 *  those of versions before there were any, or one that was taken off. 'otherKey': another key has sealed it. 'noKey': there is no key
 *  to tell by. A seal of this studio’s key that does not fit is damage. */
export type Seal = 'sealed' | 'none' | 'otherKey' | 'noKey';

async function sealOn(
  zip: yauzl.ZipFile,
  entry: yauzl.Entry | undefined,
  { manifest, bytes }: { manifest: Manifest; bytes: Buffer },
  key: string | null,
): Promise<Seal> {
  if (entry === undefined || entry.uncompressedSize > 1000) return 'none';
  if (key === null) return 'noKey';
  if (isSealedBy(key, bytes, (await bytesOf(zip, entry)).toString())) return 'sealed';
  if (manifest.sealedBy !== markOf(key)) return 'otherKey';
  throw new ArchiveDamage('It was changed after this studio had sealed it: its seal does not fit.');
}

/** Reads an archive whole and compares every file with the manifest, writing them below `into` where given, and the manifest with its
 *  seal by the studio’s key. Throws ArchiveDamage when anything is missing, changed, too much or named as a way out of the folder. */
export async function readArchive(
  file: string,
  into: string | null,
  key: string | null = null,
): Promise<{ manifest: Manifest; seal: Seal }> {
  const zip = await openZip(file);
  try {
    const entries = await entriesOf(zip);
    const read = await manifestOf(zip, entries);
    const { manifest } = read;
    const byName = new Map(entries.map((e) => [e.fileName, e]));
    if (byName.size !== entries.length) throw new ArchiveDamage('A file is in it twice.');
    if (!manifest.files.some((f) => f.path === DATABASE)) throw new ArchiveDamage('It holds no database.');
    const sealEntry = byName.get(SEAL);
    if (entries.length !== manifest.files.length + (sealEntry ? 2 : 1))
      throw new ArchiveDamage('It holds more or less than its manifest.');
    const seal = await sealOn(zip, sealEntry, read, key);
    for (const { path, byteSize, sha256 } of manifest.files) {
      const entry = byName.get(path);
      if (!ENTRY_NAME.test(path)) throw new ArchiveDamage(`“${path}” is no file of a studio.`);
      if (!entry) throw new ArchiveDamage(`${path} is missing.`);
      if (entry.uncompressedSize !== byteSize)
        throw new ArchiveDamage(`${path} has another size than the manifest says.`);
      const content = new Hashing();
      const target = into === null ? discard() : await fileBelow(into, path);
      try {
        await pipeline(await streamOf(zip, entry), content, target);
      } catch (error) {
        // The disk that is written to is another matter than the archive.
        if ((error as NodeJS.ErrnoException).syscall) throw error;
        throw new ArchiveDamage(`${path} cannot be unpacked: ${(error as Error).message}`);
      }
      if (content.digest() !== sha256) throw new ArchiveDamage(`${path} is not what was saved: its hash differs.`);
    }
    return { manifest, seal };
  } finally {
    zip.close();
  }
}

async function fileBelow(into: string, path: string): Promise<Writable> {
  const file = join(into, path);
  await mkdir(dirname(file), { recursive: true, mode: 0o700 });
  return createWriteStream(file, { flags: 'wx', mode: 0o600, flush: true });
}
