import { colourName } from '../calc/colour/colourName.ts';
import { type Conditions, conditionsInWords, D65_2, type Lab } from '../calc/colour/reading.ts';
import { labFromLch, srgbFromLab } from '../calc/colour/spaces.ts';
import { typedColour } from '../calc/colour/typedColour.ts';
import type { Db } from '../db/open.ts';
import { invalid, notFound } from '../errors.ts';
import { conditionsOf, hexOfReading, nameOfReading, speakingReadings } from './display.ts';
import { lotNamed, type ReadingSubject, standingReadings, swatchNamed } from './queries.ts';
import type { StandardInput } from './schemas.ts';

/** A colour that others are held against. */
export interface Standard {
  lab: Lab;
  conditions: Conditions;
  hex: string;
  inGamut: boolean;
  name: string;
  /** What it is of: 'S-0012 Reed', 'lot 26-0003', 'typed', 'picked'. */
  of: string;
  href: string | null;
  swatchId: number | null;
  /** 90 % half-width in CIEDE2000, where it is known. */
  plusMinus: number | null;
  /** All colours of variegated goods, largest first; one of even goods. */
  bands: { hex: string; name: string; sharePpm: number | null }[];
  band: number;
}

/** The colour asked for; null when none was. Throws CalcError on an unreadable one, notFound, and Refusal where a swatch or
 *  lot has no reading. */
export function standardOf(db: Db, input: StandardInput): Standard | null {
  if (input.swatchId !== undefined) {
    const named = swatchNamed(db, input.swatchId);
    if (!named) throw notFound('swatch');
    const { swatchId } = input;
    return ofReadings(db, { swatchId }, input.band, {
      of: `${named.code} ${named.name}`,
      href: `/swatches/${swatchId}`,
      swatchId,
    });
  }
  if (input.lotId !== undefined) {
    const named = lotNamed(db, input.lotId);
    if (!named) throw notFound('lot');
    const { lotId } = input;
    return ofReadings(db, { lotId }, input.band, { of: `lot ${named.number}`, href: `/lots/${lotId}`, swatchId: null });
  }
  if (input.colour !== undefined) {
    const conditions: Conditions = { illuminant: input.illuminant, observerDeg: input.observer === '2' ? 2 : 10 };
    const typed = typedColour({ text: input.colour, conditions, field: 'colour' });
    return ofColour(
      typed.lab,
      typed.conditions,
      input.plusMinus === undefined ? 'typed' : 'from a photo',
      input.plusMinus,
    );
  }
  const { lightness, chroma, hue } = input;
  if (lightness === undefined || chroma === undefined || hue === undefined) return null;
  return ofColour(labFromLch({ L: lightness, C: chroma, hueDeg: hue }), D65_2, 'picked', undefined);
}

function ofColour(lab: Lab, conditions: Conditions, of: string, plusMinus: number | undefined): Standard {
  const { hex, inGamut } = srgbFromLab({ lab, conditions });
  const { name } = colourName({ lab, conditions });
  return {
    lab,
    conditions,
    hex,
    inGamut,
    name,
    of,
    href: null,
    swatchId: null,
    plusMinus: plusMinus ?? null,
    bands: [{ hex, name, sharePpm: null }],
    band: 0,
  };
}

function ofReadings(
  db: Db,
  subject: ReadingSubject,
  wantedBand: number,
  what: Pick<Standard, 'of' | 'href' | 'swatchId'>,
): Standard {
  const speaking = speakingReadings(standingReadings(db, subject));
  const band = Math.min(wantedBand, speaking.length - 1);
  const reading = speaking[band];
  if (!reading) throw invalid({ colour: `The colour of ${what.of} has not been read yet.` });
  const { hex, inGamut } = hexOfReading(reading);
  return {
    ...what,
    lab: { L: reading.l, a: reading.a, b: reading.b },
    conditions: conditionsOf(reading),
    hex,
    inGamut,
    name: nameOfReading(reading),
    plusMinus: reading.uncertaintyMilli === null ? null : reading.uncertaintyMilli / 1000,
    bands: speaking.map((r) => ({ hex: hexOfReading(r).hex, name: nameOfReading(r), sharePpm: r.areaSharePpm })),
    band,
  };
}

export const labText = ({ L, a, b }: Lab): string => {
  const signed = (v: number): string => v.toFixed(1).replace('-', '−');
  return `L* ${L.toFixed(1)}  a* ${signed(a)}  b* ${signed(b)}`;
};

export const standardText = (standard: Standard): string =>
  `${labText(standard.lab)}, ${conditionsInWords(standard.conditions)}`;
