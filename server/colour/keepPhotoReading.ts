import type { CardDefinition } from '../calc/colour/cardDefinitions.ts';
import type { ColourReadingRow } from '../db/tables/swatches.ts';
import type { Actor, Deps } from '../deps.ts';
import { notFound, Refusal } from '../errors.ts';
import { type ReadCard, readingInputsOf } from './photoReading.ts';
import { lotNamed, type ReadingSubject, swatchNamed } from './queries.ts';
import { recordReadings } from './readings.ts';

/** What a reading from a photo is of, where it is of something kept here. */
export interface PhotoSubject {
  subject: ReadingSubject;
  name: string;
  href: string;
}

/** Finds the swatch or lot; null when the colour is only looked for. Throws notFound. */
export function photoSubject(
  deps: Deps,
  of: { swatchId?: number | undefined; lotId?: number | undefined },
): PhotoSubject | null {
  if (of.swatchId !== undefined) {
    const named = swatchNamed(deps.db, of.swatchId);
    if (!named) throw notFound('swatch');
    return {
      subject: { swatchId: of.swatchId },
      name: `${named.code} ${named.name}`,
      href: `/swatches/${of.swatchId}`,
    };
  }
  if (of.lotId === undefined) return null;
  const named = lotNamed(deps.db, of.lotId);
  if (!named) throw notFound('lot');
  return { subject: { lotId: of.lotId }, name: `lot ${named.number}`, href: `/lots/${of.lotId}` };
}

/** A swatch belongs to those who work on the library; a lot to everybody at the bench too. */
export function demandMayKeep(subject: PhotoSubject | null, by: Actor): void {
  if (subject && 'swatchId' in subject.subject && by.role !== 'owner' && by.role !== 'dyer') {
    throw new Refusal('notAllowed', 'Your sign-in may look at this, but not do that.');
  }
}

/** Records what was read of the goods on its swatch or lot, with the photo, the card and the fit's residual. */
export function keepPhotoReading(
  deps: Deps,
  kept: { subject: ReadingSubject; reading: ReadCard; card: CardDefinition; photoId: number },
  by: Actor,
): ColourReadingRow[] {
  return recordReadings(deps.db, kept.subject, readingInputsOf(kept), by, deps.now());
}
