import { CalcError } from '../calc/calcError.ts';
import { D65_10, type Illuminant } from '../calc/colour/reading.ts';
import { labFromSpectrum, type Spectrum } from '../calc/colour/spectra.ts';
import { typedColour } from '../calc/colour/typedColour.ts';
import { sharesPpm } from '../calc/dyeMass.ts';
import { massMgOf, pctPpmOf, sharePartsOf } from '../calc/quantity.ts';
import { asRefusal, type FieldErrors, invalid } from '../errors.ts';
import { type ReadingInput, SpectrumBody } from '../readings/schemas.ts';
import { type Card, cardOf, EMPTY_CARD } from '../swatches/schemas.ts';
import { withPoint } from './cells.ts';
import type { SpectralColumns } from './fields.ts';
import { parsed } from './parsed.ts';
import {
  type ChoicesInput,
  DepthWords,
  type DepthWordsRead,
  type ImportedSwatchInput,
  OwnReadings,
  SwatchWords,
  UndyedWords,
} from './schemas.ts';

type Words = Readonly<Record<string, string>>;

/** A reading with the instant at which it was made; null is the instant of the import. */
interface BroughtReading {
  input: ReadingInput;
  readAt: number | null;
}

/** A swatch as either door brings it; without components it is a sample of the goods before dyeing. */
export interface SwatchLine extends Card {
  code: string | null;
  name: string;
  recipe: string | null;
  recipeRevision: number | null;
  entryStyle: 'split' | 'ownDepths';
  /** Shares (split) or depths (ownDepths), ppm. */
  components: { dyeCode: string; ppm: number }[];
  /** Depth of the swatch and of the recipe's revision. */
  depthPpm: number;
  recipeDepthPpm: number;
  fibre: string;
  fibreClass: string | null;
  fibreKind: 'cloth' | 'yarn';
  method: string;
  dyedOn: string;
  dryMassMg: number | null;
  madeBy: string | null;
  stockLotCodes: string[];
  readings: BroughtReading[];
  spectrum: Spectrum | null;
  archived: boolean;
}

/** Reads one row of a file. Throws with a message by field for everything that cannot be read. */
export function swatchLineOf(words: Words, choices: ChoicesInput, context: { spectrum: Spectrum | null }): SwatchLine {
  const errors: FieldErrors = {};
  const tryTo = <T>(read: () => T, otherwise: T): T => {
    try {
      return read();
    } catch (error) {
      const refusal = asRefusal(error);
      if (!refusal) throw error;
      // The first word on a field stands: what follows from it says less.
      for (const [name, words_] of Object.entries(refusal.fields)) errors[name] ??= words_;
      return otherwise;
    }
  };
  const undyed = tryTo(() => isUndyed(words, choices), false);
  if (undyed) {
    const goods = tryTo(() => parsed(UndyedWords, words), null);
    const curve = tryTo(() => spectrumInOneCell(words) ?? context.spectrum, null);
    const colours = tryTo(() => readingsOf(words, choices, curve), []);
    if (Object.keys(errors).length > 0 || !goods) throw invalid(errors);
    return { ...UNDYED, ...goods, ...goodsNamed(words), readings: colours, spectrum: curve };
  }
  const said = tryTo(() => parsed(SwatchWords, words), null);
  // A name that is missing is no reason to be silent about the formula; a depth that cannot be read is.
  const depths = DepthWords.safeParse(words);
  const formula = depths.success ? tryTo(() => formulaOf(words, choices, depths.data), null) : null;
  const spectrum = tryTo(() => spectrumInOneCell(words) ?? context.spectrum, null);
  const readings = tryTo(() => readingsOf(words, choices, spectrum), []);
  const dyedOn = words['dyedOn'] || choices.defaultDay;
  if (!dyedOn) errors['dyedOn'] = 'The day it was dyed, or say below which day to take for rows without one.';
  if (Object.keys(errors).length > 0 || !said || !formula) throw invalid(errors);
  return {
    code: said.code || null,
    name: said.name,
    recipe: said.recipe || null,
    recipeRevision: said.recipeRevision ?? null,
    ...formula,
    fibre: said.fibre,
    ...goodsNamed(words),
    method: said.method,
    dyedOn: dyedOn ?? '',
    dryMassMg: said.dryMass,
    ...cardOf(said),
    stockLotCodes: (words['stockLots'] ?? '').split(/\s*[;|]\s*/).filter(Boolean),
    readings,
    spectrum,
    archived: /^(yes|true|1)$/i.test(words['archived'] ?? ''),
  };
}

const goodsNamed = (words: Words): Pick<SwatchLine, 'fibreClass' | 'fibreKind' | 'madeBy'> => ({
  fibreClass: words['fibreClass'] ?? null,
  fibreKind: words['fibreKind'] === 'yarn' ? 'yarn' : 'cloth',
  madeBy: words['madeBy'] ?? null,
});

const NOTHING = /^0+([.,]0+)?\s*%?$/;

/** A row without dyes that says so: a depth of 0, amounts that are all 0, or “undyed” for a formula. */
function isUndyed(words: Words, choices: ChoicesInput): boolean {
  const formula = words['formula'] ?? '';
  const says = /^(undyed|no dyes?|none)$/i.test(formula);
  if (formula !== '' && !says) return false;
  const amounts = Array.from({ length: 12 }, (_, i) => words[`amount${i + 1}`] ?? '').filter(Boolean);
  const depth = words['depth'] ?? '';
  if (!says && !NOTHING.test(depth) && (depth !== '' || amounts.length === 0 || words['dyes'])) return false;
  return amounts.every((text) => NOTHING.test(text)) && (says || amountsOf(words, choices).every((a) => a.text === ''));
}

/** What a sample of undyed goods has nothing of. */
const UNDYED: Omit<SwatchLine, 'fibre' | 'fibreClass' | 'fibreKind' | 'madeBy' | 'readings' | 'spectrum'> = {
  code: null,
  name: '',
  recipe: null,
  recipeRevision: null,
  entryStyle: 'split',
  components: [],
  depthPpm: 0,
  recipeDepthPpm: 0,
  method: '',
  dyedOn: '',
  dryMassMg: null,
  ...EMPTY_CARD,
  stockLotCodes: [],
  archived: false,
};

type Formula = Pick<SwatchLine, 'entryStyle' | 'components' | 'depthPpm' | 'recipeDepthPpm'>;

interface Amount {
  dyeCode: string;
  field: string;
  /** As typed; '' when nothing is said. */
  text: string;
}

/** The formula of a row: dye and amount in columns of their own, or lists in one cell each, or all in one cell. Amounts are
 *  shares when they add to 100 % beside a depth, own depths when they add to the depth or no depth is said. */
function formulaOf(words: Words, choices: ChoicesInput, said: DepthWordsRead): Formula {
  const amounts = amountsOf(words, choices);
  if (amounts.length === 0) throw invalid({ formula: 'Which dyes, and how much of each?' });
  if (amounts.length > 12) throw invalid({ formula: 'At most twelve dyes.' });
  const depthPpm = said.depth;
  const stated = said.recipeDepth ?? depthPpm;
  const listed = words['shares'];
  if (listed && amounts.every((a) => a.text === '')) {
    const parts = asField('shares', () => sharePartsOf({ text: withPoint(listed, choices.decimal), field: 'shares' }));
    if (parts.length !== amounts.length) {
      throw invalid({
        shares: `${parts.length} ${parts.length === 1 ? 'share' : 'shares'} for ${amounts.length} dyes.`,
      });
    }
    return split(amounts, parts, depthPpm, stated);
  }
  const [only] = amounts;
  if (only && amounts.length === 1 && only.text === '') return split(amounts, [1], depthPpm, stated);
  const ppm = amounts.map((a) => amountPpm(a, choices, said.dryMass));
  const sum = ppm.reduce((total, p) => total + p, 0);
  // Printed tables round: half of the last usual digit a dye.
  const near = (target: number): boolean => Math.abs(sum - target) <= 500 * amounts.length;
  const style = said.entryStyle || null;
  if (style === 'split' || (style === null && stated !== null && near(1_000_000) && !near(stated))) {
    if (!near(1_000_000)) throw invalid({ formula: `The shares add to ${sum / 10_000} %, not to 100 %.` });
    return split(amounts, ppm, depthPpm, stated);
  }
  if (stated !== null && !near(stated)) {
    throw invalid({
      formula: `The amounts add to ${sum / 10_000} %: neither to 100 % nor to the depth of ${stated / 10_000} %.`,
    });
  }
  if (stated === null && amounts.length > 1 && near(1_000_000)) {
    throw invalid({ depth: 'The amounts are shares of 100 %: how deep was it dyed?' });
  }
  return {
    entryStyle: 'ownDepths',
    components: amounts.map((a, i) => ({ dyeCode: a.dyeCode, ppm: ppm[i] ?? 0 })),
    depthPpm: depthPpm ?? sum,
    recipeDepthPpm: sum,
  };
}

function split(
  amounts: readonly Amount[],
  parts: readonly number[],
  depthPpm: number | null,
  recipeDepthPpm: number | null,
): Formula {
  if (depthPpm === null) throw invalid({ depth: 'How deep was it dyed, % of the goods?' });
  const shares = sharesPpm({ parts });
  return {
    entryStyle: 'split',
    components: amounts.map((a, i) => ({ dyeCode: a.dyeCode, ppm: shares[i] ?? 0 })),
    depthPpm,
    recipeDepthPpm: recipeDepthPpm ?? depthPpm,
  };
}

function amountsOf(words: Words, choices: ChoicesInput): Amount[] {
  const paired: Amount[] = [];
  for (let n = 1; n <= 12; n++) {
    const [dyeCode, text] = [words[`dye${n}`], words[`amount${n}`]];
    if (dyeCode) paired.push({ dyeCode, field: `amount${n}`, text: text ?? '' });
    // A table with a column a dye has zeros where a dye is not used.
    else if (text && !NOTHING.test(text)) throw invalid({ [`dye${n}`]: `${text} of which dye?` });
  }
  const used = paired.filter((p) => !NOTHING.test(p.text));
  if (used.length > 0) {
    const silent = used.find((p) => p.text === '');
    if (silent && used.length > 1) throw invalid({ [silent.field]: `How much of ${silent.dyeCode}?` });
    return used;
  }
  if (words['dyes']) {
    return words['dyes']
      .split(/\s*[/+;,|&]\s*|\s{2,}/)
      .filter(Boolean)
      .map((dyeCode) => ({ dyeCode, field: 'dyes', text: '' }));
  }
  return words['formula'] ? formulaInOneCell(words['formula'], choices) : [];
}

const AMOUNT = String.raw`\d+(?:\.\d+)?\s*(?:%|g|mg)?(?:\s*ow[gf])?`;
const CODE_FIRST = new RegExp(String.raw`^(.*?[^\s:=])[\s:=]+(${AMOUNT})$`, 'i');
const AMOUNT_FIRST = new RegExp(String.raw`^(${AMOUNT})\s+(?:of\s+)?(\S.*)$`, 'i');

/** "RB 70 %, RY 30 %", "70% RB + 30% RY", "RB: 1,4 % / RY: 0,6 %", a line each. */
function formulaInOneCell(text: string, choices: ChoicesInput): Amount[] {
  const pointed = choices.decimal === 'point' ? withPoint(text, 'point') : text.replace(/(\d),(\d)/g, '$1.$2');
  return pointed
    .split(/\s*(?:[,;+/&\n]|\band\b)\s*/i)
    .filter(Boolean)
    .map((part) => {
      const [, code, amount] = CODE_FIRST.exec(part) ?? (([, a, c]) => [part, c, a])(AMOUNT_FIRST.exec(part) ?? []);
      return { dyeCode: (code ?? part).trim(), field: 'formula', text: (amount ?? '').trim() };
    });
}

/** A percentage, a bare number (which counts as one), or a mass on the dry mass of the row. */
function amountPpm(amount: Amount, choices: ChoicesInput, dryMassMg: number | null): number {
  const text = withPoint(amount.text, choices.decimal);
  if (text === '') throw invalid({ [amount.field]: `How much of ${amount.dyeCode}?` });
  if (/\d\s*(?:g|mg|kg|oz|lb)$/i.test(text)) {
    const massMg = asField(amount.field, () => massMgOf({ text, field: amount.field }));
    if (dryMassMg === null) throw invalid({ dryMass: `“${amount.text}” is a mass: on how much goods?` });
    return Math.round((massMg / dryMassMg) * 1_000_000);
  }
  const ppm = asField(amount.field, () => pctPpmOf({ text, field: amount.field }));
  if (ppm > 2_000_000) throw invalid({ [amount.field]: 'At most 200 % of the goods.' });
  return ppm;
}

function asField<T>(field: string, read: () => T): T {
  try {
    return read();
  } catch (error) {
    if (!(error instanceof CalcError)) throw error;
    throw invalid({ [field]: `${error.message.charAt(0).toUpperCase()}${error.message.slice(1)}.` });
  }
}

function readingsOf(words: Words, choices: ChoicesInput, spectrum: Spectrum | null): BroughtReading[] {
  if (words['readings']) {
    const own = OwnReadings.safeParse(jsonOf(words['readings']));
    if (!own.success) throw invalid({ readings: 'These are not readings as our own export writes them.' });
    return own.data.map(({ readAt, l, a, b, illuminant, observer, ...rest }) => ({
      readAt,
      input: { ...rest, colour: { l, a, b, illuminant, observer } },
    }));
  }
  const conditions = {
    illuminant: illuminantOf(words['illuminant']) ?? choices.illuminant,
    observer: observerOf(words['observer']) ?? choices.observer,
  };
  const reading = (input: Pick<ReadingInput, 'colour' | 'source' | 'asTyped'>): BroughtReading[] => [
    { readAt: null, input: { ...input, areaSharePpm: null, uncertaintyMilli: null, note: '' } },
  ];
  const { labL, labA, labB } = words;
  if (labL || labA || labB) {
    const lab = {
      l: signed('labL', labL, 0, 110),
      a: signed('labA', labA, -200, 200),
      b: signed('labB', labB, -200, 200),
    };
    return reading({ colour: { ...lab, ...conditions }, source: 'instrument', asTyped: '' });
  }
  if (words['colour']) {
    const text = words['colour'];
    const typed = asField('colour', () =>
      typedColour({
        text: /^[0-9a-f]{6}$/i.test(text) ? `#${text}` : text,
        conditions: { illuminant: conditions.illuminant, observerDeg: conditions.observer === '2' ? 2 : 10 },
        field: 'colour',
      }),
    );
    const { L, a, b } = typed.lab;
    return reading({
      colour: typed.hex ? { hex: typed.hex } : { l: L, a, b, ...conditions },
      source: 'typed',
      asTyped: text.slice(0, 100),
    });
  }
  return spectrum ? [{ readAt: null, input: readingOfSpectrum(spectrum) }] : [];
}

/** The colour that a curve gives, under the conditions usual for instruments: D65/10°. */
export function readingOfSpectrum(spectrum: Spectrum): ReadingInput {
  const { L, a, b } = asField('spectrum', () => labFromSpectrum({ spectrum, conditions: D65_10 }));
  return {
    colour: { l: L, a, b, illuminant: 'D65', observer: '10' },
    source: 'instrument',
    asTyped: '',
    areaSharePpm: null,
    uncertaintyMilli: null,
    note: 'from the spectrum',
  };
}

function spectrumInOneCell(words: Words): Spectrum | null {
  if (!words['spectrum']) return null;
  const own = SpectrumBody.safeParse(jsonOf(words['spectrum']));
  if (!own.success) throw invalid({ spectrum: 'This is no spectrum as our own export writes it.' });
  return own.data;
}

function jsonOf(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return undefined;
  }
}

const illuminantOf = (text: string | undefined): Illuminant | null => {
  if (!text) return null;
  const found = /\b(d65|d50|a)\b/i.exec(text)?.[1]?.toUpperCase();
  if (found !== 'D65' && found !== 'D50' && found !== 'A') throw invalid({ illuminant: 'D65, D50 or A.' });
  return found;
};
const observerOf = (text: string | undefined): '2' | '10' | null => {
  if (!text) return null;
  const found = /^(2|10)\s*(?:°|deg.*)?$/i.exec(text.trim())?.[1];
  if (found !== '2' && found !== '10') throw invalid({ observer: '2 or 10 degrees.' });
  return found;
};

function signed(field: string, text: string | undefined, min: number, max: number): number {
  const plain = (text ?? '').replace(/[−–]/g, '-').replace(',', '.').trim();
  const value = /^[+-]?\d*\.?\d+(?:e-?\d+)?$/i.test(plain) ? Number(plain) : Number.NaN;
  if (!(value >= min && value <= max)) {
    throw invalid({ [field]: text ? `“${text}” is no number from ${min} to ${max}.` : 'L*, a* and b* go together.' });
  }
  return value;
}

/** The curve of a row: percentages are told from factors by the whole table, since a dark sample stays below 2 in both. */
export function spectrumOf(cells: readonly string[], spectral: SpectralColumns, isPercent: boolean): Spectrum | null {
  const texts = spectral.columns.map((c) => (cells[c] ?? '').replace(',', '.').trim());
  if (texts.every((t) => t === '')) return null;
  const reflectance = texts.map((t) => (t === '' ? Number.NaN : Number(t) / (isPercent ? 100 : 1)));
  const bad = reflectance.findIndex((r) => !(r >= 0 && r <= 2));
  if (bad >= 0) {
    throw invalid({ spectrum: `The spectrum has no number at ${spectral.startNm + bad * spectral.stepNm} nm.` });
  }
  return { startNm: spectral.startNm, stepNm: spectral.stepNm, reflectance };
}

export function isPercentTable(rows: readonly { cells: readonly string[] }[], spectral: SpectralColumns): boolean {
  return rows.some(({ cells }) => spectral.columns.some((c) => Number((cells[c] ?? '').replace(',', '.')) > 2));
}

// ───────────── from the API ─────────────
/** A swatch of the API as a row. Throws with a message by field. */
export function swatchLineOfBody(body: ImportedSwatchInput, todayOn: string): SwatchLine {
  const amounts = body.components.map((c) => ({
    dyeCode: c.dyeCode,
    sharePpm: c.sharePpm,
    depthPpm: c.depthPpm ?? (c.quantity === undefined ? undefined : Math.round(c.quantity * 10_000)),
  }));
  const shares = amounts.filter((a) => a.sharePpm !== undefined);
  const depths = amounts.filter((a) => a.depthPpm !== undefined);
  const onlyDye = amounts.length === 1 && shares.length === 0 && depths.length === 0;
  if (
    !onlyDye &&
    (shares.length > 0 ? shares.length !== amounts.length || depths.length > 0 : depths.length !== amounts.length)
  ) {
    throw invalid({ components: 'Every component has a share, or every one a depth.' });
  }
  const { lab, hex, spectrum } = body;
  const input = (colour: ReadingInput['colour'], source: ReadingInput['source'], asTyped: string): BroughtReading => ({
    readAt: null,
    input: { colour, source, asTyped, areaSharePpm: null, uncertaintyMilli: null, note: '' },
  });
  const readings = lab
    ? [input(lab, body.source, '')]
    : hex
      ? [input({ hex }, 'typed', hex)]
      : spectrum
        ? [{ readAt: null, input: readingOfSpectrum(spectrum) }]
        : [];
  if (amounts.length === 0) {
    if ((body.depthPpm ?? 0) > 0) throw invalid({ components: 'A depth, but of which dyes?' });
    return { ...UNDYED, fibre: body.fibre, fibreClass: null, fibreKind: 'cloth', madeBy: null, readings, spectrum };
  }
  if (body.depthPpm === 0) throw invalid({ depthPpm: 'Dyes at a depth of nothing.' });
  if (body.method === null) throw invalid({ method: 'By which method was it dyed?' });
  const isSplit = onlyDye || shares.length > 0;
  const sum = isSplit ? (body.depthPpm ?? 0) : depths.reduce((total, d) => total + (d.depthPpm ?? 0), 0);
  if (sum === 0) throw invalid({ depthPpm: 'Shares need the total depth.' });
  return {
    code: body.code,
    name: body.name,
    recipe: body.recipe,
    recipeRevision: null,
    entryStyle: isSplit ? 'split' : 'ownDepths',
    components: amounts.map((a) => ({
      dyeCode: a.dyeCode,
      ppm: isSplit ? (onlyDye ? 1_000_000 : (a.sharePpm ?? 0)) : (a.depthPpm ?? 0),
    })),
    depthPpm: body.depthPpm ?? sum,
    recipeDepthPpm: sum,
    fibre: body.fibre,
    fibreClass: null,
    fibreKind: 'cloth',
    method: body.method,
    dyedOn: body.dyedOn ?? todayOn,
    dryMassMg: body.dryMassMg,
    ...cardOf(body),
    madeBy: null,
    stockLotCodes: [],
    readings,
    spectrum,
    archived: false,
  };
}
