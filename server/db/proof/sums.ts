import { crc32 } from 'node:zlib';
import { canonical, sha256, type Value } from './rowDigest.ts';

/* The sum of a table says whether its rows are those that the service has written, whatever their order, and moves with one row at a
   time. Beside the plain sum Σd of the rows' digests stands one in which each is weighted by its row's key, Σk·d. Where one row differs
   by e, the sums differ by e and by k·e: their quotient is the key of that row, so that it can be named without keeping a digest of
   each (the syndromes of a Reed–Solomon code that corrects one error; Reed & Solomon, J. SIAM 8, 1960). All modulo a prime, so that
   there is a quotient. */

/** 2^127 − 1, the prime of Mersenne. */
export const PRIME = (1n << 127n) - 1n;
export const mod = (value: bigint): bigint => ((value % PRIME) + PRIME) % PRIME;

/** By Fermat: a^(p−2) is the inverse of a. */
function inverse(value: bigint): bigint {
  let [result, base, exponent] = [1n, mod(value), PRIME - 2n];
  for (; exponent > 0n; exponent >>= 1n) {
    if (exponent & 1n) result = (result * base) % PRIME;
    base = (base * base) % PRIME;
  }
  return result;
}

export interface Sum {
  rows: number;
  /** How often a row was written, changed or removed since the table is kept. */
  writes: number;
  plain: bigint;
  weighted: bigint;
}
export const EMPTY: Sum = { rows: 0, writes: 0, plain: 0n, weighted: 0n };

const SIZE = 48;
const CHECKED = 44;
const LOW = (1n << 64n) - 1n;
const bigAt = (bytes: Buffer, at: number): bigint => (bytes.readBigUInt64BE(at) << 64n) | bytes.readBigUInt64BE(at + 8);
/** Tells accidents from what was written; what is done on purpose is for the chain and for the archives’ seals to tell. */
const checkOf = (table: string, state: Buffer): number => crc32(state.subarray(0, CHECKED), crc32(table));

export function packed(table: string, { rows, writes, plain, weighted }: Sum): Buffer {
  const state = Buffer.allocUnsafe(SIZE);
  state.writeUIntBE(rows, 0, 6);
  state.writeUIntBE(writes, 6, 6);
  state.writeBigUInt64BE(plain >> 64n, 12);
  state.writeBigUInt64BE(plain & LOW, 20);
  state.writeBigUInt64BE(weighted >> 64n, 28);
  state.writeBigUInt64BE(weighted & LOW, 36);
  state.writeUInt32BE(checkOf(table, state), CHECKED);
  return state;
}

/** Null when the state itself is not what was written. */
export function unpacked(table: string, state: Buffer): Sum | null {
  if (state.length !== SIZE || checkOf(table, state) !== state.readUInt32BE(CHECKED)) return null;
  return {
    rows: state.readUIntBE(0, 6),
    writes: state.readUIntBE(6, 6),
    plain: bigAt(state, 12),
    weighted: bigAt(state, 28),
  };
}

export interface Term {
  key: bigint;
  digest: bigint;
}

/** What a row adds. `keyLength`: how many of its values, the first ones, are its key; 0 where the first is its number. */
export function termOf(table: string, keyLength: number, values: readonly Value[]): Term {
  const key =
    keyLength === 0
      ? mod(BigInt(values[0] as number))
      : sha256(canonical(table, values.slice(0, keyLength))).readBigUInt64BE(0);
  return { key, digest: bigAt(sha256(canonical(table, values)), 0) % PRIME };
}

export const plus = (sum: Sum, { key, digest }: Term, times: 1 | -1): Sum => ({
  rows: sum.rows + times,
  writes: sum.writes,
  plain: mod(sum.plain + BigInt(times) * digest),
  weighted: mod(sum.weighted + BigInt(times) * key * digest),
});

/** Which single row accounts for the difference between what is kept and what is found: the key that it would have; null when the
 *  sums agree or no single row does. */
export function keyOfDifference(kept: Sum, found: Sum): bigint | null {
  const plain = mod(found.plain - kept.plain);
  return plain === 0n ? null : (mod(found.weighted - kept.weighted) * inverse(plain)) % PRIME;
}
