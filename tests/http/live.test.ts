import { type ClientRequest, get } from 'node:http';
import type { AddressInfo } from 'node:net';
import { expect, onTestFinished, test } from 'vitest';
import { openSignIn } from '../../server/people/signIn.ts';
import { ask } from '../../server/questions/asking.ts';
import { freshStudio, type TestStudio } from '../support/app.ts';
import { plannedLot } from '../support/benchWorld.ts';
import { makeWorld } from '../support/world.ts';

interface Stream {
  status: number;
  type: string;
  /** Waits for the next event that the stream sends. */
  next: () => Promise<{ event: string; data: string; id: string }>;
  /** Settles when the server ends the stream. */
  /** How often it said that it is there, which a page can hear and a comment of the stream it cannot. */
  beats: () => number;
  ended: Promise<void>;
  request: ClientRequest;
}

/** Listens to a lot's stream over a real socket, as a browser does. */
async function listen(studio: TestStudio, lotId: number): Promise<Stream> {
  if (!studio.app.server.listening) await studio.app.listen({ port: 0, host: '127.0.0.1' });
  const { port } = studio.app.server.address() as AddressInfo;
  const cookie = `studio=${openSignIn(studio.deps, studio.owner.personId, 'test')}`;
  return new Promise((resolve, reject) => {
    const request = get({ host: '127.0.0.1', port, path: `/lots/${lotId}/live`, headers: { cookie } }, (response) => {
      const events: { event: string; data: string; id: string }[] = [];
      const waiting: ((e: { event: string; data: string; id: string }) => void)[] = [];
      let text = '';
      let beats = 0;
      response.setEncoding('utf8').on('data', (chunk: string) => {
        text += chunk;
        const blocks = text.split('\n\n');
        text = blocks.pop() ?? '';
        for (const block of blocks) {
          const fields = Object.fromEntries(block.split('\n').map((l) => [l.split(': ')[0], l.split(': ')[1] ?? '']));
          if (fields['event'] === 'beat') beats += 1;
          if (fields['event'] !== 'entry') continue;
          const event = { event: fields['event'], data: fields['data'] ?? '', id: fields['id'] ?? '' };
          const first = waiting.shift();
          if (first) first(event);
          else events.push(event);
        }
      });
      const ended = new Promise<void>((done) => response.on('close', done));
      resolve({
        status: response.statusCode ?? 0,
        type: response.headers['content-type'] ?? '',
        next: () => {
          const first = events.shift();
          return first ? Promise.resolve(first) : new Promise((done) => waiting.push(done));
        },
        beats: () => beats,
        ended,
        request,
      });
    });
    request.on('error', reject);
    onTestFinished(() => void request.destroy());
  });
}

test('says again and again that it is there, and these are no news', async () => {
  const studio = await freshStudio();
  const stream = await listen(studio, (await plannedLot(studio, makeWorld(studio))).lotId);
  await stream.next();
  await expect.poll(stream.beats).toBeGreaterThan(1);
});

test('an entry made through any door reaches the open bench of its lot, and no other', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const { lotId } = await plannedLot(studio, w);
  const otherId = (await plannedLot(studio, w)).lotId;
  const stream = await listen(studio, lotId);
  const other = await listen(studio, otherId);
  expect([stream.status, stream.type]).toEqual([200, 'text/event-stream; charset=utf-8']);
  // What is newest goes out at once, so that nothing between page and stream is missed.
  expect(await stream.next()).toEqual({ event: 'entry', data: '0', id: '0' });
  expect(await other.next()).toEqual({ event: 'entry', data: '0', id: '0' });

  const note = await studio.api.post(`/lots/${lotId}/log`, {
    kind: 'note',
    text: 'by the API',
    clientId: 'api-note-1',
  });
  expect(note.status, note.text).toBe(201);
  const first = await stream.next();
  await studio.page.part('post', `/lots/${lotId}/log`, { kind: 'note', text: 'by the page', clientId: 'page-note-1' });
  const second = await stream.next();
  expect(Number(second.data)).toBeGreaterThan(Number(first.data));
  const { entryId } = note.body;
  await studio.api.post(`/log/${entryId}/voiding`, { reason: 'wrong lot', clientId: 'api-void-1' });
  const third = await stream.next();
  expect(Number(third.data)).toBeGreaterThan(Number(second.data));
  const bench = await studio.page.get(`/lots/${lotId}/bench`);
  expect(bench.text).toContain(`data-newest="${third.data}"`);

  // The other lot hears its own entry as the first thing.
  await studio.api.post(`/lots/${otherId}/log`, { kind: 'note', text: 'elsewhere', clientId: 'api-note-2' });
  expect(Number((await other.next()).data)).toBeGreaterThan(Number(third.data));
});

test('the answer to a question reaches the open benches, though it is no entry of the log', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const { lotId } = await plannedLot(studio, w);
  const asked = ask(studio.deps.db, {
    kind: 'wayOutParked',
    asks: 'bench',
    lotId,
    words: 'Choose again?',
    askedAt: studio.clock.now,
  });
  const stream = await listen(studio, lotId);
  const hello = await stream.next();
  const left = await studio.api.post(`/lots/${lotId}/questions/${asked.id}/answer`, {
    answer: 'left',
    clientId: 'answer-left-1',
  });
  expect(left.status, left.text).toBeLessThan(300);
  const heard = await stream.next();
  expect(Number(heard.data)).toBe(Number(hello.data) + 1);
  expect((await studio.page.get(`/lots/${lotId}/bench`)).text).toContain(`data-newest="${heard.data}"`);
});

test('a refused or repeated entry wakes nobody', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const { lotId } = await plannedLot(studio, w);
  await studio.page.part('post', `/lots/${lotId}/log`, { kind: 'note', text: 'first', clientId: 'page-note-1' });
  const stream = await listen(studio, lotId);
  const hello = await stream.next();
  await studio.page.part('post', `/lots/${lotId}/log`, { kind: 'note', text: ' ', clientId: 'page-note-2' });
  await studio.page.part('post', `/lots/${lotId}/log`, { kind: 'note', text: 'first', clientId: 'page-note-1' });
  await studio.page.part('post', `/lots/${lotId}/log`, { kind: 'note', text: 'second', clientId: 'page-note-3' });
  // The next that is heard is the third post's: the two before it added nothing to the log.
  const heard = await stream.next();
  expect(Number(heard.data)).toBe(Number(hello.data) + 1);
});

test('the stream asks for a sign-in and a lot, counts a person’s streams, and frees their place', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const { lotId } = await plannedLot(studio, w);
  expect((await studio.page.get('/lots/999/live')).status).toBe(404);
  const streams: Stream[] = [];
  for (let i = 0; i < 12; i++) streams.push(await listen(studio, lotId));
  expect(streams.map((s) => s.status)).toEqual(Array(12).fill(200));
  expect((await listen(studio, lotId)).status).toBe(503);
  const { port } = studio.app.server.address() as AddressInfo;
  const stranger = await fetch(`http://127.0.0.1:${port}/lots/${lotId}/live`, { redirect: 'manual' });
  expect(stranger.status).toBe(303);
  streams[0]?.request.destroy();
  await expect.poll(async () => (await listen(studio, lotId)).status).toBe(200);
});

test('closing the service ends its streams and does not wait for their readers', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const stream = await listen(studio, (await plannedLot(studio, w)).lotId);
  await stream.next();
  await studio.app.close();
  await stream.ended;
});

test('an entry kept on a device goes out under its own person only', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const { lotId } = await plannedLot(studio, w);
  const entry = { kind: 'note', text: 'kept', clientId: 'device-note-1' };
  const another = await studio.page.part('post', `/lots/${lotId}/log`, { ...entry, person: '4711' });
  expect(another.status).toBe(401);
  const own = await studio.page.part('post', `/lots/${lotId}/log`, {
    ...entry,
    person: String(studio.owner.personId),
    at: String(studio.clock.now - 3_600_000),
  });
  expect(own.status, own.text).toBe(200);
  expect(own.text).toContain('kept');
});

test('a note that arrives late belongs to the step that ran when it was written', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const { lotId } = await plannedLot(studio, w);
  const { steps } = (await studio.api.get(`/lots/${lotId}`)).body;
  const began = studio.clock.now;
  for (const [i, kind] of (['stepStart', 'stepEnd'] as const).entries()) {
    studio.clock.now = began + i * 600_000;
    await studio.api.post(`/lots/${lotId}/steps`, { stepId: steps[0].stepId, kind, clientId: `device-step-${i}` });
  }
  await studio.page.part('post', `/lots/${lotId}/log`, {
    kind: 'note',
    text: 'foam',
    clientId: 'device-note-1',
    at: String(began + 300_000),
  });
  const { log } = (await studio.api.get(`/lots/${lotId}`)).body;
  expect(log.find((e: { text: string }) => e.text === 'foam')).toMatchObject({ at: began + 300_000 });
  expect((await studio.page.get(`/lots/${lotId}/bench`)).text).toMatch(/foam\s*<span class="fine">\(Soda soak\)/);
});

test('what another feature’s door changes of a lot reaches its open benches too', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const { lotId } = await plannedLot(studio, w);
  const asked = ask(studio.deps.db, {
    kind: 'lateWeighing',
    asks: 'owner',
    lotId,
    words: 'Was it weighed into this lot?',
    askedAt: studio.clock.now,
  });
  const stream = await listen(studio, lotId);
  const hello = await stream.next();
  const stands = await studio.page.post(`/questions/${asked.id}/answer`, { answer: 'stands', back: `/lots/${lotId}` });
  expect(stands.status, stands.text).toBe(303);
  expect(Number((await stream.next()).data)).toBe(Number(hello.data) + 1);
});
