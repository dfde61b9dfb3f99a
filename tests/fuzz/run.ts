import { failureWords, fuzz } from './fuzz.ts';

/* npm run fuzz -- 20000 [seed] [part of a route's name] */
const requests = Number(process.argv[2] ?? 20_000);
const seed = Number(process.argv[3] ?? Math.floor(Math.random() * 1e9));
const only = process.argv[4];
const say = (line: string): void => {
  process.stdout.write(`${line}\n`);
};
say(`${requests} requests, seed ${seed}`);
const result = await fuzz({ requests, seed, studio: 'sample', say, ...(only === undefined ? {} : { only }) });
const statuses = Object.entries(result.byStatus)
  .sort()
  .map(([hundred, count]) => `${hundred} ${count}`)
  .join(', ');
say(`${result.sent} requests to ${result.routes} routes: ${statuses}`);
if (result.neverDone.length > 0) say(`never got through: ${result.neverDone.join(', ')}`);
if (result.failures.length > 0) say(`FAILURES\n${failureWords(result.failures)}`);
for (const finding of result.findings) say(`FINDING ${finding}`);
say(`${result.failures.length} failures, ${result.findings.length} findings`);
process.exit(result.failures.length + result.findings.length > 0 ? 1 : 0);
