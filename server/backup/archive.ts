import { createHash, type Hash } from 'node:crypto';
import { createReadStream, createWriteStream } from 'node:fs';
import { mkdir, open, rename, rm } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { Transform, type TransformCallback, Writable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import yauzl from 'yauzl';
import yazl from 'yazl';
import { z } from 'zod';

/** An archive is a zip file: the database as `studio.sqlite`, the files of the data folder beside it, and `manifest.json`
 *  at its end, which names each with its size and SHA-256. Any unzip program opens it. */
export const MANIFEST = 'manifest.json';
export const DATABASE = 'studio.sqlite';
/** Folders of the data folder that go with the database. */
export const FILE_FOLDERS = ['photos', 'voices'] as const;

const ENTRY_NAME = /^(?:studio\.sqlite|(?:photos|voices)\/[0-9a-f]{2}\/[0-9a-f]{64}[\w-]*\.[a-z0-9]{2,5})$/;

const ManifestSchema = z.object({
  format: z.literal('lot-and-shade backup'),
  formatVersion: z.literal(1),
  madeAt: z.number().int(),
  studioName: z.string(),
  serviceVersion: z.string(),
  /** Instant of the last migration that the database has seen: an older service cannot read it. */
  migratedTo: z.number().int(),
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
  head: Omit<Manifest, 'format' | 'formatVersion' | 'files'>,
  sources: readonly { path: string; from: string }[],
): Promise<{ byteSize: number; sha256: string; manifest: Manifest }> {
  const draft = `${file}.part`;
  await mkdir(dirname(file), { recursive: true, mode: 0o700 });
  const zip = new yazl.ZipFile();
  const whole = new Hashing();
  const written = pipeline(zip.outputStream, whole, createWriteStream(draft, { mode: 0o600 }));
  // A failure of the disk must end the wait for an entry, too.
  const failed = written.then(() => new Promise<never>(() => undefined));
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
    const manifest: Manifest = { format: 'lot-and-shade backup', formatVersion: 1, ...head, files };
    zip.addBuffer(Buffer.from(`${JSON.stringify(manifest, null, 1)}\n`), MANIFEST);
    zip.end();
    await written;
    await syncFile(draft);
    await rename(draft, file);
    await syncFile(dirname(file));
    return { byteSize: whole.byteSize, sha256: whole.digest(), manifest };
  } catch (error) {
    zip.outputStream.unpipe();
    whole.destroy();
    await written.catch(() => undefined);
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

async function manifestOf(zip: yauzl.ZipFile, entries: readonly yauzl.Entry[]): Promise<Manifest> {
  const entry = entries.find((e) => e.fileName === MANIFEST);
  if (!entry) throw new ArchiveDamage('It holds no manifest: it is another zip file, or its end is missing.');
  if (entry.uncompressedSize > MAX_MANIFEST_BYTES) throw new ArchiveDamage('Its manifest is too large to be one.');
  const chunks: Buffer[] = [];
  for await (const chunk of await streamOf(zip, entry)) chunks.push(chunk as Buffer);
  try {
    return ManifestSchema.parse(JSON.parse(Buffer.concat(chunks).toString('utf8')));
  } catch {
    throw new ArchiveDamage('Its manifest cannot be read.');
  }
}

/** Reads an archive whole and compares every file with the manifest, writing them below `into` where given. Throws
 *  ArchiveDamage when anything is missing, changed, too much or named as a way out of the folder. */
export async function readArchive(file: string, into: string | null): Promise<Manifest> {
  const zip = await openZip(file);
  try {
    const entries = await entriesOf(zip);
    const manifest = await manifestOf(zip, entries);
    const byName = new Map(entries.map((e) => [e.fileName, e]));
    if (byName.size !== entries.length) throw new ArchiveDamage('A file is in it twice.');
    if (!manifest.files.some((f) => f.path === DATABASE)) throw new ArchiveDamage('It holds no database.');
    if (entries.length !== manifest.files.length + 1)
      throw new ArchiveDamage('It holds more or less than its manifest.');
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
    return manifest;
  } finally {
    zip.close();
  }
}

async function fileBelow(into: string, path: string): Promise<Writable> {
  const file = join(into, path);
  await mkdir(dirname(file), { recursive: true, mode: 0o700 });
  return createWriteStream(file, { flags: 'wx', mode: 0o600, flush: true });
}
