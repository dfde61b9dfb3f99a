import { createHash } from 'node:crypto';
import { createReadStream } from 'node:fs';
import { readdir, stat } from 'node:fs/promises';
import { join } from 'node:path';
import { pipeline } from 'node:stream/promises';
import { stockContradictions } from '../costing/stockProof.ts';
import type { Db } from '../db/open.ts';
import { PHOTO_SIZES_PX, photoFile } from '../photos/store.ts';
import { costMinorOf } from '../plans/rates.ts';
import {
  costLinesAfter,
  danglingReferences,
  integrityFindings,
  isDamage,
  photoHashes,
  proofChecks,
  RULES,
  voiceHashes,
} from './queries.ts';

export interface Check {
  name: string;
  /** What breaks the rule; nothing when it holds. */
  wrong: string[];
  /** What is no fault but worth knowing. */
  notes: string[];
}

const COST_PAGE = 5000;
const IS_WHOLE = 'the database file is whole';

/** Holds a studio against everything that must be true of it: the file itself, the references, the ledger, the costs, the
 *  pictures and sounds. Reads only. */
export async function verifyStudio(db: Db, dataDir: string): Promise<Check[]> {
  const checks: Check[] = [];
  const hold = (name: string, wrong: string[], notes: string[] = []): void => {
    checks.push({ name, wrong, notes });
  };
  const integrity = integrityFindings(db);
  hold(IS_WHOLE, integrity);
  // A damaged file answers other questions by chance; which rows can still be told apart from what was written, it may say.
  const isDamaged = integrity.length > 0;
  for (const { name, wrong } of isDamaged ? readable(() => proofChecks(db)) : proofChecks(db)) hold(name, wrong);
  if (isDamaged) return checks;
  hold(
    'every reference leads somewhere',
    danglingReferences(db).map((d) => `${d.table} row ${d.rowid} → ${d.parent}`),
  );
  for (const { name, broken } of RULES) hold(name, broken(db));
  hold('every cost line is its quantity × its price', wrongCosts(db));
  hold('what was paid for a material was issued, written off or is in stock', stockContradictions(db));
  checks.push(await photosOf(db, dataDir), await voicesOf(db, dataDir));
  return checks;
}

/** What a damaged file answers before it cannot. */
function readable<Finding>(read: () => Finding[]): Finding[] {
  try {
    return read();
  } catch (error) {
    if (isDamage(error)) return [];
    throw error;
  }
}

export const damagedFile = (finding: string): Check => ({ name: IS_WHOLE, wrong: [finding], notes: [] });

function wrongCosts(db: Db): string[] {
  const wrong: string[] = [];
  for (let after = 0; ; ) {
    const lines = costLinesAfter(db, after, COST_PAGE);
    if (lines.length === 0) return wrong;
    for (const line of lines) {
      if (costMinorOf(line.quantity, line) !== line.costMinor)
        wrong.push(`lot ${line.lotNumber}, line ${line.ordinal}`);
    }
    after = lines.at(-1)?.id ?? after;
  }
}

export async function sha256OfFile(file: string): Promise<string> {
  const hash = createHash('sha256');
  await pipeline(createReadStream(file), hash);
  return hash.digest('hex');
}

const sizeOf = (file: string): Promise<number | null> =>
  stat(file).then(
    (s) => s.size,
    () => null,
  );

async function namesBelow(folder: string): Promise<string[]> {
  const entries = await readdir(folder, { recursive: true, withFileTypes: true }).catch(() => []);
  return entries.filter((e) => e.isFile()).map((e) => join(e.parentPath, e.name));
}

async function photosOf(db: Db, dataDir: string): Promise<Check> {
  const wrong: string[] = [];
  const known = new Set<string>();
  for (const sha256 of photoHashes(db)) {
    for (const sizePx of PHOTO_SIZES_PX) {
      const file = photoFile(dataDir, sha256, sizePx);
      known.add(file);
      if (!((await sizeOf(file)) ?? 0)) wrong.push(`${file} is missing`);
      // The larger one gives the picture its name; the smaller is made from it.
      else if (sizePx === 1600 && (await sha256OfFile(file)) !== sha256) wrong.push(`${file} was changed`);
    }
  }
  const notes = await strangers(join(dataDir, 'photos'), (file) => known.has(file));
  return { name: 'every photo is there and unchanged', wrong, notes };
}

async function voicesOf(db: Db, dataDir: string): Promise<Check> {
  const hashes = new Set(voiceHashes(db));
  const found = new Set<string>();
  const wrong: string[] = [];
  const folder = join(dataDir, 'voices');
  const hashOf = (file: string): string => /([0-9a-f]{64})\.\w+$/.exec(file)?.[1] ?? '';
  for (const file of await namesBelow(folder)) {
    const sha256 = hashOf(file);
    if (!hashes.has(sha256)) continue;
    found.add(sha256);
    if ((await sha256OfFile(file)) !== sha256) wrong.push(`${file} was changed`);
  }
  for (const sha256 of hashes) if (!found.has(sha256)) wrong.push(`the recording ${sha256} is missing`);
  const notes = await strangers(folder, (file) => hashes.has(hashOf(file)));
  return { name: 'every recording is there and unchanged', wrong, notes };
}

/** Files that no row names: left by a power cut between file and row. They do no harm and take room. */
async function strangers(folder: string, isKnown: (file: string) => boolean): Promise<string[]> {
  return (await namesBelow(folder)).filter((file) => !isKnown(file)).map((file) => `${file} belongs to nothing`);
}

/** The findings as lines of text, and whether all is well. */
export function verdict(checks: readonly Check[]): { lines: string[]; isWell: boolean } {
  const lines = checks.flatMap(({ name, wrong, notes }) => [
    `${wrong.length === 0 ? 'ok   ' : 'WRONG'}  ${name}`,
    ...wrong.slice(0, 20).map((words) => `         ${words}`),
    ...(wrong.length > 20 ? [`         and ${wrong.length - 20} more`] : []),
    ...notes.slice(0, 20).map((words) => `  note   ${words}`),
    ...(notes.length > 20 ? [`  note   and ${notes.length - 20} more`] : []),
  ]);
  return { lines, isWell: checks.every((c) => c.wrong.length === 0) };
}

/** What a trial has found: whether the database file is whole, and a sentence for each rule that is broken. */
export interface TrialAnswer {
  isWhole: boolean;
  wrong: string[];
}

export const failuresOf = (checks: readonly Check[]): TrialAnswer => ({
  isWhole: checks.every((c) => c.name !== IS_WHOLE || c.wrong.length === 0),
  wrong: checks
    .filter((c) => c.wrong.length > 0)
    .map(
      ({ name, wrong: [first, ...rest] }) =>
        `“${name}” does not hold (${first}${rest.length > 0 ? `, and ${rest.length} more` : ''})`,
    ),
});
