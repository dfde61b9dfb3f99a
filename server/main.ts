import { randomInt, randomUUID } from 'node:crypto';
import { join } from 'node:path';
import { buildApp } from './app.ts';
import { startDailyBackups } from './backup/daily.ts';
import { type Config, readConfig } from './config.ts';
import {
  claimDataFolder,
  damaged,
  demandDatabase,
  demandStudio,
  EXIT_CODES,
  folderFault,
  StartRefusal,
} from './db/dataFolder.ts';
import { demandAcknowledged, demandLastWorkedWith, demandLog, watchFile } from './db/fileWatch.ts';
import { checkInBackground, isCheckedAtOnce, structureFindings, touchEveryTable } from './db/integrity.ts';
import { applyMigrations } from './db/migrate.ts';
import { type OpenDatabase, openDatabase } from './db/open.ts';
import { clockBehindRecord, newestRecordedAt, steadyClock } from './db/recordClock.ts';
import { damageFault, stopWriting, whenFaulty } from './db/soundness.ts';
import type { Deps } from './deps.ts';
import { machineNames, networkAddresses } from './http/addresses.ts';
import { answerPlainHttp, keepCertificate, keyPairOf } from './http/secureDoor.ts';
import { studioAuthority, vouchedFor } from './http/studioCertificate.ts';
import { terminal } from './http/terminal.ts';
import { waitsForOwner } from './people/afterRestore.ts';
import { findStudio } from './settings/queries.ts';

const [output, complaints] = [terminal(1), terminal(2)];
const say = (line: string): void => output.write(`${line}\n`);
const warn = (line: string): void => complaints.write(`${line}\n`);

/** In-flight requests get so long after SIGTERM; then their connections are cut. What they had committed stands. */
const GOODBYE_MS = 10_000;

/** Opens a file that may have been through a power cut, a bad disk or careless hands. */
function openSound(file: string): OpenDatabase {
  const open = openDatabase(file);
  const findings = isCheckedAtOnce(file) ? structureFindings(open.sqlite) : [];
  if (findings.length > 0) throw damaged(file, findings);
  touchEveryTable(open.sqlite);
  return open;
}

/** What a studio certificate asks of whoever starts it: to trust its authority once on each device. */
function sayTrust(config: Config): void {
  const authority = studioAuthority(config.dataDir);
  if (!authority) return;
  say('Phones and tablets trust it once they know the studio’s certificate authority: the page /trust tells how.');
  say(`  Its fingerprint: ${authority.fingerprint}`);
  const outside = machineNames(config.host).filter((name) => !vouchedFor(config.dataDir, [name]).includes(name));
  if (outside.length > 0)
    warn(`No certificate of the studio covers ${outside.join(', ')}: it is made for private networks and local names.`);
}

function configOrRefusal(): Config {
  try {
    return readConfig(process.env);
  } catch (error) {
    throw new StartRefusal((error as Error).message);
  }
}

async function main(): Promise<void> {
  const config = configOrRefusal();
  try {
    await serve(config);
  } catch (error) {
    throw folderFault(error, config.dataDir) ?? error;
  }
}

async function serve(config: Config): Promise<void> {
  const claim = claimDataFolder(config.dataDir);
  const file = join(config.dataDir, 'studio.sqlite');
  demandDatabase(config.dataDir, config.backupDir);
  demandLog(config.dataDir);
  demandAcknowledged(config.dataDir);
  const open = openSound(file);
  // Asked now, while the file has surely its name.
  const isChecked = isCheckedAtOnce(file);
  try {
    demandLastWorkedWith(open.sqlite);
    demandStudio(open.sqlite, config.dataDir, config.backupDir);
  } catch (error) {
    open.sqlite.close();
    throw error;
  }
  const applied = await applyMigrations(open, join(config.packageRoot, 'migrations'));
  if (applied > 0) say(`Database ready (${applied} migration${applied === 1 ? '' : 's'} applied) in ${config.dataDir}`);
  whenFaulty(open.sqlite, ({ words }) => warn(`Nothing more is written to ${file}: ${words}`));
  const watch = watchFile(open.sqlite);
  const behind = clockBehindRecord(Date.now(), newestRecordedAt(open.sqlite));
  if (behind) warn(behind);
  const deps: Deps = {
    config,
    ...open,
    now: steadyClock(Date.now, warn),
    newId: randomUUID,
    firstRunCode: String(randomInt(0, 1_000_000)).padStart(6, '0'),
  };
  const keyPair = await keyPairOf(config, Date.now());
  const app = await buildApp(deps, keyPair);
  if (keyPair) {
    await answerPlainHttp(app, config);
    keepCertificate(app, config, deps.now);
  }
  await app.listen({ port: config.port, host: config.host });
  const port = (app.server.address() as { port: number }).port;
  say('Lot & Shade is open at');
  const addresses = networkAddresses(config, port);
  for (const address of addresses) say(`  ${address}`);
  if (config.tls?.from === 'studio') sayTrust(config);
  const sayDoor = (door: string): void => {
    for (const address of addresses) say(`  ${address}/${door}?code=${deps.firstRunCode}`);
    say('By itself, for a form that asks for it, the code is');
    say(`  ${deps.firstRunCode}`);
  };
  if (!findStudio(open.db)) {
    say('First run: open one of these links. They hold the code, without which nobody sets this studio up:');
    sayDoor('first-run');
  } else if (waitsForOwner(open.db)) {
    say(
      'This studio was restored from a backup, and every way in of that time has ended. An owner comes in by a link:',
    );
    sayDoor('after-restore');
  }

  const check = isChecked ? undefined : checkInBackground(file);
  const stopBackups = startDailyBackups(deps, warn);
  let closing = false;
  const close = async (why: string): Promise<void> => {
    if (closing) return;
    closing = true;
    stopBackups();
    say(`${why}: finishing what is under way`);
    check?.stop();
    setTimeout(() => app.server.closeAllConnections(), GOODBYE_MS).unref();
    await app.close();
    watch.close();
    claim.release();
    process.exit(0);
  };
  process.on('SIGTERM', () => close('SIGTERM'));
  process.on('SIGINT', () => close('SIGINT'));
  const readOnlyWhenDamaged = ([finding]: readonly string[]): void => {
    // To go on writing into a damaged file is to lose more of it; to go on reading it does no harm.
    if (finding !== undefined) stopWriting(open.sqlite, damageFault(finding));
  };
  check?.done.then(readOnlyWhenDamaged, (error: Error) => warn(error.message));
}

main().catch((error: unknown) => {
  const { message, code, port } = error as { message?: string; code?: string; port?: number };
  warn(`Lot & Shade did not start: ${code === 'EADDRINUSE' ? `port ${port} is in use; set PORT to another` : message}`);
  process.exit(error instanceof StartRefusal ? error.exitCode : EXIT_CODES.passing);
});
