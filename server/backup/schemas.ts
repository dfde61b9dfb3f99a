import { z } from 'zod';
import { countField, requiredText, versionField } from '../typedFields.ts';

const between = (min: number, max: number, missing: string) =>
  countField(missing).refine((v) => v >= min && v <= max, `From ${min} to ${max}, please.`);

/** What is known of the copy that another program keeps at another site. */
export const ReplicaResource = z.object({
  folder: z.string(),
  at: z.number().int().nullable().meta({ description: 'when it was last written; null when nothing is there' }),
  isBehind: z.boolean().meta({ description: 'the studio has been written to since, and some time has passed' }),
});
export type ReplicaShape = z.output<typeof ReplicaResource>;

/** What archives are encrypted to; '' for not at all. */
export const ArchivePassphraseForm = z.object({
  passphrase: z
    .string()
    .trim()
    .max(200, 'At most 200 characters.')
    .refine((v) => v === '' || v.length >= 12, 'At least 12 characters: four words that do not belong together, say.')
    .refine((v) => !/[\r\n]/.test(v), 'On one line, please.'),
});

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
