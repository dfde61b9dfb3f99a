import type { ImportKind } from './schemas.ts';

/** One thing that a row may say. `type` decides how its text is read before the form of the thing reads it. */
export interface Field {
  name: string;
  label: string;
  type: 'text' | 'quantity' | 'day' | 'word';
  required?: boolean;
  /** Heads by which it is recognised, in small letters without signs. */
  heads: readonly string[];
  /** For 'word': what people write → the word of the form. */
  words?: Readonly<Record<string, string>>;
  /** Where nothing is said. */
  otherwise?: string;
  hint?: string;
  /** How the library’s own file writes it, where that is not as it is kept. */
  leaves?: (kept: string | number | null) => string | number | null;
}

const text = (name: string, label: string, heads: string, more: Partial<Field> = {}): Field => ({
  name,
  label,
  type: 'text',
  heads: heads.split('|'),
  ...more,
});
const quantity = (name: string, label: string, heads: string, more: Partial<Field> = {}): Field =>
  text(name, label, heads, { type: 'quantity', ...more });
const day = (name: string, label: string, heads: string, more: Partial<Field> = {}): Field =>
  text(name, label, heads, { type: 'day', ...more });
const must = { required: true } as const;

const DYE_CLASSES: Readonly<Record<string, string>> = {
  reactive: 'reactive',
  'fibre reactive': 'reactive',
  'fiber reactive': 'reactive',
  'cold process reactive': 'reactive',
  acid: 'acid',
  'acid levelling': 'acid',
  'acid leveling': 'acid',
  'acid milling': 'acid',
  'metal complex': 'metalComplex',
  metalcomplex: 'metalComplex',
  premetallised: 'metalComplex',
  premetallized: 'metalComplex',
  '1 2 metal complex': 'metalComplex',
  direct: 'direct',
  basic: 'basic',
  cationic: 'basic',
  disperse: 'disperse',
  vat: 'vat',
  indigo: 'vat',
  natural: 'natural',
};
export const FIBRE_CLASSES: Readonly<Record<string, string>> = {
  cellulose: 'cellulose',
  cellulosic: 'cellulose',
  cotton: 'cellulose',
  linen: 'cellulose',
  flax: 'cellulose',
  hemp: 'cellulose',
  viscose: 'cellulose',
  rayon: 'cellulose',
  lyocell: 'cellulose',
  protein: 'protein',
  wool: 'protein',
  silk: 'protein',
  polyamide: 'polyamide',
  nylon: 'polyamide',
  polyester: 'polyester',
  acetate: 'acetate',
  acrylic: 'acrylic',
  blend: 'blend',
  mixed: 'blend',
};
export const FIBRE_KINDS: Readonly<Record<string, string>> = {
  cloth: 'cloth',
  fabric: 'cloth',
  woven: 'cloth',
  knit: 'cloth',
  yarn: 'yarn',
  hank: 'yarn',
  skein: 'yarn',
  thread: 'yarn',
  roving: 'yarn',
};

const PAIRS = 12;
/** Dye and amount side by side, as many as a formula may have. */
const pairs: readonly Field[] = Array.from({ length: PAIRS }, (_, i) => i + 1).flatMap((n) => [
  text(`dye${n}`, `Dye ${n}`, `dye ${n}|dye${n}|dye code ${n}|colourant ${n}|colorant ${n}`),
  quantity(
    `amount${n}`,
    `Amount of dye ${n}`,
    `amount ${n}|amount${n}|share ${n}|depth ${n}|dye ${n} depth|dye ${n} share|dye ${n} amount|quantity ${n}|dye ${n} percent|percent ${n}|concentration ${n}`,
  ),
]);

/** What a card says besides what was dyed, on its way in and out. */
export const CARD_FIELDS: readonly Field[] = [
  text('cardPlace', 'Where the card is', 'card place|place|binder|page|location|box|shelf'),
  text('rating', 'Rating', 'rating|stars'),
  text('note', 'Note', 'note|notes|remarks|comment|comments'),
];

export const FIELDS: Readonly<Record<ImportKind, readonly Field[]>> = {
  customers: [
    text('name', 'Name', 'name|customer|client|company|customer name', must),
    text('contact', 'Contact', 'contact|e mail|email|mail|phone|telephone|address|contact details'),
    text('note', 'Note', 'note|notes|remarks|comment|comments'),
  ],
  fibres: [
    text('name', 'Name', 'name|fibre|fiber|goods|cloth|yarn|fabric|material|fibre name', must),
    text('class', 'Fibre class', 'class|fibre class|fiber class|fibre type|fiber type', {
      ...must,
      type: 'word',
      words: FIBRE_CLASSES,
    }),
    text('kind', 'Cloth or yarn', 'kind|form|cloth or yarn', { type: 'word', words: FIBRE_KINDS, otherwise: 'cloth' }),
    text('construction', 'Construction', 'construction|weave|structure'),
    quantity(
      'arealMass',
      'Mass per area',
      'areal mass|mass per area|weight per area|gsm|g m2|g m|gram weight|fabric weight',
    ),
    quantity('width', 'Width', 'width'),
    text('countText', 'Count', 'count|yarn count|count text'),
    quantity('putUpMass', 'Mass of a put-up', 'put up mass|hank mass|hank weight|skein weight|put up'),
    quantity('putUpLength', 'Length of a put-up', 'put up length|hank length|skein length|length'),
    quantity('regain', 'Regain', 'regain|moisture regain'),
    quantity('shrinkLength', 'Shrinks lengthwise', 'shrink length|shrinkage length|shrinkage warp'),
    quantity('shrinkWidth', 'Shrinks widthwise', 'shrink width|shrinkage width|shrinkage weft'),
    quantity('uptake', 'Dye needed', 'uptake|dye needed', { otherwise: '100' }),
    quantity('costPerKg', 'Cost per kg', 'cost per kg|price per kg|cost'),
    text('note', 'Note', 'note|notes|remarks|comment|comments'),
  ],
  dyes: [
    text('code', 'Code', 'code|dye code|short code|no|number|id', must),
    text('name', 'Name', 'name|dye|dye name|colour|color', must),
    text('class', 'Dye class', 'class|dye class|type|dye type|category', { ...must, type: 'word', words: DYE_CLASSES }),
    text('ciName', 'C.I. generic name', 'ci name|c i name|ci|c i|colour index|color index|ci generic name'),
    text('colourant', 'Single or mixed', 'colourant|colorant|single colourant|mixed|pure', {
      type: 'word',
      words: {
        single: 'single',
        pure: 'single',
        yes: 'single',
        mixed: 'mixed',
        blend: 'mixed',
        mixture: 'mixed',
        no: 'mixed',
      },
      otherwise: 'single',
    }),
    text('shownHex', 'Colour of its chip', 'shown hex|hex|colour code|color code|rgb|chip'),
    quantity('pale', 'Pale depth', 'pale|pale depth|light|light depth'),
    quantity('medium', 'Medium depth', 'medium|medium depth'),
    quantity('deep', 'Deep depth', 'deep|deep depth|dark|dark depth'),
    text('solutionLifeDays', 'Life of solutions, days', 'solution life days|solution life|shelf life of solution'),
    text('hazardCodes', 'Hazard codes', 'hazard codes|hazards|h statements'),
    text('sdsUrl', 'Safety data sheet', 'sds url|sds|msds|safety data sheet'),
    text('note', 'Note', 'note|notes|remarks|comment|comments'),
  ],
  auxiliaries: [
    text('code', 'Code', 'code|short code|no|number|id', must),
    text('name', 'Name', 'name|auxiliary|chemical|product', must),
    text('form', 'Solid or liquid', 'form|state|solid or liquid', {
      type: 'word',
      words: {
        solid: 'solid',
        powder: 'solid',
        crystals: 'solid',
        granules: 'solid',
        liquid: 'liquid',
        solution: 'liquid',
      },
      otherwise: 'solid',
    }),
    text('hydrate', 'Hydrate', 'hydrate'),
    text('grade', 'Grade', 'grade'),
    quantity('bulkDensity', 'Bulk density, g/L', 'bulk density'),
    quantity('solutionConc', 'Strength kept in solution', 'solution strength|solution conc|solution concentration'),
    text('hazardCodes', 'Hazard codes', 'hazard codes|hazards|h statements'),
    text('sdsUrl', 'Safety data sheet', 'sds url|sds|msds|safety data sheet'),
    text('note', 'Note', 'note|notes|remarks|comment|comments'),
  ],
  stock: [
    text('item', 'What it holds', 'item|dye code|dye|auxiliary|chemical|product|what|content|contents|material', {
      ...must,
      hint: 'Code of the dye or auxiliary, or name of the goods.',
    }),
    text('code', 'Label of the container', 'container|container code|label|code|jar|bottle|lot code'),
    quantity(
      'quantity',
      'Quantity received',
      'quantity|received quantity|received|amount|mass|weight|volume|size',
      must,
    ),
    quantity('price', 'Price paid', 'price|price paid|cost|paid', must),
    quantity('freight', 'Freight', 'freight|shipping|postage'),
    text('supplier', 'Supplier', 'supplier|vendor|bought from|from|shop'),
    text(
      'makerLot',
      'Maker’s lot number',
      'maker lot|makers lot|manufacturer lot|lot|lot no|lot number|batch|batch no|batch number',
    ),
    quantity('strength', 'Strength', 'strength', { otherwise: '100' }),
    day(
      'receivedOn',
      'Received on',
      'received on|received date|date received|date|bought on|purchased|purchase date',
      must,
    ),
    day('openedOn', 'Opened on', 'opened on|opened|date opened'),
    day('bestBeforeOn', 'Best before', 'best before on|best before|use by|expires|expiry|expiry date'),
    quantity('onHand', 'Left now', 'on hand|left|remaining|in stock|stock|balance', {
      hint: 'Empty: all of it.',
    }),
    text('note', 'Note', 'note|notes|remarks|comment|comments'),
  ],
  swatches: [
    text(
      'code',
      'Card number',
      'code|card|card number|card no|swatch|swatch code|swatch no|no|number|id|ref|reference',
    ),
    text('name', 'Name', 'name|shade|colour name|color name|title|swatch name', must),
    text('recipe', 'Recipe', 'recipe|recipe name|formula name', { hint: 'Empty: named by its formula.' }),
    text('recipeRevision', 'Revision of the recipe', 'recipe revision|revision'),
    text('formula', 'Formula in one cell', 'formula|recipe formula|mix|mixture', {
      hint: '“RB 70 %, RY 30 %” with a depth, or “RB 1.4 % + RY 0.6 %”.',
    }),
    text('dyes', 'Dyes in one cell', 'dyes|dye codes|colourants|colorants|dye', { hint: '“RB/RY”' }),
    text('shares', 'Shares in one cell', 'shares|share|split|ratio|proportions|parts', { hint: '“70/30”' }),
    quantity('depth', 'Total depth', 'depth|total depth|dos|depth of shade|owf|owg|percent owf|percent owg|wof', {
      hint: '0 % without dyes: the goods before dyeing, where predictions begin.',
    }),
    quantity('recipeDepth', 'Depth of the recipe', 'recipe depth'),
    text('entryStyle', 'Shares or own depths', 'entry style'),
    ...pairs,
    text('fibre', 'Goods', 'fibre|fiber|goods|cloth|yarn|fabric|material|substrate', must),
    text('fibreClass', 'Fibre class', 'fibre class|fiber class|fibre type|fiber type', {
      type: 'word',
      words: FIBRE_CLASSES,
    }),
    text('fibreKind', 'Cloth or yarn', 'fibre kind|fiber kind|cloth or yarn', { type: 'word', words: FIBRE_KINDS }),
    text('method', 'Method', 'method|process|procedure|technique', must),
    day('dyedOn', 'Dyed on', 'dyed on|date|dyed|date dyed|day'),
    quantity('dryMass', 'Dry mass', 'dry mass|mass|weight|sample mass|sample weight|goods mass|wof g'),
    ...CARD_FIELDS,
    text('madeBy', 'Who made it', 'made by|who|dyer|by'),
    text('colour', 'Colour', 'colour|color|hex|colour code|color code|rgb', { hint: '“#3a6b88” or “52.1 -8 -14”' }),
    quantity('labL', 'L*', 'l|lab l|cie l|l star'),
    quantity('labA', 'a*', 'a|lab a|cie a|a star'),
    quantity('labB', 'b*', 'b|lab b|cie b|b star'),
    text('illuminant', 'Illuminant', 'illuminant'),
    text('observer', 'Observer', 'observer'),
    text('readings', 'All readings', 'readings', { hint: 'As our own export writes them.' }),
    text('spectrum', 'Spectrum in one cell', 'spectrum', {
      hint: 'As our own export writes it; columns R380, R390, … are found by themselves.',
    }),
    text('stockLots', 'Containers used', 'stock lots|containers|dye lots|powder lots', {
      hint: 'Labels, separated by semicolons.',
    }),
    text('archived', 'Archived', 'archived'),
  ],
};

/** A head as it is compared: small letters, no accents, no unit in brackets or at the end, signs as spaces. */
export const headOf = (column: string): string =>
  column
    .normalize('NFD')
    .replace(/\p{M}/gu, '')
    .replace(/([a-z])([A-Z])/g, '$1 $2')
    .toLowerCase()
    .replace(UNIT_OF_HEAD, '')
    .replace(/\d(?=[a-z])|[a-z](?=\d)/g, '$& ')
    .replace(/[^a-z0-9]+/g, ' ')
    .trim();

const UNIT_OF_HEAD = /\s*(?:[([]\s*([^)\]]+?)\s*[)\]]|_(kg|mg|g|oz|lb|ml|l|cm|mm|m|ppm)|\s(%))\s*$/i;
const UNITS = /^(?:kg|mg|g|oz|lb|ml|l|cm|mm|m|in|yd|%|ppm|g\/m²|g\/m2|gsm|oz\/yd²|oz\/yd2)$/i;

/** The unit that a head names, to be put to bare numbers below it. */
export function unitOfHead(column: string): string | null {
  const m = UNIT_OF_HEAD.exec(column);
  const unit = m?.[1] ?? m?.[2] ?? m?.[3] ?? '';
  return UNITS.test(unit) ? unit.toLowerCase() : null;
}

/** Which column is which field, guessed by the heads; each column serves once, exact heads before those that only begin so. */
export function guessColumns(kind: ImportKind, columns: readonly string[]): Record<string, number> {
  const heads = columns.map(headOf);
  const guessed: Record<string, number> = {};
  const used = new Set<number>();
  // "Dye 1" beside "Dye 1 %": the one with a unit is the amount.
  heads.forEach((head, i) => {
    const n = /^dye (\d+)$/.exec(head)?.[1];
    if (n && unitOfHead(columns[i] ?? '') && FIELDS[kind].some((f) => f.name === `amount${n}`))
      heads[i] = `amount ${n}`;
  });
  const own = (field: Field): readonly string[] => [headOf(field.name), ...field.heads];
  for (const fits of [
    (head: string, name: string) => head === name,
    (head: string, name: string) => name.length > 3 && head.startsWith(`${name} `),
  ]) {
    for (const field of FIELDS[kind]) {
      if (guessed[field.name] !== undefined) continue;
      for (const name of own(field)) {
        const at = heads.findIndex((head, i) => !used.has(i) && fits(head, name));
        if (at < 0) continue;
        guessed[field.name] = at;
        used.add(at);
        break;
      }
    }
  }
  return guessed;
}

export interface SpectralColumns {
  startNm: number;
  stepNm: 5 | 10 | 20;
  columns: number[];
}

/** Columns R380, R390, … R780 (or "400 nm", or bare "400") in one even row of at least sixteen. */
export function spectralColumns(columns: readonly string[]): SpectralColumns | null {
  const found = columns
    .map((name, column) => ({
      nm: Number(/^(?:r|refl|reflectance)?[\s_]*(\d{3})(?:\s*nm)?$/i.exec(name)?.[1] ?? 0),
      column,
    }))
    .filter(({ nm }) => nm >= 300 && nm <= 850)
    .sort((x, y) => x.nm - y.nm);
  const [first, second] = found;
  if (!first || !second || found.length < 16) return null;
  const stepNm = second.nm - first.nm;
  if (stepNm !== 5 && stepNm !== 10 && stepNm !== 20) return null;
  if (found.some(({ nm }, i) => nm !== first.nm + i * stepNm)) return null;
  return { startNm: first.nm, stepNm, columns: found.map((f) => f.column) };
}
