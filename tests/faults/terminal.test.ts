import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { existsSync, mkdtempSync, openSync, rmSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { describe, expect, onTestFinished, test } from 'vitest';
import { readConfig } from '../../server/config.ts';
import { compiled } from '../support/compiled.ts';

async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1');
  await once(server, 'listening');
  const { port } = server.address() as { port: number };
  server.close();
  await once(server, 'close');
  return port;
}

/** The service as a process that tells everything, once it answers. */
async function talking(stdio: number | 'pipe'): Promise<{ child: ChildProcess; url: string }> {
  const dataDir = mkdtempSync(join(tmpdir(), 'lot-and-shade-'));
  const port = await freePort();
  const child = spawn(process.execPath, [compiled('server/main.ts')], {
    cwd: readConfig({}).packageRoot,
    env: { ...process.env, PORT: String(port), HOST: '127.0.0.1', DATA_DIR: dataDir, LOG_LEVEL: 'debug' },
    stdio: ['ignore', stdio, stdio],
  });
  onTestFinished(() => {
    child.kill('SIGKILL');
    rmSync(dataDir, { recursive: true, force: true });
  });
  const url = `http://127.0.0.1:${port}`;
  for (;;) {
    if (child.exitCode !== null) throw new Error(`The service ended with ${child.exitCode}.`);
    if (await asked(url)) return { child, url };
    await pause(100);
  }
}

/** Whether the service answers, in the time that a busy machine takes, to what it tells of in its log. */
const asked = (url: string): Promise<boolean> =>
  fetch(`${url}/api/v1/fibres`, { signal: AbortSignal.timeout(30_000) }).then(
    async (answer) => (await answer.text()) !== '',
    () => false,
  );

async function demandGoodBye(child: ChildProcess): Promise<void> {
  const ended = once(child, 'exit');
  child.kill('SIGTERM');
  expect(await ended).toEqual([0, null]);
}

describe('what the terminal cannot take', () => {
  test.skipIf(!existsSync('/dev/full'))(
    'a full disk behind it: lines are lost, the service answers and ends when told',
    async () => {
      const { child, url } = await talking(openSync('/dev/full', 'w'));
      for (let i = 0; i < 50; i++) expect(await asked(url)).toBe(true);
      await demandGoodBye(child);
    },
  );

  test('a pipe that nobody reads: the service answers, and says later how much was lost', async () => {
    const { child, url } = await talking('pipe');
    // A line or two of the log for each: more than the pipe and what waits before it hold together.
    for (let i = 0; i < 3000; i++) expect(await asked(url)).toBe(true);
    let told = '';
    child.stdout?.on('data', (chunk: Buffer) => {
      told += chunk.toString();
    });
    for (let i = 0; i < 200 && !/could not be written/.test(told); i++) {
      await asked(url);
      await pause(20);
    }
    expect(told).toMatch(/\[\d+ lines of the log could not be written\]/);
    await demandGoodBye(child);
  });

  test('a pipe whose other end went away', async () => {
    const { child, url } = await talking('pipe');
    child.stdout?.destroy();
    child.stderr?.destroy();
    for (let i = 0; i < 50; i++) expect(await asked(url)).toBe(true);
    await demandGoodBye(child);
  });
});
