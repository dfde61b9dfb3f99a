import type { FastifyError, FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { errorPanel } from '../../views/errorPage.ts';
import { asRefusal, type ErrorCode, errorCatalogue, Refusal } from '../errors.ts';
import { AnsweredBefore } from './answerOnce.ts';
import { sendPage } from './page.ts';
import { problemType } from './problems.ts';

const TITLES: Partial<Record<ErrorCode, string>> = {
  notFound: 'Not here',
  notAllowed: 'Not for this sign-in',
  crossSite: 'Not accepted',
  secondStepNeeded: 'A second step first',
  wrongHost: 'Not under this name',
  invalidInput: 'Needs another look',
  lotFinished: 'This lot is finished',
  tooLarge: 'Too large',
  diskFull: 'The disk is full',
  readOnly: 'Nothing can be saved at the moment',
  diskFault: 'Nothing can be saved at the moment',
  damaged: 'The record is damaged',
  notTheFile: 'Nothing can be saved any more',
  internal: 'Something went wrong on our side',
};

/** Fastify's and its plugins' own errors, in our catalogue. */
function fromFramework(error: FastifyError): Refusal | undefined {
  const status = error.statusCode ?? 500;
  if (status === 413) return new Refusal('tooLarge', 'That is larger than this studio accepts.');
  if (status === 404) return new Refusal('notFound', 'There is no such page.');
  if (status >= 400 && status < 500) return new Refusal('unreadableRequest', 'The request could not be read.');
  return undefined;
}

export const isApi = (request: FastifyRequest): boolean => request.url.startsWith('/api/');

/** One error shape for the API: RFC 9457 problem details with our code and the messages by field. */
export function sendProblem(reply: FastifyReply, refusal: Refusal, reference: string | null): FastifyReply {
  return reply
    .code(refusal.status)
    .header('content-type', 'application/problem+json; charset=utf-8')
    .serializer((payload: unknown) => JSON.stringify(payload))
    .send({
      type: problemType(refusal.code),
      title: errorCatalogue[refusal.code].means,
      status: refusal.status,
      code: refusal.code,
      detail: refusal.message,
      fields: refusal.fields,
      ...refusal.details,
      ...(reference ? { reference } : {}),
    });
}

/** The first answer once more. */
const answerAgain = ({ status, body }: AnsweredBefore, reply: FastifyReply): FastifyReply =>
  reply
    .code(status)
    .header('idempotency-replayed', 'true')
    .header('content-type', 'application/json; charset=utf-8')
    .serializer((payload: unknown) => String(payload))
    .send(body);

/** The one error handler: page, fragment or problem details. Visitors see our words; the log has the rest. */
export function answerError(error: unknown, request: FastifyRequest, reply: FastifyReply): FastifyReply {
  if (error instanceof AnsweredBefore) return answerAgain(error, reply);
  const known = asRefusal(error) ?? fromFramework(error as FastifyError);
  const refusal =
    known ??
    new Refusal(
      'internal',
      'Nothing was saved. Try again; if it happens twice, tell whoever looks after the studio’s computer.',
    );
  const reference = known ? null : request.id;
  if (known && refusal.status < 500)
    request.log.info({ code: refusal.code, fields: Object.keys(refusal.fields) }, refusal.message);
  else request.log.error({ err: error }, known ? refusal.message : 'request failed');
  if (reply.sent) return reply;
  if (refusal.code === 'busy') reply.header('retry-after', '30');
  if (isApi(request)) return sendProblem(reply, refusal, reference);
  if (refusal.code === 'notSignedIn' && request.method === 'GET' && request.headers['hx-request'] !== 'true') {
    return reply.redirect(`/sign-in?to=${encodeURIComponent(request.url)}`, 303);
  }
  if (refusal.code === 'secondStepNeeded' && request.method === 'GET')
    return reply.redirect('/account/second-step', 303);
  if (refusal.code === 'notSetUp') return reply.redirect('/first-run', 303);
  return sendPage(request, reply, {
    status: refusal.status,
    title: TITLES[refusal.code] ?? 'Not possible',
    section: 'none',
    body: errorPanel({
      status: refusal.status,
      title: TITLES[refusal.code] ?? 'Not possible',
      message: refusal.message,
      fields: refusal.fields,
      reference,
    }),
  });
}

export function installErrorHandler(app: FastifyInstance): void {
  app.setErrorHandler(answerError);
  app.setNotFoundHandler((request, reply) =>
    answerError(new Refusal('notFound', 'There is no such page.'), request, reply),
  );
}
