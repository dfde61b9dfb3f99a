import { CalcError, finiteIn } from './calcError.ts';
import type { DyeClass } from './classFit.ts';

/* Auxiliaries by depth of shade, as sheets print them: in steps, never between the steps. Sheets for one class differ, and each is kept
   as it stands: the studio chooses. Where a sheet prints a range, both ends are told. */

export type AuxiliaryName = 'salt' | 'sodium sulphate' | 'soda ash' | 'caustic soda 50 %' | 'citric acid' | 'vinegar';
export type AuxiliaryBasis = 'gPerL' | 'owgPct';

/** One amount, or a range. `byRatio`: at these liquor ratios only, since the sheet says no more. */
type Amount = number | readonly [number, number];
interface Row {
  /** The depth up to which the row holds, % owg; null for everything deeper. */
  toDepthPct: number | null;
  amounts: Partial<Record<AuxiliaryName, Amount>>;
  byRatio?: Partial<Record<AuxiliaryName, Readonly<Record<number, number>>>>;
}
export interface AuxiliaryTable {
  title: string;
  dyeClass: DyeClass;
  basis: AuxiliaryBasis;
  source: string;
  /** What the sheet says of its use, or leaves open. */
  note: string;
  rows: readonly Row[];
}

/** Depths at which sheets that speak of pale, medium and deep draw the line are taken as printed examples, each up to its own depth. */
export const AUXILIARY_TABLES = {
  reactive60C: {
    title: 'Reactive, 60 °C series, immersion',
    dyeClass: 'reactive',
    basis: 'gPerL',
    source: 'Immersion sheet of a 60 °C reactive range',
    note: 'Salt is common salt or sodium sulphate; one blue wants sulphate at half. Caustic finishes the bath, at liquor ratio 10 or 20. The sheet tells rayon users to stay under pH 9, which its own alkali passes: ask.',
    rows: [
      { toDepthPct: 0.75, amounts: { salt: [20, 50], 'soda ash': 5 } },
      { toDepthPct: 2, amounts: { salt: 75, 'soda ash': 5 }, byRatio: { 'caustic soda 50 %': { 10: 1, 20: 0.5 } } },
      { toDepthPct: 4, amounts: { salt: 100, 'soda ash': 5 }, byRatio: { 'caustic soda 50 %': { 10: 2, 20: 1 } } },
      { toDepthPct: null, amounts: { salt: 100, 'soda ash': 5 }, byRatio: { 'caustic soda 50 %': { 10: 3, 20: 1.5 } } },
    ],
  },
  reactive80C: {
    title: 'Reactive, 80 °C series, immersion',
    dyeClass: 'reactive',
    basis: 'gPerL',
    source: 'Immersion sheet of an 80 °C reactive range',
    note: 'Salt is common salt or sodium sulphate.',
    rows: [
      { toDepthPct: 0.5, amounts: { salt: 38, 'soda ash': 6, 'caustic soda 50 %': 1.5 } },
      { toDepthPct: 1, amounts: { salt: 53, 'soda ash': 6, 'caustic soda 50 %': 1.5 } },
      { toDepthPct: 2, amounts: { salt: 68, 'soda ash': 6, 'caustic soda 50 %': 1.5 } },
      { toDepthPct: 4, amounts: { salt: 91, 'soda ash': 8, 'caustic soda 50 %': 2 } },
      { toDepthPct: null, amounts: { salt: 98, 'soda ash': 8, 'caustic soda 50 %': 2 } },
    ],
  },
  reactive70C: {
    title: 'Reactive, 70 °C, liquor ratio 10',
    dyeClass: 'reactive',
    basis: 'gPerL',
    source: 'Laboratory table of a 70 °C reactive dyeing, liquor ratio 10',
    note: 'Printed at 0.5, 1.5 and 4 %.',
    rows: [
      { toDepthPct: 0.5, amounts: { salt: 20, 'soda ash': 5 } },
      { toDepthPct: 1.5, amounts: { salt: 50, 'soda ash': 15 } },
      { toDepthPct: null, amounts: { salt: 70, 'soda ash': 20 } },
    ],
  },
  reactiveColdChart: {
    title: 'Reactive, cold, salt on the goods',
    dyeClass: 'reactive',
    basis: 'owgPct',
    source: 'Craft chart for cold immersion',
    note: 'On the goods, not on the liquor: 100 and 200 % at 25:1 are 40 and 80 g/L. Pale, medium and dark, set here at 0.5 and 2 %.',
    rows: [
      { toDepthPct: 0.5, amounts: { salt: 100 } },
      { toDepthPct: 2, amounts: { salt: 150 } },
      { toDepthPct: null, amounts: { salt: 200 } },
    ],
  },
  acidWoolSheet: {
    title: 'Acid on wool, light to strong',
    dyeClass: 'acid',
    basis: 'owgPct',
    source: 'Wool sheet with citric acid',
    note: 'Sulphate rises with depth here, and falls in another sheet: as a retarder it belongs with pale shades. Light, medium and strong, set here at 0.5 and 2 %.',
    rows: [
      { toDepthPct: 0.5, amounts: { 'citric acid': 1, 'sodium sulphate': 2 } },
      { toDepthPct: 2, amounts: { 'citric acid': 1.5, 'sodium sulphate': 5 } },
      { toDepthPct: null, amounts: { 'citric acid': 2, 'sodium sulphate': 10 } },
    ],
  },
  metalComplexSheet: {
    title: 'Metal complex on wool, pastel and darker',
    dyeClass: 'metalComplex',
    basis: 'owgPct',
    source: 'Sheet of a metal-complex range with vinegar',
    note: 'Pastel, set here up to 0.5 %. Leveller 1 % besides.',
    rows: [
      { toDepthPct: 0.5, amounts: { 'sodium sulphate': 10, vinegar: 11 } },
      { toDepthPct: null, amounts: { 'sodium sulphate': 0, vinegar: 22 } },
    ],
  },
  direct: {
    title: 'Direct, salt by depth',
    dyeClass: 'direct',
    basis: 'owgPct',
    source: 'Two sheets of direct dyes',
    note: 'Soda 0.5 to 3 % besides, by sheet. Another sheet takes 20 % flat. Pale, medium and deep, set here at 0.5 and 2 %.',
    rows: [
      { toDepthPct: 0.5, amounts: { salt: 5 } },
      { toDepthPct: 2, amounts: { salt: 10 } },
      { toDepthPct: null, amounts: { salt: 20 } },
    ],
  },
} as const satisfies Record<string, AuxiliaryTable>;
export type AuxiliaryTableName = keyof typeof AUXILIARY_TABLES;
export const AUXILIARY_TABLE_NAMES = Object.keys(AUXILIARY_TABLES) as [AuxiliaryTableName, ...AuxiliaryTableName[]];

export interface AuxiliaryAtDepth {
  auxiliary: AuxiliaryName;
  /** Low and high end, the same where the sheet prints one number. */
  low: number;
  high: number;
}

/** What a sheet prints for a depth: the row of the first step that reaches it. depthPct > 0 · liquorRatioLPerKg > 0, left out where
 *  it is not settled yet. `notSaid`: what the sheet wants and gives for other liquor ratios only. Throws CalcError. Sources: as AUXILIARY_TABLES. */
export function auxiliariesAtDepth(input: {
  table: AuxiliaryTableName;
  depthPct: number;
  liquorRatioLPerKg?: number | undefined;
}): { basis: AuxiliaryBasis; lines: AuxiliaryAtDepth[]; notSaid: AuxiliaryName[] } {
  const depthPct = finiteIn('depthPct', input.depthPct, { min: 0, exclusiveMin: true });
  const table: AuxiliaryTable = AUXILIARY_TABLES[input.table];
  const row = table.rows.find(({ toDepthPct }) => toDepthPct === null || depthPct <= toDepthPct);
  if (!row) throw new CalcError('notKnown', 'depthPct', 'the sheet stops before this depth');
  const names = new Set<AuxiliaryName>(
    table.rows.flatMap((r) => Object.keys({ ...r.amounts, ...r.byRatio }) as AuxiliaryName[]),
  );
  const notSaid: AuxiliaryName[] = [];
  const lines = [...names].flatMap((auxiliary): AuxiliaryAtDepth[] => {
    const amount = row.amounts[auxiliary];
    if (amount !== undefined) {
      const [low, high] = typeof amount === 'number' ? [amount, amount] : amount;
      return [{ auxiliary, low, high }];
    }
    const byRatio = row.byRatio?.[auxiliary];
    if (byRatio === undefined) return [];
    const known = input.liquorRatioLPerKg === undefined ? undefined : byRatio[input.liquorRatioLPerKg];
    if (known === undefined) notSaid.push(auxiliary);
    return known === undefined ? [] : [{ auxiliary, low: known, high: known }];
  });
  return { basis: table.basis, lines, notSaid };
}

/** Sheets for a class of dye, as they may be chosen among. Sources: as AUXILIARY_TABLES. */
export const auxiliaryTablesFor = (dyeClass: DyeClass): AuxiliaryTableName[] =>
  AUXILIARY_TABLE_NAMES.filter((name) => AUXILIARY_TABLES[name].dyeClass === dyeClass);
