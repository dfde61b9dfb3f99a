import { z } from 'zod';
import { currency, units, zone } from '../settings/schemas.ts';

export const MIN_PASSPHRASE = 12;

export const passphrase = z
  .string({ error: 'Choose a passphrase.' })
  .refine((v) => [...v].length >= MIN_PASSPHRASE, `Twelve characters or more, please.`)
  .refine((v) => v.length <= 512, 'That is longer than 512 characters.');

export const FirstRunForm = z.object({
  code: z.string().trim().optional(),
  studioName: z.string().trim().min(1, 'The studio needs a name.').max(80, 'At most 80 characters.'),
  currency,
  zone,
  units,
  readabilityMg: z.enum(['1000', '100', '10', '1'], { error: 'Choose what the scale reads to.' }).transform(Number),
  ownerName: z.string().trim().min(1, 'Your name, for the log.').max(60, 'At most 60 characters.'),
  passphrase,
  sample: z.literal('yes').optional(),
});
export type FirstRunInput = z.output<typeof FirstRunForm>;

export const SignInForm = z.object({
  name: z.string().trim().min(1, 'Your name, as in the log.'),
  passphrase: z.string().min(1, 'Your passphrase.'),
  to: z.string().optional(),
});

export const TokenForm = z.object({
  name: z.string().trim().min(1, 'What is the token for?').max(60, 'At most 60 characters.'),
  scope: z.enum(['read', 'write'], { error: 'Choose what it may do.' }),
  days: z.enum(['', '30', '365'], { error: 'Choose how long it lasts.' }).default(''),
});
