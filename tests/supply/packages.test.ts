import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { readConfig } from '../../server/config.ts';
import { licensedPackages, readLockfile } from './packages.ts';

const root = readConfig({}).packageRoot;

/** Licences that let anybody run, change and pass on the service (Open Source Initiative's list), without a condition on the
 *  service's own sources. LGPL is the picture library's, which is loaded, not built in. */
const FREE =
  /^\(?(MIT|MIT-0|ISC|BSD-2-Clause|BSD-3-Clause|BSD-0-Clause|Apache-2\.0|0BSD|BlueOak-1\.0\.0|CC0-1\.0|Unlicense|Python-2\.0|OFL-1\.1|CC-BY-4\.0|MPL-2\.0|LGPL-3\.0-or-later|WTFPL)\b/;

test('every package says its licence, and it is a free one', () => {
  const packages = licensedPackages(root);
  expect(packages.length).toBeGreaterThan(100);
  expect(packages.filter((p) => !FREE.test(p.licence)).map((p) => `${p.name}: ${p.licence}`)).toEqual([]);
});

test('versions are exact, and every package of the lockfile carries its hash', () => {
  const own = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8')) as Record<string, Record<string, string>>;
  // The second TypeScript goes by a name of its own.
  for (const list of ['dependencies', 'devDependencies', 'overrides'])
    for (const [name, version] of Object.entries(own[list] ?? {}))
      expect(version, name).toMatch(/^(npm:typescript@)?\d+\.\d+\.\d+$/);
  const lockfile = readLockfile(root);
  expect(lockfile.lockfileVersion).toBeGreaterThanOrEqual(3);
  for (const [path, entry] of Object.entries(lockfile.packages)) {
    if (path === '' || entry.link) continue;
    expect(entry.integrity, path).toMatch(/^sha512-/);
  }
});
