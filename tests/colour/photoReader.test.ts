import { setTimeout as pause } from 'node:timers/promises';
import sharp from 'sharp';
import { afterAll, describe, expect, test } from 'vitest';
import { CHART_24_SINCE_2014 } from '../../server/calc/colour/cardDefinitions.ts';
import { deltaE2000 } from '../../server/calc/colour/deltaE.ts';
import { type PhotoRequest, readPhoto } from '../../server/photoReadings/photoReader.ts';
import { readingProcess } from '../../server/readApart.ts';
import { CHART_24 } from '../reference/chart24.ts';
import { cornersOff, jpegOf, type LabTriple, render } from '../support/renderedCard.ts';

const GOODS: LabTriple = [55, 30, 25];
const scene = render({
  widthPx: 560,
  heightPx: 720,
  columns: 6,
  rows: 4,
  labs: CHART_24.map((p) => p.labAfter2014),
  stepPx: 60,
  noise: 1.5,
  phone: 1,
  turnDeg: 10,
  goods: [{ x: 0, y: 3.5, width: 2, height: 1.4, lab: GOODS }],
});
const { width, height } = scene.image;
const raw = () => sharp(Buffer.from(scene.image.data), { raw: { width, height, channels: 3 } });
const jpeg = await jpegOf(scene);
const spot = scene.at(0, 3.5);
const request: PhotoRequest = {
  card: CHART_24_SINCE_2014,
  corners: 'find',
  regions: [{ kind: 'spot', ...spot, radiusPx: 18, clusters: 'none' }],
};

// Every test closes its studio; the process that reads stays for the next one.
afterAll(readingProcess.hold());

async function goodsOff(photo: Buffer, asked: PhotoRequest = request): Promise<{ off: number; plusMinus: number }> {
  const { reading } = await readPhoto(photo, asked);
  if (reading.outcome !== 'read') throw new Error(`not read: ${reading.reason}`);
  const [region] = reading.regions;
  const [L, a, b] = GOODS;
  return { off: deltaE2000({ standard: { L, a, b }, sample: region!.lab }), plusMinus: region!.plusMinus };
}

describe('reading a photo', () => {
  test('a JPEG with a card: corners in its own pixels, goods within what is stated', async () => {
    const { widthPx, heightPx, reading } = await readPhoto(jpeg, request);
    expect([widthPx, heightPx]).toEqual([width, height]);
    if (reading.outcome !== 'read') throw new Error(reading.reason);
    expect(cornersOff(reading.corners, scene.corners, 6)).toBeLessThan(0.05);
    const { off, plusMinus } = await goodsOff(jpeg);
    expect(off).toBeLessThan(plusMinus);
  });

  test('the server answers meanwhile', async () => {
    let answered = 0;
    let reading = true;
    const photo = readPhoto(jpeg, request).finally(() => {
      reading = false;
    });
    while (reading) {
      await pause(1);
      answered++;
    }
    await photo;
    // Were the photo read on this thread, the loop would have come round once or twice.
    expect(answered).toBeGreaterThan(5);
  });

  test('PNG with transparency, WebP, and a photo of more pixels than are read', async () => {
    const png = await raw().ensureAlpha(0.9999).png().toBuffer();
    const webp = await raw().webp({ quality: 90 }).toBuffer();
    const large = await raw()
      .resize(width * 6, height * 6)
      .jpeg({ quality: 85 })
      .toBuffer();
    for (const photo of [png, webp]) {
      const { off, plusMinus } = await goodsOff(photo);
      expect(off).toBeLessThan(plusMinus);
    }
    // Corners and regions are told in pixels of the photo as it came: 6 × as large.
    const big = (p: { x: number; y: number }) => ({ x: (p.x + 0.5) * 6 - 0.5, y: (p.y + 0.5) * 6 - 0.5 });
    const asked: PhotoRequest = {
      ...request,
      regions: [{ kind: 'spot', ...big(spot), radiusPx: 100, clusters: 'none' }],
    };
    const { widthPx, reading } = await readPhoto(large, asked);
    expect(widthPx).toBe(width * 6);
    if (reading.outcome !== 'read') throw new Error(reading.reason);
    expect(cornersOff(reading.corners, scene.corners.map(big), 6)).toBeLessThan(0.05);
    const { off, plusMinus } = await goodsOff(large, asked);
    expect(off).toBeLessThan(plusMinus);
  });

  test.each([
    ['squeezed hard', () => raw().jpeg({ quality: 15 })],
    ['two stops too dark', () => raw().linear(0.53, 0).jpeg({ quality: 90 })],
  ])('a photo %s: goods within what is stated', async (_, photo) => {
    const { off, plusMinus } = await goodsOff(await photo().toBuffer());
    expect(off).toBeLessThan(plusMinus);
    expect(plusMinus).toBeLessThan(12);
  });

  test('a photo stored on its side is turned upright first', async () => {
    // Orientation 6: to be shown turned by 90° clockwise. So the stored pixels are turned the other way.
    const aside = await sharp(await raw().rotate(-90).png().toBuffer())
      .jpeg({ quality: 92 })
      .withMetadata({ orientation: 6 })
      .toBuffer();
    expect((await sharp(aside).metadata()).width).toBe(height);
    const { widthPx, heightPx, reading } = await readPhoto(aside, request);
    expect([widthPx, heightPx]).toEqual([width, height]);
    if (reading.outcome !== 'read') throw new Error(reading.reason);
    expect(cornersOff(reading.corners, scene.corners, 6)).toBeLessThan(0.05);
  });

  test('corners given in the photo are used', async () => {
    const { reading } = await readPhoto(jpeg, { ...request, corners: scene.corners });
    expect(reading).toMatchObject({ outcome: 'read', cornersFrom: 'given' });
  });
});

describe('refusals', () => {
  test('what is no picture', async () => {
    await expect(readPhoto(Buffer.from('dye'), request)).rejects.toMatchObject({ code: 'notAnImage' });
    await expect(readPhoto('/no/such/file.jpg', request)).rejects.toMatchObject({ code: 'notAnImage' });
    await expect(readPhoto(jpeg.subarray(0, 4000), request)).rejects.toMatchObject({ code: 'notAnImage' });
    const svg = Buffer.from(
      '<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"><rect width="9" height="9"/></svg>',
    );
    await expect(readPhoto(svg, request)).rejects.toMatchObject({ code: 'notAnImage' });
  });

  test('a picture that would unpack to too much is refused by its header', async () => {
    const long = await sharp({ create: { width: 20_500, height: 4, channels: 3, background: '#888888' } })
      .png()
      .toBuffer();
    await expect(readPhoto(long, request)).rejects.toMatchObject({ code: 'tooLarge' });
  });

  test('impossible regions come back as the same error as without a process between', async () => {
    const outside: PhotoRequest = {
      ...request,
      regions: [{ kind: 'spot', x: 5000, y: 9, radiusPx: 4, clusters: 'none' }],
    };
    await expect(readPhoto(jpeg, outside)).rejects.toMatchObject({
      name: 'CalcError',
      code: 'outOfRange',
      field: 'region',
    });
  });

  test('a photo without a card is an answer, not an error', async () => {
    const plain = await sharp({ create: { width: 400, height: 300, channels: 3, background: '#a08060' } })
      .png()
      .toBuffer();
    const { reading } = await readPhoto(plain, { ...request, regions: [] });
    expect(reading).toEqual({ outcome: 'cornersNeeded', cardId: CHART_24_SINCE_2014.id, reason: 'noGrid' });
  });
});
