import yauzl from 'yauzl';

/** Files of a zip archive by their paths, read by a library that did not write it. */
export const unzipped = (content: Buffer): Promise<Map<string, Buffer>> =>
  new Promise((resolve, reject) => {
    const files = new Map<string, Buffer>();
    yauzl.fromBuffer(content, { lazyEntries: true }, (error, zip) => {
      if (error || !zip) return reject(error);
      zip.on('entry', (entry: yauzl.Entry) => {
        zip.openReadStream(entry, async (failure, stream) => {
          if (failure || !stream) return reject(failure);
          const chunks: Buffer[] = [];
          for await (const chunk of stream) chunks.push(chunk as Buffer);
          files.set(entry.fileName, Buffer.concat(chunks));
          zip.readEntry();
        });
      });
      zip.once('end', () => resolve(files));
      zip.once('error', reject);
      zip.readEntry();
    });
  });
