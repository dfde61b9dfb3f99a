import type { FastifyReply, FastifyRequest } from 'fastify';
import '@fastify/cookie';
import { SIGN_IN_COOKIE } from './guards.ts';
import { SIGN_IN_DAYS } from './signIn.ts';

export function setSignInCookie(request: FastifyRequest, reply: FastifyReply, token: string): void {
  reply.setCookie(SIGN_IN_COOKIE, token, {
    path: '/',
    httpOnly: true,
    sameSite: 'lax',
    secure: request.protocol === 'https',
    maxAge: SIGN_IN_DAYS * 24 * 3600,
  });
}
