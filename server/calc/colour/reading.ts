import { CalcError, finiteIn } from '../calcError.ts';

/** CIELAB coordinates. They mean nothing without the conditions (illuminant, observer) under which they were reckoned. */
export interface Lab {
  L: number;
  a: number;
  b: number;
}

export type Illuminant = 'A' | 'D50' | 'D65';
export type ObserverDeg = 2 | 10;

export interface Conditions {
  illuminant: Illuminant;
  observerDeg: ObserverDeg;
}

/** How a colour was got, from the surest to the least sure. */
export type ReadingSource = 'instrument' | 'photo' | 'typed' | 'predicted';

export interface ColourReading {
  lab: Lab;
  conditions: Conditions;
  source: ReadingSource;
}

export const ILLUMINANTS: readonly Illuminant[] = ['A', 'D50', 'D65'];
export const OBSERVERS_DEG: readonly ObserverDeg[] = [2, 10];

export const D50_2: Conditions = { illuminant: 'D50', observerDeg: 2 };
export const D65_2: Conditions = { illuminant: 'D65', observerDeg: 2 };
export const D65_10: Conditions = { illuminant: 'D65', observerDeg: 10 };

export function sameConditions(one: Conditions, other: Conditions): boolean {
  return one.illuminant === other.illuminant && one.observerDeg === other.observerDeg;
}

export function conditionsInWords(conditions: Conditions): string {
  return `${conditions.illuminant}/${conditions.observerDeg}°`;
}

/** Throws CalcError('mismatch') when the two were reckoned under unlike conditions: six such numbers can be wrong by a
 *  visible difference without a sign of it. Adapt one of them first, by name (`adaptLab`), or re-reckon it from its spectrum. */
export function demandSameConditions({ standard, sample }: { standard: Conditions; sample: Conditions }): void {
  if (!sameConditions(standard, sample)) {
    throw new CalcError(
      'mismatch',
      'conditions',
      `a colour under ${conditionsInWords(sample)} cannot be compared with one under ${conditionsInWords(standard)}`,
    );
  }
}

/** Demands finite CIELAB with L* in 0–100 (a little above allowed for fluorescent or over-white goods) and a*, b* within ±200. */
export function demandLab(field: string, lab: Lab): Lab {
  finiteIn(`${field}.L`, lab.L, { min: 0, max: 120 });
  finiteIn(`${field}.a`, lab.a, { min: -200, max: 200 });
  finiteIn(`${field}.b`, lab.b, { min: -200, max: 200 });
  return lab;
}
