import { CalcError, finiteIn } from '../calcError.ts';
import { type Conditions, demandLab, type Lab } from '../colour/reading.ts';
import { labFromSpectrum, type Spectrum } from '../colour/spectra.ts';
import { BAND_COUNT, bandsFromLab, bandsFromSpectrum, type SampleTable } from './kubelkaMunk.ts';

/* Swatches as the model learns from them: in arrays, over the undyed goods that each was dyed on. */

export type DyeId = number | string;

export interface RecipeComponent {
  dyeId: DyeId;
  /** % on weight of goods; any unit does, as long as all the swatches of a model use it. */
  depthPct: number;
}

export interface SubstrateReading {
  lab: Lab;
  spectrum?: Spectrum;
}

export interface KnownSwatch {
  swatchId: number | string;
  components: readonly RecipeComponent[];
  /** Under the model's conditions; left out only where there is a spectrum. */
  lab?: Lab;
  spectrum?: Spectrum;
  /** The undyed goods, under the same conditions. Without it, the mean of the undyed swatches (no components) stands in, or
   *  where there is none an ordinary scoured white. */
  substrate?: SubstrateReading;
}

/** Scoured undyed goods, from memory; only for swatches whose goods nobody read. */
export const ORDINARY_WHITE: Lab = { L: 93, a: 0, b: 3 };

/** The name of a set of dyes. A rule of our own. */
export const setKey = (dyes: ArrayLike<number>): string => Array.from(dyes).join('+');

export interface Prepared {
  swatches: readonly KnownSwatch[];
  dyeIds: DyeId[];
  table: SampleTable;
  substrate: Float64Array;
  substratesRead: number;
  substratesAssumed: number;
}

/** Mean of the undyed swatches, for those of unread goods. */
function usualSubstrate(swatches: readonly KnownSwatch[], conditions: Conditions): SubstrateReading | undefined {
  const undyed = swatches.flatMap(({ components, lab, spectrum }) => {
    if (components.some(({ depthPct }) => depthPct > 0)) return [];
    const seen = lab ?? (spectrum && labFromSpectrum({ spectrum, conditions }));
    return seen === undefined ? [] : [seen];
  });
  if (undyed.length === 0) return undefined;
  const mean = (of: (lab: Lab) => number) => undyed.reduce((sum, lab) => sum + of(lab), 0) / undyed.length;
  return { lab: { L: mean((lab) => lab.L), a: mean((lab) => lab.a), b: mean((lab) => lab.b) } };
}

/** Swatches as the model learns from them; throws CalcError where there is nothing to learn from. A rule of our own. */
export function prepare(swatches: readonly KnownSwatch[], conditions: Conditions): Prepared {
  const used = swatches.filter((swatch) => swatch.components.some((component) => component.depthPct > 0));
  if (used.length === 0) throw new CalcError('missing', 'swatches', 'there are no dyed swatches to learn from');
  const dyeIds = [...new Set(used.flatMap((s) => s.components.filter((c) => c.depthPct > 0).map((c) => c.dyeId)))].sort(
    (a, b) => (typeof a === 'number' && typeof b === 'number' ? a - b : String(a) < String(b) ? -1 : 1),
  );
  const dyeAt = new Map(dyeIds.map((id, i) => [id, i]));
  const count = used.length;
  const start = new Uint32Array(count + 1);
  const dye: number[] = [];
  const depth: number[] = [];
  const lab = new Float64Array(3 * count);
  const bands = new Float64Array(BAND_COUNT * count);
  const substrate = new Float64Array(BAND_COUNT * count);
  const hasBands = new Uint8Array(count);
  const stand = usualSubstrate(swatches, conditions);
  let substratesAssumed = 0;
  const substrates = new Map<string, { bands: Float64Array; seen: number }>();
  for (const [n, swatch] of used.entries()) {
    const amounts = new Map<number, number>();
    for (const { dyeId, depthPct } of swatch.components) {
      finiteIn('depthPct', depthPct, { min: 0 });
      const at = dyeAt.get(dyeId);
      if (depthPct > 0 && at !== undefined) amounts.set(at, (amounts.get(at) ?? 0) + depthPct);
    }
    for (const [at, depthPct] of [...amounts].sort((a, b) => a[0] - b[0])) {
      dye.push(at);
      depth.push(depthPct);
    }
    start[n + 1] = dye.length;
    const seen = swatch.lab ?? (swatch.spectrum && labFromSpectrum({ spectrum: swatch.spectrum, conditions }));
    if (seen === undefined) throw new CalcError('missing', 'lab', 'a swatch needs a colour or a spectrum');
    demandLab('lab', seen);
    lab.set([seen.L, seen.a, seen.b], 3 * n);
    if (swatch.spectrum !== undefined) {
      hasBands[n] = 1;
      bands.set(bandsFromSpectrum(swatch.spectrum), n * BAND_COUNT);
    }
    if (swatch.substrate === undefined && stand === undefined) substratesAssumed += 1;
    const goods = swatch.substrate ?? stand ?? { lab: ORDINARY_WHITE };
    const key = substrateKey(goods);
    const known = substrates.get(key) ?? { bands: substrateBands(goods, conditions), seen: 0 };
    known.seen += 1;
    substrates.set(key, known);
    substrate.set(known.bands, n * BAND_COUNT);
  }
  const usual = [...substrates.values()].reduce((a, b) => (b.seen > a.seen ? b : a)).bands;
  return {
    swatches: used,
    dyeIds,
    substrate: usual,
    substratesRead: used.filter((swatch) => swatch.substrate !== undefined).length,
    substratesAssumed,
    table: {
      count,
      dyeCount: dyeIds.length,
      start,
      dye: Uint32Array.from(dye),
      depthPct: Float64Array.from(depth),
      lab,
      bands,
      hasBands,
      substrate,
    },
  };
}

const substrateKey = ({ lab, spectrum }: SubstrateReading): string =>
  spectrum === undefined
    ? `${lab.L} ${lab.a} ${lab.b}`
    : `${spectrum.startNm}/${spectrum.stepNm} ${Array.from(spectrum.reflectance).join(' ')}`;

/** Reflectance bands of the goods before dyeing. Sources: as bandsFromSpectrum. */
export function substrateBands(substrate: SubstrateReading, conditions: Conditions): Float64Array {
  if (substrate.spectrum !== undefined) {
    return bandsFromSpectrum(substrate.spectrum).map((r) => Math.min(0.995, Math.max(0.005, r)));
  }
  demandLab('substrate', substrate.lab);
  return bandsFromLab({ lab: substrate.lab, conditions });
}

/** Some rows of a table as a table of their own. Definition. */
export function tableOf(table: SampleTable, rows: readonly number[]): SampleTable {
  const start = new Uint32Array(rows.length + 1);
  const dye: number[] = [];
  const depth: number[] = [];
  const lab = new Float64Array(3 * rows.length);
  const bands = new Float64Array(BAND_COUNT * rows.length);
  const substrate = new Float64Array(BAND_COUNT * rows.length);
  const hasBands = new Uint8Array(rows.length);
  for (const [to, n] of rows.entries()) {
    for (let i = table.start[n] as number; i < (table.start[n + 1] as number); i += 1) {
      dye.push(table.dye[i] as number);
      depth.push(table.depthPct[i] as number);
    }
    start[to + 1] = dye.length;
    lab.set(table.lab.subarray(3 * n, 3 * n + 3), 3 * to);
    bands.set(table.bands.subarray(BAND_COUNT * n, BAND_COUNT * (n + 1)), BAND_COUNT * to);
    substrate.set(table.substrate.subarray(BAND_COUNT * n, BAND_COUNT * (n + 1)), BAND_COUNT * to);
    hasBands[to] = table.hasBands[n] as number;
  }
  return {
    count: rows.length,
    dyeCount: table.dyeCount,
    start,
    dye: Uint32Array.from(dye),
    depthPct: Float64Array.from(depth),
    lab,
    bands,
    hasBands,
    substrate,
  };
}

/** The dyes of a row. Definition. */
export const dyesOf = (table: SampleTable, n: number) =>
  table.dye.subarray(table.start[n] as number, table.start[n + 1] as number);
/** The depths of a row, % owg. Definition. */
export const depthsOf = (table: SampleTable, n: number) =>
  table.depthPct.subarray(table.start[n] as number, table.start[n + 1] as number);
/** The reflectance bands of a row's goods. Definition. */
export const substrateOf = (table: SampleTable, n: number) =>
  table.substrate.subarray(n * BAND_COUNT, (n + 1) * BAND_COUNT);
