import { BlockList, isIP } from 'node:net';
import { hostname, networkInterfaces } from 'node:os';
import type { Config } from '../config.ts';

const isEverywhere = (host: string): boolean => host === '0.0.0.0' || host === '::';

/** The addresses under which browsers reach the service. */
export function networkAddresses({ host, tls }: Pick<Config, 'host' | 'tls'>, port: number): string[] {
  const url = (name: string): string =>
    `${tls ? 'https' : 'http'}://${name.includes(':') ? `[${name}]` : name}:${port}`;
  if (!isEverywhere(host)) return [url(host)];
  const lan = Object.values(networkInterfaces())
    .flatMap((list) => list ?? [])
    .filter((i) => i.family === 'IPv4' && !i.internal)
    .map((i) => url(i.address));
  return [url('localhost'), ...lan];
}

/** Networks that nobody outside can be on: RFC 1918, 6598 (shared, also of overlay networks), 3927, 4193, 4291. */
export const PRIVATE_NETWORKS: readonly { address: string; prefix: number; family: 'ipv4' | 'ipv6' }[] = [
  { address: '127.0.0.0', prefix: 8, family: 'ipv4' },
  { address: '10.0.0.0', prefix: 8, family: 'ipv4' },
  { address: '172.16.0.0', prefix: 12, family: 'ipv4' },
  { address: '192.168.0.0', prefix: 16, family: 'ipv4' },
  { address: '169.254.0.0', prefix: 16, family: 'ipv4' },
  { address: '100.64.0.0', prefix: 10, family: 'ipv4' },
  { address: '::1', prefix: 128, family: 'ipv6' },
  { address: 'fc00::', prefix: 7, family: 'ipv6' },
  { address: 'fe80::', prefix: 10, family: 'ipv6' },
];

const privateNetworks = new BlockList();
for (const { address, prefix, family } of PRIVATE_NETWORKS) privateNetworks.addSubnet(address, prefix, family);

export const isPrivateAddress = (address: string): boolean =>
  isIP(address) !== 0 && privateNetworks.check(address, isIP(address) === 6 ? 'ipv6' : 'ipv4');

/** The names and addresses under which this machine may be asked for, sorted: its own, and those of its network. */
export function machineNames(host: string): string[] {
  const own = hostname().toLowerCase();
  const names = isEverywhere(host)
    ? [
        'localhost',
        ...(/^[a-z0-9]([a-z0-9.-]*[a-z0-9])?$/.test(own) ? [own, ...(own.includes('.') ? [] : [`${own}.local`])] : []),
        ...Object.values(networkInterfaces())
          .flatMap((list) => list ?? [])
          // Link-local IPv6 addresses carry a zone that no certificate can name.
          .filter((i) => !i.address.startsWith('fe80'))
          .map((i) => i.address),
      ]
    : [host, ...(host === 'localhost' || isPrivateAddress(host) ? ['localhost'] : [])];
  return [...new Set(names)].sort();
}
