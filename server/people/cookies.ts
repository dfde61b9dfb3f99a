import { randomBytes } from 'node:crypto';
import type { FastifyReply, FastifyRequest } from 'fastify';
import '@fastify/cookie';
import type { Deps } from '../deps.ts';
import { rememberDevice } from './doorQueries.ts';
import { SIGN_IN_COOKIE } from './guards.ts';
import { revokeSignIn } from './queries.ts';
import { TICKET_MINUTES, ticketFor } from './secondStep.ts';
import { DEVICE_DAYS, openSignIn, SIGN_IN_DAYS, tokenHash } from './signIn.ts';

/* What a browser carries: its sign-in, the mark of having been let in before, and a ticket between two steps. */

const DEVICE_COOKIE = 'device';
const TICKET_COOKIE = 'second-step';
const DAY_S = 24 * 3600;

/** What a browser calls itself, by which a sign-in is told from others. */
export const deviceOf = (request: FastifyRequest): string => request.headers['user-agent'] ?? '';

/** The hash of the sign-in that this browser shows; of no sign-in where it shows none. */
export const signInHashOf = (request: FastifyRequest): string => tokenHash(request.cookies[SIGN_IN_COOKIE] ?? '');

/** The hash of this browser’s mark, whether or not anybody was let in on it; null where it has none. */
export function deviceHashOf(request: FastifyRequest): string | null {
  const mark = request.cookies[DEVICE_COOKIE];
  return mark === undefined ? null : tokenHash(mark);
}

/** From where a try comes. */
export const triedFrom = (request: FastifyRequest): { address: string; deviceHash: string | null } => ({
  address: request.ip,
  deviceHash: deviceHashOf(request),
});

/** From where somebody who is signed in asks. */
export const askedFrom = (
  request: FastifyRequest,
): { address: string; signInHash: string; deviceHash: string | null } => ({
  ...triedFrom(request),
  signInHash: signInHashOf(request),
});

function setCookie(request: FastifyRequest, reply: FastifyReply, name: string, value: string, maxAge: number): void {
  reply.setCookie(name, value, {
    path: '/',
    httpOnly: true,
    sameSite: 'lax',
    secure: request.protocol === 'https',
    maxAge,
  });
}

/** Lets somebody in on this browser. A sign-in that it still had ends, whoever’s it was; and it is known from now on. */
export function letIn({ db, now }: Deps, request: FastifyRequest, reply: FastifyReply, personId: number): void {
  const shown = request.cookies[DEVICE_COOKIE];
  const mark = shown !== undefined && shown.length >= 40 ? shown : randomBytes(32).toString('base64url');
  const token = db.transaction((tx) => {
    if (request.cookies[SIGN_IN_COOKIE]) revokeSignIn(tx, signInHashOf(request), now());
    rememberDevice(tx, tokenHash(mark), personId, now());
    return openSignIn({ db: tx, now }, personId, deviceOf(request));
  });
  setCookie(request, reply, SIGN_IN_COOKIE, token, SIGN_IN_DAYS * DAY_S);
  setCookie(request, reply, DEVICE_COOKIE, mark, DEVICE_DAYS * DAY_S);
  reply.clearCookie(TICKET_COOKIE, { path: '/' });
}

/** Lets somebody in who has shown the first step, or hands them on to the second; answers where to go. */
export function letInOrAsk(
  deps: Deps,
  request: FastifyRequest,
  reply: FastifyReply,
  who: { personId: number; to: string; detail: string },
): string {
  const ticket = ticketFor(deps, who);
  const detail = ticket === undefined ? who.detail : [who.detail, 'first of two steps'].filter(Boolean).join('; ');
  request.audited = { personId: who.personId, detail };
  if (ticket === undefined) {
    letIn(deps, request, reply, who.personId);
    return who.to;
  }
  setCookie(request, reply, TICKET_COOKIE, ticket, TICKET_MINUTES * 60);
  return '/second-step';
}

export const ticketShown = (request: FastifyRequest): string => request.cookies[TICKET_COOKIE] ?? '';
