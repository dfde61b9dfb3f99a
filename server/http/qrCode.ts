import type { FastifyRequest } from 'fastify';
import { renderSVG } from 'uqr';
import type { Config } from '../config.ts';
import { networkAddresses } from './addresses.ts';

/** An address for a camera: itself, and its QR code as SVG text. */
export interface AddressWithCode {
  address: string;
  qrSvg: string;
}

/** A QR code as SVG text. */
export const svgOf = (text: string): string => renderSVG(text);

const withCode = (address: string): AddressWithCode => ({ address, qrSvg: svgOf(address) });

/** Where a page of this service is found by a camera: its whole address, as the visitor reached the service, and its QR code. */
export const addressWithCode = (request: FastifyRequest, path: string): AddressWithCode =>
  withCode(`${request.protocol}://${request.host}${path}`);

/** Every address of this machine under which its network reaches it. */
export function ownAddressesWithCodes(request: FastifyRequest, config: Config): AddressWithCode[] {
  const port = (request.server.server.address() as { port: number } | null)?.port ?? config.port;
  return networkAddresses(config, port).map(withCode);
}

/** Under what addresses another device reaches a path: the one asked for, unless that is this machine's own name. */
export function addressesForOthers(request: FastifyRequest, config: Config, path: string): AddressWithCode[] {
  const asked = /^(localhost|127\.|\[::1\])/.test(request.host)
    ? ownAddressesWithCodes(request, config).filter(({ address }) => !address.includes('//localhost'))
    : [];
  return asked.length === 0
    ? [addressWithCode(request, path)]
    : asked.map(({ address }) => withCode(`${address}${path}`));
}
