import type { CardDefinition } from '../calc/colour/cardDefinitions.ts';
import type { ColourReadingRow } from '../db/tables/swatches.ts';
import type { Actor, Deps } from '../deps.ts';
import { found, Refusal } from '../errors.ts';
import { lotNamed, type ReadingSubject, swatchNamed } from '../readings/queries.ts';
import { recordReadings } from '../readings/recordReadings.ts';
import { type ReadCard, readingInputsOf } from './photoReading.ts';

/** The swatch or lot that a photo is read for. */
export interface PhotoSubject {
  subject: ReadingSubject;
  name: string;
  href: string;
}

/** Finds the swatch or lot; null when somebody only looks for a colour. Refuses one that is not there. */
export function photoSubject(
  deps: Deps,
  of: { swatchId?: number | undefined; lotId?: number | undefined },
): PhotoSubject | null {
  if (of.swatchId !== undefined) {
    const named = found(swatchNamed(deps.db, of.swatchId), 'swatch');
    return {
      subject: { swatchId: of.swatchId },
      name: `${named.code} ${named.name}`,
      href: `/swatches/${of.swatchId}`,
    };
  }
  if (of.lotId === undefined) return null;
  const named = found(lotNamed(deps.db, of.lotId), 'lot');
  return { subject: { lotId: of.lotId }, name: `lot ${named.number}`, href: `/lots/${of.lotId}` };
}

/** Swatches are for those who work on the library; a lot's colour may be kept by everybody at the bench. */
export function demandMayKeep(subject: PhotoSubject | null, by: Actor): void {
  if (subject && 'swatchId' in subject.subject && by.role !== 'owner' && by.role !== 'dyer') {
    throw new Refusal('notAllowed', 'Your sign-in may look at this, but not do that.');
  }
}

/** Records what was read from the goods on their swatch or lot, with the photo, the card and the fit's residual. */
export function keepPhotoReading(
  deps: Deps,
  kept: { subject: ReadingSubject; reading: ReadCard; card: CardDefinition; photoId: number },
  by: Actor,
): ColourReadingRow[] {
  return recordReadings(deps.db, kept.subject, readingInputsOf(kept), by, deps.now());
}
