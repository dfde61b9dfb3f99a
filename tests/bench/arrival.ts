import fc from 'fast-check';
import { deliver, scenarios, theStart } from '../support/arrivals.ts';

/* npm run test:arrival -- 2000 [seed]: sets of happenings with their times, delivered in any order, late and twice, must end in the
   stock, cost, bench and trace that the set says by itself, and in a studio of which every rule of `npm run verify` holds. */
const runs = Number(process.argv[2] ?? 2000);
const seed = Number(process.argv[3] ?? Math.floor(Math.random() * 1e9));
const say = (line: string): void => {
  process.stdout.write(`${line}\n`);
};
say(`${runs} sets of happenings, seed ${seed}`);
const start = await theStart();
const began = performance.now();
let done = 0;
const outcome = await fc.check(
  fc.asyncProperty(scenarios, async (scenario) => {
    const wrong = await deliver(scenario, start);
    done += 1;
    if (done % 100 === 0) say(`${done} after ${Math.round((performance.now() - began) / 1000)} s`);
    if (wrong.length > 0) throw new Error(wrong.slice(0, 10).join('\n'));
  }),
  { numRuns: runs, seed },
);
if (outcome.failed) say(fc.defaultReportMessage(outcome) ?? 'failed');
else say(`${outcome.numRuns} runs, none of them differing from the model`);
process.exit(outcome.failed ? 1 : 0);
