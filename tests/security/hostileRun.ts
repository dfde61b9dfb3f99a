import {
  ARCHIVES,
  against,
  hostileService,
  LOADS,
  MOST_MEDIAN_MS,
  MOST_MEMORY_MB,
  PICTURES,
  REQUESTS,
  TABLES,
  WORKBOOKS,
} from './hostile.ts';

// npm run test:hostile [-- PART-OF-A-NAME]
const say = (line: string): void => {
  process.stdout.write(`${line}\n`);
};
const part = process.argv[2] ?? '';
const cases = [...WORKBOOKS, ...TABLES, ...PICTURES, ...REQUESTS, ...ARCHIVES, ...LOADS].filter(({ name }) =>
  name.includes(part),
);
const service = await hostileService();
say(
  `${'sent'.padEnd(52)}${'memory'.padStart(7)}${'bench'.padStart(8)}${'worst'.padStart(8)}${'took'.padStart(8)}  said`,
);
let failed = 0;
for (const one of cases) {
  const { name, said, wrong, seconds, memoryMb, benchMedianMs, benchWorstMs } = await against(service, one);
  const complaints = [
    wrong,
    memoryMb > MOST_MEMORY_MB ? `more than ${MOST_MEMORY_MB} MB` : '',
    benchMedianMs > MOST_MEDIAN_MS ? `the bench waited more than ${MOST_MEDIAN_MS} ms` : '',
  ].filter(Boolean);
  if (complaints.length > 0) failed++;
  say(
    `${name.padEnd(52)}${`${memoryMb.toFixed(0)} MB`.padStart(7)}${`${benchMedianMs.toFixed(0)} ms`.padStart(8)}${`${benchWorstMs.toFixed(0)} ms`.padStart(8)}${`${seconds.toFixed(1)} s`.padStart(8)}  ${complaints.length > 0 ? `WRONG (${complaints.join('; ')}): ` : ''}${said}`,
  );
}
const code = await service.stop();
if (code !== 0) failed++;
say(
  `${cases.length} cases, ${failed} wrong. The service ended with ${code}. Memory: service and readers together, shared pages once. Bench: median and worst wait for its page meanwhile.`,
);
process.exit(failed === 0 ? 0 : 1);
