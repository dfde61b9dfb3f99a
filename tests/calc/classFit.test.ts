import { describe, expect, test } from 'vitest';
import {
  type DyeClass,
  dyeClasses,
  dyeClassNames,
  type FibreClass,
  fitOf,
  fitWords,
} from '../../server/calc/classFit.ts';
import { dyeOnFibre } from '../reference/dyeOnFibre.ts';

/* A studio that is not warned dyes a lot that washes out, or ruins the goods. */
const FIT = {
  bonds: 'suits',
  bondsIf: 'withCare',
  stains: 'doesNotSuit',
  none: 'doesNotSuit',
  harmful: 'harms',
} as const;
const words = (dyeClass: DyeClass, fibreClass: FibreClass) => fitWords({ dyeClass, fibreClass });

describe('a dye on goods', () => {
  test.each(dyeOnFibre)('$dyeClass on $fibre: $says ($source)', ({ dyeClass, fibreClass, says }) => {
    expect(fitOf({ dyeClass, fibreClass })).toBe(FIT[says]);
    // Nothing is said where it simply bonds; something where it does not or only if.
    expect(words(dyeClass, fibreClass) === null).toBe(says === 'bonds');
  });

  test('that washes out is called out, by its name', () => {
    expect(words('acid', 'cellulose')).toBe(
      'Acid dye does not bond with cellulose goods: expect a stain that washes out.',
    );
    expect(words('metalComplex', 'acetate')).toBe(
      'Metal-complex dye does not bond with acetate goods: expect a stain that washes out. It stains acetate.',
    );
  });

  test('that harms says what does, and which way is open', () => {
    expect(words('reactive', 'protein')).toMatch(/^Fibre-reactive dye on protein: soda makes wool and hair brittle/);
    expect(words('reactive', 'protein')).toContain('acid route');
    expect(words('vat', 'protein')).toMatch(/^Vat dye harms protein\. Lye dissolves wool, hair and silk\./);
  });

  test('that asks for something first says what', () => {
    expect(words('basic', 'cellulose')).toBe(
      'Basic dye on cellulose: it bonds only on a tannin mordant, and holds poorly in light.',
    );
    expect(words('disperse', 'polyester')).toContain('130 °C');
  });

  test('on a blend is never called good for the part that it does not bond with', () => {
    for (const dyeClass of dyeClasses) {
      expect(fitOf({ dyeClass, fibreClass: 'blend' })).toBe('withCare');
      expect(words(dyeClass, 'blend')).toContain(`${dyeClassNames[dyeClass]} dye colours only what it bonds with: `);
    }
    expect(words('reactive', 'blend')).toContain('and soda harms wool, silk, and acetate.');
    expect(words('vat', 'blend')).toContain('and lye harms protein and acetate.');
    expect(words('acid', 'blend')).toBe(
      'On a blend, acid dye colours only what it bonds with: protein and polyamide. The rest stays as it was or is stained.',
    );
  });
});
