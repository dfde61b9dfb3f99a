import { colourName } from '../calc/colour/colourName.ts';
import { type Conditions, conditionsInWords, conditionsOf, D65_2, type Lab, labOf } from '../calc/colour/reading.ts';
import { labFromLch, srgbFromLab } from '../calc/colour/spaces.ts';
import { typedColour } from '../calc/colour/typedColour.ts';
import type { Db } from '../db/open.ts';
import { found, invalid } from '../errors.ts';
import { hexOfReading, labText, nameOfReading } from '../readings/display.ts';
import { lotNamed, type ReadingSubject, standingReadings, swatchNamed } from '../readings/queries.ts';
import { usableReadings } from '../readings/usableReadings.ts';
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

/** The colour asked for; null when none was. Throws CalcError when it cannot be read, and a Refusal when the swatch or lot is not
 *  there or has no reading. */
export function standardOf(db: Db, input: StandardInput): Standard | null {
  if (input.swatchId !== undefined) {
    const { swatchId } = input;
    const named = found(swatchNamed(db, swatchId), 'swatch');
    return ofReadings(db, { swatchId }, input.band, {
      of: `${named.code} ${named.name}`,
      href: `/swatches/${swatchId}`,
      swatchId,
    });
  }
  if (input.lotId !== undefined) {
    const { lotId } = input;
    const named = found(lotNamed(db, lotId), 'lot');
    return ofReadings(db, { lotId }, input.band, { of: `lot ${named.number}`, href: `/lots/${lotId}`, swatchId: null });
  }
  if (input.colour !== undefined) {
    const typed = typedColour({ text: input.colour, conditions: conditionsOf(input), field: 'colour' });
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
  const usable = usableReadings(standingReadings(db, subject));
  const band = Math.min(wantedBand, usable.length - 1);
  const reading = usable[band];
  if (!reading) throw invalid({ colour: `The colour of ${what.of} has not been read yet.` });
  const { hex, inGamut } = hexOfReading(reading);
  return {
    ...what,
    lab: labOf(reading),
    conditions: conditionsOf(reading),
    hex,
    inGamut,
    name: nameOfReading(reading),
    plusMinus: reading.uncertaintyMilli === null ? null : reading.uncertaintyMilli / 1000,
    bands: usable.map((r) => ({ hex: hexOfReading(r).hex, name: nameOfReading(r), sharePpm: r.areaSharePpm })),
    band,
  };
}

export const standardText = (standard: Standard): string =>
  `${labText(standard.lab)}, ${conditionsInWords(standard.conditions)}`;

/** The address of the search for what is near a colour. */
export const nearHref = (entries: [name: string, value: string][]): string =>
  entries.length === 0 ? '/swatches/near' : `/swatches/near?${new URLSearchParams(entries)}`;
