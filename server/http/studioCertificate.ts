import { createPrivateKey, KeyObject, randomBytes, X509Certificate } from 'node:crypto';
import { existsSync, mkdirSync, readFileSync, renameSync, writeFileSync } from 'node:fs';
import { isIP } from 'node:net';
import { join } from 'node:path';
import { isPrivateAddress, PRIVATE_NETWORKS } from './addresses.ts';

/** A studio's own certificate authority and the certificate that it gives to this machine, so that browsers of the studio
 *  have a secure context without a name in the public DNS. The authority is bound to private networks, local
 *  names and the machine's own name (RFC 5280, §4.2.1.10): a phone that trusts it trusts it for nothing outside the studio,
 *  whoever gets hold of its key. */
export interface StudioCertificate {
  /** The certificate, then its authority's: PEM. */
  cert: string;
  key: string;
  names: string[];
  expiresAt: number;
  /** Whether it was made just now. */
  isNew: boolean;
}

export interface StudioAuthority {
  der: Buffer;
  pem: string;
  /** SHA-256, in pairs with colons, as phones show it. */
  fingerprint: string;
  name: string;
  expiresAt: number;
}

const DAY_MS = 86_400_000;
const AUTHORITY_DAYS = 3650;
/** Phones refuse server certificates that last longer than 825 days, and may come to want less. */
const CERTIFICATE_DAYS = 397;
const RENEW_DAYS_BEFORE = 30;
/** A clock that is a little behind must not find a certificate of the future. */
const BACKDATED_MS = DAY_MS;
/** Names that the public DNS does not have: RFC 6761, 6762, 8375; .internal by ICANN, 2024; .lan by common practice. */
const LOCAL_DOMAINS = ['localhost', 'local', 'home.arpa', 'internal', 'lan'];
const KEY = { name: 'ECDSA', namedCurve: 'P-256' } as const;
const SIGNING = { name: 'ECDSA', hash: 'SHA-256' } as const;

const folderOf = (dataDir: string): string => join(dataDir, 'tls');
const fileOf = (dataDir: string, name: 'authority.crt' | 'authority.key' | 'server.crt' | 'server.key'): string =>
  join(folderOf(dataDir), name);

/** Whole or not at all; keys are nobody else's to read. */
function write(dataDir: string, name: Parameters<typeof fileOf>[1], text: string): void {
  mkdirSync(folderOf(dataDir), { recursive: true, mode: 0o700 });
  const file = fileOf(dataDir, name);
  writeFileSync(`${file}.part`, text, { mode: name.endsWith('.key') ? 0o600 : 0o644 });
  renameSync(`${file}.part`, file);
}

const readCertificate = (dataDir: string, name: 'authority.crt' | 'server.crt'): X509Certificate | undefined => {
  const file = fileOf(dataDir, name);
  return existsSync(file) ? new X509Certificate(readFileSync(file)) : undefined;
};

/** The authority that this data folder has; null when none was made. */
export function studioAuthority(dataDir: string): StudioAuthority | null {
  const certificate = readCertificate(dataDir, 'authority.crt');
  return certificate
    ? {
        der: certificate.raw,
        pem: certificate.toString(),
        fingerprint: certificate.fingerprint256,
        name: /CN=(.*)/.exec(certificate.subject)?.[1] ?? certificate.subject,
        expiresAt: Date.parse(certificate.validTo),
      }
    : null;
}

const der = (tag: number, content: Buffer): Buffer => {
  const n = content.length;
  const length = n < 128 ? [n] : n < 256 ? [0x81, n] : [0x82, n >> 8, n & 255];
  return Buffer.concat([Buffer.from([tag, ...length]), content]);
};

const ipBytes = (address: string): number[] => {
  if (isIP(address) === 4) return address.split('.').map(Number);
  const [head = '', tail = ''] = address.split('::');
  const groups = (text: string): number[] => (text === '' ? [] : text.split(':').map((g) => Number.parseInt(g, 16)));
  const before = groups(head);
  const after = groups(tail);
  return [...before, ...Array<number>(8 - before.length - after.length).fill(0), ...after].flatMap((g) => [
    g >> 8,
    g & 255,
  ]);
};
const maskBytes = (prefix: number, bytes: number): number[] =>
  Array.from({ length: bytes }, (_, i) => 256 - 2 ** (8 - Math.min(8, Math.max(0, prefix - 8 * i))));

const permittedName = (name: string): Buffer => der(0x30, der(0x82, Buffer.from(name, 'ascii')));

/** NameConstraints: only what lies in the studio. */
const permittedOnly = (names: readonly string[]): Buffer =>
  der(
    0x30,
    der(
      0xa0,
      Buffer.concat([
        ...names.map(permittedName),
        ...PRIVATE_NETWORKS.map(({ address, prefix, family }) =>
          der(0x30, der(0x87, Buffer.from([...ipBytes(address), ...maskBytes(prefix, family === 'ipv4' ? 4 : 16)]))),
        ),
      ]),
    ),
  );

/** Loaded only where a certificate is made. It signs with the runtime's own crypto. */
const x509 = async () => {
  await import('reflect-metadata');
  return import('@peculiar/x509');
};

const freshKeys = () => crypto.subtle.generateKey(KEY, true, ['sign', 'verify']);
const keyPem = (key: CryptoKey): string => KeyObject.from(key).export({ type: 'pkcs8', format: 'pem' }).toString();
const keyOfPem = (pem: string): Promise<CryptoKey> =>
  crypto.subtle.importKey('pkcs8', createPrivateKey(pem).export({ type: 'pkcs8', format: 'der' }), KEY, true, ['sign']);
/** Positive, and as random as RFC 5280 and browsers want it. */
const serial = (): string => Buffer.concat([Buffer.from([0x5a]), randomBytes(15)]).toString('hex');

async function makeAuthority(dataDir: string, names: readonly string[], nowMs: number): Promise<void> {
  const { X509CertificateGenerator, BasicConstraintsExtension, KeyUsagesExtension, KeyUsageFlags, ...lib } =
    await x509();
  const keys = await freshKeys();
  const made = new Date(nowMs).toISOString().slice(0, 10);
  const own = names.filter((n) => isIP(n) === 0 && !isLocal(n));
  const certificate = await X509CertificateGenerator.createSelfSigned({
    serialNumber: serial(),
    name: `CN=Studio authority of ${names.find((n) => isIP(n) === 0 && n !== 'localhost') ?? 'this machine'} (${made})`,
    notBefore: new Date(nowMs - BACKDATED_MS),
    notAfter: new Date(nowMs + AUTHORITY_DAYS * DAY_MS),
    signingAlgorithm: SIGNING,
    keys,
    extensions: [
      new BasicConstraintsExtension(true, 0, true),
      new KeyUsagesExtension(KeyUsageFlags.keyCertSign | KeyUsageFlags.cRLSign, true),
      await lib.SubjectKeyIdentifierExtension.create(keys.publicKey),
      new lib.Extension('2.5.29.30', true, Uint8Array.from(permittedOnly([...LOCAL_DOMAINS, ...own]))),
    ],
  });
  write(dataDir, 'authority.key', keyPem(keys.privateKey));
  write(dataDir, 'authority.crt', `${certificate.toString('pem')}\n`);
}

const isLocal = (name: string): boolean => LOCAL_DOMAINS.some((d) => name === d || name.endsWith(`.${d}`));

/** The names that an authority may vouch for, of those that a machine has. A name that came after the authority was made
 *  stays out: one name too many, and browsers refuse the whole certificate. */
function vouchable(authority: X509Certificate, names: readonly string[]): string[] {
  return names.filter((name) =>
    isIP(name) !== 0 ? isPrivateAddress(name) : isLocal(name) || authority.raw.includes(permittedName(name)),
  );
}

/** Those of the names that the studio's authority vouches for; none when there is no authority. */
export function vouchedFor(dataDir: string, names: readonly string[]): string[] {
  const authority = readCertificate(dataDir, 'authority.crt');
  return authority ? vouchable(authority, names) : [];
}

const namesOf = (certificate: X509Certificate): string[] =>
  (certificate.subjectAltName ?? '')
    .split(', ')
    .map((n) => n.replace(/^(DNS|IP Address):/, ''))
    // OpenSSL writes IPv6 in full; as bytes they compare.
    .map(canonical)
    .sort();
const canonical = (name: string): string => (isIP(name) === 6 ? Buffer.from(ipBytes(name)).toString('hex') : name);

/** The certificate for this machine's names: the one in the data folder while it holds, otherwise a new one. */
export async function studioCertificate(
  dataDir: string,
  input: { names: readonly string[]; nowMs: number },
): Promise<StudioCertificate> {
  const { names, nowMs } = input;
  const lasting = (certificate: X509Certificate): boolean =>
    Date.parse(certificate.validTo) > nowMs + RENEW_DAYS_BEFORE * DAY_MS && Date.parse(certificate.validFrom) <= nowMs;
  let authority = readCertificate(dataDir, 'authority.crt');
  if (!authority || !lasting(authority) || !existsSync(fileOf(dataDir, 'authority.key'))) {
    await makeAuthority(dataDir, names, nowMs);
    authority = readCertificate(dataDir, 'authority.crt');
  }
  if (!authority) throw new Error('The studio authority could not be written into the data folder.');
  const wanted = vouchable(authority, names);
  const answer = (certificate: X509Certificate, isNew: boolean): StudioCertificate => ({
    cert: `${certificate.toString()}${authority.toString()}`,
    key: readFileSync(fileOf(dataDir, 'server.key'), 'utf8'),
    names: wanted,
    expiresAt: Date.parse(certificate.validTo),
    isNew,
  });
  const present = readCertificate(dataDir, 'server.crt');
  if (
    present &&
    existsSync(fileOf(dataDir, 'server.key')) &&
    lasting(present) &&
    present.checkIssued(authority) &&
    present.verify(authority.publicKey) &&
    namesOf(present).join() === wanted.map(canonical).sort().join()
  )
    return answer(present, false);

  const lib = await x509();
  const keys = await freshKeys();
  const issuer = new lib.X509Certificate(authority.raw);
  const until = Math.min(nowMs + CERTIFICATE_DAYS * DAY_MS, Date.parse(authority.validTo));
  const certificate = await lib.X509CertificateGenerator.create({
    serialNumber: serial(),
    subject: `CN=${wanted.find((n) => isIP(n) === 0 && n !== 'localhost') ?? 'localhost'}`,
    issuer: issuer.subjectName,
    notBefore: new Date(nowMs - BACKDATED_MS),
    notAfter: new Date(until),
    signingAlgorithm: SIGNING,
    publicKey: keys.publicKey,
    signingKey: await keyOfPem(readFileSync(fileOf(dataDir, 'authority.key'), 'utf8')),
    extensions: [
      new lib.BasicConstraintsExtension(false, undefined, true),
      new lib.KeyUsagesExtension(lib.KeyUsageFlags.digitalSignature, true),
      new lib.ExtendedKeyUsageExtension([lib.ExtendedKeyUsage.serverAuth]),
      new lib.SubjectAlternativeNameExtension(
        wanted.map((value) => ({ type: isIP(value) === 0 ? ('dns' as const) : ('ip' as const), value })),
      ),
      await lib.SubjectKeyIdentifierExtension.create(keys.publicKey),
      await lib.AuthorityKeyIdentifierExtension.create(issuer.publicKey),
    ],
  });
  write(dataDir, 'server.key', keyPem(keys.privateKey));
  write(dataDir, 'server.crt', `${certificate.toString('pem')}\n`);
  return answer(new X509Certificate(Buffer.from(certificate.rawData)), true);
}
