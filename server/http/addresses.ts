import { networkInterfaces } from 'node:os';

/** The addresses under which browsers reach a service that listens on `host`. */
export function networkAddresses(host: string, port: number): string[] {
  const url = (name: string): string => `http://${name.includes(':') ? `[${name}]` : name}:${port}`;
  if (host !== '0.0.0.0' && host !== '::') return [url(host)];
  const lan = Object.values(networkInterfaces())
    .flatMap((list) => list ?? [])
    .filter((i) => i.family === 'IPv4' && !i.internal)
    .map((i) => url(i.address));
  return [url('localhost'), ...lan];
}
