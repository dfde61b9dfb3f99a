import { randomBytes, scrypt, timingSafeEqual } from 'node:crypto';
import type { Deps } from '../deps.ts';
import { invalid } from '../errors.ts';
import { isCommonPassphrase } from './commonPassphrases.ts';
import { LANES } from './lanes.ts';

// scrypt, memory-hard (128·N·r bytes = 64 MiB a try): OWASP Password Storage Cheat Sheet, N = 2^16, r = 8, p = 2.
const COST = { N: 2 ** 16, r: 8, p: 2 } as const;
const KEY_BYTES = 32;

const derive = (passphrase: string, salt: Buffer, cost: { N: number; r: number; p: number }): Promise<Buffer> =>
  new Promise((resolve, reject) => {
    scrypt(passphrase.normalize('NFKC'), salt, KEY_BYTES, { ...cost, maxmem: 256 * cost.N * cost.r }, (error, key) =>
      error ? reject(error) : resolve(key),
    );
  });

/** The hash of a passphrase that somebody chooses. Refuses what is among the first things that a guesser tries; `names`: what people who know
 *  the studio would try. */
export async function hashNewPassphrase(
  { config }: Pick<Deps, 'config'>,
  passphrase: string,
  names: readonly string[],
): Promise<string> {
  if (await isCommonPassphrase(config.packageRoot, passphrase, names))
    throw invalid({ passphrase: 'That is among the first that somebody would try. Four unrelated words are good.' });
  return hashPassphrase(passphrase);
}

/** `scrypt$N$r$p$salt$key`, base64url. The cost is kept beside the hash, so that it can rise later. */
async function hashPassphrase(passphrase: string): Promise<string> {
  const salt = randomBytes(16);
  const key = await derive(passphrase, salt, COST);
  return ['scrypt', COST.N, COST.r, COST.p, salt.toString('base64url'), key.toString('base64url')].join('$');
}

/** Whether the passphrase is the one hashed. A missing hash costs the same time as a wrong passphrase. */
export const verifyPassphrase = (passphrase: string, hash: string | null, lane: keyof typeof LANES): Promise<boolean> =>
  LANES[lane].through(() => isHashed(passphrase, hash));

async function isHashed(passphrase: string, hash: string | null): Promise<boolean> {
  const [scheme, N, r, p, salt, key] = (hash ?? '').split('$');
  if (scheme !== 'scrypt' || !salt || !key) {
    await derive(passphrase, randomBytes(16), COST);
    return false;
  }
  const expected = Buffer.from(key, 'base64url');
  const actual = await derive(passphrase, Buffer.from(salt, 'base64url'), { N: Number(N), r: Number(r), p: Number(p) });
  return expected.length === actual.length && timingSafeEqual(expected, actual);
}
