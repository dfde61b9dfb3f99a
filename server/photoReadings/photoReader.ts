import type { CardDefinition } from '../calc/colour/cardDefinitions.ts';
import type { CardCorners } from '../calc/colour/cardFinding.ts';
import type { CardReading } from '../calc/colour/cardReading.ts';
import type { Region } from '../calc/colour/regions.ts';
import { readingProcess } from '../readApart.ts';

export interface PhotoRequest {
  card: CardDefinition;
  /** 'find', or the centres of the corner patches (upper left, upper right, lower right, lower left of the card as drawn by
   *  its maker), in pixels of the upright photo. */
  corners: 'find' | CardCorners;
  /** In pixels of the upright photo. */
  regions: readonly Region[];
}

export interface PhotoReading {
  /** Size of the upright photo as it came. */
  widthPx: number;
  heightPx: number;
  reading: CardReading;
}

export type PhotoJob = { kind: 'read'; request: PhotoRequest } | { kind: 'size' } | { kind: 'copy'; to: string };

/** A job for photoWorker.ts, done in the process that reads what comes from outside. */
export const photoWork = <T>(photo: Uint8Array | string, job: PhotoJob): Promise<T> =>
  readingProcess.read<T>('photo', photo, job, 'photo');

/** Reads colours from a photo (bytes, or the path of a file of ours), one photo at a time, while the server answers others.
 *  Throws Refusal notAnImage, tooLarge, busy; CalcError for impossible corners or regions. */
export const readPhoto = (photo: Uint8Array | string, request: PhotoRequest): Promise<PhotoReading> =>
  photoWork<PhotoReading>(photo, { kind: 'read', request });
