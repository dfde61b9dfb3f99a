import { createCipheriv, createDecipheriv, randomBytes } from 'node:crypto';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';

/* A secret that the service must be able to read again is sealed by a key that lies beside the database and is in no backup and no export:
 * whoever finds an archive makes no codes with it. AES-256-GCM (NIST SP 800-38D). */

const KEY_FILE = 'second-step.key';
const KEY_BYTES = 32;
const NONCE_BYTES = 12;
const TAG_BYTES = 16;

const keyFile = (dataDir: string): string => join(dataDir, KEY_FILE);

function keyOf(dataDir: string): Buffer {
  const key = Buffer.from(readFileSync(keyFile(dataDir), 'utf8').trim(), 'base64url');
  if (key.length !== KEY_BYTES) throw new Error(`${keyFile(dataDir)} holds no key.`);
  return key;
}

/** Makes the key where there is none. A file that is there is never written over: what it has sealed would be lost. */
function ownKey(dataDir: string): Buffer {
  try {
    writeFileSync(keyFile(dataDir), `${randomBytes(KEY_BYTES).toString('base64url')}\n`, { mode: 0o600, flag: 'wx' });
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'EEXIST') throw error;
  }
  return keyOf(dataDir);
}

export function seal(dataDir: string, secret: string): string {
  const nonce = randomBytes(NONCE_BYTES);
  const cipher = createCipheriv('aes-256-gcm', ownKey(dataDir), nonce);
  const sealed = Buffer.concat([cipher.update(secret, 'utf8'), cipher.final()]);
  return Buffer.concat([nonce, cipher.getAuthTag(), sealed]).toString('base64url');
}

/** What was sealed; undefined when the key is gone or another. */
export function unseal(dataDir: string, sealedText: string): string | undefined {
  try {
    const bytes = Buffer.from(sealedText, 'base64url');
    const decipher = createDecipheriv('aes-256-gcm', keyOf(dataDir), bytes.subarray(0, NONCE_BYTES));
    decipher.setAuthTag(bytes.subarray(NONCE_BYTES, NONCE_BYTES + TAG_BYTES));
    return Buffer.concat([decipher.update(bytes.subarray(NONCE_BYTES + TAG_BYTES)), decipher.final()]).toString('utf8');
  } catch {
    return undefined;
  }
}
