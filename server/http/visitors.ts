import { BlockList, isIP } from 'node:net';
import type { FastifyInstance, FastifyRequest } from 'fastify';
import type { Config } from '../config.ts';
import { Refusal } from '../errors.ts';
import { isPrivateAddress } from './addresses.ts';

/* From where a request comes, and under which name it asks. Headers are words of whoever wrote them: they count only from proxies
 * that the configuration names. */

/** An IPv4 address that came over an IPv6 socket is that IPv4 address. */
const plain = (address: string): string => address.replace(/^::ffff:(?=\d+\.)/i, '');

/** Whether the peer at so many hops from here may say for whom it speaks. Where only the number of proxies is known, the nearest must at
 *  least be of this network: a visitor from outside who reaches the port itself is no proxy. */
export function trustOf({
  trustProxy,
}: Pick<Config, 'trustProxy'>): false | ((address: string, hop: number) => boolean) {
  if (trustProxy === null) return false;
  if ('hops' in trustProxy)
    return (address, hop) => hop < trustProxy.hops && (hop > 0 || isPrivateAddress(plain(address)));
  const proxies = new BlockList();
  for (const { address, prefix } of trustProxy.networks)
    proxies.addSubnet(address, prefix, isIP(address) === 6 ? 'ipv6' : 'ipv4');
  return (address) => {
    const peer = plain(address);
    return isIP(peer) !== 0 && proxies.check(peer, isIP(peer) === 6 ? 'ipv6' : 'ipv4');
  };
}

/** The name of a host as it is asked for, without its port. */
export const hostNameOf = (host: string): string => host.toLowerCase().replace(/:\d*$/, '').replace(/\.$/, '');

export const answersTo = ({ hosts }: Pick<Config, 'hosts'>, host: string): boolean =>
  hosts.length === 0 || hosts.includes(hostNameOf(host));

/** For whoever watches over the service, by its address as a rule; they tell nothing of the studio. */
const WATCHED = new Set(['/healthz', '/readyz']);

/** Answers only under the names that are configured. The name is the one of the connection: a proxy hands `Host` on, and
 *  X-Forwarded-Host is nobody's word here, since most proxies pass on what a visitor wrote into it. */
export function demandOwnName(app: FastifyInstance, config: Pick<Config, 'hosts'>): void {
  app.addHook('onRequest', async (request: FastifyRequest) => {
    delete request.headers['x-forwarded-host'];
    if (WATCHED.has(request.routeOptions.url ?? '') || answersTo(config, request.host)) return;
    throw new Refusal(
      'wrongHost',
      'This studio is not found under that name. Ask whoever looks after its computer for its address.',
    );
  });
}
