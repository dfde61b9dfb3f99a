import { type ChildProcess, spawn } from 'node:child_process';
import { randomUUID } from 'node:crypto';
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { connect, type Socket } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { setTimeout as pause } from 'node:timers/promises';
import { gzipSync } from 'node:zlib';
import { buildApp } from '../../server/app.ts';
import { readConfig } from '../../server/config.ts';
import { applyMigrations } from '../../server/db/migrate.ts';
import { openDatabase } from '../../server/db/open.ts';
import type { Deps } from '../../server/deps.ts';
import { makeToken, openSignIn } from '../../server/people/signIn.ts';
import { found } from '../support/app.ts';
import { compiled } from '../support/compiled.ts';
import * as files from '../support/hostileFiles.ts';
import { makeWorld } from '../support/world.ts';

/* The service as a process, and whatever a stranger, a broken program or an unlucky hand may send it: after each, what was said,
   how much memory service and readers took together at most, and how long the bench waited meanwhile. `npm run test:hostile`. */

const { packageRoot } = readConfig({});

export const MOST_MEMORY_MB = 400;
export const MOST_MEDIAN_MS = 100;

interface Service {
  url: string;
  port: number;
  pid: number;
  lotId: number;
  cookie: string;
  token: string;
  stop: () => Promise<number | null>;
}

/** A small studio with a lot on the bench, served by a process of its own. */
export async function hostileService(): Promise<Service> {
  const dataDir = mkdtempSync(join(tmpdir(), 'lot-and-shade-hostile-'));
  const { lotId, cookie, token } = await prepare(dataDir);
  const flags = ['--max-semi-space-size=4', '--max-old-space-size=1024'];
  const child = spawn(process.execPath, [...flags, compiled('server/main.ts')], {
    cwd: packageRoot,
    env: { ...process.env, PORT: '0', HOST: '127.0.0.1', DATA_DIR: dataDir, LOG_LEVEL: 'fatal' },
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  const url = await new Promise<string>((resolve, reject) => {
    createInterface({ input: child.stdout }).on('line', (line) => {
      const address = /http:\/\/127\.0\.0\.1:\d+/.exec(line)?.[0];
      if (address) resolve(address);
    });
    child.once('exit', (code) => reject(new Error(`The service did not start: ${code}`)));
  });
  return {
    url,
    port: Number(new URL(url).port),
    pid: child.pid ?? 0,
    lotId,
    cookie,
    token,
    stop: () => stopped(child, dataDir),
  };
}

async function stopped(child: ChildProcess, dataDir: string): Promise<number | null> {
  const ended = new Promise<number | null>((resolve) => child.once('exit', resolve));
  if (child.exitCode === null) child.kill('SIGTERM');
  const code = child.exitCode ?? (await ended);
  rmSync(dataDir, { recursive: true, force: true });
  return code;
}

async function prepare(dataDir: string): Promise<{ lotId: number; cookie: string; token: string }> {
  const config = readConfig({ DATA_DIR: dataDir, LOG_LEVEL: 'silent', TZ: 'Europe/Lisbon' });
  const open = openDatabase(join(dataDir, 'studio.sqlite'));
  await applyMigrations(open, join(packageRoot, 'migrations'));
  const deps: Deps = { config, ...open, now: Date.now, newId: randomUUID, firstRunCode: '314159' };
  const owner = found(deps);
  const world = makeWorld({ deps, owner });
  const { token } = makeToken(deps, { name: 'hostile', scope: 'write', expiresAt: null }, owner.personId);
  const cookie = `studio=${openSignIn(deps, owner.personId, 'hostile')}`;
  const app = await buildApp(deps);
  const planned = await app.inject({
    method: 'POST',
    url: '/api/v1/lots',
    headers: { authorization: `Bearer ${token}` },
    payload: {
      fibreId: world.linenId,
      methodId: world.methodId,
      goodsText: 'Napkins',
      mass: { found: 'weighedDry', massMg: 1_200_000 },
      colours: [{ revisionId: world.revisionId, depthPpm: 20_000 }],
    },
  });
  if (planned.statusCode !== 201) throw new Error(`planning: ${planned.body}`);
  await app.close();
  open.sqlite.close();
  return { lotId: (planned.json() as { lotId: number }).lotId, cookie, token };
}

// ── what is measured ──

/** Resident memory of a process and those that it has started, pages that they share counted once; Linux alone says. */
function memoryMb(pid: number): number {
  let mb = 0;
  for (const name of readdirSync('/proc')) {
    if (!/^\d+$/.test(name)) continue;
    try {
      const parent = Number(/PPid:\s+(\d+)/.exec(readFileSync(`/proc/${name}/status`, 'utf8'))?.[1]);
      if (Number(name) !== pid && parent !== pid) continue;
      mb += Number(/^Pss:\s+(\d+)/m.exec(readFileSync(`/proc/${name}/smaps_rollup`, 'utf8'))?.[1] ?? 0) / 1024;
    } catch {
      // Ended meanwhile, or another system.
    }
  }
  return mb;
}

export interface Outcome {
  name: string;
  /** What the service said, in short. */
  said: string;
  /** What was expected of it; empty when it was. */
  wrong: string;
  seconds: number;
  memoryMb: number;
  benchMedianMs: number;
  benchWorstMs: number;
}

export interface HostileCase {
  name: string;
  /** What is sent, made before anything is measured: it is work for whoever makes it, too. */
  make?: () => Buffer | Promise<Buffer>;
  /** Answers what was said; `fine` says what it may be. */
  run: (service: Service, made: Buffer) => Promise<string>;
  fine: RegExp;
}

/** At the bench, for a median to mean something. */
const LEAST_LOOKS = 8;

/** Runs a case while somebody works at the bench. */
export async function against(service: Service, { name, make, run, fine }: HostileCase): Promise<Outcome> {
  const made = (await make?.()) ?? Buffer.alloc(0);
  const waits: number[] = [];
  let memory = 0;
  let isOver = false;
  const watch = setInterval(() => {
    memory = Math.max(memory, memoryMb(service.pid));
  }, 50);
  const bench = (async () => {
    while (!isOver || waits.length < LEAST_LOOKS) {
      const from = performance.now();
      const answer = await fetch(`${service.url}/lots/${service.lotId}/bench`, { headers: { cookie: service.cookie } });
      await answer.text();
      if (answer.status !== 200) throw new Error(`the bench answered ${answer.status}`);
      waits.push(performance.now() - from);
      await pause(25);
    }
  })();
  const from = performance.now();
  const said = await run(service, made).catch(
    (error: Error) => `failed: ${error.message} ${String(error.cause ?? '')}`,
  );
  const seconds = (performance.now() - from) / 1000;
  isOver = true;
  const broken = await bench.then(
    () => '',
    (error: Error) => `the bench: ${error.message}`,
  );
  clearInterval(watch);
  waits.sort((a, b) => a - b);
  return {
    name,
    said,
    wrong: broken || (fine.test(said) ? '' : `expected ${fine}`),
    seconds,
    memoryMb: memory,
    benchMedianMs: waits[Math.floor(waits.length / 2)] ?? 0,
    benchWorstMs: waits.at(-1) ?? 0,
  };
}

// ── ways in ──

const formOf = (
  fields: Record<string, string>,
  file: { name: string; content: Buffer; fileName: string },
): FormData => {
  const form = new FormData();
  for (const [name, value] of Object.entries(fields)) form.append(name, value);
  form.append(file.name, new Blob([new Uint8Array(file.content)]), file.fileName);
  return form;
};

const plainWords = (text: string): string => text.replace(/\s+/g, ' ').trim().slice(0, 100);

async function sendTable({ url, cookie }: Service, content: Buffer, fileName = 'dyes.xlsx'): Promise<string> {
  const answer = await fetch(`${url}/imports/drafts`, {
    method: 'POST',
    redirect: 'manual',
    headers: { cookie, origin: url },
    body: formOf({ kind: 'dyes' }, { name: 'file', content, fileName }),
  });
  const text = await answer.text();
  return `${answer.status} ${plainWords(/id="f-file-error">([^<]*)/.exec(text)?.[1] ?? '')}`;
}

async function sendToApi(
  { url, token }: Service,
  path: string,
  body: BodyInit,
  headers: Record<string, string> = {},
): Promise<string> {
  const answer = await fetch(`${url}/api/v1${path}`, {
    method: 'POST',
    headers: { authorization: `Bearer ${token}`, ...headers },
    body,
  });
  const { detail = '' } = (await answer.json().catch(() => ({}))) as { detail?: string };
  return `${answer.status} ${plainWords(detail)}`;
}

const sendPicture = (service: Service, content: Buffer): Promise<string> =>
  sendToApi(service, '/photos', formOf({}, { name: 'photo', content, fileName: 'photo.jpg' }));

/** How often each was said, the most frequent first. */
function tally(answers: readonly string[]): string {
  const counts = new Map<string, number>();
  for (const answer of answers) {
    const status = answer.slice(0, 3);
    counts.set(status, (counts.get(status) ?? 0) + 1);
  }
  return [...counts].map(([status, count]) => `${count} × ${status}`).join(', ');
}

const table = (name: string, make: () => Buffer | Promise<Buffer>, fine: RegExp, fileName?: string): HostileCase => ({
  name,
  make,
  run: (service, made) => sendTable(service, made, fileName),
  fine,
});
const picture = (name: string, make: () => Buffer | Promise<Buffer>, fine: RegExp): HostileCase => ({
  name,
  make,
  run: (service, made) => sendPicture(service, made),
  fine,
});

const { SHEET_HEAD, SHEET_END, times, pieces, workbookOf } = files;
const strayCell = (at: string, text: string): string =>
  `<row r="${at.replace(/\D/g, '')}"><c r="${at}" t="inlineStr"><is><t>${text}</t></is></c></row>`;

export const WORKBOOKS: readonly HostileCase[] = [
  table(
    'a stray cell in the last row and column',
    () => workbookOf(SHEET_HEAD + strayCell('XFD1048576', 'x') + SHEET_END),
    /^422 Cell XFD1048576 lies beyond/,
  ),
  table(
    'a blank in the last row and column',
    () => workbookOf(SHEET_HEAD + strayCell('XFD1048576', ' ') + SHEET_END),
    /^303/,
  ),
  table(
    'a million empty rows with borders',
    () => workbookOf(pieces(SHEET_HEAD, times(1_000_000, '<row><c s="1"/><c s="1"/><c s="1"/></row>'), SHEET_END)),
    /^303/,
  ),
  table(
    'a cell of 5 MB',
    () => workbookOf(SHEET_HEAD + strayCell('B3', 'x'.repeat(5_000_000)) + SHEET_END),
    /^422 Cell B3 holds more than/,
  ),
  table(
    'a shared text of 5 MB',
    () =>
      workbookOf(`${SHEET_HEAD}<row r="3"><c r="B3" t="s"><v>0</v></c></row>${SHEET_END}`, {
        strings: `<sst><si><t>${'x'.repeat(5_000_000)}</t></si></sst>`,
      }),
    /^422 Cell B3 holds more than/,
  ),
  table(
    'a million shared texts, one of them used',
    () =>
      workbookOf(`${SHEET_HEAD}<row r="3"><c r="A3" t="s"><v>999999</v></c></row>${SHEET_END}`, {
        strings: pieces('<sst>', times(1_000_000, '<si><t>some text</t></si>'), '</sst>'),
      }),
    /^303/,
  ),
  table(
    'one long text shared by 100 000 cells',
    () =>
      workbookOf(pieces(SHEET_HEAD, times(1_000, `<row>${'<c t="s"><v>0</v></c>'.repeat(100)}</row>`, 10), SHEET_END), {
        strings: `<sst><si><t>${'x'.repeat(4_900)}</t></si></sst>`,
      }),
    /^422 The file holds more than/,
  ),
  table(
    'entities that stand for entities',
    () => workbookOf(`${files.ENTITY_BOMB}${SHEET_HEAD}${strayCell('B3', '&m;')}${SHEET_END}`),
    /^422 That file cannot be read as a spreadsheet/,
  ),
  table(
    'a million elements in one another',
    () => workbookOf(pieces(SHEET_HEAD, times(1_000_000, '<a>'))),
    /^422 That file cannot/,
  ),
  table(
    'a million attributes',
    () =>
      workbookOf(
        pieces(
          SHEET_HEAD,
          '<c ',
          (function* () {
            for (let i = 0; i < 1_000_000; i++) yield `a${i}="" `;
          })(),
          '/>',
          SHEET_END,
        ),
      ),
    /^422 That file cannot/,
  ),
  table(
    'an attribute of 50 MB',
    () => workbookOf(pieces(SHEET_HEAD, '<c r="', times(50_000_000, 'x', 100_000), '"/>', SHEET_END)),
    /^422 That file cannot/,
  ),
  table(
    'a gigabyte of blanks, packed to 1 MB',
    () => workbookOf(pieces(SHEET_HEAD, times(1_000_000_000, ' ', 1_000_000), SHEET_END)),
    /^422 That spreadsheet unpacks to more/,
  ),
  table(
    'sizes that lie',
    async () => files.lyingSizes(await workbookOf(SHEET_HEAD + strayCell('B3', 'x'.repeat(100_000)) + SHEET_END), 20),
    /^422/,
  ),
  table(
    'ten thousand parts and more',
    async () => files.zipOf(Object.fromEntries(Array.from({ length: 10_500 }, (_, i) => [`p${i}`, '']))),
    /^422 That spreadsheet unpacks/,
  ),
];

export const TABLES: readonly HostileCase[] = [
  table('one line of 24 MB', () => Buffer.alloc(24_000_000, 'x'), /^422 Line 1 does not end/, 'a.csv'),
  table('a line of 24 million columns', () => Buffer.alloc(24_000_000, ','), /^422 Line 1 has more columns/, 'a.csv'),
  table(
    'a quotation mark never closed before 24 MB',
    () => Buffer.concat([Buffer.from('code,name\nB4,"'), Buffer.alloc(24_000_000, 'x\n')]),
    /^422 Line 2 does not end/,
    'a.csv',
  ),
  table('24 MB of quotation marks', () => Buffer.alloc(24_000_000, '"'), /^422/, 'a.csv'),
  table('24 MB of empty lines', () => Buffer.alloc(24_000_000, '\n'), /^422 The file has more lines/, 'a.csv'),
  table(
    '24 MB of rows',
    () => Buffer.concat([Buffer.from('code,name\n'), Buffer.alloc(24_000_000, 'B4,Navy of the harbour\n')]),
    /^422 The file has more than 5000 rows/,
    'a.csv',
  ),
  table(
    'a cell of 3 MB',
    () => Buffer.from(`code,name\nB4,${'x'.repeat(3_000_000)}\n`),
    /^422 Cell B2 holds more than/,
    'a.csv',
  ),
];

const flat = (width: number, height: number) => files.plainPicture().resize(width, height, { fit: 'fill' });

export const PICTURES: readonly HostileCase[] = [
  picture('a PNG that says 60 000 × 60 000', () => files.pngThatSays(60_000, 60_000), /^413/),
  picture('a PNG that says 2 147 483 647 × 1', () => files.pngThatSays(2_147_483_647, 1), /^41[35]/),
  picture('a PNG that says 8 000 × 8 000 and ends', () => files.pngThatSays(8_000, 8_000), /^415/),
  picture(
    'a TIFF that says 4 294 967 295 × 4 294 967 295',
    () => files.tiffThatSays(4_294_967_295, 4_294_967_295),
    /^41[35]/,
  ),
  picture('a TIFF that says 8 000 × 9 000 and ends', () => files.tiffThatSays(8_000, 9_000), /^415/),
  picture(
    'a drawing with entities that stand for entities',
    () =>
      Buffer.from(
        `<?xml version="1.0"?>${files.ENTITY_BOMB}<svg xmlns="http://www.w3.org/2000/svg" width="100000" height="100000"><text>&m;</text></svg>`,
      ),
    /^415/,
  ),
  picture('79 megapixels, JPEG', () => files.plainPicture().jpeg().toBuffer(), /^201/),
  picture('79 megapixels, PNG', () => files.plainPicture().png().toBuffer(), /^201/),
  picture(
    '79 megapixels, PNG in seven passes',
    () => files.plainPicture().png({ progressive: true }).toBuffer(),
    /^413 That picture takes more memory/,
  ),
  picture(
    '79 megapixels, AVIF',
    () => files.plainPicture().avif({ effort: 0 }).toBuffer(),
    /^413 That picture takes more memory/,
  ),
  picture('12 megapixels, WebP', () => flat(4_000, 3_000).webp().toBuffer(), /^201/),
];

export const REQUESTS: readonly HostileCase[] = [
  {
    name: 'a recording that says it has 4 GB',
    run: (service) =>
      sendToApi(
        service,
        `/lots/${service.lotId}/voices`,
        formOf(
          { clientId: randomUUID(), at: String(Date.now()) },
          { name: 'voice', content: files.wavThatSays(4_294_967_295), fileName: 'a.wav' },
        ),
      ),
    fine: /^(201|4\d\d)/,
  },
  {
    name: 'JSON of a gigabyte, packed to 1 MB',
    make: () => gzipSync(Buffer.alloc(1_000_000_000, ' ')),
    run: (service, made) =>
      sendToApi(service, '/fibres', new Uint8Array(made), {
        'content-type': 'application/json',
        'content-encoding': 'gzip',
      }),
    fine: /^4(13|15)/,
  },
  {
    name: 'JSON of a list of 900 000 nothings',
    run: (service) =>
      sendToApi(service, '/imports/swatches', `{"name":"x","swatches":[${'0,'.repeat(899_999)}0]}`, {
        'content-type': 'application/json',
      }),
    fine: /^4(13|22)/,
  },
  {
    name: 'JSON of 100 000 names that nobody knows',
    run: (service) =>
      sendToApi(service, '/fibres', `{${Array.from({ length: 100_000 }, (_, i) => `"n${i}":0`).join()}}`, {
        'content-type': 'application/json',
      }),
    fine: /^4(13|22)/,
  },
  {
    name: 'JSON of 900 000 brackets',
    run: (service) =>
      sendToApi(service, '/fibres', `${'['.repeat(900_000)}${']'.repeat(900_000)}`, {
        'content-type': 'application/json',
      }),
    fine: /^400 The JSON goes deeper/,
  },
];

/** Opens a connection, writes a request and takes nothing of the answer. */
async function hanging({ port, cookie }: Service, path: string): Promise<Socket> {
  const socket = connect({ host: '127.0.0.1', port });
  socket.on('error', () => {});
  await new Promise((resolve) => socket.once('connect', resolve));
  socket.pause();
  socket.write(`GET ${path} HTTP/1.1\r\nhost: 127.0.0.1\r\ncookie: ${cookie}\r\n\r\n`);
  return socket;
}

/** So many that hang for a while. */
const hang =
  (count: number, path: (service: Service) => string): HostileCase['run'] =>
  async (service) => {
    const sockets = await Promise.all(Array.from({ length: count }, () => hanging(service, path(service))));
    await pause(5_000);
    for (const socket of sockets) socket.destroy();
    return `${count} hung`;
  };

/** Sends a form of so many bytes in pieces, so slowly that it takes some seconds. */
async function slowUpload({ url, token }: Service, bytes: number): Promise<string> {
  const head = Buffer.from('--edge\r\ncontent-disposition: form-data; name="photo"; filename="a.jpg"\r\n\r\n');
  const body = new ReadableStream<Uint8Array>({
    async start(out) {
      out.enqueue(head);
      for (let sent = 0; sent < bytes; sent += 1_000_000) {
        out.enqueue(new Uint8Array(1_000_000));
        await pause(200);
      }
      out.enqueue(Buffer.from('\r\n--edge--\r\n'));
      out.close();
    },
  });
  const answer = await fetch(`${url}/api/v1/photos`, {
    method: 'POST',
    headers: { authorization: `Bearer ${token}`, 'content-type': 'multipart/form-data; boundary=edge' },
    body,
    duplex: 'half',
  } as RequestInit);
  return `${answer.status}`;
}

export const LOADS: readonly HostileCase[] = [
  {
    name: '200 that hang on the live stream',
    run: hang(200, ({ lotId }) => `/lots/${lotId}/live`),
    fine: /200 hung/,
  },
  {
    name: '100 that take nothing of the export of everything',
    run: hang(100, () => '/settings/export/everything.zip'),
    fine: /100 hung/,
  },
  {
    name: 'ten uploads of 24 MB at once',
    run: async (service) => tally(await Promise.all(Array.from({ length: 10 }, () => slowUpload(service, 24_000_000)))),
    fine: /^(\d+ × (415|503)(, )?)+$/,
  },
  {
    name: 'eight pictures of 79 megapixels at once',
    make: () => files.plainPicture().jpeg({ quality: 60 }).toBuffer(),
    run: async (service, made) => tally(await Promise.all(Array.from({ length: 8 }, () => sendPicture(service, made)))),
    fine: /^(\d+ × (201|503)(, )?)+$/,
  },
  {
    name: 'forty pictures of 12 megapixels at once',
    make: () => flat(4_000, 3_000).jpeg({ quality: 60 }).toBuffer(),
    run: async (service, made) =>
      tally(await Promise.all(Array.from({ length: 40 }, () => sendPicture(service, made)))),
    fine: /× 503/,
  },
  {
    name: 'six exports of everything at once',
    run: async ({ url, cookie }) =>
      tally(
        await Promise.all(
          Array.from({ length: 6 }, async () => {
            const answer = await fetch(`${url}/settings/export/everything.zip`, { headers: { cookie } });
            await answer.arrayBuffer();
            return String(answer.status);
          }),
        ),
      ),
    fine: /^(\d+ × (200|503)(, )?)+$/,
  },
];

const MANIFEST = JSON.stringify({
  format: 'lot-and-shade backup',
  formatVersion: 1,
  madeAt: 0,
  studioName: 'x',
  serviceVersion: '0.1.0',
  migratedTo: 0,
  files: [{ path: 'studio.sqlite', byteSize: 100, sha256: '0'.repeat(64) }],
});

/** An archive whose manifest is whole and whose parts unpack to more than they say, given to the command that restores. */
export const ARCHIVES: readonly HostileCase[] = [
  {
    name: 'a backup with sizes that lie, restored',
    make: async () =>
      files.lyingSizes(
        await files.zipOf({ 'studio.sqlite': times(200_000_000, '0', 1_000_000), 'manifest.json': MANIFEST }),
        100,
      ),
    run: (_, made) => restored(made),
    fine: /^2 restore: studio.sqlite cannot be unpacked/,
  },
  {
    name: 'a backup whose manifest is a gigabyte',
    make: () => files.zipOf({ 'manifest.json': times(1_000_000_000, ' ', 1_000_000) }),
    run: (_, made) => restored(made),
    fine: /^2 .*too large/,
  },
];

async function restored(archive: Buffer): Promise<string> {
  const folder = mkdtempSync(join(tmpdir(), 'lot-and-shade-hostile-'));
  try {
    const file = join(folder, 'backup.zip');
    writeFileSync(file, archive);
    const child = spawn(process.execPath, [compiled('server/commands/restore.ts'), file], {
      cwd: packageRoot,
      env: { ...process.env, DATA_DIR: join(folder, 'data'), LOG_LEVEL: 'fatal' },
      stdio: ['ignore', 'pipe', 'pipe'],
    });
    let said = '';
    for (const stream of [child.stdout, child.stderr])
      stream.on('data', (chunk: Buffer) => {
        said += chunk.toString();
      });
    let memory = 0;
    const watch = setInterval(() => {
      memory = Math.max(memory, memoryMb(child.pid ?? 0));
    }, 20);
    const code = await new Promise((resolve) => child.once('close', resolve));
    clearInterval(watch);
    if (memory > MOST_MEMORY_MB) return `took ${Math.round(memory)} MB`;
    return `${code} ${plainWords(said)}`;
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}
