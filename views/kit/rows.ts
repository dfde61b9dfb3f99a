import type { Typed } from './field.ts';

/** Row numbers that a repeated group has on its form: as many as were typed, and at least so many. */
export const rowsOf = (typed: Typed, name: string, atLeast: number): number[] => {
  const rows = Object.keys(typed)
    .map((key) => (key.startsWith(`${name}.`) ? Number(key.slice(name.length + 1)) : -1))
    .filter((n) => Number.isInteger(n) && n >= 0);
  return Array.from({ length: Math.min(60, Math.max(atLeast, ...rows.map((n) => n + 1))) }, (_, i) => i);
};
