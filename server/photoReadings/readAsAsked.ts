import type { CardDefinition } from '../calc/colour/cardDefinitions.ts';
import { eachCorner } from '../calc/colour/cardFinding.ts';
import type { CardReading } from '../calc/colour/cardReading.ts';
import type { Deps } from '../deps.ts';
import { found } from '../errors.ts';
import { photoById } from '../photos/queries.ts';
import { cardOf } from '../referenceCards/cards.ts';
import { type ReadablePhoto, readablePhoto } from './photoCopies.ts';
import { regionsOf, toPixels } from './photoPlaces.ts';
import { readPhoto } from './photoReader.ts';
import type { PlacesInput } from './schemas.ts';

/** Reads a kept photo as a page's address says: with which card, and at the places that were pointed at. */
export async function readAsAsked(
  deps: Deps,
  photoId: number,
  asked: PlacesInput,
): Promise<{ card: CardDefinition; readable: ReadablePhoto; reading: CardReading }> {
  const card = cardOf(deps.db, asked);
  const readable = await readablePhoto(deps, found(photoById(deps.db, photoId), 'photo'));
  const { reading } = await readPhoto(readable.file, {
    card,
    corners: asked.corners ? eachCorner(asked.corners, (p) => toPixels(p, readable)) : 'find',
    regions: regionsOf({ ...asked, clusters: asked.bands }, readable),
  });
  return { card, readable, reading };
}
