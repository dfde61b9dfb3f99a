import { colourName } from '../../server/calc/colour/colourName.ts';
import { D65_2 } from '../../server/calc/colour/reading.ts';
import type { SwatchTile } from '../../server/swatches/schemas.ts';
import { type Html, html } from '../html.ts';
import { colourChip } from '../kit/colourChip.ts';
import { percent } from '../kit/show.ts';

/** What a tag shows of a swatch. */
export type Tile = Pick<
  SwatchTile,
  'swatchId' | 'code' | 'name' | 'depthPpm' | 'fibreName' | 'dyes' | 'rating' | 'photoId' | 'hex' | 'bands' | 'lab'
>;

/** A colour in words, for those who do not see it. */
export const colourWords = (tile: Pick<Tile, 'lab' | 'bands'>): string => {
  if (tile.lab === null) return 'colour';
  const { l, a, b } = tile.lab;
  const lead = colourName({ lab: { L: l, a, b }, conditions: D65_2 }).name;
  return tile.bands.length > 1 ? `${lead} and ${tile.bands.length - 1} more` : lead;
};

/** The whole colour of a swatch, each part of variegated goods by its share. */
export const tileChip = (tile: Pick<Tile, 'hex' | 'bands' | 'lab'>): Html =>
  colourChip({
    hex: tile.hex,
    label: colourWords(tile),
    size: 'tile',
    bands: tile.bands.map((band) => ({ hex: band.hex, share: band.sharePpm })),
  });

export const stars = (rating: number | null): Html | '' =>
  rating === null
    ? ''
    : html`<span class="stars"><span aria-hidden="true">${'★'.repeat(rating)}${'☆'.repeat(5 - rating)}</span><span
      class="visually-hidden">rated ${rating} of 5</span></span>`;

/** A sample tag: the colour with a punched corner, and its words on a neutral strip below, never on the colour. */
export const swatchTile = (props: { tile: Tile; show: 'colour' | 'photo'; beside?: string }): Html => {
  const { tile } = props;
  const picture =
    tile.photoId !== null && (props.show === 'photo' || tile.hex === null)
      ? html`<img src="/photos/${tile.photoId}/640" alt="" loading="lazy" width="640" height="640">`
      : tileChip(tile);
  return html`<li class="tag"><a href="/swatches/${tile.swatchId}">
    <span class="tag-colour">${picture}</span>
    <span class="tag-label"><span class="tag-name">${tile.name}</span><span
      class="tag-depth">${percent(tile.depthPpm)}</span><span class="tag-code">${tile.code}</span><span
      class="tag-goods">${props.beside ?? tile.fibreName}</span><span
      class="tag-dyes">${tile.dyes}</span>${stars(tile.rating)}</span>
  </a></li>`;
};
