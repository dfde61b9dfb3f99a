import type { Typed } from '../../views/kit/field.ts';

/* What one page hands on to the next in an address or in hidden fields. */

export type Carried = [name: string, value: string][];

/** Of what was typed, the fields of these names that hold something, in the order of the names. */
export const carried = (typed: Typed, names: readonly string[]): Carried =>
  names.flatMap((name): Carried => (typed[name] ? [[name, typed[name]]] : []));

export const withQuery = (path: string, entries: Carried): string =>
  entries.length === 0 ? path : `${path}?${new URLSearchParams(entries)}`;
