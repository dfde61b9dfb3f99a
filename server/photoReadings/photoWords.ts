import type { CardReading, PhotoWarning } from '../calc/colour/cardReading.ts';

const list = (names: readonly string[]): string =>
  names.length > 4 ? `${names.slice(0, 3).join(', ')} and ${names.length - 3} more patches` : names.join(', ');
const spots = (regions: readonly number[]): string =>
  regions.length === 1 ? `Place ${(regions[0] ?? 0) + 1}` : `Places ${regions.map((r) => r + 1).join(', ')}`;

/** What is wrong with a photo and what to do about it, in a sentence or two. */
export function warningInWords(warning: PhotoWarning): string {
  switch (warning.code) {
    case 'clipped':
      return `Too bright: ${list(warning.patches)} ran over. Take the photo a little darker.`;
    case 'glare':
      return `A shine or the edge of a shadow lies on ${list(warning.patches)}. Turn the card or yourself a little.`;
    case 'oddPatches':
      return `Not as the other patches say: ${list(warning.patches)}. Dirt, a finger, a shadow, or another card; they count for less.`;
    case 'unevenLight':
      return `Uneven light: it changes by ${warning.changePct.toFixed(0)} % over the card. Lay card and goods close together, in light from one window or the open sky.`;
    case 'wrongWhite':
      return `Coloured light or a wrong white: a grey of the card shows a cast of ${warning.chroma.toFixed(0)} before correction. The card takes it off, less surely than in daylight.`;
    case 'tooDark':
      return `Dark: the lightest patch reaches only ${warning.lightestPct.toFixed(0)} % of what it should. Take it in more light.`;
    case 'cardTurned':
      return `The card lies turned by ${warning.turnedDeg}°. It was read as it lies.`;
    case 'cornersReordered':
      return 'The corners were given in another order than the card’s. Its colours tell which is which, and they were put in order.';
    case 'cornersMoved':
      return 'The given corners did not lie on the middles of the corner patches. The card was found close by and read there.';
    case 'poorFit':
      return `Do not trust this reading: patches held out are off by ${warning.heldOutMedian.toFixed(1)} (median CIEDE2000). Another kind of card, misplaced corners, or mixed light.`;
    case 'greyOnly':
      return 'A plain grey card takes off cast and exposure only. What the camera does to colours stays: good for finding what is near, not for approving a shade.';
    case 'beyondCard':
      return `${spots(warning.regions)}: beyond the colours of the card, so the ± is wide.`;
    case 'goodsClipped':
      return `${spots(warning.regions)}: too bright in the photo to be read well. Take it a little darker.`;
  }
}

export type NotReadReason = Extract<CardReading, { outcome: 'cornersNeeded' }>['reason'];

/** Why a card was not found, and what to do. */
export function notFoundInWords(reason: NotReadReason): string {
  switch (reason) {
    case 'noGrid':
      return 'No card was found in this photo. If there is one, drag the four rings onto the middles of its corner patches; if not, take the photo again with the card flat beside the goods.';
    case 'otherColours':
      return 'This card was not found: what stands in rows here has other colours. Choose the card that it is. If it is this one, take the photo again with the whole card in it, in one light and not mirrored, or drag the four rings onto the middles of its corner patches.';
    case 'cutOff':
      return 'Part of the card lies outside the photo. Take it again with the whole card in it.';
    case 'ambiguous':
      return 'The card was seen, but not which way it lies, or there is more than one. Drag the four rings onto the middles of its corner patches.';
    case 'tooFewPatches':
      return 'A card of so few patches is not found by itself. Drag the four rings onto its corners, within its even area.';
    case 'lowConfidence':
      return 'Something like the card was seen, but not surely. Drag the four rings onto the middles of its corner patches.';
  }
}
