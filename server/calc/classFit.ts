/** Kinds of fibre that a piece of goods or a part of a blend may be of. */
const fibreParts = ['cellulose', 'protein', 'polyamide', 'polyester', 'acetate', 'acrylic'] as const;
type FibrePart = (typeof fibreParts)[number];
export type FibreClass = FibrePart | 'blend';
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
/** `harms`: the goods suffer from what this dye needs. */
export type Fit = 'suits' | 'withCare' | 'doesNotSuit' | 'harms';

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

interface OnFibre {
  fit: Fit;
  /** What must be so, or what happens, as a dyer would say it. */
  because: string;
}

const suits: OnFibre = { fit: 'suits', because: '' };
const withCare = (because: string): OnFibre => ({ fit: 'withCare', because });
const stains = (because: string): OnFibre => ({ fit: 'doesNotSuit', because });
const harms = (because: string): OnFibre => ({ fit: 'harms', because });

/** What each dye class does on each fibre in a studio; where nothing is said it does not bond and washes out.
 *  Sources: US EPA, Best Management Practices for Pollution Prevention in the Textile Industry, 1995, table 6; Basic Principles of
 *  Textile Coloration, pp. 286, 304; P. Burch, pburch.net, on types of dyes, acetate and synthetic fibres; makers' sheets; row by row
 *  in tests/reference/dyeOnFibre.ts, which says what is from memory. */
const ON_FIBRE: Readonly<Record<DyeClass, Readonly<Partial<Record<FibrePart, OnFibre>>>>> = {
  reactive: {
    cellulose: suits,
    protein: withCare(
      'Soda makes wool and hair brittle and takes the lustre of silk: take the acid route, with vinegar or citric acid and heat. Silk bears half the soda for 4 to 6 h at most.',
    ),
    polyamide: withCare('Some types take it by the acid route; with soda it is a weak, uneven stain. Swatch first.'),
    acetate: harms('Soda eats acetate.'),
  },
  acid: { protein: suits, polyamide: suits },
  metalComplex: { protein: suits, polyamide: suits, acetate: stains('It stains acetate.') },
  direct: {
    cellulose: suits,
    protein: withCare('It bonds with silk, hot, and holds moderately; wool and hair it only stains, near the boil.'),
    polyamide: stains('Hot it stains nylon.'),
  },
  basic: {
    acrylic: suits,
    protein: suits,
    cellulose: withCare('It bonds only on a tannin mordant, and holds poorly in light.'),
    polyamide: withCare('Only types made for basic dye take it.'),
    polyester: withCare('Only types made for basic dye take it.'),
    acetate: stains('It stains acetate.'),
  },
  disperse: {
    polyamide: suits,
    polyester: withCare(
      'It asks for about 130 °C under pressure, or for the boil with a carrier, and then goes to medium depths.',
    ),
    acetate: withCare('About 71 to 82 °C, and no alkali.'),
    acrylic: withCare('Pale depths only.'),
    protein: stains('It stains wool and silk, loosely.'),
  },
  vat: {
    cellulose: suits,
    protein: harms(
      'Lye dissolves wool, hair and silk. Only indigo in a vat of mild alkali will do: half the soda, warm, an acid rinse after.',
    ),
    polyamide: withCare('Some dyes only, and paler.'),
    acetate: harms('Lye eats acetate.'),
  },
  natural: {
    protein: withCare('It needs a mordant: alum, 6 to 15 % at 80 to 90 °C on wool, warm on silk.'),
    cellulose: withCare('It needs scouring, tannin and a mordant first.'),
    polyamide: withCare('It needs a mordant, and varies.'),
  },
};

/** How well a class of dye suits a fibre. On a blend it is the best of what it does on any part. Sources: as ON_FIBRE. */
export const fitOf = ({ dyeClass, fibreClass }: { dyeClass: DyeClass; fibreClass: FibreClass }): Fit =>
  fibreClass === 'blend' ? 'withCare' : (ON_FIBRE[dyeClass][fibreClass]?.fit ?? 'doesNotSuit');

/** What a dye of this class does to a blend, by parts. */
function blendWords(dyeClass: DyeClass): string {
  const parts = (wanted: (fit: Fit) => boolean): string[] =>
    fibreParts.filter((part) => wanted(ON_FIBRE[dyeClass][part]?.fit ?? 'doesNotSuit'));
  const list = new Intl.ListFormat('en');
  const bonds = list.format(parts((fit) => fit === 'suits' || fit === 'withCare'));
  const harmed = dyeClass === 'reactive' ? ['wool', 'silk', 'acetate'] : parts((fit) => fit === 'harms');
  const alkali = dyeClass === 'vat' ? 'lye' : 'soda';
  return `On a blend, ${dyeClassNames[dyeClass]} dye colours only what it bonds with: ${bonds}. The rest stays as it was or is stained${
    harmed.length > 0 ? `, and ${alkali} harms ${list.format(harmed)}` : ''
  }.`;
}

/** What somebody should know before this dye goes on these goods; null when there is nothing to say. Sources: as ON_FIBRE. */
export function fitWords({ dyeClass, fibreClass }: { dyeClass: DyeClass; fibreClass: FibreClass }): string | null {
  if (fibreClass === 'blend') return blendWords(dyeClass);
  const { fit, because } = ON_FIBRE[dyeClass][fibreClass] ?? stains('');
  if (fit === 'suits') return null;
  const name = dyeClassNames[dyeClass];
  const dye = `${name.charAt(0).toUpperCase()}${name.slice(1)} dye`;
  if (fit === 'harms') return `${dye} harms ${fibreClass}. ${because}`;
  if (fit === 'withCare') return `${dye} on ${fibreClass}: ${because.charAt(0).toLowerCase()}${because.slice(1)}`;
  return `${dye} does not bond with ${fibreClass} goods: expect a stain that washes out.${because && ` ${because}`}`;
}
