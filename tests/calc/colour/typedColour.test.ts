import { describe, expect, test } from 'vitest';
import { CalcError } from '../../../server/calc/calcError.ts';
import { D50_2, D65_2, D65_10 } from '../../../server/calc/colour/reading.ts';
import { shadeCardPlace } from '../../../server/calc/colour/shadeCardOrder.ts';
import { labFromLch } from '../../../server/calc/colour/spaces.ts';
import { typedColour } from '../../../server/calc/colour/typedColour.ts';

describe('a typed colour', () => {
  test.each([
    ['52.1 -8 -14', [52.1, -8, -14]],
    ['52.1, -8, -14', [52.1, -8, -14]],
    ['52.1,-8,-14', [52.1, -8, -14]],
    ['52,1; -8,25; -14', [52.1, -8.25, -14]],
    ['52,1 -8,25 -14', [52.1, -8.25, -14]],
    ['52,1, -8,25, -14', [52.1, -8.25, -14]],
    ['L 52.1 a −8 b +14', [52.1, -8, 14]],
    ['L*=52.1 a*=-8 b*=.5', [52.1, -8, 0.5]],
    ['L* 52.1  a* −8.0  b* −14.2', [52.1, -8, -14.2]],
    ['Lab(52.1 -8 -14)', [52.1, -8, -14]],
    ['lab: 100 0 0', [100, 0, 0]],
  ])('%s', (text, [L, a, b]) => {
    expect(typedColour({ text, conditions: D50_2, field: 'colour' })).toEqual({
      lab: { L, a, b },
      conditions: D50_2,
      hex: null,
    });
  });

  test.each([
    ['LCh 52.1 16 240', [52.1, 16, 240]],
    ['LCh(52,1; 16; 240°)', [52.1, 16, 240]],
    ['L 52.1 C 16 h 240', [52.1, 16, 240]],
    ['L*=52.1, C*=16, h=-120', [52.1, 16, 240]],
    ['cielch: 70 0 0', [70, 0, 0]],
  ])('%s by lightness, chroma and hue', (text, [L = 0, C = 0, hueDeg = 0]) => {
    const { lab, conditions } = typedColour({ text, conditions: D65_10, field: 'colour' });
    expect(conditions).toEqual(D65_10);
    expect(lab.L).toBe(L);
    expect(lab.a).toBeCloseTo(C * Math.cos((hueDeg * Math.PI) / 180), 9);
    expect(lab.b).toBeCloseTo(C * Math.sin((hueDeg * Math.PI) / 180), 9);
  });

  test('a colour code is D65/2°, whatever else is said', () => {
    const white = typedColour({ text: ' #FFF ', conditions: D65_10, field: 'colour' });
    expect(white.hex).toBe('#ffffff');
    expect(white.conditions).toEqual(D65_2);
    expect(white.lab.L).toBeCloseTo(100, 9);
    // sRGB blue in CIELAB D65/2° by the published calculators: 32.30, 79.19, −107.86.
    const { lab } = typedColour({ text: '#0000ff', conditions: D65_2, field: 'colour' });
    expect(lab.L).toBeCloseTo(32.3, 1);
    expect(lab.a).toBeCloseTo(79.19, 1);
    expect(lab.b).toBeCloseTo(-107.86, 1);
  });

  test.each([
    ['', 'unreadable'],
    ['52', 'unreadable'],
    ['52 -8', 'unreadable'],
    ['1 2 3 4', 'unreadable'],
    ['52,1,-8,-14', 'unreadable'],
    ['a b c', 'unreadable'],
    ['1e3 0 0', 'unreadable'],
    ['#12345', 'unreadable'],
    ['#gggggg', 'unreadable'],
    ['teal', 'unreadable'],
    ['-1 0 0', 'outOfRange'],
    ['111 0 0', 'outOfRange'],
    ['50 201 0', 'outOfRange'],
    ['50 0 -201', 'outOfRange'],
    ['LCh 50 -1 20', 'outOfRange'],
    ['LCh 50 201 20', 'outOfRange'],
    ['LCh 50 20 361', 'outOfRange'],
    ['LCh 50 20', 'unreadable'],
  ])('%j is refused: %s', (text, code) => {
    const read = () => typedColour({ text, conditions: D65_2, field: 'colour.3' });
    expect(read).toThrow(CalcError);
    expect(read).toThrow(expect.objectContaining({ code, field: 'colour.3' }));
  });
});

describe('the order of a shade card', () => {
  const place = (L: number, C: number, hueDeg: number) => shadeCardPlace({ lab: labFromLch({ L, C, hueDeg }) });

  test('runs yellow, orange, red, violet, blue, green, and ends with greys', () => {
    const places = [
      place(85, 60, 100),
      place(65, 60, 65),
      place(50, 60, 30),
      place(40, 45, 310),
      place(45, 45, 260),
      place(50, 40, 150),
      place(70, 2, 30),
    ];
    expect([...places].sort((x, y) => x - y)).toEqual(places);
  });

  test('within a hue by lightness, one way and in the next sector back', () => {
    expect(place(80, 40, 105)).toBeLessThan(place(60, 40, 105));
    expect(place(80, 40, 90)).toBeGreaterThan(place(60, 40, 90));
  });

  test('greys run from light to dark, whatever tint they have', () => {
    expect(place(90, 3, 250)).toBeLessThan(place(40, 1, 20));
    expect(place(100, 0, 0)).toBeGreaterThan(place(1, 60, 113));
  });

  test('is a whole number for every colour that can be read', () => {
    for (let hueDeg = 0; hueDeg < 360; hueDeg += 7.3)
      for (const L of [0, 33.3, 100, 110]) expect(Number.isInteger(place(L, 30, hueDeg))).toBe(true);
  });
});
