import type { CardDefinition } from '../calc/colour/cardDefinitions.ts';
import type { CardReading, ReadRegion } from '../calc/colour/cardReading.ts';
import { colourName } from '../calc/colour/colourName.ts';
import { deltaE2000 } from '../calc/colour/deltaE.ts';
import { type Conditions, keptConditions, type Lab } from '../calc/colour/reading.ts';
import { labFromXyz, srgbFromLab, whiteXyz, xyzFromLab } from '../calc/colour/spaces.ts';
import { largestRemainder } from '../calc/rounding.ts';
import { invalid } from '../errors.ts';
import type { ReadingInput } from '../readings/schemas.ts';

export type ReadCard = Extract<CardReading, { outcome: 'read' }>;

/** A colour as a page shows it. */
export interface ShownReading {
  lab: Lab;
  conditions: Conditions;
  hex: string;
  inGamut: boolean;
  name: string;
  /** 90 % half-width, CIEDE2000. */
  plusMinus: number;
}

/** What was read from the goods: one colour, and the colours of variegated goods where they were asked for. */
export interface GoodsReading extends ShownReading {
  /** Mean CIEDE2000 of single places from the mean: texture, folds, variegation, camera noise. */
  spread: number;
  /** How far apart the places that were pointed at lie (root mean square from their mean); null for a single one. */
  between: number | null;
  places: ShownReading[];
  bands: (ShownReading & { areaSharePct: number })[];
}

export const shownReading = (lab: Lab, conditions: Conditions, plusMinus: number): ShownReading => {
  const { hex, inGamut } = srgbFromLab({ lab, conditions });
  return { lab, conditions, hex, inGamut, name: colourName({ lab, conditions }).name, plusMinus };
};

/** Half-width of 90 % of a normal distribution, in standard deviations. */
const NINETY_PCT = 1.645;

/** The colour of the goods from the places pointed at; null when there were none. The mean of several is the mean of their light.
 *  What is uncertain about the card is common to all places and does not average out; how the places differ does. */
export function goodsOf(reading: ReadCard): GoodsReading | null {
  const { regions, conditions } = reading;
  const [first] = regions;
  if (!first) return null;
  const places = regions.map((r) => shownReading(r.lab, conditions, r.plusMinus));
  const spread = regions.reduce((sum, r) => sum + r.spread, 0) / regions.length;
  if (regions.length === 1) {
    const bands = first.clusters.map((c) => ({
      ...shownReading(c.lab, conditions, c.plusMinus),
      areaSharePct: c.areaSharePct,
    }));
    return { ...shownReading(first.lab, conditions, first.plusMinus), spread, between: null, places, bands };
  }
  const lab = meanInLight(regions, conditions);
  const n = regions.length;
  const between = Math.sqrt(
    regions.reduce((sum, r) => sum + deltaE2000({ standard: lab, sample: r.lab }) ** 2, 0) / (n - 1),
  );
  const ofCard = regions.reduce((sum, r) => sum + r.plusMinus ** 2, 0) / n;
  const plusMinus = Math.sqrt(ofCard + (NINETY_PCT * between) ** 2 / n);
  return { ...shownReading(lab, conditions, plusMinus), spread, between, places, bands: [] };
}

function meanInLight(regions: readonly ReadRegion[], conditions: Conditions): Lab {
  const white = whiteXyz(conditions);
  const sum = { X: 0, Y: 0, Z: 0 };
  for (const { lab } of regions) {
    const { X, Y, Z } = xyzFromLab({ lab, white });
    sum.X += X / regions.length;
    sum.Y += Y / regions.length;
    sum.Z += Z / regions.length;
  }
  return labFromXyz({ xyz: sum, white });
}

/** The goods' colour as it is recorded: one reading, or for variegated goods one for each colour with its share of the area. */
export function readingInputsOf(input: { reading: ReadCard; card: CardDefinition; photoId: number }): ReadingInput[] {
  const goods = goodsOf(input.reading);
  if (!goods) throw invalid({ regions: 'Point at the goods first: nothing was read yet.' });
  const note = noteOf(input.reading, input.card, goods);
  const one = (shown: ShownReading, areaSharePpm: number | null): ReadingInput => ({
    colour: {
      l: within(shown.lab.L, 0, 110),
      a: within(shown.lab.a, -200, 200),
      b: within(shown.lab.b, -200, 200),
      ...keptConditions(shown.conditions),
    },
    source: 'photoWithCard',
    asTyped: '',
    areaSharePpm,
    uncertaintyMilli: Math.round(1000 * shown.plusMinus),
    note,
    photoId: input.photoId,
  });
  if (goods.bands.length < 2) return [one(goods, null)];
  const shares = largestRemainder({
    weights: goods.bands.map((b) => b.areaSharePct),
    total: 1_000_000,
    field: 'areaShare',
  });
  return goods.bands.flatMap((band, i) => (shares[i] ? [one(band, shares[i])] : []));
}

// Noise may take a deep black a hair below zero.
const within = (v: number, min: number, max: number): number => Math.min(max, Math.max(min, v));

function noteOf(reading: ReadCard, card: CardDefinition, goods: GoodsReading): string {
  const parts = [
    card.name,
    reading.heldOutMedian === null
      ? 'no patches to hold out'
      : `patches held out: ΔE ${reading.heldOutMedian.toFixed(1)} median`,
    reading.cornersFrom === 'found' ? 'card found' : 'corners by hand',
    goods.places.length > 1 ? `mean of ${goods.places.length} places, ${goods.between?.toFixed(1)} apart` : '',
    goods.bands.length > 1 ? `${goods.bands.length} colours of one area` : `spread ${goods.spread.toFixed(1)}`,
    ...new Set(reading.warnings.map((w) => NOTED[w.code])),
  ];
  return parts.filter(Boolean).join('; ').slice(0, 500);
}

const NOTED: Record<ReadCard['warnings'][number]['code'], string> = {
  clipped: 'bright patches ran over',
  glare: 'shine on the card',
  oddPatches: 'some patches off',
  unevenLight: 'uneven light',
  wrongWhite: 'coloured light',
  tooDark: 'dark photo',
  cardTurned: '',
  cornersReordered: '',
  cornersMoved: '',
  poorFit: 'poor fit of the card',
  greyOnly: 'grey card only',
  beyondCard: 'beyond the card’s colours',
  goodsClipped: 'goods too bright',
};
