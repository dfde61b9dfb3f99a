import { describe, expect, test } from 'vitest';
import { hexOfReading, readingText } from '../../server/readings/display.ts';
import { displayOfSwatches, readingsOf } from '../../server/readings/queries.ts';
import { recordReading, recordReadings, withdrawReading } from '../../server/readings/recordReadings.ts';
import type { ReadingInput } from '../../server/readings/schemas.ts';
import { CHART_24 } from '../reference/chart24.ts';
import { freshStudio } from '../support/app.ts';
import { oneSwatch, smallLibrary } from '../support/library.ts';

const lab = (
  l: number,
  a: number,
  b: number,
  more: Partial<ReadingInput> & { illuminant?: 'D65' | 'D50' | 'A'; observer?: '2' | '10' } = {},
): ReadingInput => {
  const { illuminant = 'D65', observer = '2', ...rest } = more;
  return {
    colour: { l, a, b, illuminant, observer },
    source: 'instrument',
    asTyped: '',
    areaSharePpm: null,
    uncertaintyMilli: null,
    note: '',
    ...rest,
  };
};

describe('a colour as the screen shows it', () => {
  // Makers' chart: Lab D50/2° and the 8-bit sRGB that another program reckons from it.
  test.each(CHART_24.map((p) => [p.name, p] as const))('%s of the chart', (_, patch) => {
    const [l, a, b] = patch.labAfter2014;
    const shown = hexOfReading({ l, a, b, illuminant: 'D50', observer: '2' });
    const inRange = patch.srgb8AfterLab.every((v) => v >= 0 && v <= 255);
    expect(shown.inGamut).toBe(inRange);
    expect(shown.adapted).toBe(true);
    const channels = [1, 3, 5].map((i) => Number.parseInt(shown.hex.slice(i, i + 2), 16));
    patch.srgb8AfterLab.forEach((v, i) => {
      expect(Math.abs((channels[i] ?? -1) - Math.min(255, Math.max(0, v)))).toBeLessThanOrEqual(1);
    });
  });

  test('under the screen’s own white nothing is adapted', () => {
    expect(hexOfReading({ l: 100, a: 0, b: 0, illuminant: 'D65', observer: '2' })).toEqual({
      hex: '#ffffff',
      inGamut: true,
      adapted: false,
    });
  });
});

test('a typed colour code is kept as typed and as CIELAB D65/2°', async () => {
  const studio = await freshStudio();
  const swatch = oneSwatch(studio, smallLibrary(studio));
  const { body, status } = await studio.api.post(`/swatches/${swatch.id}/readings`, {
    readings: [{ hex: '#FF0000', source: 'typed' }],
  });
  expect(status).toBe(201);
  // sRGB red in CIELAB D65/2°, as the published colour calculators give it: 53.24, 80.09, 67.20.
  expect(body.readings[0]).toMatchObject({ illuminant: 'D65', observer: '2', asTyped: '#ff0000', source: 'typed' });
  expect(body.readings[0].l).toBeCloseTo(53.24, 1);
  expect(body.readings[0].a).toBeCloseTo(80.09, 1);
  expect(body.readings[0].b).toBeCloseTo(67.2, 1);
  expect(displayOfSwatches(studio.deps.db, [swatch.id]).get(swatch.id)?.hex).toBe('#ff0000');
});

test('several colours read together are the bands of variegated goods, the largest leads', async () => {
  const studio = await freshStudio();
  const swatch = oneSwatch(studio, smallLibrary(studio));
  const { db } = studio.deps;
  recordReadings(
    db,
    { swatchId: swatch.id },
    [
      lab(80, 0, 60, { areaSharePpm: 250_000 }),
      lab(30, 10, -40, { areaSharePpm: 600_000 }),
      lab(60, 40, 10, { areaSharePpm: 150_000 }),
    ],
    studio.owner,
    studio.clock.now,
  );
  const shown = displayOfSwatches(db, [swatch.id]).get(swatch.id);
  expect(shown?.bands.map((b) => b.share)).toEqual([600_000, 250_000, 150_000]);
  expect(shown?.hex).toBe(shown?.bands[0]?.hex);
});

test('an instrument speaks before what was typed, and the newest reading before the older', async () => {
  const studio = await freshStudio();
  const swatch = oneSwatch(studio, smallLibrary(studio));
  const { db } = studio.deps;
  const show = () => displayOfSwatches(db, [swatch.id]).get(swatch.id)?.hex;
  const subject = { swatchId: swatch.id };
  const first = recordReading(db, { subject, ...lab(100, 0, 0) }, studio.owner, studio.clock.now);
  recordReading(db, { subject, ...lab(0, 0, 0), source: 'typed' }, studio.owner, studio.clock.now + 60_000);
  expect(show()).toBe('#ffffff');
  const second = recordReading(db, { subject, ...lab(0, 0, 0) }, studio.owner, studio.clock.now + 120_000);
  expect(show()).toBe('#000000');
  withdrawReading(db, second.id, studio.clock.now + 180_000);
  expect(show()).toBe('#ffffff');
  withdrawReading(db, first.id, studio.clock.now + 180_000);
  expect(show()).toBe('#000000');
  expect(readingsOf(db, subject)).toHaveLength(3);
});

test('a reading is withdrawn, once, and never changed', async () => {
  const studio = await freshStudio();
  const swatch = oneSwatch(studio, smallLibrary(studio));
  const row = recordReading(
    studio.deps.db,
    { subject: { swatchId: swatch.id }, ...lab(50, 1, 2) },
    studio.owner,
    studio.clock.now,
  );
  const page = await studio.page.post(`/readings/${row.id}/withdrawal`);
  expect(page.status).toBe(303);
  expect(page.headers['location']).toBe(`/swatches/${swatch.id}#readings`);
  const again = await studio.api.post(`/readings/${row.id}/withdrawal`);
  expect(again.status).toBe(409);
  expect(again.body.code).toBe('conflict');
  const { body } = await studio.api.get(`/swatches/${swatch.id}/readings`);
  expect(body.readings).toMatchObject([{ readingId: row.id, l: 50, a: 1, b: 2, withdrawnAt: studio.clock.now }]);
});

test('what cannot be a reading is refused beside its field, and nothing is kept', async () => {
  const studio = await freshStudio();
  const swatch = oneSwatch(studio, smallLibrary(studio));
  const refused = async (readings: unknown[], field: string) => {
    const { status, body } = await studio.api.post(`/swatches/${swatch.id}/readings`, { readings });
    expect(status).toBe(422);
    expect(Object.keys(body.fields)).toContain(field);
  };
  await refused([{ l: 50, a: 0, b: 0, source: 'instrument' }], 'readings.0.illuminant');
  await refused([{ l: 150, a: 0, b: 0, illuminant: 'D65', observer: '2', source: 'typed' }], 'readings.0.l');
  await refused([{ hex: '#12345', source: 'typed' }], 'readings.0.hex');
  await refused([{ hex: '#123456', l: 20, source: 'typed' }], 'readings.0.hex');
  await refused([{ hex: '#123456', source: 'instrument' }], 'readings.0.source');
  await refused([{ hex: '#123456', source: 'predicted' }], 'readings.0.source');
  await refused(
    [
      { hex: '#123456', source: 'typed', areaSharePpm: 600_000 },
      { hex: '#654321', source: 'typed', areaSharePpm: 500_000 },
    ],
    'share.0',
  );
  expect(readingsOf(studio.deps.db, { swatchId: swatch.id })).toEqual([]);
  expect(
    (await studio.api.post('/swatches/999/readings', { readings: [{ hex: '#123456', source: 'typed' }] })).status,
  ).toBe(404);
});

test('the form reads CIELAB with its light and observer, commas and signs as people type them', async () => {
  const studio = await freshStudio();
  const swatch = oneSwatch(studio, smallLibrary(studio));
  const saved = await studio.page.post(`/swatches/${swatch.id}/readings`, {
    'colour.0': 'L 52,1; a −8,5; b 14',
    'share.0': '70',
    'colour.1': '#3a6b88',
    'share.1': '30',
    illuminant: 'D50',
    observer: '10',
    readingSource: 'instrument',
  });
  expect(saved.status).toBe(303);
  const rows = readingsOf(studio.deps.db, { swatchId: swatch.id });
  expect(rows).toMatchObject([
    {
      l: 52.1,
      a: -8.5,
      b: 14,
      illuminant: 'D50',
      observer: '10',
      source: 'instrument',
      areaSharePpm: 700_000,
      asTyped: 'L 52,1; a −8,5; b 14',
    },
    { illuminant: 'D65', observer: '2', source: 'typed', areaSharePpm: 300_000, asTyped: '#3a6b88' },
  ]);
  expect(readingText(rows[0] as (typeof rows)[number])).toBe('L* 52.1  a* −8.5  b* 14.0, D50/10°');

  const refused = await studio.page.post(`/swatches/${swatch.id}/readings`, { 'colour.0': '52 -8', 'share.0': '' });
  expect(refused.status).toBe(422);
  expect(refused.text).toContain('value="52 -8"');
  expect(refused.text).toContain('three numbers');
});
