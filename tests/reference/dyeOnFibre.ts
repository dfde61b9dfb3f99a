import type { DyeClass, FibreClass } from '../../server/calc/classFit.ts';

/** What print says that a class of dye does on a fibre: bonds, bonds only if something is so, stains, does not take, harms. */
export interface DyeOnFibre {
  dyeClass: DyeClass;
  fibreClass: FibreClass;
  fibre: string;
  says: 'bonds' | 'bondsIf' | 'stains' | 'none' | 'harmful';
  source: string;
}

const rows: readonly [DyeClass, FibreClass, string, DyeOnFibre['says'], string][] = [
  ['reactive', 'cellulose', 'cotton', 'bonds', 'immersion sheets of two reactive ranges, 60 and 80 °C'],
  ['reactive', 'cellulose', 'lyocell', 'bonds', 'comparison of viscose and lyocell with reactive dyes'],
  ['reactive', 'protein', 'silk', 'bondsIf', 'craft supplier: soda ash note (half the soda, 4–6 h at most)'],
  [
    'reactive',
    'protein',
    'wool',
    'bondsIf',
    'reactive sheet for wool with vinegar; with soda harmful: craft supplier, soda ash note',
  ],
  ['reactive', 'polyamide', 'nylon', 'bondsIf', 'from memory: by acid on some types, with soda a weak stain'],
  ['reactive', 'polyester', 'polyester', 'none', 'adviser on synthetic fibres: washes out'],
  ['reactive', 'acetate', 'acetate', 'harmful', 'from memory: alkali saponifies acetate'],
  ['reactive', 'acrylic', 'acrylic', 'none', 'from memory'],
  ['acid', 'cellulose', 'linen', 'none', 'leaflet: may tint, rinses out'],
  ['acid', 'protein', 'wool', 'bonds', 'two wool sheets, levelling acid'],
  ['acid', 'protein', 'silk', 'bonds', 'silk sheet: acetic only, 40 to 85 °C'],
  ['acid', 'polyamide', 'nylon', 'bonds', 'nylon sheet: acetic 1–3 %, pH 4–6'],
  ['acid', 'polyester', 'polyester', 'none', 'adviser on synthetic fibres'],
  ['metalComplex', 'cellulose', 'hemp', 'none', 'leaflet: may tint, rinses out'],
  ['metalComplex', 'protein', 'alpaca', 'bonds', 'wool sheet, 1:2 metal complex'],
  ['metalComplex', 'polyamide', 'nylon', 'bonds', 'nylon sheet, 1:2: pH 6–6.5'],
  ['metalComplex', 'acetate', 'acetate', 'stains', 'from memory'],
  ['direct', 'cellulose', 'viscose', 'bonds', 'direct sheets: salt 5–20 %, 80–100 °C'],
  ['direct', 'protein', 'silk', 'bondsIf', 'common practice: hot, moderate fastness'],
  ['direct', 'polyamide', 'nylon', 'stains', 'from memory'],
  ['direct', 'acrylic', 'acrylic', 'none', 'from memory'],
  ['basic', 'cellulose', 'cotton', 'bondsIf', 'only on a tannin mordant'],
  ['basic', 'protein', 'wool', 'bonds', 'acetic, bright, poor light'],
  ['basic', 'polyamide', 'nylon', 'bondsIf', 'basic-dyeable type only'],
  ['basic', 'polyester', 'polyester', 'bondsIf', 'US EPA, 1995: cationic-dyeable type only'],
  ['basic', 'acetate', 'acetate', 'stains', 'from memory'],
  ['basic', 'acrylic', 'acrylic', 'bonds', 'US EPA, 1995, table 6'],
  ['disperse', 'cellulose', 'cotton', 'none', 'from memory: may tint'],
  ['disperse', 'protein', 'wool', 'stains', 'from memory: loose, poor wash'],
  ['disperse', 'polyamide', 'nylon', 'bonds', 'up to 100 °C, no carrier'],
  ['disperse', 'polyester', 'polyester', 'bondsIf', 'about 130 °C under pressure, or boil with carrier'],
  ['disperse', 'acetate', 'acetate', 'bondsIf', 'about 71–82 °C, no alkali'],
  ['disperse', 'acrylic', 'acrylic', 'bondsIf', 'pale only'],
  ['vat', 'cellulose', 'ramie', 'bonds', 'lye and reducer, air oxidation'],
  ['vat', 'protein', 'wool', 'harmful', 'lye dissolves protein'],
  ['vat', 'protein', 'silk', 'harmful', 'lye dissolves protein'],
  ['vat', 'polyamide', 'nylon', 'bondsIf', 'from memory: some dyes'],
  ['vat', 'polyester', 'polyester', 'none', 'from memory'],
  ['vat', 'acetate', 'acetate', 'harmful', 'from memory: saponified'],
  ['natural', 'cellulose', 'cotton', 'bondsIf', 'scoured, tannin 8 % then alum or aluminium acetate'],
  ['natural', 'protein', 'wool', 'bondsIf', 'alum 6–15 %, 80–90 °C'],
  ['natural', 'protein', 'silk', 'bondsIf', 'alum, warm, to 24 h'],
  ['natural', 'polyamide', 'nylon', 'bondsIf', 'from memory: alum; varies'],
  ['natural', 'acrylic', 'acrylic', 'none', 'mordant sheet'],
];

export const dyeOnFibre: readonly DyeOnFibre[] = rows.map(([dyeClass, fibreClass, fibre, says, source]) => ({
  dyeClass,
  fibreClass,
  fibre,
  says,
  source,
}));
