import { readdirSync } from 'node:fs';
import { join } from 'node:path';
import { licensedPackages } from './packages.ts';

/* npm run licences: every package that is installed, with its licence; then what is kept in the repository itself. */
const root = join(import.meta.dirname, '..', '..');
const say = (line = ''): void => {
  process.stdout.write(`${line}\n`);
};
const packages = licensedPackages(root);
const table = (title: string, list: typeof packages): void => {
  say(`${title} (${list.length})`);
  const width = Math.max(...list.map((p) => `${p.name} ${p.version}`.length));
  for (const p of list)
    say(`  ${`${p.name} ${p.version}`.padEnd(width)}  ${p.licence || 'NOT SAID'}  ${p.files.join(', ')}`);
  say();
};
table(
  'To run the service',
  packages.filter((p) => p.runs),
);
table(
  'To build and test it',
  packages.filter((p) => !p.runs),
);
say('Kept in the repository');
for (const folder of ['static/vendor', 'static/fonts'])
  for (const file of readdirSync(join(root, folder)).filter((f) => /licen[cs]e|OFL/i.test(f)))
    say(`  ${folder}/${file}`);
say();
const counts = new Map<string, number>();
for (const p of packages) counts.set(p.licence || 'NOT SAID', (counts.get(p.licence || 'NOT SAID') ?? 0) + 1);
say(
  [...counts]
    .sort(([, a], [, b]) => b - a)
    .map(([licence, n]) => `${licence} ${n}`)
    .join(' · '),
);
