import type { FastifyRequest } from 'fastify';
import { renderSVG } from 'uqr';

/** Where a page of this service is found by a camera: its whole address, as the visitor reached the service, and its QR code. */
export function addressWithCode(request: FastifyRequest, path: string): { address: string; qrSvg: string } {
  const address = `${request.protocol}://${request.host}${path}`;
  return { address, qrSvg: renderSVG(address) };
}
