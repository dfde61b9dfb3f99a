import { describe, expect, test } from 'vitest';
import { type DyeClass, dyeClassNames, type FibreClass, fitOf, fitWords } from '../../server/calc/classFit.ts';

/* Common practice, main fibres of each class by US EPA, Best Management Practices for Pollution Prevention in the Textile Industry,
 * 1995, table 6. A studio that is not warned dyes a lot that washes out. `+` bonds, `~` with care, `.` does not. */
const FIBRES: readonly FibreClass[] = ['cellulose', 'protein', 'polyamide', 'polyester', 'acetate', 'acrylic', 'blend'];
const TABLE: readonly [DyeClass, string, string][] = [
  ['reactive', 'fibre-reactive', '+~....~'],
  ['acid', 'acid', '.++...~'],
  ['metalComplex', 'metal-complex', '.++...~'],
  ['direct', 'direct', '+~....~'],
  ['basic', 'basic', '~~...+~'],
  ['disperse', 'disperse', '..~++~~'],
  ['vat', 'vat', '+~~...~'],
  ['natural', 'natural', '~+~...~'],
];

describe('a dye on goods', () => {
  test.each(TABLE)('%s', (dyeClass, name, signs) => {
    expect(dyeClassNames[dyeClass]).toBe(name);
    const said = { suits: '+', withCare: '~', doesNotSuit: '.' } as const;
    expect(FIBRES.map((fibreClass) => said[fitOf({ dyeClass, fibreClass })]).join('')).toBe(signs);
  });

  const words = (dyeClass: DyeClass, fibreClass: FibreClass) => fitWords({ dyeClass, fibreClass });

  test('that suits needs no word', () => {
    expect(words('reactive', 'cellulose')).toBeNull();
    expect(words('acid', 'polyamide')).toBeNull();
  });
  test('that washes out is called out, by its name', () => {
    expect(words('acid', 'cellulose')).toBe(
      'Acid dye does not bond with cellulose goods: expect a stain that washes out.',
    );
    expect(words('metalComplex', 'acrylic')).toBe(
      'Metal-complex dye does not bond with acrylic goods: expect a stain that washes out.',
    );
  });
  test('that asks for something first says what', () => {
    expect(words('basic', 'cellulose')).toBe('Basic dye needs tannined cellulose.');
    expect(words('natural', 'cellulose')).toBe('Natural dye on cellulose needs tannin and mordant first.');
    expect(words('basic', 'protein')).toBe('Basic dye works on protein with a method made for it; swatch first.');
    expect(words('natural', 'polyamide')).toBe(
      'Natural dye works on polyamide with a method made for it; swatch first.',
    );
    expect(words('reactive', 'protein')).toBe(
      'Fibre-reactive dye works on protein with a method made for it; swatch first.',
    );
    expect(words('reactive', 'blend')).toBe('On a blend, fibre-reactive dye colours only the part that it bonds with.');
  });
});
