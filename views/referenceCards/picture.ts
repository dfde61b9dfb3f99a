import { type Html, html } from '../html.ts';

export interface CardProps {
  cardId: number;
  name: string;
  columns: number;
  rows: number;
  note: string;
  archived: boolean;
  adaptation: string;
  patches: readonly { name: string; hex: string; text: string }[];
}

/** A card drawn as it lies: patches in rows on black. */
export const picture = (card: CardProps): Html =>
  html`<svg class="card-picture" viewBox="0 0 ${card.columns * 10 + 1} ${
    card.rows * 10 + 1
  }" role="img" aria-label="The patches of ${card.name}">${card.patches.map(
    (patch, i) =>
      html`<rect x="${(i % card.columns) * 10 + 1}" y="${
        Math.floor(i / card.columns) * 10 + 1
      }" width="9" height="9" fill="${patch.hex}"/>`,
  )}</svg>`;

export const sides = (card: CardProps): string =>
  card.columns * card.rows === 1 ? 'one patch' : `${card.columns} by ${card.rows} patches`;
