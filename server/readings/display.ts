import { colourName } from '../calc/colour/colourName.ts';
import {
  conditionsInWords,
  conditionsOf,
  D65_2,
  type KeptConditions,
  type KeptLab,
  type Lab,
  labOf,
  sameConditions,
} from '../calc/colour/reading.ts';
import { shadeCardPlace } from '../calc/colour/shadeCardOrder.ts';
import { adaptLab, srgbFromLab } from '../calc/colour/spaces.ts';
import type { ColourReadingRow, SwatchColourRow } from '../db/tables/swatches.ts';
import type { ColourReading } from './schemas.ts';
import { usableReadings } from './usableReadings.ts';

export type ReadColour = KeptLab & KeptConditions;

/** What a screen shows for a reading. A reading under another light is adapted to the screen's white (Bradford), an estimate.
 *  A colour outside sRGB is clipped, and `inGamut` says so. */
export function hexOfReading(reading: ReadColour): { hex: string; inGamut: boolean; adapted: boolean } {
  const conditions = conditionsOf(reading);
  const { hex, inGamut } = srgbFromLab({ lab: labOf(reading), conditions });
  return { hex, inGamut, adapted: !sameConditions(conditions, D65_2) };
}

export const OUT_OF_GAMUT = 'outside the screen’s range';

export const nameOfReading = (reading: ReadColour): string =>
  colourName({ lab: labOf(reading), conditions: conditionsOf(reading) }).name;

const signed = (v: number): string => v.toFixed(1).replace('-', '−');

/** 'L* 52.1  a* −8.0  b* −14.2'. */
export const labText = ({ L, a, b }: Lab): string => `L* ${L.toFixed(1)}  a* ${signed(a)}  b* ${signed(b)}`;

/** 'L* 52.1  a* −8.0  b* −14.2, D65/10°'. */
export const readingText = (reading: ReadColour): string =>
  `${labText(labOf(reading))}, ${conditionsInWords(conditionsOf(reading))}`;

/** What the wall shows of a swatch, from its readings that stand; null when there are none. */
export function swatchColour(swatchId: number, readings: readonly ColourReadingRow[]): SwatchColourRow | null {
  const usable = usableReadings(readings);
  const [lead] = usable;
  if (!lead) return null;
  const lab = adaptLab({ lab: labOf(lead), from: conditionsOf(lead), to: D65_2, method: 'bradford' });
  const shown = hexOfReading(lead);
  const families = usable.map((r) => colourName({ lab: labOf(r), conditions: conditionsOf(r) }).family);
  return {
    swatchId,
    l: lab.L,
    a: lab.a,
    b: lab.b,
    hex: shown.hex,
    inGamut: shown.inGamut ? 1 : 0,
    adapted: shown.adapted ? 1 : 0,
    source: lead.source,
    cardPlace: shadeCardPlace({ lab }),
    hueFamilies: `,${[...new Set(families)].join(',')},`,
    bands: usable.map((r) => ({
      hex: hexOfReading(r).hex,
      sharePpm: r.areaSharePpm ?? Math.floor(1_000_000 / usable.length),
    })),
  };
}

/** A reading as the API tells it. */
export const readingResource = ({ id, readBy: _by, ...row }: ColourReadingRow): ColourReading => ({
  ...row,
  readingId: id,
  ...hexOfReading(row),
  name: nameOfReading(row),
});
