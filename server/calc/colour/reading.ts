import { CalcError, finiteIn } from '../calcError.ts';

/** CIELAB coordinates. They mean nothing without the conditions (illuminant, observer) under which they were reckoned. */
export interface Lab {
  L: number;
  a: number;
  b: number;
}

/** Illuminants that readings are stated under, the one used most first. */
export const ILLUMINANTS = ['D65', 'D50', 'A'] as const;
export type Illuminant = (typeof ILLUMINANTS)[number];
/** Standard observers as records, forms and the API name them: CIE 1931 (2°) and CIE 1964 (10°). */
export const OBSERVERS = ['2', '10'] as const;
export type ObserverDeg = 2 | 10;

export interface Conditions {
  illuminant: Illuminant;
  observerDeg: ObserverDeg;
}

/** How a colour was obtained, from the surest way to the least sure. */
export const READING_SOURCES = ['instrument', 'photoWithCard', 'typed', 'invented', 'predicted'] as const;
export type ReadingSource = (typeof READING_SOURCES)[number];

/** Conditions as records, forms and the API hold them. */
export interface KeptConditions {
  illuminant: Illuminant;
  observer: (typeof OBSERVERS)[number];
}
/** CIELAB as records and the API hold it. */
export interface KeptLab {
  l: number;
  a: number;
  b: number;
}

/** Conditions as the calculation speaks of them. A rule of our own. */
export const conditionsOf = ({ illuminant, observer }: KeptConditions): Conditions => ({
  illuminant,
  observerDeg: observer === '2' ? 2 : 10,
});
/** Conditions as they are kept. A rule of our own. */
export const keptConditions = ({ illuminant, observerDeg }: Conditions): KeptConditions => ({
  illuminant,
  observer: observerDeg === 2 ? '2' : '10',
});
/** Lab as the calculation speaks of it. Definition. */
export const labOf = ({ l, a, b }: KeptLab): Lab => ({ L: l, a, b });
/** Lab as it is kept. Definition. */
export const keptLab = ({ L, a, b }: Lab): KeptLab => ({ l: L, a, b });

export const D50_2: Conditions = { illuminant: 'D50', observerDeg: 2 };
export const D65_2: Conditions = { illuminant: 'D65', observerDeg: 2 };
export const D65_10: Conditions = { illuminant: 'D65', observerDeg: 10 };

/** Whether light and observer are the same. Definition. */
export function sameConditions(one: Conditions, other: Conditions): boolean {
  return one.illuminant === other.illuminant && one.observerDeg === other.observerDeg;
}

/** Light and observer as a dyer reads them: “D65, 10°”. Common practice. */
export function conditionsInWords(conditions: Conditions): string {
  return `${conditions.illuminant}/${conditions.observerDeg}°`;
}

/** Throws CalcError('mismatch') when the two were reckoned under unlike conditions: six such numbers can be wrong by a
 *  visible difference without a sign of it. Adapt one of them first, by name (`adaptLab`), or re-reckon it from its spectrum.
 *  Common practice. */
export function demandSameConditions({ standard, sample }: { standard: Conditions; sample: Conditions }): void {
  if (!sameConditions(standard, sample)) {
    throw new CalcError(
      'mismatch',
      'conditions',
      `a colour under ${conditionsInWords(sample)} cannot be compared with one under ${conditionsInWords(standard)}`,
    );
  }
}

/** Demands finite CIELAB with L* in 0–100 (a little above allowed for fluorescent or over-white goods) and a*, b* within ±200.
 *  A rule of our own. */
export function demandLab(field: string, lab: Lab): Lab {
  finiteIn(`${field}.L`, lab.L, { min: 0, max: 120 });
  finiteIn(`${field}.a`, lab.a, { min: -200, max: 200 });
  finiteIn(`${field}.b`, lab.b, { min: -200, max: 200 });
  return lab;
}
