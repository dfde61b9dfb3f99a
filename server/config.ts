import { existsSync } from 'node:fs';
import { dirname, join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import { z } from 'zod';

/** The only reader of the environment. *Config* is where the process runs; what the studio decided is in its settings. */
export const configTable = {
  PORT: { default: '8420', help: 'Port to listen on.', schema: z.coerce.number().int().min(0).max(65535) },
  HOST: {
    default: '0.0.0.0',
    help: 'Address to listen on. 0.0.0.0 is every browser on the local network; 127.0.0.1 is this machine only.',
    schema: z.string().min(1),
  },
  DATA_DIR: { default: './data', help: 'Folder of the database and the photos.', schema: z.string().min(1) },
  LOG_LEVEL: {
    default: 'warn',
    help: 'How much the terminal tells: fatal, error, warn, info, debug or silent.',
    schema: z.enum(['fatal', 'error', 'warn', 'info', 'debug', 'silent']),
  },
  TZ: { default: '', help: 'Zone offered on the first-run page; empty: the machine’s own.', schema: z.string() },
  TRUST_PROXY: {
    default: 'no',
    help: 'yes: believe X-Forwarded-* of a reverse proxy in front (TLS). Leave at no otherwise.',
    schema: z.enum(['yes', 'no']).transform((v) => v === 'yes'),
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
  logLevel: 'fatal' | 'error' | 'warn' | 'info' | 'debug' | 'silent';
  zone: string;
  trustProxy: boolean;
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
  return {
    port: value('PORT'),
    host: value('HOST'),
    dataDir: resolve(value('DATA_DIR')),
    logLevel: value('LOG_LEVEL'),
    zone: value('TZ') || Intl.DateTimeFormat().resolvedOptions().timeZone,
    trustProxy: value('TRUST_PROXY'),
    maxUploadBytes: value('MAX_UPLOAD_MB') * 1_000_000,
    packageRoot: findPackageRoot(),
    version: '0.1.0',
  };
}
