import fc from 'fast-check';
import { expect, test } from 'vitest';
import { colourName } from '../../../server/calc/colour/colourName.ts';
import { D50_2, D65_2 } from '../../../server/calc/colour/reading.ts';
import { labFromSrgb, srgbFromHex } from '../../../server/calc/colour/spaces.ts';

const nameOfHex = (hex: string) =>
  colourName({ lab: labFromSrgb({ srgb: srgbFromHex(hex), conditions: D65_2 }), conditions: D65_2 });

// Named colours of CSS Color 4 (W3C): what a browser's table calls them, and a word that our name must hold.
test.each([
  ['red', '#ff0000', /\bred\b/],
  ['maroon', '#800000', /red|maroon|brown/],
  ['saddlebrown', '#8b4513', /brown|orange|red/],
  ['orange', '#ffa500', /orange|yellow/],
  ['tan', '#d2b48c', /tan|sand|peach|khaki/],
  ['yellow', '#ffff00', /yellow/],
  ['olive', '#808000', /olive|ochre/],
  ['green', '#008000', /green/],
  ['teal', '#008080', /teal/],
  ['turquoise', '#40e0d0', /turquoise/],
  ['skyblue', '#87ceeb', /sky blue|turquoise|blue/],
  ['navy', '#000080', /navy|blue|violet/],
  ['indigo', '#4b0082', /violet|purple|plum/],
  ['lavender', '#e6e6fa', /lavender|blue|violet/],
  ['plum', '#dda0dd', /lilac|purple/],
  ['deeppink', '#ff1493', /pink|magenta|rose/],
  ['pink', '#ffc0cb', /pink/],
  ['white', '#ffffff', /^white$/],
  ['silver', '#c0c0c0', /^light grey$/],
  ['dimgray', '#696969', /^mid grey$/],
  ['black', '#000000', /^black$/],
])('%s', (_name, hex, word) => {
  expect(nameOfHex(hex).name).toMatch(word);
});

test('every colour has a name, and it does not hang on the light that the numbers were taken under', () => {
  const n = fc.integer({ min: 0, max: 0xffffff });
  fc.assert(
    fc.property(n, (code) => {
      const srgb = srgbFromHex(code.toString(16).padStart(6, '0'));
      const one = colourName({ lab: labFromSrgb({ srgb, conditions: D65_2 }), conditions: D65_2 });
      expect(one.name.length).toBeGreaterThan(2);
      expect(one.name).not.toMatch(/ {2}|undefined/);
      // A hair of 1e-12 across a border may change the word; the lightness word is enough to show that it was adapted.
      const other = colourName({ lab: labFromSrgb({ srgb, conditions: D50_2 }), conditions: D50_2 });
      expect(other.lightness).toBe(one.lightness);
    }),
  );
});
