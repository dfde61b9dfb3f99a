import { type Conditions, D65_2, demandLab, type Lab } from './reading.ts';
import { adaptLab, lchFromLab } from './spaces.ts';

/* Our own vocabulary: what a dyer would write on a card. Drawn by CIELAB hue angle, lightness and chroma under D65/2°;
   the borders are ours, set by eye on the sRGB solid and fit for finding and sorting, not for approving. The hue families
   are even enough that each holds dyed goods, and where everyday speech has its own word for a dark or pale part of a
   family (brown, olive, navy, pink, sand …) that word is used. */

export interface ColourName {
  /** For example "deep muted teal", "pale greyish sand", "black". */
  name: string;
  family: HueFamily;
  lightness: LightnessWord;
  chroma: ChromaWord;
}

export type HueFamily =
  | 'neutral'
  | 'red'
  | 'orange'
  | 'yellow'
  | 'yellow-green'
  | 'green'
  | 'teal'
  | 'blue'
  | 'violet'
  | 'purple'
  | 'rose';
export type LightnessWord = 'very pale' | 'pale' | 'light' | 'mid' | 'deep' | 'very dark';
export type ChromaWord = 'neutral' | 'greyish' | 'muted' | 'clear' | 'vivid';

/** Upper border in degrees of CIELAB hue; the last family wraps to the first. */
const FAMILIES: readonly [number, HueFamily][] = [
  [15, 'rose'],
  [48, 'red'],
  [76, 'orange'],
  [102, 'yellow'],
  [125, 'yellow-green'],
  [170, 'green'],
  [225, 'teal'],
  [290, 'blue'],
  [314, 'violet'],
  [336, 'purple'],
  [360, 'rose'],
];

export const HUE_FAMILIES: readonly HueFamily[] = ['neutral', ...new Set(FAMILIES.map(([, family]) => family))];

const lightnessOf = (L: number): LightnessWord => {
  if (L >= 88) return 'very pale';
  if (L >= 76) return 'pale';
  if (L >= 60) return 'light';
  if (L >= 42) return 'mid';
  if (L >= 22) return 'deep';
  return 'very dark';
};

const chromaOf = (C: number): ChromaWord => {
  if (C < 4) return 'neutral';
  if (C < 12) return 'greyish';
  if (C < 28) return 'muted';
  if (C < 52) return 'clear';
  return 'vivid';
};

const neutralName = (L: number): string => {
  if (L >= 93) return 'white';
  if (L >= 82) return 'off-white';
  if (L >= 65) return 'light grey';
  if (L >= 42) return 'mid grey';
  if (L >= 20) return 'dark grey';
  return 'black';
};

/** Everyday noun, and whether it already says how light or dark the colour is. */
function nounOf(family: HueFamily, L: number, C: number): { noun: string; saysLightness: boolean } {
  const said = (noun: string) => ({ noun, saysLightness: true });
  switch (family) {
    case 'red':
      if (L >= 68) return said(C < 28 ? 'dusty pink' : 'coral pink');
      if (L < 30) return said(C < 28 ? 'maroon brown' : 'maroon');
      if (C < 28) return said(L < 55 ? 'brick brown' : 'dusty pink');
      break;
    case 'orange':
      if (L >= 72 && C < 40) return said(C < 20 ? 'sand' : 'peach');
      if (L < 55 && C < 55) return said(L < 30 ? 'dark brown' : 'brown');
      if (C < 28) return said('tan');
      break;
    case 'yellow':
      if (L >= 80 && C < 28) return said('cream');
      if (L < 62 && C < 60) return said(L < 32 ? 'dark olive brown' : L < 50 ? 'olive brown' : 'ochre');
      if (C < 28) return said('khaki');
      break;
    case 'yellow-green':
      if (L < 58) return said(L < 30 ? 'dark olive' : 'olive');
      break;
    case 'green':
      if (L < 28) return said('dark green');
      break;
    case 'teal':
      if (L >= 65) return { noun: C >= 28 ? 'turquoise' : 'blue-green', saysLightness: false };
      break;
    case 'blue':
      if (L < 25) return said('navy');
      if (L >= 68) return { noun: 'sky blue', saysLightness: false };
      break;
    case 'violet':
      if (L >= 65) return said('lavender');
      break;
    case 'purple':
      if (L < 28) return said('plum');
      if (L >= 68) return said('lilac');
      break;
    case 'rose':
      if (L >= 62) return said('pink');
      if (L < 28) return said('wine');
      return { noun: C >= 52 ? 'magenta' : 'rose', saysLightness: false };
    default:
      break;
  }
  return { noun: family, saysLightness: false };
}

/** A colour in plain words: lightness, chroma, hue family. `conditions` are those of the Lab; it is adapted to D65/2° first
 *  (Bradford), since the borders are drawn there. The borders are a rule of our own. */
export function colourName({ lab, conditions }: { lab: Lab; conditions: Conditions }): ColourName {
  demandLab('lab', lab);
  const { L, C, hueDeg } = lchFromLab(adaptLab({ lab, from: conditions, to: D65_2, method: 'bradford' }));
  const lightness = lightnessOf(L);
  const chroma = chromaOf(C);
  // A near-black carries too little light for its hue to be named.
  if (chroma === 'neutral' || (L < 12 && C < 8)) {
    return { name: neutralName(L), family: 'neutral', lightness, chroma: 'neutral' };
  }
  const family = (FAMILIES.find(([border]) => hueDeg < border) as [number, HueFamily])[1];
  const { noun, saysLightness } = nounOf(family, L, C);
  const words = [saysLightness || lightness === 'mid' ? '' : lightness, chroma === 'clear' ? '' : chroma, noun];
  return { name: words.filter((word) => word !== '').join(' '), family, lightness, chroma };
}
