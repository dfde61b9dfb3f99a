import sax from 'sax';
import yauzl from 'yauzl';

/** What a part says, as it is read. Names are without their prefix. */
export interface XmlHandlers {
  open?: (name: string, attributes: Readonly<Record<string, string>>) => void;
  /** Comes in pieces, of which none is long. */
  text?: (text: string) => void;
  close?: (name: string) => void;
}

export type PartReader = (path: string, handlers: XmlHandlers) => Promise<void>;

/** The file is none of its kind, or damaged. */
export class Unreadable extends Error {}
/** More than anybody's spreadsheet holds, whatever its packed size. */
export class UnpacksToTooMuch extends Error {}

/** Of all parts that are read, counted while they are unpacked: what the file says of its own size is not believed. */
const MAX_UNPACKED_BYTES = 400_000_000;
const MAX_ENTRIES = 10_000;
const MAX_DEPTH = 40;
const MAX_ATTRIBUTES = 100;

const withoutPrefix = (name: string): string => name.slice(name.indexOf(':') + 1);

/** The XML parts of a zip file (Office Open XML packages, ECMA-376 part 2), one by one, each read as it is unpacked: neither
 *  its text nor a tree of it is ever held. `path` without a leading slash; a part that is missing reads as an empty one. */
export async function zippedXml(content: Buffer): Promise<{ read: PartReader; close: () => void }> {
  const zip = await opened(content);
  const entries = await entriesOf(zip);
  let unpackedBytes = 0;
  const read: PartReader = async (path, handlers) => {
    const entry = entries.get(path.toLowerCase());
    if (!entry) return;
    const stream = await streamOf(zip, entry);
    const parser = xmlParser(handlers);
    let decoder: TextDecoder | undefined;
    for await (const chunk of unpacked(stream)) {
      unpackedBytes += chunk.length;
      if (unpackedBytes > MAX_UNPACKED_BYTES) throw new UnpacksToTooMuch();
      decoder ??= new TextDecoder(chunk[0] === 0xff ? 'utf-16le' : chunk[0] === 0xfe ? 'utf-16be' : 'utf-8');
      parser.write(decoder.decode(chunk, { stream: true }));
    }
    parser.close();
  };
  return { read, close: () => zip.close() };
}

/** What is wrong with the packing is told as such; what the parser or its handlers throw passes by. */
async function* unpacked(stream: NodeJS.ReadableStream): AsyncGenerator<Buffer> {
  const chunks = (stream as AsyncIterable<Buffer> & NodeJS.ReadableStream)[Symbol.asyncIterator]();
  try {
    for (;;) {
      const step = await chunks.next().catch((error: Error) => {
        throw new Unreadable(error.message);
      });
      if (step.done) return;
      yield step.value as Buffer;
    }
  } finally {
    await chunks.return?.();
  }
}

function xmlParser(handlers: XmlHandlers): sax.SAXParser {
  // With its position, since only by that it notices that a name or a value has no end.
  const parser = sax.parser(true, { position: true });
  let depth = 0;
  let attributes = 0;
  const give = (error: Error): never => {
    throw error;
  };
  parser.onerror = (error) => give(new Unreadable(error.message));
  // No part of a spreadsheet has one; entities that stand for entities are made in it.
  parser.ondoctype = () => give(new Unreadable('a document type'));
  parser.onattribute = () => {
    attributes++;
    if (attributes > MAX_ATTRIBUTES) throw new Unreadable('more attributes than any element has');
  };
  parser.onopentag = ({ name, attributes: own }) => {
    depth++;
    if (depth > MAX_DEPTH) throw new Unreadable('deeper than any part goes');
    attributes = 0;
    handlers.open?.(withoutPrefix(name), own as Record<string, string>);
  };
  parser.ontext = (text) => handlers.text?.(text);
  parser.oncdata = (text) => handlers.text?.(text);
  parser.onclosetag = (name) => {
    depth--;
    handlers.close?.(withoutPrefix(name));
  };
  return parser;
}

const opened = (content: Buffer): Promise<yauzl.ZipFile> =>
  new Promise((resolve, reject) => {
    yauzl.fromBuffer(content, { lazyEntries: true }, (error, zip) =>
      error || !zip ? reject(new Unreadable(error?.message)) : resolve(zip),
    );
  });

const entriesOf = (zip: yauzl.ZipFile): Promise<Map<string, yauzl.Entry>> =>
  new Promise((resolve, reject) => {
    const entries = new Map<string, yauzl.Entry>();
    zip.on('entry', (entry: yauzl.Entry) => {
      // Names of parts are the same in capitals and small letters (ECMA-376 part 2, §6.2.2).
      entries.set(entry.fileName.replace(/^\//, '').toLowerCase(), entry);
      if (entries.size > MAX_ENTRIES) reject(new UnpacksToTooMuch());
      else zip.readEntry();
    });
    zip.once('end', () => resolve(entries));
    zip.once('error', (error: Error) => reject(new Unreadable(error.message)));
    zip.readEntry();
  });

const streamOf = (zip: yauzl.ZipFile, entry: yauzl.Entry): Promise<NodeJS.ReadableStream> =>
  new Promise((resolve, reject) => {
    zip.openReadStream(entry, (error, stream) =>
      error || !stream ? reject(new Unreadable(error?.message)) : resolve(stream),
    );
  });
