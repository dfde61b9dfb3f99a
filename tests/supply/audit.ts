import { spawnSync } from 'node:child_process';
import { join } from 'node:path';

/* npm run audit: known weaknesses of the packages that the service runs with, as the registry's advisory service knows them.
   Exits 1 when there are some of high or critical severity; 0 when there are none, and when nobody answers, which it says. */
interface Report {
  vulnerabilities?: Record<
    string,
    { severity: string; via: (string | { title?: string; url?: string })[]; range: string }
  >;
  metadata?: { vulnerabilities?: Record<string, number> };
  error?: { summary?: string };
  message?: string;
}

const ran = spawnSync('npm', ['audit', '--omit=dev', '--json'], {
  cwd: join(import.meta.dirname, '..', '..'),
  encoding: 'utf8',
  timeout: 120_000,
  shell: process.platform === 'win32',
});
let report: Report = {};
try {
  report = JSON.parse(ran.stdout) as Report;
} catch {
  // Nothing that can be read: told below as no answer.
}
const counts = report.metadata?.vulnerabilities;
if (!counts) {
  process.stdout.write(
    `The advisory service gave no answer (${report.error?.summary || report.message || ran.error?.message || 'nothing readable'}). Nothing was checked.\n`,
  );
} else {
  for (const [name, { severity, via, range }] of Object.entries(report.vulnerabilities ?? {})) {
    const why = via.map((v) => (typeof v === 'string' ? v : `${v.title ?? ''} ${v.url ?? ''}`.trim())).join('; ');
    process.stdout.write(`${severity.padEnd(9)} ${name} ${range}: ${why}\n`);
  }
  process.stdout.write(
    `${Object.entries(counts)
      .map(([severity, n]) => `${severity} ${n}`)
      .join(', ')}\n`,
  );
  if ((counts['high'] ?? 0) + (counts['critical'] ?? 0) > 0) process.exitCode = 1;
}
