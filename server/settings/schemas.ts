import { z } from 'zod';
import { moneyMinorField, pctPpmField, requiredText, versionField } from '../typedFields.ts';

/** A zone that this machine's Intl knows. */
export const zone = z
  .string()
  .trim()
  .refine((v) => {
    try {
      return v !== '' && Boolean(new Intl.DateTimeFormat('en', { timeZone: v }));
    } catch {
      return false;
    }
  }, 'That is not a time zone I know: try Europe/Lisbon or America/Chicago.');

export const currency = z.string().regex(/^[A-Z]{3}$/, 'Choose a currency.');

export const units = z.enum(['metric', 'us'], { error: 'Choose the units.' });

/** Rates are read in the currency chosen in the same form. */
export const SettingsForm = (chosenCurrency: string) =>
  z.object({
    name: requiredText('The studio needs a name.', 80),
    currency,
    zone,
    units,
    labourRate: moneyMinorField(chosenCurrency, 'A rate, or 0.'),
    overheadRate: moneyMinorField(chosenCurrency, 'A rate, or 0.'),
    weighingTolerance: pctPpmField('How far may a reading be off?', { minPpm: 0, maxPpm: 500_000 }),
    weighingFloor: pctPpmField('What rounding error is too much?', { minPpm: 100, maxPpm: 200_000 }),
    costing: z.enum(['specific', 'movingAverage'], { error: 'Choose how materials are valued.' }).optional(),
    stockConc: pctPpmField('Which strength do you make?', { minPpm: 100, maxPpm: 200_000 }),
    version: versionField(),
  });

export const ScaleForm = z.object({
  scaleName: requiredText('A name, to tell the scales apart.', 60),
  readabilityMg: z.enum(['1000', '100', '10', '1'], { error: 'Choose what the scale reads to.' }).transform(Number),
  isDefault: z.literal('yes').optional(),
});
