import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';

interface LockEntry {
  version?: string;
  resolved?: string;
  integrity?: string;
  license?: string;
  dev?: boolean;
  optional?: boolean;
  link?: boolean;
}
export interface Lockfile {
  lockfileVersion: number;
  packages: Record<string, LockEntry>;
}
export interface LicensedPackage {
  name: string;
  version: string;
  licence: string;
  /** Needed to run the service; else only to build and test it. */
  runs: boolean;
  /** Files that hold its licence, as shipped. */
  files: string[];
}

export const readLockfile = (root: string): Lockfile =>
  JSON.parse(readFileSync(join(root, 'package-lock.json'), 'utf8')) as Lockfile;

/** Every installed package with its licence, by the lockfile and, where that says nothing, by the package itself. Packages for
 *  other machines' processors, which the lockfile names and this installation has not, are left out. */
export function licensedPackages(root: string): LicensedPackage[] {
  const found: LicensedPackage[] = [];
  for (const [path, entry] of Object.entries(readLockfile(root).packages)) {
    if (path === '' || entry.link) continue;
    const folder = join(root, path);
    if (!existsSync(folder)) continue;
    const own = JSON.parse(readFileSync(join(folder, 'package.json'), 'utf8')) as {
      license?: string | { type?: string };
      licenses?: { type?: string }[];
    };
    const said =
      entry.license ??
      (typeof own.license === 'string' ? own.license : own.license?.type) ??
      own.licenses?.map((l) => l.type).join(' OR ');
    found.push({
      name: path.split('node_modules/').at(-1) ?? path,
      version: entry.version ?? '',
      licence: said ?? '',
      runs: entry.dev !== true,
      files: readdirSync(folder).filter((file) => /^(licen[cs]e|copying|notice)/i.test(file)),
    });
  }
  return found.sort((a, b) => (a.name < b.name ? -1 : a.name > b.name ? 1 : 0));
}
