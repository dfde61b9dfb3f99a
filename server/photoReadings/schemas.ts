import { z } from 'zod';
import type { ClusterWish } from '../calc/colour/regions.ts';
import { queryNumber } from '../near/schemas.ts';
import { ColourReadingResource, illuminant, LabResource, observer } from '../readings/schemas.ts';
import { fromQuery, jsonId, queryId } from '../typedFields.ts';

/** JSON inside a field of a form. */
const jsonField = <T extends z.ZodType>(schema: T, unreadable: string) =>
  z
    .string()
    .transform((text, ctx): unknown => {
      try {
        return JSON.parse(text);
      } catch {
        ctx.addIssue({ code: 'custom', message: unreadable });
        return z.NEVER;
      }
    })
    .pipe(schema);

const finite = z.number({ error: 'A number of pixels.' });
const point = z.union(
  [z.object({ x: finite, y: finite }), z.tuple([finite, finite]).transform(([x, y]) => ({ x, y }))],
  {
    error: 'A place is {"x": …, "y": …} or [x, y].',
  },
);
const clusters = z.union([z.enum(['none', 'auto']), z.literal([3, 4, 5, 6])], {
  error: 'none, auto, or 3 to 6',
});
const regionBody = z.discriminatedUnion(
  'kind',
  [
    z.object({
      kind: z.literal('spot'),
      x: finite,
      y: finite,
      radiusPx: z.number().positive().optional(),
      clusters: clusters.default('none'),
    }),
    z.object({ kind: z.literal('area'), outline: z.array(point).min(3).max(400), clusters: clusters.default('none') }),
  ],
  { error: 'A region is of kind "spot" or "area".' },
);

/** Fields beside the photo, as the API takes them: pixels of the upright photo as it came. */
export const PhotoReadingFields = z.object({
  card: fromQuery(z.string().max(40).default('chart24Since2014')),
  greyL: queryNumber(10, 100),
  corners: fromQuery(
    jsonField(z.tuple([point, point, point, point], { error: 'Four places.' }), 'corners is not JSON').optional(),
  ),
  regions: fromQuery(
    jsonField(z.array(regionBody).max(100, 'At most 100 regions.'), 'regions is not JSON').optional(),
  ).transform((v) => v ?? []),
  swatchId: queryId,
  lotId: queryId,
});

/** Numbers between commas, as a page's address holds places: shares of the photo's width and height. */
const places = (text: string): { x: number; y: number }[] =>
  text
    .split(';')
    .filter(Boolean)
    .map((pair) => {
      const [x = Number.NaN, y = Number.NaN] = pair.split(',').map(Number);
      return { x, y };
    });
const placesField = (least: number, most: number, words: string) =>
  fromQuery(z.string().max(20_000).optional()).transform((text, ctx) => {
    if (text === undefined) return undefined;
    const read = places(text);
    if (
      read.length >= least &&
      read.length <= most &&
      read.every((p) => p.x >= -0.5 && p.x <= 1.5 && p.y >= -0.5 && p.y <= 1.5)
    ) {
      return read;
    }
    ctx.addIssue({ code: 'custom', message: words });
    return z.NEVER;
  });

/** Which card lies in a photo, and what is read: every page on the way hands this on. */
export const PhotoFlow = z.object({
  card: fromQuery(z.string().max(40).default('chart24Since2014')),
  greyL: fromQuery(z.string().max(12).optional()).transform((text, ctx): number | undefined => {
    if (text === undefined) return undefined;
    const L = Number(text.replace(',', '.'));
    if (L >= 10 && L <= 100) return L;
    ctx.addIssue({ code: 'custom', message: 'The L* of a grey card lies between 10 and 100.' });
    return z.NEVER;
  }),
  swatchId: queryId,
  lotId: queryId,
});

const cornersField = placesField(4, 4, 'Four corners, please.').transform((places) => {
  const [one, two, three, four] = places ?? [];
  return one && two && three && four ? ([one, two, three, four] as const) : undefined;
});
const BANDS: Readonly<Record<'none' | 'auto' | '3' | '4' | '5' | '6', ClusterWish>> = {
  none: 'none',
  auto: 'auto',
  '3': 3,
  '4': 4,
  '5': 5,
  '6': 6,
};

const placeFields = {
  corners: cornersField,
  spots: placesField(1, 12, 'One to twelve spots, please.'),
  area: placesField(3, 400, 'Draw round an area.'),
  bands: fromQuery(z.enum(['none', 'auto', '3', '4', '5', '6']).default('none')).transform((bands) => BANDS[bands]),
};
/** Where corners and goods lie on the page's photo, in shares of its width and height. */
export const PhotoPlaces = PhotoFlow.extend(placeFields);
export type PlacesInput = z.output<typeof PhotoPlaces>;

/** Their names in an address. */
export const FLOW_NAMES: readonly string[] = Object.keys(PhotoFlow.shape);
export const PLACE_NAMES: readonly string[] = Object.keys(placeFields);

const photoPoint = z.object({ x: z.number(), y: z.number() });
const shownFields = {
  lab: LabResource.meta({ description: 'under `conditions`' }),
  labD65: LabResource.meta({ description: 'adapted to D65/2° by the Bradford transform, an estimate' }),
  hex: z.string(),
  inGamut: z.boolean(),
  name: z.string(),
  plusMinus: z.number().meta({ description: '90 % half-width, CIEDE2000, as far as the card tells' }),
};
export const PhotoReadingResource = z
  .object({
    outcome: z.enum(['read', 'cornersNeeded']),
    reason: z.string().nullable().meta({ description: 'why the card was not found: a code' }),
    message: z.string().meta({ description: 'what was found or not, in words' }),
    widthPx: z.number().int().meta({ description: 'of the upright photo, in whose pixels places are told' }),
    heightPx: z.number().int(),
    card: z.object({ card: z.string(), name: z.string(), columns: z.number().int(), rows: z.number().int() }),
    conditions: z.object({ illuminant, observer }),
    corners: z.array(photoPoint).nullable().meta({
      description:
        'middles of the corner patches: upper left, upper right, lower right, lower left of the card as drawn',
    }),
    cornersFrom: z.enum(['found', 'given']).nullable(),
    confidence: z.number().nullable(),
    turnedDeg: z.number().int().nullable(),
    residuals: z
      .object({
        heldOutMedian: z.number().nullable(),
        heldOutP90: z.number().nullable(),
        uncorrectedMedian: z.number(),
      })
      .nullable()
      .meta({ description: 'CIEDE2000 over the patches; held out: read by a fit that did not see the patch' }),
    patches: z.array(
      z.object({
        name: z.string(),
        known: LabResource,
        uncorrected: LabResource,
        heldOutDeltaE: z.number().nullable(),
        sd8: z.number().meta({ description: 'spread of the pixels, 8-bit units' }),
        clippedHighPct: z.number(),
        middle: photoPoint,
      }),
    ),
    warnings: z.array(z.object({ code: z.string(), message: z.string() }).loose()),
    regions: z.array(
      z.object({
        ...shownFields,
        spread: z.number(),
        clippedPct: z.number(),
        pixels: z.number().int(),
        clusters: z.array(z.object({ ...shownFields, areaSharePct: z.number(), spread: z.number() })),
      }),
    ),
    goods: z
      .object({ ...shownFields, spread: z.number(), between: z.number().nullable() })
      .nullable()
      .meta({ description: 'all regions together; null without regions' }),
    photoId: jsonId.nullable().meta({ description: 'of the photo kept, when a reading was kept' }),
    readings: z.array(ColourReadingResource).meta({ description: 'what was kept on the swatch or lot' }),
  })
  .meta({ id: 'PhotoReading' });
export type PhotoReadingAnswer = z.output<typeof PhotoReadingResource>;
