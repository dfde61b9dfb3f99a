/** What Stryker tells of a fault that was tried. */
interface Tried {
  fileName: string;
  status: string;
  location: { start: { line: number; column: number } };
  mutatorName: string;
  replacement?: string;
}

/** Tells each fault that no test has noticed as soon as it is known, with the score of its file up to then: a test for it can be
 *  written while the rest is tried, and a run that is broken off has told something. */
class Survivors {
  readonly #files = new Map<string, { noticed: number; all: number }>();

  onMutantTested({ fileName, status, location, mutatorName, replacement = '' }: Tried): void {
    const tally = this.#files.get(fileName) ?? { noticed: 0, all: 0 };
    this.#files.set(fileName, tally);
    const noticed = status === 'Killed' || status === 'Timeout';
    if (noticed) tally.noticed += 1;
    if (noticed || status === 'Survived' || status === 'NoCoverage') tally.all += 1;
    if (status !== 'Survived' && status !== 'NoCoverage') return;
    const { line, column } = location.start;
    process.stdout.write(
      `${status} ${fileName}:${line}:${column} ${mutatorName} → ${replacement.replace(/\s+/g, ' ').slice(0, 90)} (${tally.noticed} of ${tally.all} noticed)\n`,
    );
  }

  onMutationTestReportReady(): void {
    for (const [file, { noticed, all }] of this.#files) process.stdout.write(`${file}: ${noticed} of ${all} noticed\n`);
  }
}

export const strykerPlugins = [{ kind: 'Reporter', name: 'survivors', injectableClass: Survivors }];
