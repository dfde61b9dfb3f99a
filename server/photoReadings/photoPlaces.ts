import type { CardDefinition } from '../calc/colour/cardDefinitions.ts';
import type { CardCorners } from '../calc/colour/cardFinding.ts';
import { mapPoint } from '../calc/colour/homography.ts';
import { cardToImage } from '../calc/colour/patchSampling.ts';
import type { Point } from '../calc/colour/pixelImage.ts';
import type { ClusterWish, Region } from '../calc/colour/regions.ts';

/* A page gives places as shares of the photo's width and height, so that it need not know the size that is read. The centre of
   the first pixel is (0, 0), its corner (−0.5, −0.5). */

export interface PhotoSize {
  widthPx: number;
  heightPx: number;
}

export const toPixels = (p: Point, { widthPx, heightPx }: PhotoSize): Point => ({
  x: Math.min(widthPx - 1, Math.max(0, p.x * widthPx - 0.5)),
  y: Math.min(heightPx - 1, Math.max(0, p.y * heightPx - 0.5)),
});

export const toShares = (p: Point, { widthPx, heightPx }: PhotoSize): Point => ({
  x: (p.x + 0.5) / widthPx,
  y: (p.y + 0.5) / heightPx,
});

/** Radius of a spot that was pointed at: a fingertip on cloth, as a share of the photo's long side. */
export const spotRadiusPx = ({ widthPx, heightPx }: PhotoSize): number =>
  Math.max(3, 0.018 * Math.max(widthPx, heightPx));

/** The regions to read around the places that a page gives. */
export function regionsOf(
  places: { spots?: readonly Point[] | undefined; area?: readonly Point[] | undefined; clusters: ClusterWish },
  size: PhotoSize,
): Region[] {
  const { clusters } = places;
  const radiusPx = spotRadiusPx(size);
  const spots = (places.spots ?? []).map(
    (p): Region => ({ kind: 'spot', ...toPixels(p, size), radiusPx, clusters: 'none' }),
  );
  if (places.area === undefined) return spots;
  return [...spots, { kind: 'area', outline: places.area.map((p) => toPixels(p, size)), clusters }];
}

/** Middle of every patch in the photo, row by row; of a plain card the middle of its area. */
export function patchMiddles(card: CardDefinition, corners: CardCorners): Point[] {
  if (card.columns < 2 || card.rows < 2) {
    const mean = (of: (p: Point) => number): number => corners.reduce((sum, p) => sum + of(p), 0) / 4;
    return [{ x: mean((p) => p.x), y: mean((p) => p.y) }];
  }
  const toImage = cardToImage(card, corners);
  return card.patches.map((_, i) => mapPoint(toImage, i % card.columns, Math.floor(i / card.columns)));
}
