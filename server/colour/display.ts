import { colourName } from '../calc/colour/colourName.ts';
import { type Conditions, conditionsInWords, D65_2, sameConditions } from '../calc/colour/reading.ts';
import { shadeCardPlace } from '../calc/colour/shadeCardOrder.ts';
import { adaptLab, srgbFromLab } from '../calc/colour/spaces.ts';
import type { ColourReadingRow, SwatchColourRow } from '../db/tables/swatches.ts';

type ReadColour = Pick<ColourReadingRow, 'l' | 'a' | 'b' | 'illuminant' | 'observer'>;

export const conditionsOf = (reading: Pick<ColourReadingRow, 'illuminant' | 'observer'>): Conditions => ({
  illuminant: reading.illuminant,
  observerDeg: reading.observer === '2' ? 2 : 10,
});

const labOf = ({ l, a, b }: ReadColour) => ({ L: l, a, b });

/** What a screen shows for a reading. A reading under another light is adapted to the screen's white (Bradford): an estimate.
 *  A colour outside sRGB is shown clipped, and says so. */
export function hexOfReading(reading: ReadColour): { hex: string; inGamut: boolean; adapted: boolean } {
  const conditions = conditionsOf(reading);
  const { hex, inGamut } = srgbFromLab({ lab: labOf(reading), conditions });
  return { hex, inGamut, adapted: !sameConditions(conditions, D65_2) };
}

export const OUT_OF_GAMUT = 'outside the screen’s range';

export const nameOfReading = (reading: ReadColour): string =>
  colourName({ lab: labOf(reading), conditions: conditionsOf(reading) }).name;

/** 'L* 52.1  a* −8.0  b* −14.2, D65/10°'. */
export function readingText(reading: ReadColour): string {
  const signed = (v: number): string => v.toFixed(1).replace('-', '−');
  return `L* ${reading.l.toFixed(1)}  a* ${signed(reading.a)}  b* ${signed(reading.b)}, ${conditionsInWords(conditionsOf(reading))}`;
}

/** From the surest to the least sure. */
const SURE: readonly ColourReadingRow['source'][] = ['instrument', 'photoWithCard', 'typed', 'invented', 'predicted'];

/** The readings that speak for the goods: those of the surest source, and of these the newest taken together (the bands of
 *  variegated goods are read at one instant). Largest area first; readings without a share count alike. */
export function speakingReadings<
  R extends ReadColour & Pick<ColourReadingRow, 'id' | 'source' | 'readAt' | 'areaSharePpm'>,
>(readings: readonly R[]): R[] {
  const source = SURE.find((s) => readings.some((r) => r.source === s));
  const ofSource = readings.filter((r) => r.source === source);
  const newestAt = Math.max(...ofSource.map((r) => r.readAt));
  return ofSource
    .filter((r) => r.readAt === newestAt)
    .sort((x, y) => (y.areaSharePpm ?? 0) - (x.areaSharePpm ?? 0) || x.id - y.id);
}

/** The row of swatch_colours for a swatch's readings that stand; null when there is none. */
export function swatchColour(swatchId: number, readings: readonly ColourReadingRow[]): SwatchColourRow | null {
  const speaking = speakingReadings(readings);
  const [lead] = speaking;
  if (!lead) return null;
  const lab = adaptLab({ lab: labOf(lead), from: conditionsOf(lead), to: D65_2, method: 'bradford' });
  const shown = hexOfReading(lead);
  const families = speaking.map((r) => colourName({ lab: labOf(r), conditions: conditionsOf(r) }).family);
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
    bands: speaking.map((r) => ({
      hex: hexOfReading(r).hex,
      sharePpm: r.areaSharePpm ?? Math.floor(1_000_000 / speaking.length),
    })),
  };
}

/** A reading as the API tells it. */
export const readingResource = ({ id, readBy: _by, ...row }: ColourReadingRow) => ({
  ...row,
  readingId: id,
  ...hexOfReading(row),
  name: nameOfReading(row),
});
