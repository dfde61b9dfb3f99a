import { createHash } from 'node:crypto';
import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { byteRange } from '../../server/voices/pages/recording.ts';
import { MAX_VOICE_BYTES, soundTypeOf } from '../../server/voices/store.ts';
import { freshStudio, type TestStudio } from '../support/app.ts';
import { silence } from '../support/silence.ts';
import { makeWorld } from '../support/world.ts';

async function ground(): Promise<{ studio: TestStudio; lotId: number }> {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const lot = await studio.api.post('/lots', {
    fibreId: w.linenId,
    methodId: w.methodId,
    goodsText: 'napkins',
    mass: { found: 'weighedDry', massMg: 600_000 },
    colours: [{ revisionId: w.revisionId, depthPpm: 20_000 }],
  });
  return { studio, lotId: (lot.body as { lotId: number }).lotId };
}

const send = (g: { studio: TestStudio; lotId: number }, content: Buffer, more: Record<string, string> = {}) => {
  const test = g.studio.page.send('post', `/lots/${g.lotId}/voices`);
  for (const [name, value] of Object.entries({ clientId: 'voice-note-001', ...more })) test.field(name, value);
  return test.attach('voice', content, { filename: 'note.html', contentType: 'text/html' });
};

test('a voice note is kept by its content, plays in the timeline, and is served as sound and nothing else', async () => {
  const g = await ground();
  const content = silence();
  const kept = await send(g, content, { durationMs: '100', text: 'the red bled' });
  expect(kept.status, kept.text).toBe(303);
  const sha256 = createHash('sha256').update(content).digest('hex');
  const file = join(g.studio.deps.config.dataDir, 'voices', sha256.slice(0, 2), `${sha256}.wav`);
  expect(readFileSync(file).equals(content)).toBe(true);

  const lot = (await g.studio.api.get(`/lots/${g.lotId}`)).body as {
    status: string;
    log: { kind: string; text: string; voiceId: number | null }[];
  };
  const entry = lot.log.find((e) => e.kind === 'voice');
  expect(entry).toMatchObject({ text: 'Voice note: the red bled' });
  expect(lot.status).toBe('onBench');
  const page = (await g.studio.page.get(`/lots/${g.lotId}`)).text;
  expect(page).toContain(`<audio controls preload="none" src="/voices/${entry?.voiceId}"></audio>`);

  // the sender called it a page; its bytes say otherwise
  const played = await g.studio.page.get(`/voices/${entry?.voiceId}`);
  expect(played.status).toBe(200);
  expect(played.headers['content-type']).toBe('audio/wav');
  expect(played.headers['x-content-type-options']).toBe('nosniff');
  expect(played.headers['content-security-policy']).toBe("default-src 'none'; sandbox");
  expect(played.headers['accept-ranges']).toBe('bytes');
  const part = await g.studio.page.get(`/voices/${entry?.voiceId}`).set('range', 'bytes=0-3');
  expect(part.status).toBe(206);
  expect(part.headers['content-range']).toBe(`bytes 0-3/${content.length}`);
  expect((part.body as Buffer).toString('latin1')).toBe('RIFF');
  expect((await g.studio.page.get(`/voices/${entry?.voiceId}`).set('range', 'bytes=99999-')).status).toBe(416);
  expect((await g.studio.page.get(`/lots/${g.lotId}`)).headers['content-security-policy']).toContain(
    "media-src 'self' blob:",
  );
});

test('sent again it is one entry and one file; the same sound in another note is the same file', async () => {
  const g = await ground();
  await send(g, silence());
  await send(g, silence());
  await send(g, silence(), { clientId: 'voice-note-002' });
  const { log } = (await g.studio.api.get(`/lots/${g.lotId}`)).body as { log: { kind: string; voiceId: number }[] };
  const voices = log.filter((e) => e.kind === 'voice');
  expect(voices).toHaveLength(2);
  expect(new Set(voices.map((e) => e.voiceId)).size).toBe(1);
});

test.each([
  ['a page', Buffer.from('<!doctype html><script>alert(1)</script>'), 415],
  ['a picture', Buffer.concat([Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]), Buffer.alloc(40)]), 415],
  ['nothing to speak of', Buffer.from('RIFF'), 415],
  ['more than is kept', Buffer.concat([silence(), Buffer.alloc(MAX_VOICE_BYTES)]), 413],
])('%s is refused and leaves nothing behind', async (_, content, status) => {
  const g = await ground();
  const refused = await send(g, content);
  expect(refused.status).toBe(status);
  expect(existsSync(join(g.studio.deps.config.dataDir, 'voices'))).toBe(false);
  expect((await g.studio.api.get(`/lots/${g.lotId}`)).body.log).toEqual([]);
});

test('a note of an hour, or no file, is refused; without signing in nothing is played', async () => {
  const g = await ground();
  const long = await send(g, silence(), { durationMs: '3600000' });
  expect(long.status).toBe(413);
  expect(long.text).toContain('at most 5 minutes');
  const none = await g.studio.page.send('post', `/lots/${g.lotId}/voices`).field('clientId', 'voice-note-003');
  expect(none.status).toBe(422);
  await send(g, silence());
  const stranger = await g.studio.app.inject({ method: 'GET', url: '/voices/1', headers: { accept: 'text/html' } });
  expect([302, 303, 401]).toContain(stranger.statusCode);
});

test('by the API as well', async () => {
  const g = await ground();
  const sent = await g.studio.app.inject({
    method: 'POST',
    url: `/api/v1/lots/${g.lotId}/voices`,
    headers: {
      authorization: `Bearer ${g.studio.api.token}`,
      'content-type': 'multipart/form-data; boundary=edge',
    },
    payload: Buffer.concat([
      Buffer.from(
        '--edge\r\ncontent-disposition: form-data; name="clientId"\r\n\r\nvoice-by-api-1\r\n--edge\r\ncontent-disposition: form-data; name="voice"; filename="v.wav"\r\ncontent-type: audio/wav\r\n\r\n',
      ),
      silence(),
      Buffer.from('\r\n--edge--\r\n'),
    ]),
  });
  expect(sent.statusCode, sent.body).toBe(201);
  expect(sent.json().lot.log.at(-1)).toMatchObject({ kind: 'voice', text: 'Voice note' });
});

test('kinds are told by their first bytes', () => {
  const after = (bytes: Buffer) => Buffer.concat([bytes, Buffer.alloc(64)]);
  // EBML with DocType webm (RFC 8794, §11.2); the same with DocType matroska is not kept
  const ebml = (docType: string) =>
    after(
      Buffer.concat([
        Buffer.from('1a45dfa39f4286810142f7810142f2810442f381084282', 'hex'),
        Buffer.from([0x80 | docType.length]),
        Buffer.from(docType),
      ]),
    );
  expect(soundTypeOf(ebml('webm'))).toBe('audio/webm');
  expect(soundTypeOf(ebml('matroska'))).toBeUndefined();
  // capture pattern of an Ogg page (RFC 3533, §6)
  expect(soundTypeOf(after(Buffer.from('OggS\0\x02')))).toBe('audio/ogg');
  // file type box (ISO/IEC 14496-12, §4.3)
  expect(soundTypeOf(after(Buffer.concat([Buffer.from([0, 0, 0, 0x20]), Buffer.from('ftypM4A ')])))).toBe('audio/mp4');
  expect(soundTypeOf(silence())).toBe('audio/wav');
  expect(soundTypeOf(after(Buffer.from('RIFF....AVI ')))).toBeUndefined();
});

test.each<[string | undefined, ReturnType<typeof byteRange>]>([
  // the examples of RFC 9110, §14.1.2, for 10 000 bytes
  ['bytes=0-499', { from: 0, to: 499 }],
  ['bytes=500-999', { from: 500, to: 999 }],
  ['bytes=-500', { from: 9500, to: 9999 }],
  ['bytes=9500-', { from: 9500, to: 9999 }],
  ['bytes=9500-20000', { from: 9500, to: 9999 }],
  ['bytes=10000-', 'none'],
  ['bytes=0-0,-1', undefined],
  ['lines=0-5', undefined],
  [undefined, undefined],
])('range %s', (header, range) => {
  expect(byteRange(header, 10_000)).toEqual(range);
});
