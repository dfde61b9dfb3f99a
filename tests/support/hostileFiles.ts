import { crc32 } from 'node:zlib';
import sharp, { type Sharp } from 'sharp';
import yazl from 'yazl';

/* Small files that make much work for whoever reads them without care. */

/** A zip file of these parts; a part may come in pieces, so that a large one is never held. */
export async function zipOf(parts: Record<string, string | Iterable<string>>): Promise<Buffer> {
  const { Readable } = await import('node:stream');
  const zip = new yazl.ZipFile();
  for (const [path, content] of Object.entries(parts)) {
    if (typeof content === 'string') zip.addBuffer(Buffer.from(content), path);
    else zip.addReadStream(Readable.from(content, { objectMode: false }), path);
  }
  zip.end();
  const chunks: Buffer[] = [];
  for await (const chunk of zip.outputStream) chunks.push(chunk as Buffer);
  return Buffer.concat(chunks);
}

const MAIN = 'http://schemas.openxmlformats.org/spreadsheetml/2006/main';
const OFFICE = 'http://schemas.openxmlformats.org/officeDocument/2006/relationships';
const relations = (...of: [type: string, target: string][]): string =>
  `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">${of
    .map(([type, target], i) => `<Relationship Id="r${i + 1}" Type="${OFFICE}/${type}" Target="${target}"/>`)
    .join('')}</Relationships>`;

export function* times(count: number, piece: string, per = 1000): Generator<string> {
  const block = piece.repeat(per);
  for (let left = count; left > 0; left -= per) yield left >= per ? block : piece.repeat(left);
}

export function* pieces(...of: (string | Iterable<string>)[]): Generator<string> {
  for (const one of of) {
    if (typeof one === 'string') yield one;
    else yield* one;
  }
}

/** A dye table: its head and one row, and what stands in the sheet besides. */
export const SHEET_HEAD = `<worksheet xmlns="${MAIN}"><sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>code</t></is></c><c r="B1" t="inlineStr"><is><t>name</t></is></c><c r="C1" t="inlineStr"><is><t>class</t></is></c></row><row r="2"><c r="A2" t="inlineStr"><is><t>B4</t></is></c><c r="B2" t="inlineStr"><is><t>Navy</t></is></c><c r="C2" t="inlineStr"><is><t>reactive</t></is></c></row>`;
export const SHEET_END = '</sheetData></worksheet>';

export const workbookOf = (
  sheet: string | Iterable<string>,
  besides: { strings?: string | Iterable<string>; styles?: string; workbook?: string } = {},
): Promise<Buffer> =>
  zipOf({
    '_rels/.rels': relations(['officeDocument', 'xl/workbook.xml']),
    'xl/workbook.xml':
      besides.workbook ??
      `<workbook xmlns="${MAIN}" xmlns:r="${OFFICE}"><sheets><sheet name="Dyes" sheetId="1" r:id="r1"/></sheets></workbook>`,
    'xl/_rels/workbook.xml.rels': relations(
      ['worksheet', 'worksheets/sheet1.xml'],
      ['sharedStrings', 'sharedStrings.xml'],
      ['styles', 'styles.xml'],
    ),
    'xl/worksheets/sheet1.xml': sheet,
    ...(besides.strings === undefined ? {} : { 'xl/sharedStrings.xml': besides.strings }),
    ...(besides.styles === undefined ? {} : { 'xl/styles.xml': besides.styles }),
  });

/** The same archive with the unpacked size of every part above 1 kB said to be another, in both places where it stands. */
export function lyingSizes(zip: Buffer, says: number): Buffer {
  const lie = Buffer.from(zip);
  const places = [
    { signature: 0x02014b50, at: 24 },
    { signature: 0x04034b50, at: 22 },
  ];
  for (let i = 0; i + 30 < lie.length; i++) {
    const place = places.find(({ signature }) => lie.readUInt32LE(i) === signature);
    if (place && lie.readUInt32LE(i + place.at) > 1_000) lie.writeUInt32LE(says, i + place.at);
  }
  return lie;
}

const chunkOf = (type: string, content: Buffer): Buffer => {
  const body = Buffer.concat([Buffer.from(type, 'latin1'), content]);
  const [length, sum] = [Buffer.alloc(4), Buffer.alloc(4)];
  length.writeUInt32BE(content.length);
  sum.writeUInt32BE(crc32(body));
  return Buffer.concat([length, body, sum]);
};

/** A PNG that says it has so many pixels and holds next to none (PNG specification, §11.2.1). */
export function pngThatSays(width: number, height: number): Buffer {
  const head = Buffer.alloc(13);
  head.writeUInt32BE(width, 0);
  head.writeUInt32BE(height, 4);
  head.set([8, 2, 0, 0, 0], 8);
  return Buffer.concat([
    Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]),
    chunkOf('IHDR', head),
    chunkOf('IDAT', Buffer.from('789c030000000001', 'hex')),
    chunkOf('IEND', Buffer.alloc(0)),
  ]);
}

/** A little-endian TIFF whose directory says so many pixels (TIFF 6.0, §2), and no more. */
export function tiffThatSays(width: number, height: number): Buffer {
  const tags: [tag: number, type: number, count: number, value: number][] = [
    [256, 4, 1, width],
    [257, 4, 1, height],
    [258, 3, 1, 8],
    [259, 3, 1, 1],
    [262, 3, 1, 1],
    [273, 4, 1, 8],
    [277, 3, 1, 1],
    [278, 4, 1, height],
    [279, 4, 1, 16],
  ];
  const file = Buffer.alloc(8 + 2 + tags.length * 12 + 4 + 16);
  file.write('II*\0', 'latin1');
  file.writeUInt32LE(8, 4);
  file.writeUInt16LE(tags.length, 8);
  tags.forEach(([tag, type, count, value], i) => {
    const at = 10 + i * 12;
    file.writeUInt16LE(tag, at);
    file.writeUInt16LE(type, at + 2);
    file.writeUInt32LE(count, at + 4);
    file.writeUInt32LE(value, at + 8);
  });
  return file;
}

/** A WAV file that says it lasts for hours and holds a few bytes. */
export function wavThatSays(bytes: number): Buffer {
  const head = Buffer.alloc(44 + 64);
  head.write('RIFF', 0, 'latin1');
  head.writeUInt32LE(bytes, 4);
  head.write('WAVEfmt ', 8, 'latin1');
  head.writeUInt32LE(16, 16);
  head.writeUInt16LE(1, 20);
  head.writeUInt16LE(65_535, 22);
  head.writeUInt32LE(4_294_967_295, 24);
  head.write('data', 36, 'latin1');
  head.writeUInt32LE(bytes, 40);
  return head;
}

/** 79 megapixels of one colour, in some kilobytes. */
export const plainPicture = (): Sharp =>
  sharp({ create: { width: 10_000, height: 7_900, channels: 3, background: '#77604a' } });

export const ENTITY_BOMB = `<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">${Array.from({ length: 12 }, (_, i) => `<!ENTITY ${'bcdefghijklm'[i]} "${`&${'abcdefghijkl'[i]};`.repeat(10)}">`).join('')}]>`;
