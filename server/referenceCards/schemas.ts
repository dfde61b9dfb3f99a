import { z } from 'zod';
import { illuminant, LabResource, labConditions, observer } from '../readings/schemas.ts';
import { jsonId, optionalText, requiredText } from '../typedFields.ts';

/** L* may lie a little above 100 for fluorescent or over-white patches. */
const patchLab = { l: z.number().min(0).max(120), a: labConditions.a, b: labConditions.b };

/** A reference card that the studio measured, as the API takes it. */
export const CardBody = z
  .object({
    name: z.string().trim().min(1).max(80),
    columns: z.number().int().min(1).max(40),
    rows: z.number().int().min(1).max(40),
    illuminant,
    observer,
    patches: z
      .array(z.object({ name: z.string().trim().max(60).default(''), ...patchLab }))
      .min(1)
      .max(1600)
      .meta({ description: 'row by row from the upper left' }),
    note: z.string().trim().max(500).default(''),
  })
  .meta({ id: 'NewReferenceCard' });
export type NewCard = z.output<typeof CardBody>;

export const CardResource = z
  .object({
    cardId: jsonId,
    card: z.string().meta({ description: 'what to send as `card` with a photo' }),
    name: z.string(),
    columns: z.number().int(),
    rows: z.number().int(),
    illuminant,
    observer,
    patches: z.array(z.object({ name: z.string(), ...LabResource.shape })),
    note: z.string(),
    archived: z.boolean(),
    adaptation: z.string(),
  })
  .meta({ id: 'ReferenceCard' });
export type ReferenceCard = z.output<typeof CardResource>;

const side = z
  .string()
  .regex(/^([1-9]|[1-3]\d|40)$/, 'A number from 1 to 40.')
  .transform(Number);
/** The same as typed, one patch a line. */
export const CardForm = z.object({
  name: requiredText('A name, such as “Studio card, May”.', 80),
  columns: side,
  rows: side,
  illuminant: illuminant.default('D50'),
  observer: observer.default('2'),
  patches: requiredText('One line for each patch.', 100_000),
  note: optionalText(500),
});
