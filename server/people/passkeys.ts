import { isIP } from 'node:net';
import type {
  AuthenticationResponseJSON,
  AuthenticatorTransport,
  PublicKeyCredentialCreationOptionsJSON,
  PublicKeyCredentialRequestOptionsJSON,
  RegistrationResponseJSON,
} from '@simplewebauthn/server';
import type { PasskeyRow } from '../db/tables/doors.ts';
import type { Deps } from '../deps.ts';
import { invalid } from '../errors.ts';
import { insertPasskey, notePasskeyUse, passkeysOf } from './doorQueries.ts';

/* Passkeys (W3C Web Authentication Level 3), as the second step after the passphrase. The library is loaded when one is used. */

/** Where the browser stands: a passkey answers to this host name and to no other. */
export interface Place {
  hostName: string;
  /** 'https://studio.local:8420' */
  origin: string;
}

/** The place of a request; undefined where browsers offer no passkeys: over plain http, and under an address in digits. */
export function placeOf({ protocol, host }: { protocol: string; host: string }): Place | undefined {
  const hostName = host.replace(/:\d+$/, '').toLowerCase();
  const isName = !hostName.startsWith('[') && isIP(hostName) === 0;
  if (!isName || (protocol !== 'https' && hostName !== 'localhost')) return undefined;
  return { hostName, origin: `${protocol}://${host.toLowerCase()}` };
}

const transportsOf = (row: PasskeyRow): AuthenticatorTransport[] =>
  JSON.parse(row.transportsJson) as AuthenticatorTransport[];
const here = (rows: readonly PasskeyRow[], place: Place): PasskeyRow[] =>
  rows.filter(({ hostName }) => hostName === place.hostName);

/** Ed25519, ECDSA with P-256, RSA (COSE numbers): what phones and keys sign with. Left unsaid, the library asks Node for experiments. */
const ALGORITHMS = [-8, -7, -257] as const;

/** What the browser needs to make a passkey. */
export async function newPasskeyOptions(
  { db }: Pick<Deps, 'db'>,
  place: Place,
  of: { personId: number; person: string; studio: string },
): Promise<PublicKeyCredentialCreationOptionsJSON> {
  const { generateRegistrationOptions } = await import('@simplewebauthn/server');
  return generateRegistrationOptions({
    rpName: of.studio,
    rpID: place.hostName,
    userName: of.person,
    userDisplayName: of.person,
    // A name that says nothing outside: the same person gets the same, so that a phone does not gather old ones.
    userID: new TextEncoder().encode(`person ${of.personId}`),
    attestationType: 'none',
    supportedAlgorithmIDs: [...ALGORITHMS],
    excludeCredentials: here(passkeysOf(db, of.personId), place).map((row) => ({
      id: row.credentialId,
      transports: transportsOf(row),
    })),
    authenticatorSelection: { residentKey: 'preferred', userVerification: 'preferred' },
  });
}

const NOT_MADE = 'No passkey was made. Try again.';

/** Keeps a passkey that the browser has made for these options. */
export async function addPasskey(
  { db, now }: Pick<Deps, 'db' | 'now'>,
  place: Place,
  of: { personId: number; name: string; answer: string; challenge: string },
): Promise<void> {
  const { verifyRegistrationResponse } = await import('@simplewebauthn/server');
  const verified = await verifyRegistrationResponse({
    response: answered<RegistrationResponseJSON>(of.answer, NOT_MADE),
    expectedChallenge: of.challenge,
    expectedOrigin: place.origin,
    expectedRPID: place.hostName,
    requireUserVerification: false,
    supportedAlgorithmIDs: [...ALGORITHMS],
  }).catch(() => undefined);
  if (!verified?.verified) throw invalid({ answer: NOT_MADE });
  const { credential } = verified.registrationInfo;
  insertPasskey(db, {
    personId: of.personId,
    name: of.name,
    hostName: place.hostName,
    credentialId: credential.id,
    publicKey: Buffer.from(credential.publicKey).toString('base64url'),
    useCount: credential.counter,
    transportsJson: JSON.stringify(credential.transports ?? []),
    addedAt: now(),
  });
}

/** What the browser needs to ask for one of a person’s passkeys; undefined where none answers to this place. */
export async function passkeyOptions(
  { db }: Pick<Deps, 'db'>,
  place: Place,
  personId: number,
): Promise<PublicKeyCredentialRequestOptionsJSON | undefined> {
  const rows = here(passkeysOf(db, personId), place);
  if (rows.length === 0) return undefined;
  const { generateAuthenticationOptions } = await import('@simplewebauthn/server');
  return generateAuthenticationOptions({
    rpID: place.hostName,
    allowCredentials: rows.map((row) => ({ id: row.credentialId, transports: transportsOf(row) })),
    userVerification: 'preferred',
  });
}

/** Whether the answer is signed by one of the person’s passkeys for this challenge. */
export async function isSignedByPasskey(
  { db, now }: Pick<Deps, 'db' | 'now'>,
  place: Place,
  of: { personId: number; answer: string; challenge: string },
): Promise<boolean> {
  const { verifyAuthenticationResponse } = await import('@simplewebauthn/server');
  const response = answered<AuthenticationResponseJSON>(of.answer, 'The passkey did not answer. Try again.');
  const row = here(passkeysOf(db, of.personId), place).find(({ credentialId }) => credentialId === response.id);
  if (!row) return false;
  const verified = await verifyAuthenticationResponse({
    response,
    expectedChallenge: of.challenge,
    expectedOrigin: place.origin,
    expectedRPID: place.hostName,
    credential: {
      id: row.credentialId,
      publicKey: new Uint8Array(Buffer.from(row.publicKey, 'base64url')),
      counter: row.useCount,
      transports: transportsOf(row),
    },
    requireUserVerification: false,
  }).catch(() => undefined);
  if (!verified?.verified) return false;
  notePasskeyUse(db, row.id, verified.authenticationInfo.newCounter, now());
  return true;
}

/** The browser’s answer, as its script put it into the form. Its shape is the library’s to judge. */
function answered<Answer extends { id: string }>(text: string, words: string): Answer {
  try {
    const answer: unknown = JSON.parse(text);
    if (typeof answer === 'object' && answer !== null && 'id' in answer) return answer as Answer;
  } catch {
    // Told below.
  }
  throw invalid({ answer: words });
}
