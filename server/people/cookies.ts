import type { FastifyReply, FastifyRequest } from 'fastify';
import '@fastify/cookie';
import { SIGN_IN_COOKIE } from './guards.ts';
import { SIGN_IN_DAYS, tokenHash } from './signIn.ts';

/** What a browser calls itself, by which a sign-in is told from others. */
export const deviceOf = (request: FastifyRequest): string => request.headers['user-agent'] ?? '';

/** The hash of the sign-in that this browser shows; of no sign-in where it shows none. */
export const signInHashOf = (request: FastifyRequest): string => tokenHash(request.cookies[SIGN_IN_COOKIE] ?? '');

export function setSignInCookie(request: FastifyRequest, reply: FastifyReply, token: string): void {
  reply.setCookie(SIGN_IN_COOKIE, token, {
    path: '/',
    httpOnly: true,
    sameSite: 'lax',
    secure: request.protocol === 'https',
    maxAge: SIGN_IN_DAYS * 24 * 3600,
  });
}
