import { z } from 'zod';
import { currency, units, zone } from '../people/schemas.ts';
import { moneyMinorField, pctPpmField, requiredText, versionField } from '../typedFields.ts';

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
    stockConc: pctPpmField('Which strength do you make?', { minPpm: 100, maxPpm: 200_000 }),
    version: versionField(),
  });

export const ScaleForm = z.object({
  scaleName: requiredText('A name, to tell the scales apart.', 60),
  readabilityMg: z.enum(['1000', '100', '10', '1'], { error: 'Choose what the scale reads to.' }).transform(Number),
  isDefault: z.literal('yes').optional(),
});
