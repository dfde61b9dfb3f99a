import { createHash } from 'node:crypto';
import { readdirSync, readFileSync, statSync } from 'node:fs';
import { join } from 'node:path';
import sharp from 'sharp';
import supertest from 'supertest';
import { expect, test } from 'vitest';
import { freshStudio, type TestStudio } from '../support/app.ts';

const flat = (width: number, height: number) =>
  sharp({ create: { width, height, channels: 3, background: { r: 120, g: 60, b: 40 } } });

/** A phone's picture: lying on its side (orientation 6) and telling where it was taken. */
const phonePicture = (): Promise<Buffer> =>
  flat(400, 200)
    .withExif({
      IFD0: { Make: 'Phone', Orientation: '6' },
      IFD3: { GPSLatitudeRef: 'N', GPSLatitude: '38/1 42/1 0/1', GPSLongitudeRef: 'W', GPSLongitude: '9/1 8/1 0/1' },
    })
    .withMetadata({ orientation: 6 })
    .jpeg()
    .toBuffer();

const send = (studio: TestStudio, content: Buffer, name = 'photo.jpg') =>
  studio.page.send('post', '/api/v1/photos').attach('photo', content, name);

test('a phone’s picture is kept upright, in two sizes, and tells no place', async () => {
  const studio = await freshStudio();
  const picture = await phonePicture();
  expect((await sharp(picture).metadata()).exif).toBeDefined();
  const { body, status } = await send(studio, picture);
  expect(status).toBe(201);
  expect(body).toMatchObject({ widthPx: 200, heightPx: 400 });

  for (const size of [640, 1600]) {
    const got = await studio.page.get(`/photos/${body.photoId}/${size}`).buffer(true);
    expect(got.status).toBe(200);
    expect(got.headers['content-type']).toBe('image/webp');
    expect(got.headers['x-content-type-options']).toBe('nosniff');
    expect(got.headers['cache-control']).toContain('immutable');
    const meta = await sharp(got.body as Buffer).metadata();
    expect(meta).toMatchObject({ format: 'webp', width: 200, height: 400 });
    expect(meta.exif).toBeUndefined();
    expect(meta.xmp).toBeUndefined();
  }
});

test('the files are named by their content, and no draft is left behind', async () => {
  const studio = await freshStudio();
  const first = await send(studio, await flat(2000, 1000).jpeg().toBuffer());
  const again = await send(studio, await flat(2000, 1000).jpeg().toBuffer());
  expect(again.body.photoId).toBe(first.body.photoId);
  expect(first.body).toMatchObject({ widthPx: 1600, heightPx: 800 });
  const root = join(studio.deps.config.dataDir, 'photos');
  const folders = readdirSync(root);
  expect(folders).toHaveLength(1);
  const names = readdirSync(join(root, folders[0] as string)).sort();
  expect(names.map((n) => n.replace(/^[0-9a-f]{64}/, 'sha'))).toEqual(['sha-1600.webp', 'sha-640.webp']);
  const large = readFileSync(join(root, folders[0] as string, names[0] as string));
  expect(createHash('sha256').update(large).digest('hex')).toBe(names[0]?.slice(0, 64));
  expect(statSync(join(root, folders[0] as string, names[0] as string)).size).toBe(first.body.byteSize);
});

test('what is not a picture is refused and nothing is kept', async () => {
  const studio = await freshStudio();
  const cut = (await flat(900, 900).png().toBuffer()).subarray(0, 200);
  const drawing = Buffer.from('<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"><script>1</script></svg>');
  for (const content of [Buffer.from('not a picture'), drawing, cut, Buffer.alloc(40), Buffer.alloc(0)]) {
    const { status, body } = await send(studio, content);
    expect(status).toBe(415);
    expect(body).toMatchObject({ code: 'notAnImage', fields: { photo: expect.stringContaining('not a picture') } });
  }
  expect(studio.deps.sqlite.prepare('select count(*) as n from photos').get()).toEqual({ n: 0 });
});

test('a picture of too many pixels is refused before it is unpacked', async () => {
  const studio = await freshStudio();
  // One colour packs small: 10 000 × 10 000 px is some hundred kilobytes of PNG and 300 MB unpacked.
  const bomb = await sharp({
    create: { width: 10_000, height: 10_000, channels: 3, background: '#777' },
    limitInputPixels: false,
  })
    .png({ compressionLevel: 9 })
    .toBuffer();
  const { status, body } = await send(studio, bomb, 'bomb.png');
  expect(status).toBe(413);
  expect(body.code).toBe('tooLarge');
});

test('a file over the studio’s limit is refused beside its field', async () => {
  const studio = await freshStudio();
  const { status, body } = await send(studio, Buffer.alloc(studio.deps.config.maxUploadBytes + 1, 1));
  expect(status).toBe(413);
  expect(body).toMatchObject({ code: 'tooLarge', fields: { photo: expect.any(String) } });
});

test('photos are for those signed in; unknown ids and sizes are not here', async () => {
  const studio = await freshStudio();
  const { body } = await send(studio, await flat(50, 50).jpeg().toBuffer());
  expect((await supertest(studio.app.server).get(`/photos/${body.photoId}/640`)).status).toBe(303);
  expect((await studio.page.get('/photos/999/640')).status).toBe(404);
  expect((await studio.page.get(`/photos/${body.photoId}/9999`)).status).toBe(422);
  expect((await studio.api.post('/photos', {})).status).toBe(422);
});
