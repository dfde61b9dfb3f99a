import { demandLab, type Lab } from './reading.ts';
import { lchFromLab } from './spaces.ts';

const SECTOR_DEG = 15;
const SECTORS = 360 / SECTOR_DEG;
/** A shade card begins with its greenish yellows and runs by orange, red, violet and blue to the greens. */
const FIRST_HUE_DEG = 112;
const NEUTRAL_CHROMA = 8;

/** Place of a colour (CIELAB D65/2°) on a shade card: a whole number to sort by. Sectors of hue one after the other, within
 *  a sector by lightness, light to dark and in the next back again, so that neighbours on the card are near in colour; colours
 *  without hue to speak of (C*ab < 8) at the end, light to dark. Common practice of shade cards; the sectors are ours. */
export function shadeCardPlace({ lab }: { lab: Lab }): number {
  demandLab('lab', lab);
  const { L, C, hueDeg } = lchFromLab(lab);
  const dark = Math.round((120 - L) * 100);
  if (C < NEUTRAL_CHROMA) return SECTORS * 100_000 + dark;
  const sector = Math.min(SECTORS - 1, Math.floor(((((FIRST_HUE_DEG - hueDeg) % 360) + 360) % 360) / SECTOR_DEG));
  return sector * 100_000 + (sector % 2 === 0 ? dark : 12_000 - dark);
}
