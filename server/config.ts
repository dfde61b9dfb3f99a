import { existsSync } from 'node:fs';
import { isIP } from 'node:net';
import { dirname, join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import { z } from 'zod';

/** Who may say for whom a request comes: so many proxies, one behind the other, or those of these addresses and networks. */
export type TrustedProxies = { hops: number } | { networks: readonly { address: string; prefix: number }[] };

const listed = (text: string): string[] =>
  text
    .split(',')
    .map((item) => item.trim())
    .filter(Boolean);

/** What TRUST_PROXY says; null for nobody, undefined when it cannot be read. */
function trustedProxies(text: string): TrustedProxies | null | undefined {
  const items = listed(text);
  if (items.length === 0 || (items.length === 1 && items[0] === 'no')) return null;
  if (items.length === 1 && /^[1-9]$/.test(items[0] ?? '')) return { hops: Number(items[0]) };
  const networks = items.map((item) => {
    const [address = '', bits, more] = item.split('/');
    const most = isIP(address) === 6 ? 128 : 32;
    const prefix = bits === undefined ? most : Number(/^\d{1,3}$/.exec(bits)?.[0] ?? Number.NaN);
    // A network of every address is everybody.
    const sound = isIP(address) !== 0 && more === undefined && prefix >= 1 && prefix <= most;
    return sound ? { address, prefix } : undefined;
  });
  return networks.includes(undefined) ? undefined : { networks: networks.filter((n) => n !== undefined) };
}

/** The only reader of the environment. *Config* is where the process runs; what the studio decided is in its settings. */
export const configTable = {
  PORT: { default: '8420', help: 'Port to listen on.', schema: z.coerce.number().int().min(0).max(65535) },
  HOST: {
    default: '0.0.0.0',
    help: 'Address to listen on. 0.0.0.0 is every browser on the local network; 127.0.0.1 is this machine only.',
    schema: z.string().min(1),
  },
  DATA_DIR: { default: './data', help: 'Folder of the database and the photos.', schema: z.string().min(1) },
  BACKUP_DIR: {
    default: '',
    help: 'Folder of the backups, best on another disk; empty: the folder backups in DATA_DIR.',
    schema: z.string(),
  },
  REPLICA_DIR: {
    default: '',
    help: 'Folder into which another program replicates the database (guide, Backup): Today tells when it falls behind. Empty: there is none.',
    schema: z.string(),
  },
  LOG_LEVEL: {
    default: 'warn',
    help: 'How much the terminal tells: fatal, error, warn, info, debug or silent.',
    schema: z.enum(['fatal', 'error', 'warn', 'info', 'debug', 'silent']),
  },
  TZ: { default: '', help: 'Zone offered on the first-run page; empty: the machine’s own.', schema: z.string() },
  TLS: {
    default: 'no',
    help: 'studio: serve https with a certificate of the studio’s own making, kept in the data folder; the page /trust tells how a phone comes to trust it. no: plain http, or the files below.',
    schema: z.enum(['no', 'studio']),
  },
  TLS_CERT: {
    default: '',
    help: 'Certificate file (PEM, with its chain) to serve https with; needs TLS_KEY.',
    schema: z.string(),
  },
  TLS_KEY: { default: '', help: 'Key file (PEM) of TLS_CERT.', schema: z.string() },
  TRUST_PROXY: {
    default: 'no',
    help: 'say which reverse proxies in front may tell whom they speak for (X-Forwarded-For and -Proto): how many stand one behind the other (1), or their addresses and networks (127.0.0.1, 10.1.0.0/16). “yes” would believe whatever any visitor writes. no: nobody.',
    schema: z.string().transform((v, ctx): TrustedProxies | null => {
      const trusted = trustedProxies(v);
      if (trusted === undefined) ctx.addIssue({ code: 'custom', message: 'unreadable' });
      return trusted ?? null;
    }),
  },
  HOSTS: {
    default: '',
    help: 'Host names that it answers to, without port, separated by commas (studio.example, studio.local); empty: any.',
    schema: z
      .string()
      .transform((v) => listed(v.toLowerCase()))
      .refine((names) => names.every((name) => /^(\[[0-9a-f:]+\]|[a-z0-9]([a-z0-9._-]*[a-z0-9])?)$/.test(name))),
  },
  MAX_UPLOAD_MB: {
    default: '25',
    help: 'Largest photo accepted, in megabytes.',
    schema: z.coerce.number().int().min(1).max(500),
  },
} as const;

export interface Config {
  port: number;
  host: string;
  dataDir: string;
  backupDir: string;
  /** Null when there is none. */
  replicaDir: string | null;
  logLevel: 'fatal' | 'error' | 'warn' | 'info' | 'debug' | 'silent';
  zone: string;
  /** How https is served; null: plain http. */
  tls: { from: 'studio' } | { from: 'files'; certFile: string; keyFile: string } | null;
  /** Null: nobody’s word is taken. */
  trustProxy: TrustedProxies | null;
  /** Host names that are answered; empty: any. */
  hosts: readonly string[];
  maxUploadBytes: number;
  packageRoot: string;
  version: string;
}

/** Sources run from server/ and from dist/server/: the package root is the first folder upwards that holds migrations. */
function findPackageRoot(): string {
  let folder = dirname(fileURLToPath(import.meta.url));
  while (!existsSync(join(folder, 'migrations', 'meta', '_journal.json'))) {
    const up = dirname(folder);
    if (up === folder) throw new Error('The migrations folder is missing from this installation.');
    folder = up;
  }
  return folder;
}

export function readConfig(env: Record<string, string | undefined>): Config {
  const value = <K extends keyof typeof configTable>(name: K): z.infer<(typeof configTable)[K]['schema']> => {
    const row = configTable[name];
    const parsed = row.schema.safeParse(env[name] ?? row.default);
    if (!parsed.success) throw new Error(`${name}="${env[name]}" will not do: ${row.help}`);
    return parsed.data as z.infer<(typeof configTable)[K]['schema']>;
  };
  const dataDir = resolve(value('DATA_DIR'));
  const [certFile, keyFile] = [value('TLS_CERT'), value('TLS_KEY')];
  if ((certFile === '') !== (keyFile === ''))
    throw new Error('TLS_CERT and TLS_KEY go together; one of them is missing.');
  if (certFile !== '' && value('TLS') === 'studio')
    throw new Error('TLS="studio" makes its own certificate; leave TLS_CERT and TLS_KEY out, or TLS.');
  return {
    port: value('PORT'),
    host: value('HOST'),
    dataDir,
    backupDir: value('BACKUP_DIR') ? resolve(value('BACKUP_DIR')) : join(dataDir, 'backups'),
    replicaDir: value('REPLICA_DIR') ? resolve(value('REPLICA_DIR')) : null,
    logLevel: value('LOG_LEVEL'),
    zone: value('TZ') || Intl.DateTimeFormat().resolvedOptions().timeZone,
    tls:
      value('TLS') === 'studio'
        ? { from: 'studio' }
        : certFile === ''
          ? null
          : { from: 'files', certFile: resolve(certFile), keyFile: resolve(keyFile) },
    trustProxy: value('TRUST_PROXY'),
    hosts: value('HOSTS'),
    maxUploadBytes: value('MAX_UPLOAD_MB') * 1_000_000,
    packageRoot: findPackageRoot(),
    version: '0.1.0',
  };
}
