import { parentPort } from 'node:worker_threads';
import sharp from 'sharp';
import { CalcError } from '../calc/calcError.ts';
import { eachCorner } from '../calc/colour/cardFinding.ts';
import { readCard } from '../calc/colour/cardReading.ts';
import type { PixelImage, Point } from '../calc/colour/pixelImage.ts';
import type { Region } from '../calc/colour/regions.ts';
import { judgedPicture, MAX_PIXELS, pictureHead } from '../photos/pictures.ts';
import type { PhotoAnswer, PhotoJob, PhotoReading, PhotoRequest } from './photoReader.ts';

/** Colours need no more than this; a larger photo is averaged down while it is decoded. */
const READ_SIDE_PX = 3000;
sharp.cache(false);
sharp.concurrency(1);

class Unreadable extends Error {}
class TooLarge extends Error {}

interface Decoded {
  image: PixelImage;
  /** Size of the upright photo as it came. */
  widthPx: number;
  heightPx: number;
}

/** Upright, in sRGB (an embedded profile is followed), 8 bits a channel, on white where it is transparent. */
async function decode(photo: Uint8Array | string): Promise<Decoded> {
  const input = typeof photo === 'string' ? photo : Buffer.from(photo.buffer, photo.byteOffset, photo.byteLength);
  const head = await pictureHead(input);
  const judged = judgedPicture(head);
  if (head === undefined || judged === 'notAnImage') throw new Unreadable();
  if (judged === 'tooLarge') throw new TooLarge();
  const sideways = (head.orientation ?? 1) >= 5;
  try {
    const { data, info } = await sharp(input, { limitInputPixels: MAX_PIXELS, failOn: 'error' })
      .autoOrient()
      .flatten({ background: '#ffffff' })
      .toColourspace('srgb')
      .resize({ width: READ_SIDE_PX, height: READ_SIDE_PX, fit: 'inside', withoutEnlargement: true })
      .raw({ depth: 'uchar' })
      .toBuffer({ resolveWithObject: true });
    if (info.channels !== 3) throw new Unreadable();
    return {
      image: { data, width: info.width, height: info.height, channels: 3 },
      widthPx: sideways ? head.height : head.width,
      heightPx: sideways ? head.width : head.height,
    };
  } catch {
    throw new Unreadable();
  }
}

async function read(photo: Uint8Array | string, request: PhotoRequest): Promise<PhotoReading> {
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

async function answerTo(job: PhotoJob): Promise<PhotoAnswer> {
  try {
    return { jobId: job.jobId, kind: 'read', reading: await read(job.photo, job.request) };
  } catch (error) {
    if (error instanceof CalcError) {
      return { jobId: job.jobId, kind: 'impossible', code: error.code, field: error.field, message: error.message };
    }
    if (error instanceof Unreadable) return { jobId: job.jobId, kind: 'notAnImage' };
    if (error instanceof TooLarge) return { jobId: job.jobId, kind: 'tooLarge', maxMegapixels: MAX_PIXELS / 1_000_000 };
    return {
      jobId: job.jobId,
      kind: 'failed',
      message: error instanceof Error ? (error.stack ?? error.message) : String(error),
    };
  }
}

const port = parentPort;
port?.on('message', (job: PhotoJob) => {
  void answerTo(job).then((answer) => port.postMessage(answer));
});
