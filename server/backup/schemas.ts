import { z } from 'zod';
import { countField, requiredText, versionField } from '../typedFields.ts';

const between = (min: number, max: number, missing: string) =>
  countField(missing).refine((v) => v >= min && v <= max, `From ${min} to ${max}, please.`);

export const BackupSettingsForm = z.object({
  daily: z.literal('yes').optional(),
  dailyAt: requiredText('A time: 03:30.', 5).refine(
    (v) => /^([01]\d|2[0-3]):[0-5]\d$/.test(v),
    'A time of day as 03:30.',
  ),
  keepCount: between(1, 1000, 'How many to keep?'),
  warnAfterHours: between(1, 8760, 'After how many hours?'),
  version: versionField(),
});
