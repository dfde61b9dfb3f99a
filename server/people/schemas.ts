import { z } from 'zod';
import { currency, units, zone } from '../settings/schemas.ts';
import { jsonId, optionalId, optionalMoneyMinor, optionalText, requiredText } from '../typedFields.ts';

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

const personName = requiredText('A name, for the log.', 60);
const role = z.enum(['owner', 'dyer', 'viewer'], { error: 'Choose what this person may do.' });

export const InvitationForm = (currency: string) =>
  z.object({ role, labourRate: optionalMoneyMinor(currency), note: optionalText(120) });
export const PersonForm = (currency: string) =>
  z.object({ name: personName, role: role.optional(), labourRate: optionalMoneyMinor(currency) });
export const StandingForm = z.object({ active: z.enum(['yes', 'no']) });
export const AcceptanceForm = z.object({ name: personName, passphrase });
/** What becomes of the tokens, where there are some. */
const tokens = z.enum(['end', 'keep'], { error: 'Say whether these tokens go on.' }).optional();
export const NewPassphraseForm = z.object({ passphrase, tokens });
export const RestoredStudioForm = z.object({
  code: requiredText('The six digits in the server’s terminal.', 20),
  ownerId: z.coerce.number({ error: 'Choose who you are.' }).int('Choose who you are.'),
  passphrase,
});
const current = z.string({ error: 'Your passphrase as it is now.' }).min(1, 'Your passphrase as it is now.').max(512);
export const PassphraseChangeForm = z.object({ current, passphrase, tokens });

export const SecondStepForm = z.object({ code: requiredText('The code, please.', 40) });
const answer = z.string({ error: 'The passkey did not answer.' }).min(1, 'The passkey did not answer.').max(20_000);
export const PasskeyAnswerForm = z.object({ answer });
export const PasskeyForm = z.object({ name: requiredText('A name: “my phone”.', 60), answer });
export const FirstCodeForm = z.object({ code: requiredText('The six digits that the app shows.', 20) });
export const OwnPassphraseForm = z.object({ current });
export const OwnersStepForm = z.object({ required: z.enum(['yes', 'no']) });
export const BenchDeviceForm = z.object({ name: requiredText('A name: “tablet at the vats”.', 60) });
export const BenchCodeForm = z.object({ code: requiredText('The code on the owner’s screen.', 40) });

export const AuditQuery = z.object({
  personId: optionalId().catch(null),
  before: optionalId().catch(null),
});

export const PersonResource = z
  .object({
    personId: jsonId,
    name: z.string(),
    role: z.enum(['owner', 'dyer', 'viewer', 'bench']),
    active: z.boolean(),
    labourRateMinorPerHour: z.number().int().nullable().meta({ description: 'null: the studio’s rate' }),
    liveSignIns: z.number().int(),
    lastSeenAt: z.number().int().nullable(),
  })
  .meta({ id: 'Person' });
export const AuditEntryResource = z
  .object({
    auditEntryId: jsonId,
    at: z.number().int(),
    personId: jsonId.nullable(),
    personName: z.string().nullable(),
    tokenName: z.string().nullable(),
    door: z.enum(['page', 'api', 'command']),
    action: z.string(),
    path: z.string(),
    status: z.number().int(),
    detail: z.string(),
    address: z.string(),
  })
  .meta({ id: 'AuditEntry' });

/** So many lines of the audit at once. */
export const AUDIT_PAGE = 100;

export const SignInQuery = z.object({ to: z.string().optional() });
/** The code of the terminal, as its links hold it. */
export const CodeQuery = z.object({ code: z.string().max(20).catch('').default('') });
export const AccountQuery = z.object({ saved: z.string().optional() });
export const linkParams = z.object({ token: z.string() });
export const signInKeyParams = z.object({ key: z.string().regex(/^[0-9a-f]{16}$/) });
