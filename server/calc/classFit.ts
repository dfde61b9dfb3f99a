export type FibreClass = 'cellulose' | 'protein' | 'polyamide' | 'polyester' | 'acetate' | 'acrylic' | 'blend';
export const dyeClasses = [
  'reactive',
  'acid',
  'metalComplex',
  'direct',
  'basic',
  'disperse',
  'vat',
  'natural',
] as const;
export type DyeClass = (typeof dyeClasses)[number];
export type Fit = 'suits' | 'withCare' | 'doesNotSuit';

export const dyeClassNames: Readonly<Record<DyeClass, string>> = {
  reactive: 'fibre-reactive',
  acid: 'acid',
  metalComplex: 'metal-complex',
  direct: 'direct',
  basic: 'basic',
  disperse: 'disperse',
  vat: 'vat',
  natural: 'natural',
};

/** Which dye class bonds with which fibre class in a studio. A blend takes each class on its own part only.
 *  Common practice; main fibres of each class also in US EPA, Best Management Practices for Pollution Prevention in the
 *  Textile Industry, 1995, table 6. */
const FIT: Readonly<Record<DyeClass, Readonly<Partial<Record<FibreClass, Fit>>>>> = {
  reactive: { cellulose: 'suits', protein: 'withCare', blend: 'withCare' },
  acid: { protein: 'suits', polyamide: 'suits', blend: 'withCare' },
  metalComplex: { protein: 'suits', polyamide: 'suits', blend: 'withCare' },
  direct: { cellulose: 'suits', protein: 'withCare', blend: 'withCare' },
  basic: { acrylic: 'suits', protein: 'withCare', cellulose: 'withCare', blend: 'withCare' },
  disperse: { polyester: 'suits', acetate: 'suits', polyamide: 'withCare', acrylic: 'withCare', blend: 'withCare' },
  vat: { cellulose: 'suits', protein: 'withCare', polyamide: 'withCare', blend: 'withCare' },
  natural: { protein: 'suits', cellulose: 'withCare', polyamide: 'withCare', blend: 'withCare' },
};

/** How well a class of dye suits a fibre; what is not in the table does not bond. Sources: as FIT. */
export const fitOf = (input: { dyeClass: DyeClass; fibreClass: FibreClass }): Fit =>
  FIT[input.dyeClass][input.fibreClass] ?? 'doesNotSuit';

/** The fit in a sentence for the plan page; null when there is nothing to say. Sources: as FIT. */
export function fitWords(input: { dyeClass: DyeClass; fibreClass: FibreClass }): string | null {
  const fit = fitOf(input);
  const dye = dyeClassNames[input.dyeClass];
  if (fit === 'suits') return null;
  if (fit === 'doesNotSuit') {
    return `${dye.charAt(0).toUpperCase()}${dye.slice(1)} dye does not bond with ${input.fibreClass} goods: expect a stain that washes out.`;
  }
  if (input.fibreClass === 'blend') return `On a blend, ${dye} dye colours only the part that it bonds with.`;
  if (input.dyeClass === 'basic' && input.fibreClass === 'cellulose') return 'Basic dye needs tannined cellulose.';
  if (input.dyeClass === 'natural' && input.fibreClass === 'cellulose')
    return 'Natural dye on cellulose needs tannin and mordant first.';
  return `${dye.charAt(0).toUpperCase()}${dye.slice(1)} dye works on ${input.fibreClass} with a method made for it; swatch first.`;
}
