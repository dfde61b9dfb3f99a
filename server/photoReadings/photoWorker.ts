import type { Sharp } from 'sharp';
import { eachCorner } from '../calc/colour/cardFinding.ts';
import { readCard } from '../calc/colour/cardReading.ts';
import type { PixelImage, Point } from '../calc/colour/pixelImage.ts';
import type { Region } from '../calc/colour/regions.ts';
import { MAX_PIXELS, pictureHead, pictures } from '../photos/pictures.ts';
import { demandPicture, notAnImage } from '../photos/pictureWork.ts';
import type { PhotoJob, PhotoReading, PhotoRequest } from './photoReader.ts';

/* Runs in the process that reads what comes from outside (server/readApart.ts). */

/** Colours need no more than this; a larger photo is averaged down while it is decoded. */
const READ_SIDE_PX = 3000;
interface Decoded {
  image: PixelImage;
  /** Size of the upright photo as it came. */
  widthPx: number;
  heightPx: number;
}

const toRead = async (photo: string): Promise<Sharp> =>
  (await pictures())(photo, { limitInputPixels: MAX_PIXELS, failOn: 'error' })
    .autoOrient()
    .flatten({ background: '#ffffff' })
    .toColourspace('srgb')
    .resize({ width: READ_SIDE_PX, height: READ_SIDE_PX, fit: 'inside', withoutEnlargement: true });

/** Upright, in sRGB (an embedded profile is followed), 8 bits a channel, on white where it is transparent. */
async function decode(photo: string): Promise<Decoded> {
  const { width, height, orientation } = await demandPicture(photo);
  const sideways = orientation >= 5;
  try {
    const { data, info } = await (await toRead(photo)).raw({ depth: 'uchar' }).toBuffer({ resolveWithObject: true });
    if (info.channels !== 3) throw notAnImage();
    return {
      image: { data, width: info.width, height: info.height, channels: 3 },
      widthPx: sideways ? height : width,
      heightPx: sideways ? width : height,
    };
  } catch {
    throw notAnImage();
  }
}

async function read(photo: string, request: PhotoRequest): Promise<PhotoReading> {
  const { image, widthPx, heightPx } = await decode(photo);
  const sx = image.width / widthPx;
  const sy = image.height / heightPx;
  // Pixel centres are whole numbers in both sizes.
  const inwards = (p: Point): Point => ({ x: (p.x + 0.5) * sx - 0.5, y: (p.y + 0.5) * sy - 0.5 });
  const outwards = (p: Point): Point => ({ x: (p.x + 0.5) / sx - 0.5, y: (p.y + 0.5) / sy - 0.5 });
  const regions = request.regions.map((region): Region => {
    if (region.kind === 'area') return { ...region, outline: region.outline.map(inwards) };
    return { ...region, ...inwards(region), radiusPx: region.radiusPx * Math.sqrt(sx * sy) };
  });
  const corners = request.corners === 'find' ? 'find' : eachCorner(request.corners, inwards);
  const reading = readCard({ image, card: request.card, corners, regions });
  if (reading.outcome !== 'read') return { widthPx, heightPx, reading };
  return { widthPx, heightPx, reading: { ...reading, corners: eachCorner(reading.corners, outwards) } };
}

/** Size of a photo turned upright, from its head; undefined of what is no picture. */
async function uprightSize(photo: string): Promise<{ widthPx: number; heightPx: number } | undefined> {
  const head = await pictureHead(photo);
  if (!head?.width || !head.height) return undefined;
  const { width, height, orientation = 1 } = head;
  return orientation >= 5 ? { widthPx: height, heightPx: width } : { widthPx: width, heightPx: height };
}

/** Writes the pixels that are read, as they came, to a file of ours. */
async function copy(photo: string, to: string): Promise<void> {
  await demandPicture(photo);
  const picture = await toRead(photo);
  await picture.png({ compressionLevel: 2 }).toFile(to);
}

export async function work(photo: string, job: PhotoJob): Promise<unknown> {
  switch (job.kind) {
    case 'read':
      return read(photo, job.request);
    case 'size':
      return uprightSize(photo);
    case 'copy':
      return copy(photo, job.to);
  }
}
