import { randomBytes } from 'node:crypto';
import type { Deps } from '../deps.ts';
import { invalid, Refusal } from '../errors.ts';
import { codeAppOf, hasSecondStep } from './doorQueries.ts';
import { isSignedByPasskey, type Place } from './passkeys.ts';
import { spendPaperCode } from './recoveryCodes.ts';
import { tokenHash } from './signIn.ts';
import { spendTimeCode } from './timeCodes.ts';
import { tried } from './tries.ts';

/* Between passphrase and studio: who has a second step has shown the first one, and holds a ticket. It is kept in memory only, for a few
 * minutes; after a restart one begins again. */

export const TICKET_MINUTES = 10;
const MOST_TICKETS = 500;

export interface Ticket {
  personId: number;
  /** Where to go afterwards: a path of ours. */
  to: string;
  /** What the audit says of the way that led here. */
  detail: string;
  expiresAt: number;
  /** What a passkey has to sign: asked once, answered once. */
  challenge: string | null;
}

const tickets = new WeakMap<Deps, Map<string, Ticket>>();
function ticketsOf(deps: Deps): Map<string, Ticket> {
  const all = tickets.get(deps) ?? new Map<string, Ticket>();
  tickets.set(deps, all);
  for (const [key, { expiresAt }] of all) if (expiresAt <= deps.now() || all.size > MOST_TICKETS) all.delete(key);
  return all;
}

/** Hands a ticket to who has shown the first step, where there is a second; undefined where there is none. */
export function ticketFor(deps: Deps, of: Pick<Ticket, 'personId' | 'to' | 'detail'>): string | undefined {
  if (!hasSecondStep(deps.db, of.personId)) return undefined;
  const token = randomBytes(32).toString('base64url');
  ticketsOf(deps).set(tokenHash(token), { ...of, challenge: null, expiresAt: deps.now() + TICKET_MINUTES * 60_000 });
  return token;
}

export const ticketOf = (deps: Deps, token: string): Ticket | undefined => ticketsOf(deps).get(tokenHash(token));

const tearUp = (deps: Deps, token: string): void => {
  ticketsOf(deps).delete(tokenHash(token));
};

/** The second step: a code of the app, a code on paper, or the answer of a passkey. The ticket is used up by the right one. */
export async function takeSecondStep(
  deps: Deps,
  token: string,
  given: { code: string } | { answer: string; place: Place | undefined },
  from: { address: string; deviceHash: string | null },
): Promise<Ticket> {
  const ticket = ticketOf(deps, token);
  if (!ticket) throw new Refusal('notSignedIn', 'That took too long. Sign in again.');
  const { personId } = ticket;
  const account = `second step of ${personId}`;
  const words = 'Too many wrong tries. Wait a quarter of an hour, then sign in again.';
  const how = await tried(deps, { account, ...from }, { words }, async () =>
    'code' in given
      ? codeKind(deps, personId, given.code)
      : (await isPasskey(deps, ticket, given))
        ? 'passkey'
        : undefined,
  );
  if (how === undefined) {
    throw 'code' in given
      ? invalid({ code: 'That is no code of yours that is good now. Each works once.' })
      : invalid({ answer: 'The passkey did not answer for this sign-in. Try again, or use a code.' });
  }
  tearUp(deps, token);
  return { ...ticket, detail: [ticket.detail, `second step: ${how}`].filter(Boolean).join('; ') };
}

async function codeKind(deps: Deps, personId: number, code: string): Promise<string | undefined> {
  const isOn = codeAppOf(deps.db, personId)?.confirmedAt != null;
  if (isOn && (await spendTimeCode(deps, personId, code))) return 'code of the app';
  return spendPaperCode(deps, personId, code) ? 'code on paper' : undefined;
}

async function isPasskey(
  deps: Deps,
  ticket: Ticket,
  { answer, place }: { answer: string; place: Place | undefined },
): Promise<boolean> {
  const { challenge, personId } = ticket;
  ticket.challenge = null;
  return challenge !== null && place !== undefined && isSignedByPasskey(deps, place, { personId, answer, challenge });
}
