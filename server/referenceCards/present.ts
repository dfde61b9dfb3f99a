import type { CardProps } from '../../views/referenceCards/picture.ts';
import { conditionsOf, labOf } from '../calc/colour/reading.ts';
import { srgbFromLab } from '../calc/colour/spaces.ts';
import type { ReferenceCardRow } from '../db/tables/swatches.ts';
import { readingText } from '../readings/display.ts';
import { cardAdaptation, studioCardId } from './cards.ts';
import type { ReferenceCard } from './schemas.ts';

/** A card as the API tells it. */
export const cardResource = (row: ReferenceCardRow): ReferenceCard => {
  const { id, madeAt: _at, madeBy: _by, archivedAt, ...rest } = row;
  return {
    ...rest,
    cardId: id,
    card: studioCardId(row),
    archived: archivedAt !== null,
    adaptation: cardAdaptation(row),
  };
};

/** A card as pages draw it. */
export const cardProps = (row: ReferenceCardRow): CardProps => ({
  cardId: row.id,
  name: row.name,
  columns: row.columns,
  rows: row.rows,
  note: row.note,
  archived: row.archivedAt !== null,
  adaptation: cardAdaptation(row),
  patches: row.patches.map((patch) => ({
    name: patch.name,
    hex: srgbFromLab({ lab: labOf(patch), conditions: conditionsOf(row) }).hex,
    text: readingText({ ...patch, illuminant: row.illuminant, observer: row.observer }),
  })),
});
