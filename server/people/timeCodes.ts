import type { Deps } from '../deps.ts';
import { invalid, Refusal } from '../errors.ts';
import { beginCodeApp, codeAppOf, confirmCodeApp, spendStep } from './doorQueries.ts';
import { seal, unseal } from './sealed.ts';

/* Time-based one-time codes: RFC 6238 with the values that every app takes, HMAC-SHA-1, six digits, thirty seconds. */

const PERIOD_S = 30;
const DIGITS = 6;
/** RFC 4226, 4: at least 128 bits, 160 recommended. */
const SECRET_BYTES = 20;

/** The time step whose code this is, the current one or a neighbour (clocks of phones differ, and people type slowly); undefined when it is
 *  the code of none of these. */
export async function stepOfCode(of: {
  secret: string;
  code: string;
  atMs: number;
  digits?: number;
  algorithm?: 'SHA1' | 'SHA256' | 'SHA512';
}): Promise<number | undefined> {
  const { Secret, TOTP } = await import('otpauth');
  const { secret, code, atMs, digits = DIGITS, algorithm = 'SHA1' } = of;
  const codes = new TOTP({ secret: Secret.fromBase32(secret), algorithm, digits, period: PERIOD_S });
  const apart = codes.validate({ token: code, timestamp: atMs, window: 1 });
  return apart === null ? undefined : Math.floor(atMs / 1000 / PERIOD_S) + apart;
}

export interface CodeAppSetUp {
  /** To be typed where no camera is at hand, in groups of four. */
  secret: string;
  /** What the QR code says. */
  uri: string;
}

async function setUpOf(secret: string, person: string, studio: string): Promise<CodeAppSetUp> {
  const { Secret, TOTP } = await import('otpauth');
  const codes = new TOTP({
    issuer: studio,
    label: person,
    secret: Secret.fromBase32(secret),
    algorithm: 'SHA1',
    digits: DIGITS,
    period: PERIOD_S,
  });
  return { secret: secret.replace(/(.{4})(?=.)/g, '$1 '), uri: codes.toString() };
}

/** Begins to set an app up. Nothing is asked for until a first code has shown that the phone has the secret. */
export async function beginAppOf(
  { db, now, config }: Deps,
  { personId, person, studio }: { personId: number; person: string; studio: string },
): Promise<CodeAppSetUp> {
  const { Secret } = await import('otpauth');
  const secret = new Secret({ size: SECRET_BYTES }).base32;
  const isBegun = db.transaction((tx) => beginCodeApp(tx, personId, seal(config.dataDir, secret), now()));
  if (!isBegun) throw new Refusal('conflict', 'An app makes your codes already. Take it away first.');
  return setUpOf(secret, person, studio);
}

/** What was begun, to be shown once more beside a wrong first code; undefined when nothing is waiting. */
export async function begunAppOf(
  { db, config }: Pick<Deps, 'db' | 'config'>,
  { personId, person, studio }: { personId: number; person: string; studio: string },
): Promise<CodeAppSetUp | undefined> {
  const app = codeAppOf(db, personId);
  const secret = app?.confirmedAt === null ? unseal(config.dataDir, app.sealedSecret) : undefined;
  return secret === undefined ? undefined : setUpOf(secret, person, studio);
}

/** Whether this is a code of the person’s app that was not used yet; uses it up. */
export async function spendTimeCode(
  { db, now, config }: Pick<Deps, 'db' | 'now' | 'config'>,
  personId: number,
  typed: string,
): Promise<boolean> {
  const app = codeAppOf(db, personId);
  const secret = app && unseal(config.dataDir, app.sealedSecret);
  const code = typed.replace(/\s/g, '');
  if (secret === undefined || !/^\d{6}$/.test(code)) return false;
  const step = await stepOfCode({ secret, code, atMs: now() });
  return step !== undefined && spendStep(db, personId, step);
}

/** From now on a code of the app is asked for. */
export async function confirmAppOf(
  deps: Pick<Deps, 'db' | 'now' | 'config'>,
  personId: number,
  code: string,
): Promise<void> {
  const app = codeAppOf(deps.db, personId);
  if (app?.confirmedAt !== null) throw new Refusal('conflict', 'There is no app to confirm. Begin again.');
  if (!(await spendTimeCode(deps, personId, code)))
    throw invalid({ code: 'That is not the code that the app shows now. Is the clock of the phone right?' });
  confirmCodeApp(deps.db, personId, deps.now());
}
