import { CalcError } from '../calcError.ts';

/** Decoded pixels, row by row from the upper left, sRGB-encoded, 3 or 4 bytes a pixel (the fourth is not looked at). */
export interface PixelImage {
  data: Uint8Array | Uint8ClampedArray;
  width: number;
  height: number;
  channels: 3 | 4;
}

/** A place in the image in pixels: x to the right, y down; the centre of the first pixel is (0, 0). */
export interface Point {
  x: number;
  y: number;
}

/** Demands as many pixels as the sides say; throws CalcError otherwise. A rule of our own. */
export function demandImage(image: PixelImage): PixelImage {
  const { data, width, height, channels } = image;
  if (!Number.isInteger(width) || !Number.isInteger(height) || width < 1 || height < 1) {
    throw new CalcError('outOfRange', 'image', 'the image must have a width and a height');
  }
  if (data.length < width * height * channels) {
    throw new CalcError('missing', 'image', 'the image holds fewer pixels than its size says');
  }
  return image;
}

/** Linear light 0–1 of each 8-bit sRGB value (IEC 61966-2-1), tabled because every pixel read asks for it. */
export const LINEAR_OF_BYTE: Float64Array = Float64Array.from({ length: 256 }, (_, byte) => {
  const v = byte / 255;
  return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
});

/** Smaller image by averaging the area below each new pixel, 3 channels; the same image when it is small enough. Averaged
 *  as encoded: it serves for finding edges, never for reading a colour. `scale` is new pixels per old pixel. Definition. */
export function shrunk(image: PixelImage, longSidePx: number): { image: PixelImage; scale: number } {
  const { data, width, height, channels } = image;
  const scale = longSidePx / Math.max(width, height);
  if (scale >= 1) return { image, scale: 1 };
  const w = Math.max(1, Math.round(width * scale));
  const h = Math.max(1, Math.round(height * scale));
  const out = new Uint8Array(w * h * 3);
  for (let y = 0; y < h; y++) {
    const y0 = Math.floor((y * height) / h);
    const y1 = Math.max(y0 + 1, Math.floor(((y + 1) * height) / h));
    for (let x = 0; x < w; x++) {
      const x0 = Math.floor((x * width) / w);
      const x1 = Math.max(x0 + 1, Math.floor(((x + 1) * width) / w));
      let r = 0;
      let g = 0;
      let b = 0;
      for (let yy = y0; yy < y1; yy++) {
        for (let p = (yy * width + x0) * channels, end = (yy * width + x1) * channels; p < end; p += channels) {
          r += data[p]!;
          g += data[p + 1]!;
          b += data[p + 2]!;
        }
      }
      const n = (y1 - y0) * (x1 - x0);
      const q = (y * w + x) * 3;
      out[q] = Math.round(r / n);
      out[q + 1] = Math.round(g / n);
      out[q + 2] = Math.round(b / n);
    }
  }
  return { image: { data: out, width: w, height: h, channels: 3 }, scale: w / width };
}
